//! What happened when: hours of a clock that changes, tasks that fall due, storms.

use event::*;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use yard::due::Pressing;
use yard::stock::Books;

use super::season::*;

/// Clocks of New York: forward on 2026-03-08, back on 2026-11-01, both at 02:00 (IANA time zone database).
#[test]
fn an_hour_that_was_not_and_one_that_was_twice_are_refused() {
    let yard = yard();
    let zone = TimeZone::get(&yard.time_zone).unwrap();
    let now = "2026-11-20T12:00:00Z".parse::<Timestamp>().unwrap();
    let route = &yard.routes[0].id;
    let read = |at: &str| {
        let rows = format!("at,route,treated,salt_lb\n{at},{route},dry,100\n");
        entry::import(&rows, "application", (&yard, &Books::empty(&yard)), &zone, now)
            .map(|rows| rows[0].at)
            .map_err(|all| all.iter().map(ToString::to_string).collect::<String>())
    };
    assert!(read("2026-03-08 02:30").unwrap_err().contains("yard.time.left_out"));
    assert!(read("2026-11-01 01:30").unwrap_err().contains("yard.time.twice"));
    assert!(read("0026-11-01 03:30").unwrap_err().contains("yard.time.long_ago"));
    let text = |at: Timestamp| at.to_string();
    assert_eq!(read("2026-03-08 03:30").map(text), Ok("2026-03-08T07:30:00Z".into()));
    assert_eq!(read("2026-11-01T05:30:00Z").map(text), Ok("2026-11-01T05:30:00Z".into()));
    let twice =
        entry::import("at,route,at\n", "application", (&yard, &Books::empty(&yard)), &zone, now).unwrap_err();
    assert!(twice[0].to_string().contains("entry.column-twice (column = at)"));
}

#[test]
fn chores_fall_due() {
    let yard = yard();
    let mut season = Season::default();
    let start = SeasonStart { season: "winter".into() };
    season.add(0.0, Body::SeasonStart(start));
    let due = |season: &Season, hours: f64| yard::due::due(&yard, &Books::fold(&yard, &season.0), at(hours));
    let pressing = |all: &[yard::due::Standing], id: &str| {
        all.iter().find(|one| one.chore.id == id).map(|one| one.pressing)
    };
    let now = due(&season, 1.0);
    assert_eq!(pressing(&now, "calibrate"), Some(Pressing::Due), "before season");
    assert_eq!(pressing(&now, "walk"), Some(Pressing::NotYet));
    assert_eq!(pressing(&now, "batch-test"), Some(Pressing::NotYet), "nothing was made");
    assert_eq!(pressing(&now, "wash-bay"), Some(Pressing::NotYet), "the yard's own");
    season.add(20.0, made("1", 1000.0, 23.3));
    season.add(21.0, load("1", "T1", None, 100.0));
    let now = due(&season, 30.0);
    assert_eq!(pressing(&now, "batch-test"), Some(Pressing::Due));
    assert_eq!(pressing(&now, "walk"), Some(Pressing::Due), "a day has passed");
    assert_eq!(pressing(&now, "flush"), Some(Pressing::NotYet), "the storm may go on");
    assert_eq!(pressing(&due(&season, 40.0), "flush"), Some(Pressing::Due));
    let done = |chore: &str| Body::ChoreDone(ChoreDone { chore: chore.into(), done: "done".into() });
    season.add(31.0, done("batch-test"));
    season.add(31.0, done("walk"));
    let now = due(&season, 32.0);
    assert_eq!(pressing(&now, "batch-test"), Some(Pressing::NotYet));
    let walk = now.iter().find(|one| one.chore.id == "walk").unwrap();
    assert_eq!((walk.pressing, walk.at), (Pressing::NotYet, Some(at(31.0 + 24.0))));
    assert_eq!(walk.last.as_ref().unwrap().author, "Pat");
    // 100,000 gal of brine between two clean-outs; 85,001 made are near.
    season.add(33.0, made("1", 84_001.0, 23.3));
    assert_eq!(pressing(&due(&season, 34.0), "sludge-out"), Some(Pressing::Near));
    season.add(35.0, made("1", 15_000.0, 23.3));
    assert_eq!(pressing(&due(&season, 36.0), "sludge-out"), Some(Pressing::Due));
    assert!(due(&season, 36.0).windows(2).all(|pair| pair[0].pressing <= pair[1].pressing));
    // Half a year after its start the season's chores rest, unless the yard is still at work.
    let late = 200.0 * 24.0;
    assert_eq!(pressing(&due(&season, late), "walk"), Some(Pressing::NotYet));
    season.add(late - 24.0, load("1", "T1", None, 100.0));
    assert_eq!(pressing(&due(&season, late), "walk"), Some(Pressing::Due));
}

/// The operator's page lists what ships, no more and no less.
#[test]
fn the_page_on_what_is_due_lists_every_chore() {
    let page = include_str!("../../../../docs/due.md");
    let plain = FILE.replace(
        "[[chore]]\nid = \"wash-bay\"\ntask = \"Empty the sump of the wash bay\"\n\
        who = \"operator\"\nevery_days = 14\n",
        "",
    );
    let yard = site::yard_file::read_yard(&plain, "yard.toml").unwrap();
    let chores = site::chores::chores(&yard);
    for chore in &chores {
        assert!(page.contains(&format!("| `{}` | ", chore.id)) && page.contains(&chore.task), "{}", chore.id);
    }
    assert_eq!(page.matches("| `").count(), chores.len());
}

#[test]
fn storms_are_named_or_seen() {
    let yard = yard();
    let mut season = Season::default();
    season.add(0.0, load("1", "T1", None, 100.0));
    season.add(5.0, spread("R1", None, 0.0, 100.0));
    season.add(30.0, load("1", "T1", None, 100.0));
    let storms = |season: &Season| Books::fold(&yard, &season.0).calendar.storms();
    let found = storms(&season);
    assert_eq!((found.len(), found[0].from, found[1].from), (2, at(0.0), at(30.0)));
    assert!(found.iter().all(|storm| storm.name.is_none()));
    let named = Storm { name: "First ice".into(), until: at(10.0).to_string() };
    season.late(-1.0, 31.0, Body::Storm(named));
    let found = storms(&season);
    assert_eq!(found.len(), 2);
    assert_eq!((found[0].name.as_deref(), found[0].from), (Some("First ice"), at(-1.0)));
}
