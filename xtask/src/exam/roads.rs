//! Roads against a measured street and weather spells with expectations, where their folders are at hand: their
//! licence, or their use for scoring, keeps them out of the tree.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use laboratory::roads::Street;
use laboratory::winter;

use super::board::{Board, Outcome};
use crate::{running, workspace};

/// Variable that names the folder with the streets and the spells; else it is looked for beside the project.
const FOLDER: &str = "BRINEWRIGHT_OUTSIDE";
/// Limit of the spells' checker.
const LIMIT: Duration = Duration::from_secs(600);
/// Spells that must hold whole, of 76.
const SPELLS: usize = 70;

fn folder() -> PathBuf {
    std::env::var_os(FOLDER).map_or_else(|| workspace::root().join("../shared"), PathBuf::from)
}

/// The measured street, where its folder is at hand.
pub(crate) fn street() -> Option<Street> {
    Street::read(&folder().join("roads/data"), "dev").ok()
}

/// Puts roads on the board.
pub(super) fn examine(board: &mut Board) {
    let outside = folder();
    match Street::read(&outside.join("roads/data"), "dev") {
        Ok(street) => on_a_street(board, &street),
        Err(why) => board.put("a measured street", "read", Err(why)),
    }
    board.put("a winter day by day", &format!("{:?} tons a lane-mile", winter::RANGE), a_winter());
    board.put("weather spells", &format!("at least {SPELLS} of 76 whole"), spells(&outside.join("storms")));
}

fn on_a_street(board: &mut Board, street: &Street) {
    let [(from, to), (wet_from, wet_to)] = match Street::spans() {
        Ok(spans) => spans,
        Err(why) => return board.put("a measured street", "read", Err(why)),
    };
    let fit = street.fit(false, from, to);
    let said = format!("bias {:.2}, RMSE {:.2} K of {} hours", fit.bias, fit.rmse, fit.hours);
    board.put(
        "a street by weather and geometry",
        "RMSE at most 1.25 K",
        Ok(Outcome::new(fit.rmse <= 1.25, said)),
    );
    let open = street.fit(true, from, to);
    board.put(
        "the same under an open sky",
        "at least 2.5 K: geometry acts",
        Ok(Outcome::new(open.rmse >= 2.5, format!("RMSE {:.2} K", open.rmse))),
    );
    for (hourly, name, limits) in [
        (true, "with a sensor each hour", &[0.35, 0.55, 0.72, 0.85, 0.88][..]),
        (false, "with one reading a day", &[0.90, 0.90, 0.90][..]),
    ] {
        let found = street.corrected(hourly, from, to);
        let is_good = found.iter().zip(limits).all(|(one, limit)| one.rmse <= *limit);
        let said: Vec<String> = found
            .iter()
            .map(|one| format!("{} h {:.2} K, band holds {:.2}", one.lead, one.rmse, one.held))
            .collect();
        board.put(name, &format!("{limits:?} K"), Ok(Outcome::new(is_good, said.join("; "))));
    }
    let lags = [0, 4, -4].map(|hours| street.lag_found(hours).map(|lag| lag.as_hours()));
    board.put(
        "a clock four hours off",
        "found, a right one let be",
        Ok(Outcome::new(lags == [None, Some(4), Some(-4)], format!("{lags:?}"))),
    );
    let [with, without] = [true, false].map(|salted| street.wet_or_dry(salted, wet_from, wet_to));
    let said = format!(
        "{:.3} right, Heidke {:.2}; without salt {:.3}",
        with.right(),
        with.heidke(),
        without.right()
    );
    board.put(
        "wet or dry",
        "at least 0.84 right, better than without salt",
        Ok(Outcome::new(with.right() >= 0.84 && with.right() > without.right() + 0.05, said)),
    );
}

fn a_winter() -> Result<Outcome, String> {
    let winter = winter::newark(&workspace::root())?;
    let said = winter.classes.iter().map(|class| format!("{} {:.1}", class.class, class.salt / 2000.0));
    let said = format!("tons a lane-mile by class: {}", said.collect::<Vec<_>>().join(", "));
    Ok(Outcome::new(winter.is_plausible(), said))
}

/// Runs the spells' own checker on the release program.
fn spells(folder: &Path) -> Result<Outcome, String> {
    let mut check = Command::new("python3");
    check.arg(folder.join("check_storms.py")).arg("--quiet").arg("--program").arg(workspace::program());
    let done = running::catch(check, LIMIT)?;
    let last = done.stdout.lines().last().unwrap_or_default().to_owned();
    let whole = last
        .rsplit_once("; ")
        .and_then(|(_, rest)| rest.split_whitespace().next()?.parse::<usize>().ok())
        .ok_or_else(|| format!("the checker said: {last} {}", done.in_short()))?;
    Ok(Outcome::new(whole >= SPELLS, last))
}
