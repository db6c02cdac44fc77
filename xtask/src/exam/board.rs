//! Where the examination writes its results.

/// How one check came out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Outcome {
    passed: bool,
    value: String,
}

impl Outcome {
    /// A measured value and whether it is good enough.
    pub fn new(passed: bool, value: impl Into<String>) -> Self {
        Self { passed, value: value.into() }
    }

    /// Good, with what was seen.
    pub fn pass(value: impl Into<String>) -> Self {
        Self::new(true, value)
    }
}

/// All results so far.
#[derive(Debug, Default)]
pub struct Board {
    lines: Vec<(bool, String)>,
}

impl Board {
    /// Puts one result up and prints it. What could not be examined has failed.
    pub fn put(&mut self, name: &str, budget: &str, result: Result<Outcome, String>) {
        let (passed, value) = match result {
            Ok(outcome) => (outcome.passed, outcome.value),
            Err(why) => (false, why),
        };
        let word = if passed { "PASS" } else { "FAIL" };
        let line = format!("{word}  {name}: {value}  ({budget})");
        println!("{line}");
        self.lines.push((passed, line));
    }

    /// Prints everything once more; an error if anything failed.
    pub fn close(&self) -> Result<(), String> {
        println!("\n== exam");
        for (_, line) in &self.lines {
            println!("{line}");
        }
        let failed = self.lines.iter().filter(|(passed, _)| !passed).count();
        println!("== exam: {} checks, {failed} failed", self.lines.len());
        if failed == 0 { Ok(()) } else { Err(format!("{failed} of {} checks failed", self.lines.len())) }
    }
}

#[cfg(test)]
mod tests {
    use super::{Board, Outcome};

    #[test]
    fn one_failure_or_one_error_fails_the_exam() {
        let mut board = Board::default();
        board.put("a", "any", Ok(Outcome::pass("1")));
        assert_eq!(board.close(), Ok(()));
        board.put("b", "any", Ok(Outcome::new(false, "2")));
        board.put("c", "any", Err("could not be measured".to_string()));
        assert_eq!(board.close(), Err("2 of 3 checks failed".to_string()));
    }
}
