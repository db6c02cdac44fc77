//! The page that shows every component of the design language.

use askama::Template;
use axum::response::Html;
use chemistry::MassFraction;
use quantity::{fahrenheit, gallons};
use report::Words;
use report::chart::{FreezeMap, Size, TankMark, TankSection, Texture, freeze_map, tank_section};

use super::charts::ChartPair;
use crate::error::{PageError, render};
use crate::page_frame::{PageFrame, Place, Visitor};

/// The tokens, with what each is for.
const TOKENS: [(&str, &str); 10] = [
    ("paper", "look.token.paper"),
    ("card", "look.token.card"),
    ("ink", "look.token.ink"),
    ("soft", "look.token.soft"),
    ("line", "look.token.line"),
    ("brine", "look.token.brine"),
    ("brine-wash", "look.token.brine-wash"),
    ("act", "look.token.act"),
    ("act-wash", "look.token.act-wash"),
    ("cold", "look.token.cold"),
];

#[derive(Template)]
#[template(path = "style.html")]
struct StylePage {
    w: Words,
    c: PageFrame,
    tokens: Vec<(&'static str, String)>,
    sample_volume: String,
    sample_strength: String,
    problems: Vec<String>,
    here_url: String,
    map: ChartPair,
    section: String,
    cares: Vec<String>,
}

/// Shows the page.
pub(crate) async fn show(visitor: Visitor) -> Result<Html<String>, PageError> {
    let (words, d) = (visitor.words, &visitor.display);
    let strength = |percent| MassFraction::from_percent(percent).unwrap_or(MassFraction::ZERO);
    // Two tanks on one spot, so that the dodging shows.
    let marks: Vec<TankMark> = [("1", 23.2, 22.0, false), ("2", 23.1, 22.0, false), ("3", 25.1, 20.0, true)]
        .into_iter()
        .map(|(label, percent, f, needs_act)| TankMark {
            label: label.into(),
            strength: strength(percent),
            temperature: fahrenheit(f),
            needs_act,
        })
        .collect();
    let says = words.say("look.map-says");
    let drawing =
        FreezeMap { id: "map", marks: &marks, ahead: Some([fahrenheit(12.0), fahrenheit(20.0)]), says };
    let draw = |size| freeze_map(&drawing, size, d, &words);
    let page = StylePage {
        c: PageFrame::new(&visitor, Place::Elsewhere, words.say("look.title"), "/look"),
        w: words,
        tokens: TOKENS.iter().map(|(name, key)| (*name, words.say(key).to_string())).collect(),
        sample_volume: d.volume(gallons(6250.0)),
        sample_strength: d.strength(strength(25.1)),
        problems: vec![words.say("look.problem").to_string()],
        here_url: visitor.app.url("/look"),
        map: ChartPair {
            phone: draw(Size::Phone),
            wide: draw(Size::Wide),
            says: says.to_string(),
            key: Vec::new(),
        },
        section: tank_section(&TankSection {
            id: "section",
            title: words.say("look.level"),
            says: words.say("look.level"),
            filled: (0.6, &d.volume(gallons(3600.0))),
            heel: (0.05, &d.volume(gallons(300.0))),
            working: (0.95, &d.volume(gallons(5700.0))),
            room: &d.volume(gallons(2100.0)),
            strength: &d.strength(strength(23.2)),
            texture: Texture::Plain,
            needs_act: false,
        }),
        cares: vec![words.say("care.tank").to_string(), words.say("care.slip").to_string()],
    };
    render(&visitor, &page)
}
