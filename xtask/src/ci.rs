//! All of CI: what `.ci/run` calls, and what a person types before handing work in.

use crate::browser::{self, Extent};
use crate::running::{self, step};
use crate::workspace::cargo;

/// The one figure of the demo's storm that is known from outside: the liquid that falls in it.
const DEMO_MUST_SAY: &str = "1.26 in (melted)";

const DEMO_LIMIT: std::time::Duration = std::time::Duration::from_secs(60);

/// Every step in order, up to the first that fails.
pub fn run() -> Result<(), String> {
    without_browser()?;
    step("browser, short", || browser::check(Extent::Short))?;
    println!("\nci: all steps passed");
    Ok(())
}

/// The steps that need nothing but the toolchain.
pub fn without_browser() -> Result<(), String> {
    // Tests come first and exactly as the README gives them, so that their closing lines are what a reader sees.
    step("test", || running::pass_through(cargo(&["test", "--workspace"])))?;
    step("format", || running::pass_through(cargo(&["fmt", "--all", "--check"])))?;
    step("lints", || {
        running::pass_through(cargo(&["clippy", "--workspace", "--all-targets", "--", "-D", "warnings"]))
    })?;
    step("fits", || laboratory::fit::run(&crate::workspace::root(), true))?;
    step("release build", || running::pass_through(cargo(&["build", "--release"])))?;
    step("demo", demo)
}

/// The newcomer's first command ends well and says what it must.
fn demo() -> Result<(), String> {
    let demo =
        running::catch(cargo(&["run", "--quiet", "--release", "--", "demo", "--print-only"]), DEMO_LIMIT)?;
    print!("{}", demo.stdout);
    if demo.code != Some(0) {
        return Err(demo.in_short());
    }
    if !demo.stdout.contains(DEMO_MUST_SAY) {
        return Err(format!("the demo does not say `{DEMO_MUST_SAY}`"));
    }
    Ok(())
}
