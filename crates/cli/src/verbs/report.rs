//! `report`: the books told on a terminal, as CSV, as a spreadsheet, as JSON.

use accounts::reconcile::{ReconcileError, reconcile};
use accounts::{Accounts, Journal, Line, LiquidAccount, Period};
use jiff::{SignedDuration, Timestamp, tz::TimeZone};
use message::Tell;
use quantity::{in_cubic_metres, in_hours, in_kilograms, in_metres};
use report::Teller;
use report::table::{Kind, Table, workbook};
use serde_json::{Value, json};
use yard::due::Pressing;
use yard::stock::Content;

use crate::args::{self, ReportOf, Units};
use crate::input;
use crate::outcome::{Done, Failure, Outcome, print, write_bytes};

/// Runs the verb.
pub fn run(args: &args::Report, units: Option<Units>) -> Outcome {
    let yard = input::yard(&args.yard)?;
    let zone = input::zone(&yard)?;
    let now = match &args.now {
        Some(text) => input::time("--now", text, &zone)?,
        None => Timestamp::now(),
    };
    let events = input::events(&args.database)?;
    let journal = Journal::new(&yard, &events);
    let (display, words) = (input::display(&yard, units)?, input::words());
    let teller = Teller { words: &words, display: &display, yard: &yard };
    let period = period(args, &journal, &zone, now)?;
    match args.what {
        ReportOf::Season => {
            let accounts = journal.accounts(period);
            if args.json {
                print(&format!("{:#}", document(&yard, &accounts)))?;
                return Ok(Done::Yes);
            }
            let flags: Vec<_> = entry::ticket::flags(&journal, &zone)
                .into_iter()
                .filter(|flag| period.holds(flag.at))
                .collect();
            let tables = teller.account_tables(&accounts, &flags);
            let lines: Vec<String> = teller.saved(&accounts).into_iter().collect();
            told(args, &teller, words.say("books.season"), &lines, &tables)?;
            Ok(Done::Yes)
        }
        ReportOf::Storms => storms(args, &teller, &journal),
        ReportOf::Close => close(args, &teller, &journal, period),
        ReportOf::Due => due(args, &teller, &journal, now),
    }
}

fn period(
    args: &args::Report,
    journal: &Journal<'_>,
    zone: &TimeZone,
    now: Timestamp,
) -> Result<Period, Failure> {
    let chores = &journal.books.chores;
    let second = SignedDuration::from_secs(1);
    let moment = |name: &str, text: &str, is_end: bool| -> Result<Timestamp, Failure> {
        if text.len() == 10
            && let Ok(day) = text.parse::<jiff::civil::Date>()
        {
            let day = if is_end { day.tomorrow().unwrap_or(day) } else { day };
            return zone
                .to_timestamp(day.at(0, 0, 0, 0))
                .map_err(|error| Failure::Input(format!("{name} = {text}: {error}")));
        }
        input::time(name, text, zone)
    };
    let from = match &args.from {
        Some(text) => moment("--from", text, false)?,
        None => chores.season_at.or(chores.first_at).unwrap_or(now),
    };
    let until = match &args.until {
        Some(text) => moment("--until", text, true)?,
        None => now + second,
    };
    if until <= from {
        return Err(Failure::Input(format!(
            "--until = {until}: not after --from, {from}; accepted: a later day or time"
        )));
    }
    Ok(Period { from, until })
}

/// Tells tables as the arguments ask.
fn told(
    args: &args::Report,
    teller: &Teller<'_>,
    title: &str,
    lines: &[String],
    tables: &[Table],
) -> Result<(), Failure> {
    if let Some(path) = &args.xlsx {
        let bytes = workbook(title, tables, teller.display)
            .map_err(|error| Failure::Machine(format!("{}: {error}", path.display())))?;
        return write_bytes(path, &bytes);
    }
    if let Some(key) = &args.csv {
        let Some(table) = tables.iter().find(|table| table.key == key) else {
            let keys: Vec<&str> = tables.iter().map(|table| table.key).collect();
            return Err(Failure::Input(format!(
                "--csv = {key}: no such table here; accepted: {}",
                keys.join(", ")
            )));
        };
        let text = table.csv(teller.display).map_err(|error| Failure::Machine(error.to_string()))?;
        return print(&text);
    }
    let mut text = format!("{title}\n");
    for line in lines {
        text.push_str(&format!("\n{line}\n"));
    }
    for table in tables {
        text.push_str(&aligned(table, teller));
    }
    print(&text)
}

/// A table in columns, numbers to the right.
pub(super) fn aligned(table: &Table, teller: &Teller<'_>) -> String {
    let units = teller.display.units;
    let heads = table.heads(units);
    let rows: Vec<Vec<String>> = table
        .rows
        .iter()
        .map(|row| {
            row.cells.iter().enumerate().map(|(place, cell)| table.shown(place, cell, units)).collect()
        })
        .collect();
    let widths: Vec<usize> = (0..heads.len())
        .map(|place| {
            let cells = rows.iter().filter_map(|row| row.get(place)).chain([&heads[place]]);
            cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
        })
        .collect();
    let line = |cells: &[String]| {
        let cell = |(place, cell): (usize, &String)| {
            let width = widths[place];
            let is_text = table.columns.get(place).is_some_and(|column| column.kind == Kind::Text);
            if is_text { format!("{cell:<width$}") } else { format!("{cell:>width$}") }
        };
        let joined = cells.iter().enumerate().map(cell).collect::<Vec<_>>().join("  ");
        format!("  {}\n", joined.trim_end())
    };
    let mut text = format!("\n{}\n{}", table.title, line(&heads));
    rows.iter().for_each(|row| text.push_str(&line(row)));
    for note in &table.notes {
        text.push_str(&format!("  {note}\n"));
    }
    text
}

fn storms(args: &args::Report, teller: &Teller<'_>, journal: &Journal<'_>) -> Outcome {
    let storms = journal.books.calendar.storms();
    if args.json {
        let rows: Vec<Value> = storms
            .iter()
            .map(|storm| {
                json!({ "name": storm.name, "from": storm.from.to_string(), "until": storm.until.to_string() })
            })
            .collect();
        print(&format!("{:#}", Value::Array(rows)))?;
        return Ok(Done::Yes);
    }
    let words = teller.words;
    let columns = [
        (words.say("books.storm"), Kind::Text),
        (words.say("meters.from"), Kind::Text),
        (words.say("meters.until"), Kind::Text),
    ];
    let mut table = Table::new("storms", words.say("books.storms"), &columns);
    for storm in storms.iter().rev() {
        let name = storm.name.clone().unwrap_or_else(|| words.say("books.unnamed").to_owned());
        let (from, until) = (teller.display.time(storm.from), teller.display.time(storm.until));
        table.row(vec![name.into(), from.into(), until.into()]);
    }
    told(args, teller, words.say("books.leaf-storms"), &[], &[table])?;
    Ok(Done::Yes)
}

fn close(args: &args::Report, teller: &Teller<'_>, journal: &Journal<'_>, period: Period) -> Outcome {
    let found = match reconcile(journal, period) {
        Ok(found) => found,
        Err(ReconcileError::NoEvidence) => {
            return Err(Failure::Input(format!(
                "{}; accepted: a ledger with two dips of a tank, two totals of a meter, or two surveys of the pile",
                teller.display.tell(&ReconcileError::NoEvidence.message())
            )));
        }
        Err(error) => return Err(Failure::Input(teller.display.tell(&error.message()))),
    };
    let done = if found.closes() { Done::Yes } else { Done::No };
    if args.json {
        let suspects: Vec<Value> = found
            .suspects
            .iter()
            .map(|suspect| {
                json!({
                    "cause": format!("{:?}", suspect.cause),
                    "says": teller.cause(suspect),
                    "size": suspect.size,
                    "interval_95": suspect.interval,
                    "statistic": suspect.statistic,
                })
            })
            .collect();
        let left: Vec<Value> = found
            .left_over
            .iter()
            .map(|one| {
                json!({
                    "balance": format!("{:?}", one.of),
                    "count": one.balances,
                    "evidence_less_book_kg": in_kilograms(one.mass),
                    "interval_95_kg": in_kilograms(one.interval),
                })
            })
            .collect();
        let document = json!({
            "closes": found.closes(),
            "balances": found.balances,
            "chi_squared": found.statistic,
            "chance": found.chance,
            "suspects": suspects,
            "left_over": left,
        });
        print(&format!("{document:#}"))?;
        return Ok(done);
    }
    let [short, long] = teller.closes(&found);
    let mut lines = vec![long];
    for suspect in &found.suspects {
        lines.push(format!("{} {}", teller.cause(suspect), teller.what_to_inspect(&suspect.cause)));
    }
    told(args, teller, &short, &lines, &[teller.left_over(&found)])?;
    Ok(done)
}

fn due(args: &args::Report, teller: &Teller<'_>, journal: &Journal<'_>, now: Timestamp) -> Outcome {
    let all = yard::due::due(journal.yard(), &journal.books, now);
    if args.json {
        let rows: Vec<Value> = all
            .iter()
            .map(|one| {
                json!({
                    "chore": one.chore.id,
                    "task": one.chore.task,
                    "who": one.chore.who,
                    "is_due": one.pressing == Pressing::Due,
                    "at": one.at.map(|at| at.to_string()),
                    "last": one.last.as_ref().map(|last| last.at.to_string()),
                    "source": one.chore.source,
                })
            })
            .collect();
        print(&format!("{:#}", Value::Array(rows)))?;
        return Ok(Done::Yes);
    }
    let words = teller.words;
    let columns = [
        (words.say("ask.chore"), Kind::Text),
        (words.say("account.who"), Kind::Text),
        (words.say("account.when"), Kind::Text),
    ];
    let mut table = Table::new("due", words.say("due.nav"), &columns);
    for one in &all {
        let when = teller.chore_when(one, now);
        table.row(vec![one.chore.task.as_str().into(), one.chore.who.as_str().into(), when.into()]);
    }
    told(args, teller, words.say("due.nav"), &[], &[table])?;
    Ok(Done::Yes)
}

fn content(yard: &site::Yard, content: &Content) -> Value {
    json!({
        "volume_m3": in_cubic_metres(content.volume(yard, None)),
        "mass_kg": in_kilograms(content.mass),
        "sodium_chloride_kg": in_kilograms(content.sodium_chloride),
        "chloride_kg": in_kilograms(content.chloride(yard)),
    })
}

fn account(yard: &site::Yard, account: &LiquidAccount) -> Value {
    let name = |line: Line| match line {
        Line::Made => "made",
        Line::Bought => "bought",
        Line::Added => "added",
        Line::FromTank => "from_tank",
        Line::Returned => "returned",
        Line::Agreed => "agreed",
        Line::ToTank => "to_tank",
        Line::Loaded => "loaded",
        Line::Issued => "issued",
        Line::Lost => "lost",
        Line::CleanedOut => "cleaned_out",
    };
    let mut object = serde_json::Map::new();
    object.insert("opening".into(), content(yard, &account.opening));
    for line in Line::ALL {
        object.insert(name(line).into(), content(yard, &account.line(line)));
    }
    object.insert("closing".into(), content(yard, &account.closing));
    Value::Object(object)
}

/// All of a period in SI units, unrounded.
fn document(yard: &site::Yard, accounts: &Accounts) -> Value {
    let salt = &accounts.salt;
    let routes: Vec<Value> = accounts
        .routes
        .iter()
        .map(|(route, got)| {
            json!({
                "route": route,
                "liquid": content(yard, &got.liquid),
                "off_ticket": content(yard, &got.off_ticket),
                "dry_salt_kg": in_kilograms(got.dry_salt),
                "chloride_kg": in_kilograms(got.chloride(yard)),
                "lane_m": in_metres(got.lane),
                "treatments": got.treatments,
                "loads": got.loads,
                "planned_m3": in_cubic_metres(got.planned_liquid),
                "truck_h": in_hours(got.truck_time),
            })
        })
        .collect();
    let waters: Vec<Value> = accounts
        .watersheds
        .iter()
        .map(|water| {
            json!({
                "watershed": water.watershed,
                "chloride_kg": in_kilograms(water.chloride),
                "in_runoff_mg_l": water.in_runoff_mg_l,
                "samples": water.samples.count,
                "samples_above_chronic": water.samples.above_chronic,
                "samples_above_acute": water.samples.above_acute,
            })
        })
        .collect();
    let tanks: serde_json::Map<String, Value> =
        accounts.tanks.iter().map(|(tank, one)| (tank.clone(), account(yard, one))).collect();
    let agencies: Vec<Value> = accounts
        .agencies
        .iter()
        .map(|(name, liquid, usd)| json!({ "agency": name, "liquid": content(yard, liquid), "billed_usd": usd }))
        .collect();
    let money = &accounts.money;
    json!({
        "from": accounts.period.from.to_string(),
        "until": accounts.period.until.to_string(),
        "liquids": account(yard, &accounts.liquids),
        "tanks": tanks,
        "rock_salt_kg": {
            "opening": in_kilograms(salt.opening),
            "delivered": in_kilograms(salt.delivered),
            "agreed": in_kilograms(salt.agreed),
            "made": in_kilograms(salt.made),
            "corrected": in_kilograms(salt.corrected),
            "spread": in_kilograms(salt.spread),
            "closing": in_kilograms(salt.closing),
        },
        "routes": routes,
        "watersheds": waters,
        "agencies": agencies,
        "money_usd": {
            "salt_per_short_ton": money.salt_usd_per_ton,
            "making_salt": money.making_salt,
            "making_water": money.making_water,
            "making_hours": money.making_hours,
            "per_m3_made": money.usd_per_m3_made,
            "liquid_on_road": money.liquid_on_road,
            "dry_on_road": money.dry_on_road,
            "trucks": money.trucks,
            "lost": money.lost,
            "billed": money.billed,
        },
        "saved": accounts.saved.as_ref().map(|saved| json!({
            "baseline_kg": in_kilograms(saved.baseline),
            "used_kg": in_kilograms(saved.used),
            "source": saved.source,
        })),
        "overrides": accounts.overrides.len(),
        "short_loads": accounts.shorts.len(),
    })
}
