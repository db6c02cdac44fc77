//! Whether everybody can use the pages: axe-core (a general-purpose checker of WCAG) on every page and on the states a
//! person meets, letters twice as large, and every page in every language on a phone.

use std::path::PathBuf;

use serde_json::Value;

use super::checks;
use super::chromium::Chromium;
use super::offline::{choose_lou, done, enrol, press, program};
use super::tab::Tab;
use super::view::{PAGES, PHONE_WIDTH, Scheme};
use crate::scratch::Scratch;
use crate::served::Served;
use crate::{running, workspace};

const AXE: &str = "axe-core@4.14.1";
/// WCAG 2.2 A and AA, with all that came before.
const RULES: &str = "['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']";

/// Forms that are sent empty, to see the page that says what is wrong.
const EMPTY_FORMS: [(&str, &str); 10] = [
    ("/tanks", "[data-form=dip-1]"),
    ("/load", "main form[method=post]"),
    ("/load/return", "main form[method=post]"),
    ("/jar-test?tank=4", "main form[method=post]"),
    ("/ledger", "[data-form=note]"),
    ("/salt", "main form[method=post]"),
    ("/meters", "main form[method=post]"),
    ("/due", "main form[method=post]"),
    ("/sprayers", "main form[method=post]"),
    ("/books/close", "main form[method=post]"),
];

/// The checker's own text, fetched once.
fn axe() -> Result<String, String> {
    let folder = workspace::target().join("axe");
    let file = folder.join("package/axe.min.js");
    if !file.exists() {
        std::fs::create_dir_all(&folder).map_err(|error| error.to_string())?;
        let mut fetch = std::process::Command::new("npm");
        fetch.args(["pack", AXE, "--silent"]).current_dir(&folder);
        running::pass_through(fetch)?;
        let archive = format!("{}.tgz", AXE.replace('@', "-"));
        let mut unpack = std::process::Command::new("tar");
        unpack.args(["xzf", &archive, "package/axe.min.js"]).current_dir(&folder);
        running::pass_through(unpack)?;
    }
    std::fs::read_to_string(&file).map_err(|error| format!("{}: {error}", file.display()))
}

/// What the checker finds on the page of a tab.
fn violations(tab: &mut Tab, axe: &str, what: &str) -> Result<Vec<String>, String> {
    tab.ask("document.fonts.ready.then(() => true)")?;
    tab.ask(&format!("{axe}; true"))?;
    let found = tab.ask(&format!(
        "axe.run(document, {{ runOnly: {RULES} }}).then((result) => result.violations.flatMap((one) => \
         one.nodes.map((node) => one.id + ': ' + node.html.slice(0, 120) + ' ' + (node.any[0]?.message ?? ''))))"
    ))?;
    let Value::Array(found) = found else { return Err(format!("{what}: the checker answered {found}")) };
    Ok(found.iter().filter_map(Value::as_str).map(|one| format!("{what}: {one}")).collect())
}

/// All of it; the answer is its line for the exam.
pub fn suite() -> Result<String, String> {
    let axe = axe()?;
    let folder = Scratch::new("demo")?;
    let server = Served::demo(folder.path())?;
    let mut browser = Chromium::start()?;
    let (mut problems, mut looks) = (Vec::new(), 0);
    let widths = [PHONE_WIDTH, 820, 1400].into_iter();
    for (width, scheme) in widths.flat_map(|width| [(width, Scheme::Light), (width, Scheme::Dark)]) {
        let mut tab = browser.open(width, scheme)?;
        for path in PAGES {
            tab.go_to(&format!("{}{path}", server.origin))?;
            // In the dark with every fold open: what is folded away is read too.
            if scheme == Scheme::Dark {
                tab.ask(
                    "(document.querySelectorAll('details').forEach((fold) => { fold.open = true; }), true)",
                )?;
            }
            let what = format!("{path} at {width}, {}", scheme.word());
            problems.extend(violations(&mut tab, &axe, &what)?);
            looks += 1;
        }
        tab.close()?;
    }
    let mut tab = browser.open(PHONE_WIDTH, Scheme::Light)?;
    for (path, form) in EMPTY_FORMS {
        tab.go_to(&format!("{}{path}", server.origin))?;
        tab.ask("(document.documentElement.dataset.before = 'yes', true)")?;
        tab.ask(&format!(
            "(() => {{ const form = document.querySelector({}); for (const one of form.elements) one.required = false; \
             form.requestSubmit(); return true; }})()",
            Value::from(form)
        ))?;
        tab.wait_until(
            &format!("the answer of {path}"),
            "!document.documentElement.dataset.before && document.readyState === 'complete'",
        )?;
        problems.extend(violations(&mut tab, &axe, &format!("{path}, sent empty"))?);
        looks += 1;
    }
    tab.close()?;
    // Letters twice as large on a phone and a tablet: nothing scrolls sideways.
    let mut tab = browser.open(820, Scheme::Light)?;
    for (width, path) in [PHONE_WIDTH, 820].into_iter().flat_map(|width| PAGES.map(|path| (width, path))) {
        if width != tab.width_px() {
            tab.close()?;
            tab = browser.open(width, Scheme::Light)?;
        }
        tab.go_to(&format!("{}{path}", server.origin))?;
        let sideways = tab.ask(
            "(() => { const root = document.documentElement; root.style.fontSize = '36px'; \
             return root.scrollWidth - root.clientWidth; })()",
        )?;
        if sideways.as_f64().is_some_and(|over| over > 1.0) {
            problems.push(format!("{path} at {width}, letters twice as large: {sideways} px sideways"));
        }
        looks += 1;
    }
    tab.close()?;
    for (language, width) in
        ["es", "fr"].into_iter().flat_map(|tag| [(tag, PHONE_WIDTH), (tag, 820), (tag, 1400)])
    {
        let mut tab = browser.open(width, Scheme::Light)?;
        tab.keep_cookie(&server.origin, "language", language)?;
        for path in PAGES {
            tab.go_to(&format!("{}{path}", server.origin))?;
            let found = checks::judge(&mut tab, &server.origin, None)?;
            problems.extend(found.into_iter().map(|what| format!("{path} in {language} at {width}: {what}")));
            let lang = tab.ask("document.documentElement.lang")?;
            if lang != language {
                problems.push(format!("{path} in {language}: the page says it is in {lang}"));
            }
            if width == PHONE_WIDTH {
                problems.extend(violations(&mut tab, &axe, &format!("{path} in {language}"))?);
                picture(&mut tab, &format!("{language}-{path}"))?;
            }
            looks += 1;
        }
        tab.close()?;
    }
    match enrolled(&mut browser, &axe, &mut problems) {
        Ok(count) => looks += count,
        Err(why) => problems.push(why),
    }
    for problem in &problems {
        println!("  {problem}");
    }
    match problems.len() {
        0 => Ok(format!("no violation in {looks} looks")),
        count => Err(format!("{count} problems in {looks} looks")),
    }
}

/// Keeps a picture of a page under a name.
pub fn picture(tab: &mut Tab, name: &str) -> Result<PathBuf, String> {
    let folder = workspace::target().join("shots");
    std::fs::create_dir_all(&folder).map_err(|error| error.to_string())?;
    let path = folder.join(format!("{}.png", name.replace(['/', '?', '=', '&'], "-")));
    std::fs::write(&path, tab.picture()?).map_err(|error| error.to_string())?;
    Ok(path)
}

/// The pages of people, and those that a shared device sees.
fn enrolled(browser: &mut Chromium, axe: &str, problems: &mut Vec<String>) -> Result<usize, String> {
    let folder = Scratch::new("people")?;
    let home = folder.path();
    let yard = workspace::example_yard().display().to_string();
    let server = Served::by(program(home, &["serve", "--yard", &yard, "--address", "127.0.0.1:0"]))?;
    let origin = server.origin.clone();
    let mut tab = browser.open(PHONE_WIDTH, Scheme::Light)?;
    // Cookies know no ports: the French of the pages before would stay.
    tab.keep_cookie(&origin, "language", "en")?;
    let mut looks = 0;
    let mut look = |tab: &mut Tab, what: &str| -> Result<(), String> {
        problems.extend(violations(tab, axe, what)?);
        picture(tab, &format!("people-{what}"))?;
        looks += 1;
        Ok(())
    };
    tab.go_to(&format!("{origin}/first"))?;
    look(&mut tab, "first")?;
    done(
        &mut program(home, &["user", "add", "Ines", "--role", "supervisor", "--password"]),
        "a quiet winter\n",
    )?;
    done(&mut program(home, &["user", "add", "Lou", "--pin"]), "4071\n")?;
    tab.go_to(&format!("{origin}/sign-in"))?;
    look(&mut tab, "sign-in")?;
    tab.type_into("[data-form=sign-in] [name=name]", "Ines")?;
    tab.type_into("[data-form=sign-in] [name=password]", "not this one")?;
    press(&mut tab, "[data-form=sign-in]", "!!document.querySelector('.problems')")?;
    look(&mut tab, "sign-in refused")?;
    enrol(&mut tab, &origin, |tab, what| look(tab, what))?;
    for path in ["/offline", "/load", "/ledger", "/due", "/alerts", "/waiting", "/trust"] {
        tab.go_to(&format!("{origin}{path}"))?;
        look(&mut tab, &format!("device {path}"))?;
    }
    tab.go_to(&format!("{origin}/ledger"))?;
    tab.type_into("[data-form=note] [name=text]", "hello")?;
    choose_lou(&mut tab, "[data-form=note] [name=sign_who]")?;
    tab.type_into("[data-form=note] [name=sign_pin]", "4072")?;
    press(&mut tab, "[data-form=note]", "!!document.querySelector('[data-form=sign]')")?;
    look(&mut tab, "wrong PIN")?;
    // An entry that nobody signed waits for a supervisor.
    tab.ask(
        "queue.keep('/ledger/note', new URLSearchParams('entry_id=0190a000-0000-7000-8000-000000000001&text=hi&author=Lou'), \
         false).then(() => queue.send('/offline/send')).then(() => true)",
    )?;
    tab.go_to(&format!("{origin}/waiting"))?;
    tab.wait_until("an entry that waits", "!!document.querySelector('[data-form=settle]')")?;
    look(&mut tab, "an entry waits")?;
    tab.close()?;
    Ok(looks)
}
