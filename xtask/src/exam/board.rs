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
    left_out: Vec<String>,
    rows: Vec<[String; 3]>,
}

/// What stands above the figures of docs/reliability.md.
const RELIABILITY: &str = "# What it was put through

Made by `cargo xtask exam --only-faults`, which runs the release program on this machine's own disk: writers killed,
files damaged, crowds at the door. The figures are of the last time it was run, on two cores. A line that fails says so.
What is promised and what not stands in [SECURITY.md](../SECURITY.md); how to come home from a backup in
[restore.md](restore.md).

| what | seen | asked for |
| --- | --- | --- |
";

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
        let seen = if passed { value } else { format!("**failed**: {value}") };
        self.rows.push([name, &seen, budget].map(|text| text.replace('|', "/").replace('\n', " ")));
        self.lines.push((passed, line));
    }

    /// Says of one check that it was left out, which is neither a pass nor a failure.
    pub fn leave_out(&mut self, name: &str, why: &str) {
        println!("NONE  {name}: {why}");
        self.left_out.push(format!("NONE  {name}: {why}"));
    }

    /// Takes another's results in.
    pub fn join(&mut self, other: Self) {
        self.lines.extend(other.lines);
        self.left_out.extend(other.left_out);
        self.rows.extend(other.rows);
    }

    /// The results as a page of the docs.
    pub fn page(&self) -> String {
        let row = |[name, seen, budget]: &[String; 3]| format!("| {name} | {seen} | {budget} |\n");
        format!("{RELIABILITY}{}", self.rows.iter().map(row).collect::<String>())
    }

    /// Prints everything once more; an error if anything failed.
    pub fn close(&self) -> Result<(), String> {
        println!("\n== exam");
        for (_, line) in &self.lines {
            println!("{line}");
        }
        for line in &self.left_out {
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
        board.leave_out("z", "nothing to measure it with");
        assert_eq!(board.close(), Ok(()));
        board.put("b", "any", Ok(Outcome::new(false, "2")));
        board.put("c", "any", Err("could not be measured".to_string()));
        assert_eq!(board.close(), Err("2 of 3 checks failed".to_string()));
    }
}
