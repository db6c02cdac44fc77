//! No caution is lost: each one that the design names, and each that was added since, stands where its act is.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use common::{HERE, TestApp, delivered, get, happened};
use jiff::Timestamp;
use report::{Language, Words};
use store::Ledger;

/// A caution: what it warns of, the text that says it, and the pages of the acts where it hurts.
const CAUTIONS: [(&str, &str, &[&str]); 20] = [
    (
        "lockout before opening anything that turns",
        "care.lockout",
        &["/run", BLEND, "/due", "/sprayers", "/night"],
    ),
    ("never enter a hopper; salt bridges", "care.hopper", &["/run", "/salt", "/run/batch", "/due", "/night"]),
    ("never enter a tank", "care.tank", &["/tanks", BLEND, "/run/batch", "/put-right?tank=3&with=water"]),
    ("heat of dissolving calcium chloride", "care.heat", &[BLEND]),
    (
        "backflow protection on a potable supply",
        "care.backflow",
        &["/run", BLEND, "/put-right?tank=3&with=water"],
    ),
    (
        "containment and discharge",
        "care.spill",
        &["/load/other?what=liquid_delivery", "/load/other?what=loss", "/night"],
    ),
    ("hoses and drips", "care.hose", &["/load", "/load/return"]),
    ("slippery pump areas", "care.slip", &["/run", "/tanks", BLEND, "/load", "/sprayers"]),
    ("overweight trucks", "care.overweight", &["/load", "/night"]),
    ("when liquid must not be used on a road", "care.no-spray", &["/night"]),
    ("goggles and gloves with concentrates", "care.eyes", &[BLEND, "/load/other?what=liquid_delivery"]),
    ("goggles and gloves at the bench", "bench.care", &["/bench"]),
    ("wet electrics", "care.electric", &["/run"]),
    ("a ladder when dipping", "care.ladder", &["/tanks"]),
    ("tanks not rated for heavy liquids", "care.heavy", &[BLEND, "/load/other?what=liquid_delivery"]),
    ("thawing valves", "care.thaw", &["/tanks"]),
    ("night fatigue", "care.fatigue", &["/night", "/load"]),
    ("a slick film of calcium or magnesium", "care.slick", &[BLEND, "/load/applied", "/night"]),
    ("a rate above policy", "care.rate", &["/load", "/load/applied", "/night"]),
    ("the face of a salt pile", "care.pile", &["/salt"]),
];

/// A blend that is worked out.
const BLEND: &str = "/put-right/blend?tank=3&with=4&clear_f=0";

#[tokio::test]
async fn each_caution_stands_where_its_act_is() {
    let test = TestApp::new();
    // Something to blend with.
    let now: Timestamp = "2013-01-24T18:00:00Z".parse().unwrap();
    test.ledger.append(&[happened(11, delivered("4", None))], now).unwrap();
    for language in Language::ALL.iter().copied() {
        let words = Words::of(language);
        for (of, key, pages) in CAUTIONS {
            for path in pages {
                let mut request = get(path);
                request.headers_mut().insert("accept-language", language.tag().parse().unwrap());
                let page = test.send(HERE, request).await.page();
                let told = page.texts(".safe, .safety");
                let text = words.say(key);
                assert!(
                    told.iter().any(|one| one.contains(text)),
                    "{path} in {language:?}: {of} ({key}): {told:?}"
                );
            }
        }
    }
}

/// Who decides stands at the foot of every page, and what is printed carries its cautions too.
#[tokio::test]
async fn the_manuals_and_the_agency_come_first_on_every_page() {
    let test = TestApp::new();
    let words = Words::of(Language::En);
    for path in ["/", "/tanks", "/bench", "/run", "/load", "/storm", "/night", "/salt", "/due", "/put-right"]
    {
        let page = test.get(path).await.page();
        assert!(page.text("footer").contains(words.say("care.policy-first")), "{path}");
    }
}
