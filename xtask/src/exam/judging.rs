//! The judge of runs, on a thousand held out, what a tank is thought to hold, on a thousand seasons, and the test of a
//! season's books, on two hundred: what VALIDATION.md says of it is worked out anew.

use laboratory::simulated::judging::{HEADING, judged};
use laboratory::simulated::{estimates, seasons};
use laboratory::validation;

use super::board::{Board, Outcome};
use crate::workspace;

/// Puts it on the board.
pub fn examine(board: &mut Board) {
    let bound =
        "among the first two >= 80 %, <= 1 false alarm in 50 clean runs, before a third of the time to harm";
    match judged() {
        Ok(found) => {
            board.put("1,000 runs judged", bound, Ok(Outcome::new(found.holds, found.line)));
            board.put("VALIDATION.md on judging", "as worked out", as_kept(HEADING, &found.section));
        }
        Err(why) => board.put("1,000 runs judged", bound, Err(why)),
    }
    let bound = "95 % intervals hold in 93 to 97 % of looks";
    match estimates::held() {
        Ok(found) => {
            board.put("1,000 seasons estimated", bound, Ok(Outcome::new(found.holds, found.line)));
            board.put("VALIDATION.md on tanks", "as worked out", as_kept(estimates::HEADING, &found.section));
        }
        Err(why) => board.put("1,000 seasons estimated", bound, Err(why)),
    }
    let bound = "noticed >= 85 %, first named >= 75 %, <= 1 false alarm in 20 clean seasons";
    match seasons::reconciled() {
        Ok(found) => {
            board.put("200 seasons reconciled", bound, Ok(Outcome::new(found.holds, found.line)));
            board.put("VALIDATION.md on books", "as worked out", as_kept(seasons::HEADING, &found.section));
        }
        Err(why) => board.put("200 seasons reconciled", bound, Err(why)),
    }
}

fn as_kept(heading: &str, section: &str) -> Result<Outcome, String> {
    let path = workspace::root().join("VALIDATION.md");
    let kept = std::fs::read_to_string(&path).map_err(|e| format!("{}: {e}", path.display()))?;
    let is_same = validation::section(&kept, heading).trim() == section.trim();
    Ok(Outcome::new(is_same, if is_same { "the same" } else { "differs; run `cargo xtask validation`" }))
}
