//! Walks through a day of a yard of one's own, at its real clock, on a phone: a weak tank from the sample to in spec
//! again, and a guided run from its first step to the books.

use std::path::Path;
use std::time::Duration;

use quantity::units::POUND;
use serde_json::Value;

use super::access::picture;
use super::chromium::Chromium;
use super::tab::Tab;
use super::view::{PHONE_WIDTH, Scheme};
use super::walk::{Hand, Script, main_text};
use crate::scratch::Scratch;
use crate::served::Served;
use crate::workspace;

const AUTHOR: &str = "Walker Golf";

/// A yard of one's own: the example's file, a first count of tank 1 and of the pile, and a sample of the tank.
struct Yard {
    folder: Scratch,
    server: Served,
}

impl Yard {
    fn new() -> Result<Self, String> {
        let folder = Scratch::new("day")?;
        let home = folder.path();
        let write = |name: &str, text: &str| {
            std::fs::write(home.join(name), text).map_err(|error| format!("{name}: {error}"))
        };
        let example = workspace::example_yard();
        let text =
            std::fs::read_to_string(&example).map_err(|error| format!("{}: {error}", example.display()))?;
        write("yard.toml", &text)?;
        // The shipped run, with its waits of minutes cut to moments.
        let quick = plant::procedure::SHIPPED.replace("minutes = 2.0", "minutes = 0.01");
        write("procedure.toml", &quick.replace("minutes = 15.0", "minutes = 0.01"))?;
        for entry in [
            &["settlement", "tank=1", "volume_gal=3000", "strength_pct=23.0", "reason=first count"][..],
            &["settlement", "salt_tons=80", "reason=first survey"],
        ] {
            ledger(home, &[&["add", "--author", "Pat", "--confirm"], entry].concat())?;
        }
        let mut command = std::process::Command::new(workspace::program());
        command.current_dir(home).args(["serve", "--address", "127.0.0.1:0"]);
        command.args(["--procedure", "procedure.toml"]);
        let server = Served::by(command)?;
        Ok(Self { folder, server })
    }

    fn balance(&self) -> Result<Value, String> {
        let said = ledger(self.folder.path(), &["balance", "--json"])?;
        serde_json::from_str(&said).map_err(|error| format!("the balance: {error}: {said}"))
    }

    fn listed(&self) -> Result<Vec<Value>, String> {
        let said = ledger(self.folder.path(), &["list", "--json", "--limit", "400"])?;
        serde_json::from_str(&said).map_err(|error| format!("the list: {error}: {said}"))
    }
}

/// Runs `ledger` in a yard's folder; the answer is what it printed.
fn ledger(home: &Path, args: &[&str]) -> Result<String, String> {
    let mut command = std::process::Command::new(workspace::program());
    let output = command.current_dir(home).arg("ledger").args(args).output();
    let output = output.map_err(|error| format!("ledger {args:?}: {error}"))?;
    let (out, err) = (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    // The books of a yard without a making run yet need not close.
    if matches!(output.status.code(), Some(0 | 1)) {
        Ok(out.into_owned())
    } else {
        Err(format!("ledger {args:?}: {err}"))
    }
}

/// The text of a part of the page, with what stands in its fields.
fn text_at(tab: &mut Tab, selector: &str) -> Result<String, String> {
    let asked = format!(
        "(() => {{ const part = document.querySelector({}); if (!part) return ''; \
         const typed = [...part.querySelectorAll('input:not([type=hidden])')].map((one) => one.value + ' %'); \
         return part.innerText + ' ' + typed.join(' '); }})()",
        Value::from(selector)
    );
    Ok(tab.ask(&asked)?.as_str().unwrap_or_default().replace('\u{a0}', " "))
}

/// What the pages that people act on say of tank 1.
fn pages_say(tab: &mut Tab, origin: &str, wanted: &[&str], unwanted: &[&str]) -> Result<(), String> {
    for (path, part) in [
        ("/tanks", "#tank-1"),
        ("/", "main"),
        ("/load", "label:has([name=tank][value='1'])"),
        ("/put-right?tank=1", "main"),
    ] {
        tab.go_to(&format!("{origin}{path}"))?;
        let said = text_at(tab, part)?;
        if !wanted.iter().any(|word| said.contains(word)) {
            return Err(format!("{path} says none of {wanted:?}: {said}"));
        }
        if let Some(word) = unwanted.iter().find(|word| said.contains(**word)) {
            return Err(format!("{path} says \"{word}\": {said}"));
        }
    }
    Ok(())
}

/// Logs a sample of tank 1 by hydrometer at 60 °F.
fn sample(tab: &mut Tab, hand: Hand, origin: &str, reading: &str, wanted: &str) -> Result<(), String> {
    tab.go_to(&format!("{origin}/bench?tank=1"))?;
    read(tab, hand, reading, wanted)
}

fn read(tab: &mut Tab, hand: Hand, reading: &str, wanted: &str) -> Result<(), String> {
    // The form of a sample ends within a phone's screen of 740 px, seen from the top of the page.
    let end = tab.ask(
        "(() => { const key = document.querySelector('[data-form=bench-ask] .pad-next'); \
         return key?.offsetParent ? Math.ceil(key.getBoundingClientRect().bottom + scrollY) : 0; })()",
    )?;
    if end.as_u64().is_none_or(|end| end > 740) {
        return Err(format!("the form of a sample ends at {end} px"));
    }
    hand.fill(tab, "[data-form=bench-ask] [name=temp_f]", "60")?;
    hand.fill(tab, "[data-form=bench-ask] [name=reading]", reading)?;
    hand.push(tab, "[data-form=bench-ask] [type=submit]")?;
    let said = text_at(tab, "#answer")?;
    if !said.contains(wanted) {
        return Err(format!("{reading} at the bench: {said}"));
    }
    name(tab, hand, "[data-form=bench]")?;
    hand.push(tab, "[data-form=bench] [type=submit]")
}

/// Types the name where this device does not know it yet: it is asked once.
fn name(tab: &mut Tab, hand: Hand, form: &str) -> Result<(), String> {
    let field = format!("{form} [name=author]");
    let held = tab.ask(&format!("document.querySelector({})?.value ?? ''", Value::from(field.as_str())))?;
    match held.as_str() {
        Some(AUTHOR) => Ok(()),
        _ => hand.fill(tab, &field, AUTHOR),
    }
}

/// A tank measured weak: every page says so, the advised salt goes in, the second sample says in spec, and so does
/// every page; nobody had to settle anything.
///
/// 1.1467 on a 60/60 °F hydrometer is 19.5 %, 1.1782 is 23.3 % (the CRC table in chemistry/tests/data, at 60 °F).
pub fn weak_tank(chromium: &mut Chromium, hand: Hand, script: Script) -> Result<String, String> {
    let yard = Yard::new()?;
    let origin = yard.server.origin.clone();
    let mut tab = chromium.open(PHONE_WIDTH, Scheme::Light)?;
    if script == Script::Off {
        tab.turn_script_off()?;
    }
    sample(&mut tab, hand, &origin, "1.1467", "19.5%")?;
    pages_say(&mut tab, &origin, &["19.5%", "19.47 %"], &["In spec", "in spec:"])?;
    tab.go_to(&format!("{origin}/tanks#dip-1"))?;
    hand.push(&mut tab, "#tank-1 a[href*='put-right?tank=1'], .next a[href*='put-right?tank=1']")?;
    choose(&mut tab, hand, "[data-form=right-ask] [name=with][value=salt]")?;
    hand.push(&mut tab, "[data-form=right-ask] [type=submit]")?;
    choose(&mut tab, hand, "[data-form=put-right] [name=part][value=all]")?;
    name(&mut tab, hand, "[data-form=put-right]")?;
    hand.push(&mut tab, "[data-form=put-right] [type=submit]")?;
    // It is expected near the target, and the next sample is asked for.
    let expects = main_text(&mut tab)?.replace('\u{a0}', " ");
    let is_near = ["23.2%", "23.3%"].iter().any(|at| expects.contains(&format!("{at} is expected, in spec")));
    if !is_near || !expects.contains("Take a sample before you put in more") {
        return Err(format!("after the salt the page expects something else: {expects}"));
    }
    sample(&mut tab, hand, &origin, "1.1782", "23.3%")?;
    pages_say(
        &mut tab,
        &origin,
        &["In spec", "in spec", "23.3%", "23.30 %"],
        &["Too strong", "too strong", "Too weak", "25."],
    )?;
    let kinds: Vec<String> =
        yard.listed()?.iter().filter_map(|row| row["kind"].as_str().map(str::to_owned)).collect();
    let settled = kinds.iter().filter(|kind| *kind == "settlement").count();
    if settled != 2 {
        return Err(format!("{settled} settlements, two were the first counts: {kinds:?}"));
    }
    tab.close()?;
    Ok(format!("{} entries, no settlement", kinds.len() - 2))
}

/// Chooses one of several.
fn choose(tab: &mut Tab, hand: Hand, selector: &str) -> Result<(), String> {
    match hand {
        Hand::Pointer => tab.click(selector),
        Hand::Keyboard => tab.choose_by_key(selector),
    }
}

/// A guided run from its first step to released and booked.
///
/// By hand: 1,000 gal of 23.3 % brine weigh 9,810 lb (1.176 by AASHTO M 143) and hold 2,286 lb of salt; of the example
/// yard's rock salt, 96 % pure with 1.8 % of water, that is 2,425 lb as delivered.
pub fn run_to_booked(chromium: &mut Chromium, hand: Hand, script: Script) -> Result<String, String> {
    const MOST_STEPS: usize = 60;
    let yard = Yard::new()?;
    let origin = yard.server.origin.clone();
    let mut tab = chromium.open(PHONE_WIDTH, Scheme::Light)?;
    if script == Script::Off {
        tab.turn_script_off()?;
    }
    let before = yard.balance()?;
    tab.go_to(&format!("{origin}/run"))?;
    name(&mut tab, hand, "[data-form=run-start]")?;
    hand.push(&mut tab, "[data-form=run-start] [type=submit]")?;
    let (mut steps, mut is_measured) = (0, false);
    loop {
        steps += 1;
        if steps > MOST_STEPS {
            return Err(format!("{MOST_STEPS} steps and no end: {}", main_text(&mut tab)?));
        }
        let step = tab.ask("document.querySelector('[data-form=run-step] [name=step]')?.value ?? ''")?;
        let step = step.as_str().unwrap_or_default().to_owned();
        if step.is_empty() {
            break;
        }
        if step == "in_spec" && !is_measured {
            is_measured = true;
            let said = main_text(&mut tab)?;
            if !said.contains("no sample from the plant") {
                return Err(format!("release is open without a sample: {said}"));
            }
            // The step leads to the bench, at the plant's tap; the banner leads back.
            hand.push(&mut tab, "main a.step[href*='/bench']")?;
            read(&mut tab, hand, "1.1782", "23.3%")?;
            hand.push(&mut tab, ".banner a[href$='/run']")?;
            continue;
        }
        let has_value = tab.ask("!!document.querySelector('[data-form=run-step] [name=value]')")?;
        // The steps that take time have a moment of it here.
        if matches!(step.as_str(), "circulation" | "build_up" | "circulate") {
            std::thread::sleep(Duration::from_millis(800));
        }
        if has_value == Value::Bool(true) {
            let value = match step.as_str() {
                "water_on" => "18000",
                "water_off" => "18900",
                "water_temp" => "46",
                _ => "20",
            };
            hand.fill(&mut tab, "[data-form=run-step] [name=value]", value)?;
        }
        name(&mut tab, hand, "[data-form=run-step]")?;
        hand.push(&mut tab, "[data-form=run-step] .go[name=answer]:not([value=not_seen])")
            .map_err(|why| format!("step {step}: {why}"))?;
    }
    hand.push(&mut tab, "main a.go[href*='/run/batch']")?;
    choose(&mut tab, hand, "[data-form=batch] [name=tank][value='2']")?;
    for (field, value) in
        [("volume_gal", "1000"), ("strength_pct", "23.3"), ("salt_lb", "2425"), ("water_gal", "900")]
    {
        hand.fill(&mut tab, &format!("[data-form=batch] [name={field}]"), value)?;
    }
    name(&mut tab, hand, "[data-form=batch]")?;
    hand.push(&mut tab, "[data-form=batch] [type=submit]")?;
    hand.push(&mut tab, "[data-form=run-end] [type=submit]")?;
    let after = yard.balance()?;
    let pounds = |balance: &Value, kg: &str| POUND.of_base(balance[kg].as_f64().unwrap_or(f64::NAN));
    let pile = pounds(&before, "rock_salt_kg") - pounds(&after, "rock_salt_kg");
    if (pile - 2425.0).abs() > 0.5 || pile.is_nan() {
        return Err(format!("{pile:.1} lb off the pile, by hand 2,425 lb"));
    }
    let tank = |balance: &Value| -> Value {
        let tanks = balance["tanks"].as_array().cloned().unwrap_or_default();
        tanks.into_iter().find(|tank| tank["id"] == "2").unwrap_or_default()
    };
    let mass = pounds(&tank(&after), "mass_kg") - pounds(&tank(&before), "mass_kg");
    if (mass / 9810.0 - 1.0).abs() > 0.002 || mass.is_nan() {
        return Err(format!("{mass:.0} lb into tank 2, by hand 9,810 lb"));
    }
    tab.go_to(&format!("{origin}/tanks"))?;
    let said = text_at(&mut tab, "#tank-2")?;
    if !said.contains("1,000 gal") || !said.contains("23.3%") {
        return Err(format!("tank 2 does not hold the batch: {said}"));
    }
    let lots = tab.ask("document.querySelectorAll('#tank-2 .why li').length")?;
    if lots != 1 {
        return Err(format!("tank 2 has {lots} lots, not one"));
    }
    tab.close()?;
    Ok(format!("{} steps, {pile:.0} lb off the pile, {mass:.0} lb into the tank", steps - 1))
}

/// What is refused comes back with its message first and focused; what was entered is undone by one button, and done
/// again with its figures; a truck that came home empty is one tap.
pub fn slips(chromium: &mut Chromium, hand: Hand, script: Script) -> Result<String, String> {
    let yard = Yard::new()?;
    let origin = yard.server.origin.clone();
    let mut tab = chromium.open(PHONE_WIDTH, Scheme::Light)?;
    if script == Script::Off {
        tab.turn_script_off()?;
    }
    tab.go_to(&format!("{origin}/tanks#dip-1"))?;
    hand.fill(&mut tab, "[data-form=dip-1] [name=depth_ft]", "four")?;
    name(&mut tab, hand, "[data-form=dip-1]")?;
    if hand.push(&mut tab, "[data-form=dip-1] [type=submit]").is_ok() {
        return Err("a depth of \"four\" was taken".to_owned());
    }
    let stands = tab.ask(
        "(() => { const said = document.querySelector('#refused'); const at = said?.getBoundingClientRect(); \
         const field = document.querySelector('[aria-invalid=true]'); \
         const low = field?.getBoundingClientRect().bottom; \
         return !!said && [said, field].includes(document.activeElement) && at.top >= -1 && \
         at.top < innerHeight / 2 && low < innerHeight; })()",
    )?;
    picture(&mut tab, "day-refused")?;
    if stands != Value::Bool(true) {
        let where_is = tab.ask("[document.activeElement?.id, document.querySelector('#refused')?.getBoundingClientRect().top, scrollY]")?;
        return Err(format!("the message is not first on the screen and focused: {where_is}"));
    }
    let marked = tab.ask("document.querySelector('[aria-invalid=true]')?.name ?? ''")?;
    if marked != "depth_ft" {
        return Err(format!("the field that is marked is {marked}"));
    }
    hand.fill(&mut tab, "[data-form=dip-1] [name=depth_ft]", "4 ft 7 in")?;
    hand.push(&mut tab, "[data-form=dip-1] [type=submit]")?;
    picture(&mut tab, "day-undo")?;
    hand.push(&mut tab, "[data-form=undo] [type=submit]")?;
    picture(&mut tab, "day-undone")?;
    hand.push(&mut tab, "main li.voided a.step")?;
    let depth = tab.ask("document.querySelector('[data-form=dip-1] [name=depth_ft]')?.value ?? ''")?;
    if depth
        .as_str()
        .and_then(|depth| depth.parse::<f64>().ok())
        .is_none_or(|ft| (ft - 4.583_33).abs() > 1e-3)
    {
        return Err(format!("to do it again the depth stands as {depth}"));
    }
    tab.go_to(&format!("{origin}/load"))?;
    choose(&mut tab, hand, "[data-form=load] [name=truck][value=T1]")?;
    choose(&mut tab, hand, "[data-form=load] [name=tank][value='1']")?;
    hand.fill(&mut tab, "[data-form=load] [name=volume_gal]", "800")?;
    if hand == Hand::Pointer && script == Script::On {
        tab.ask("(document.querySelectorAll('details').forEach((one) => { one.open = true; }), true)")?;
    } else {
        tab.tab_to("[data-form=load] summary")?;
        tab.press_key(super::tab::Key::Enter)?;
    }
    hand.fill(&mut tab, "[data-form=load] [name=override_reason]", "needed for the bridge")?;
    name(&mut tab, hand, "[data-form=load]")?;
    hand.push(&mut tab, "[data-form=load] [type=submit]")?;
    tab.go_to(&format!("{origin}/load"))?;
    picture(&mut tab, "day-out")?;
    hand.push(&mut tab, "[data-form=home-empty] button[value=T1]")?;
    let kinds: Vec<String> =
        yard.listed()?.iter().filter_map(|row| row["kind"].as_str().map(str::to_owned)).collect();
    if kinds[2..] != ["dip", "void", "load_out", "return_to_tank"] {
        return Err(format!("the ledger lists {kinds:?}"));
    }
    tab.close()?;
    Ok("message first, undone by one button, home by one tap".to_owned())
}
