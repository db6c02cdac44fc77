//! Every page of the console in headless Chromium, at a phone's, a tablet's and a desk's width, in light and dark.
//!
//! A page passes when its console stays silent, nothing is asked of any other host, nothing scrolls sideways and the
//! basics of accessibility hold (`page_checks.js`). A missing browser is a failure.

mod access;
mod checks;
mod chromium;
mod day;
mod firefox;
mod forms;
mod offline;
mod protocol;
pub mod self_test;
mod tab;
mod view;
mod walk;

use std::path::PathBuf;
use std::time::Duration;

use crate::http::Client;
use crate::scratch::Scratch;
use crate::served::Served;
use crate::{running, workspace};
use chromium::Chromium;
pub use view::PAGES;
use view::{DEBRIEF_PAGE, PHONE_WIDTH, PRACTICE_PAGES, Scheme, View};

/// How much to look at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Extent {
    /// Two widths, light: what CI does.
    Short,
    /// All widths, light and dark, and the walks.
    Full,
}

/// Whether everybody can use the pages, on the release program that is already built.
pub fn for_everybody() -> Result<String, String> {
    access::suite()
}

/// A shift's entries in the second browser, on the release program that is already built.
pub fn in_firefox() -> Result<String, String> {
    firefox::walk()
}

/// The suite without network, on the release program that is already built.
pub fn without_network() -> Result<String, String> {
    offline::suite()
}

/// Every entry form without network, on the release program that is already built.
pub fn every_form() -> Result<String, String> {
    forms::suite()
}

/// Builds the program, then checks it.
pub fn run(extent: Extent) -> Result<(), String> {
    running::pass_through(workspace::cargo(&["build", "--release"]))?;
    check(extent)
}

/// Checks the release program that is already built.
pub fn check(extent: Extent) -> Result<(), String> {
    let folder = Scratch::new("demo")?;
    let server = Served::demo(folder.path())?;
    let mut chromium = Chromium::start()?;
    let mut problems = Vec::new();
    let mut pictures = Vec::new();
    let mut look = |paths: &[&'static str], problems: &mut Vec<String>| {
        for view in views(extent, paths) {
            match look_at(&mut chromium, &server.origin, &view) {
                Ok((found, picture)) => {
                    let verdict = if found.is_empty() { "ok" } else { "FAILED" };
                    println!("{:<24} {verdict}", view.name());
                    problems.extend(found.into_iter().map(|what| format!("{}: {what}", view.name())));
                    pictures.push(picture);
                }
                Err(why) => problems.push(format!("{}: {why}", view.name())),
            }
        }
    };
    look(&PAGES, &mut problems);
    practise(&server.origin)?;
    look(&PRACTICE_PAGES, &mut problems);
    Client::to(&server.origin).post("/trainer/drive", "act=end")?;
    look(&[DEBRIEF_PAGE], &mut problems);
    if extent == Extent::Full {
        problems.extend(walks(&mut chromium, &server.origin));
        println!("pictures:");
        for picture in &pictures {
            println!("  {}", picture.display());
        }
    }
    verdict(&problems)
}

/// The walks alone, on the release program that is already built.
pub fn walks_alone() -> Result<(), String> {
    let folder = Scratch::new("demo")?;
    let server = Served::demo(folder.path())?;
    let mut chromium = Chromium::start()?;
    verdict(&walks(&mut chromium, &server.origin))
}

/// Begins an exercise in which something has broken, with a run that goes on, for its pages to be looked at.
fn practise(origin: &str) -> Result<(), String> {
    let client = Client::to(origin);
    client.post("/trainer/begin", "who=Sam&exercise=hanging_salt&speed=60")?;
    let id = "01930000-0000-7000-8000-00000000a5a5";
    client.post("/practice/run", &format!("entry_id={id}&author=Sam"))?;
    // Half an hour of the plant; the salt hangs from its 24th minute on.
    std::thread::sleep(Duration::from_secs(30));
    client.post("/trainer/drive", "act=speed&much=1")?;
    client.post("/practice/plant", "act=look&at=hopper")
}

/// The walks: a dip with and without script, a tank put right, and the bench by every hand; what went wrong.
fn walks(chromium: &mut Chromium, origin: &str) -> Vec<String> {
    let mut problems = Vec::new();
    for script in [walk::Script::On, walk::Script::Off] {
        let found = walk::dip(chromium, origin, script);
        println!("{:<24} {}", script.name(), if found.is_ok() { "ok" } else { "FAILED" });
        problems.extend(found.err().map(|why| format!("{}: {why}", script.name())));
    }
    let found = walk::put_right(chromium, origin);
    println!("{:<24} {}", "walk, put right", if found.is_ok() { "ok" } else { "FAILED" });
    problems.extend(found.err().map(|why| format!("walk, put right: {why}")));
    let found = walk::load_out(chromium, origin);
    println!("{:<24} {}", "walk, load-out", if found.is_ok() { "ok" } else { "FAILED" });
    problems.extend(found.err().map(|why| format!("walk, load-out: {why}")));
    let found = walk::trainee(chromium, origin);
    println!("{:<24} {}", "walk, trainee", if found.is_ok() { "ok" } else { "FAILED" });
    problems.extend(found.err().map(|why| format!("walk, trainee: {why}")));
    for (hand, script) in [
        (walk::Hand::Pointer, walk::Script::On),
        (walk::Hand::Keyboard, walk::Script::On),
        (walk::Hand::Pointer, walk::Script::Off),
        (walk::Hand::Keyboard, walk::Script::Off),
    ] {
        let name = format!("{}, bench, {}", script.name(), hand.name());
        let found = at_the_bench(chromium, hand, script);
        println!("{name:<24} {}", if found.is_ok() { "ok" } else { "FAILED" });
        problems.extend(found.err().map(|why| format!("{name}: {why}")));
    }
    problems.extend(day(chromium));
    problems
}

/// The walks of a day in a yard of one's own.
fn day(chromium: &mut Chromium) -> Vec<String> {
    let mut problems = Vec::new();
    for (hand, script) in [
        (walk::Hand::Pointer, walk::Script::On),
        (walk::Hand::Keyboard, walk::Script::On),
        (walk::Hand::Keyboard, walk::Script::Off),
    ] {
        for (what, found) in [
            ("weak tank", day::weak_tank(chromium, hand, script)),
            ("run to booked", day::run_to_booked(chromium, hand, script)),
            ("slips", day::slips(chromium, hand, script)),
        ] {
            let name = format!("{}, {what}, {}", script.name(), hand.name());
            println!("{name:<56} {}", found.as_deref().unwrap_or("FAILED"));
            problems.extend(found.err().map(|why| format!("{name}: {why}")));
        }
    }
    problems
}

/// The day's walks alone, on the release program that is already built.
pub fn day_alone() -> Result<(), String> {
    verdict(&day(&mut Chromium::start()?))
}

/// The bench's walk, each on a fresh yard whose plant answers within seconds.
fn at_the_bench(chromium: &mut Chromium, hand: walk::Hand, script: walk::Script) -> Result<(), String> {
    let folder = Scratch::new("bench")?;
    let example = workspace::example_yard();
    let text = std::fs::read_to_string(&example).map_err(|e| format!("{}: {e}", example.display()))?;
    let quick = text.replace("lag_min = 10", "lag_min = 0.05");
    if quick == text {
        return Err(format!("{}: no lag to shorten", example.display()));
    }
    let yard = folder.path().join("yard.toml");
    std::fs::write(&yard, quick).map_err(|e| format!("{}: {e}", yard.display()))?;
    let server = Served::yard_file(&yard, &folder.path().join("ledger.db"))?;
    walk::bench(chromium, &server.origin, hand, script)
}

fn verdict(problems: &[String]) -> Result<(), String> {
    for problem in problems {
        println!("  {problem}");
    }
    if problems.is_empty() { Ok(()) } else { Err(format!("{} problems in the browser", problems.len())) }
}

fn views(extent: Extent, paths: &[&'static str]) -> Vec<View<'static>> {
    let (widths, schemes): (&[u32], &[Scheme]) = match extent {
        Extent::Short => (&[PHONE_WIDTH, 1400], &[Scheme::Light]),
        Extent::Full => (&[PHONE_WIDTH, 820, 1400], &[Scheme::Light, Scheme::Dark]),
    };
    let mut views = Vec::new();
    for &path in paths {
        for &width_px in widths {
            for &scheme in schemes {
                views.push(View { path, width_px, scheme });
            }
        }
    }
    views
}

/// Opens one view, judges it and takes its picture.
fn look_at(chromium: &mut Chromium, origin: &str, view: &View) -> Result<(Vec<String>, PathBuf), String> {
    let mut tab = chromium.open(view.width_px, view.scheme)?;
    tab.go_to(&format!("{origin}{}", view.path))?;
    let found = checks::judge(&mut tab, origin, view.tallest_px())?;
    let folder = workspace::target().join("shots");
    std::fs::create_dir_all(&folder).map_err(|e| format!("{}: {e}", folder.display()))?;
    let picture = folder.join(format!("{}.png", view.name()));
    std::fs::write(&picture, tab.picture()?).map_err(|e| format!("{}: {e}", picture.display()))?;
    tab.close()?;
    Ok((found, picture))
}

#[cfg(test)]
mod tests {
    use super::{Extent, PAGES, views};

    #[test]
    fn every_view_has_a_picture_of_its_own() {
        for (extent, count) in [(Extent::Short, 2), (Extent::Full, 6)] {
            let mut names: Vec<String> = views(extent, &PAGES).iter().map(super::View::name).collect();
            names.sort();
            names.dedup();
            assert_eq!(names.len(), PAGES.len() * count);
        }
        assert_eq!(views(Extent::Short, &PAGES)[0].name(), "today-360-light");
    }
}
