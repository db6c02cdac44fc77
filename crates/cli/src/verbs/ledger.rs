//! `ledger`: record what happened, list it, add it up, check it, hand it out.

mod kinds;

use std::path::Path;

use entry::Judged;
use event::{Event, EventId, Recorded};
use jiff::Timestamp;
use message::Tell;
use quantity::{in_cubic_metres, in_gallons, in_kilograms, in_pounds};
use report::Teller;
use serde_json::{Value, json};
use store::export::{CSV_COLUMNS, row_cells, row_document};
use store::{Ledger, Row, SqliteLedger, Verification};
use yard::stock::{Books, Part, TankBook};

use crate::args::{self, ExportFormat, LedgerAct, Units};
use crate::errors::{english, lines};
use crate::input;
use crate::outcome::{Done, Failure, Outcome, print, write_file};

/// Runs the verb.
pub fn run(args: &args::Ledger, units: Option<Units>) -> Outcome {
    match &args.act {
        LedgerAct::Add(args) => add(args, units),
        LedgerAct::Void(args) => void(args, units),
        LedgerAct::Import(args) => import(args, units),
        LedgerAct::List(args) => list(args, units),
        LedgerAct::Balance(args) => balance(args, units),
        LedgerAct::Verify(args) => verify(args),
        LedgerAct::Export(args) => export(args),
        LedgerAct::Kinds(args) => kinds::kinds(args.kind.as_deref()),
    }
}

fn add(args: &args::LedgerAdd, units: Option<Units>) -> Outcome {
    let yard = input::yard(&args.yard)?;
    let (display, now) = (input::display(&yard, units)?, Timestamp::now());
    let occurred_at = match &args.at {
        Some(text) => input::time("--at", text, &input::zone(&yard)?)?,
        None => now,
    };
    if occurred_at > now {
        return Err(Failure::Input(format!(
            "--at = {occurred_at}: lies ahead of now, {now}; accepted: a time that has been"
        )));
    }
    let author = args.author.trim();
    if author.is_empty() {
        return Err(Failure::Input("--author is empty; accepted: the name of who says so".into()));
    }
    let id = match &args.id {
        Some(text) => text
            .parse::<EventId>()
            .map_err(|e| Failure::Input(format!("--id = {text}: {e}; accepted: a UUID")))?,
        None => EventId(uuid::Uuid::now_v7()),
    };
    let fields = args
        .fields
        .iter()
        .map(|field| {
            field.split_once('=').map(|(name, value)| (name.to_string(), value.to_string())).ok_or_else(
                || {
                    Failure::Input(format!(
                        "{field}: not a field; accepted: name=value, such as volume_gal=2000"
                    ))
                },
            )
        })
        .collect::<Result<Vec<_>, _>>()?;
    // What is wrong with the entry alone is said before a ledger is made for it.
    let refuse = |problems: Vec<entry::EntryProblem>| Failure::Input(lines(&display, &problems));
    let (ledger, events) = existing(&args.database)?;
    // A retry of what is recorded already is worked out as it was then, and is no new event to doubt.
    let place = events.iter().position(|recorded| recorded.event.id == id);
    let is_retry = place.is_some();
    let mut before = events;
    before.truncate(place.unwrap_or(before.len()));
    let books = Books::fold(&yard, &yard::clock::as_of(before, now).0);
    let body = entry::read_body(&args.kind, &fields, (&yard, &books)).map_err(refuse)?;
    let ledger = made(ledger, &args.database)?;
    if !is_retry {
        let mut doubts = entry::asked((id, &body), (&yard, &books), occurred_at, now);
        doubts.retain(|doubt| !args.confirm || needs_reason(doubt));
        if !doubts.is_empty() {
            let way = if doubts.iter().any(needs_reason) { "" } else { "; --confirm records it" };
            return Err(Failure::Input(format!(
                "{}\n  Nothing was recorded{way}.",
                lines(&display, &doubts)
            )));
        }
    }
    let event = Event { id, occurred_at, author: author.to_string(), device: args.device.clone(), body };
    let answer = ledger.append(&[event], now)?;
    let place = answer.first().map_or(0, |place| place.seq());
    print(&format!("Recorded in row {place} with id {id}."))?;
    Ok(Done::Yes)
}

/// The ledger of a file and its rows; none where there is no file yet.
fn existing(database: &Path) -> Result<(Option<SqliteLedger>, Vec<Recorded>), Failure> {
    if !database.exists() {
        return Ok((None, Vec::new()));
    }
    let ledger = input::sound_ledger(database)?;
    let events = ledger.events_after(0)?;
    Ok((Some(ledger), events))
}

/// The ledger, made where there is none yet: only when there is something sound to record.
fn made(ledger: Option<SqliteLedger>, database: &Path) -> Result<SqliteLedger, Failure> {
    match ledger {
        Some(ledger) => Ok(ledger),
        None => Ok(SqliteLedger::open(database)?),
    }
}

fn void(args: &args::LedgerVoid, units: Option<Units>) -> Outcome {
    let yard = input::yard(&args.yard)?;
    let (display, now) = (input::display(&yard, units)?, Timestamp::now());
    let author = args.author.trim();
    if author.is_empty() {
        return Err(Failure::Input("--author is empty; accepted: the name of who says so".into()));
    }
    let ledger = input::sound_ledger(&args.database)?;
    let events = ledger.events_after(0)?;
    let target = events.iter().find(|recorded| recorded.seq == args.row).ok_or_else(|| {
        let head = events.last().map_or(0, |last| last.seq);
        Failure::Input(format!("row {}: not in the ledger; accepted: 1 to {head}", args.row))
    })?;
    let by = events.iter().find(|recorded| recorded.event.body.voids() == Some(target.event.id));
    if let Some(by) = by {
        return Err(Failure::Input(format!("row {}: was taken back already, in row {}", args.row, by.seq)));
    }
    let fields =
        [("event".to_owned(), target.event.id.to_string()), ("reason".to_owned(), args.reason.clone())];
    let books = Books::fold(&yard, &events);
    let body = entry::read_body("void", &fields, (&yard, &books));
    let body = body.map_err(|problems| Failure::Input(lines(&display, &problems)))?;
    let id = EventId(uuid::Uuid::now_v7());
    // What is asked is asked of when the event happened that is taken back.
    let mut doubts = entry::asked((id, &body), (&yard, &books), target.event.occurred_at, now);
    doubts.retain(|doubt| !args.confirm && matches!(doubt.field.as_str(), "clock" | "at"));
    if !doubts.is_empty() {
        return Err(Failure::Input(format!(
            "{}\n  Nothing was recorded; --confirm records it.",
            lines(&display, &doubts)
        )));
    }
    let device = args.device.clone();
    let event = Event { id, occurred_at: now, author: author.to_string(), device, body };
    let answer = ledger.append(&[event], now)?;
    let place = answer.first().map_or(0, |place| place.seq());
    print(&format!("Row {} is taken back, by row {place}.", args.row))?;
    Ok(Done::Yes)
}

/// A doubt that no tick settles: the reason must be written.
fn needs_reason(doubt: &entry::EntryProblem) -> bool {
    doubt.field == "override_reason"
}

fn import(args: &args::LedgerImport, units: Option<Units>) -> Outcome {
    let yard = input::yard(&args.yard)?;
    let (display, now) = (input::display(&yard, units)?, Timestamp::now());
    let text = input::text(&args.file)?;
    let name = args.file.display();
    let (ledger, events) = existing(&args.database)?;
    let books = Books::fold(&yard, &events);
    let rows = entry::import(&text, &args.kind, (&yard, &books), &display.zone, now).map_err(|problems| {
        let lines: Vec<String> =
            problems.iter().map(|problem| format!("{name}: {}", display.tell(&problem.message()))).collect();
        Failure::Input(format!("{}\n  Nothing was recorded.", lines.join("\n  ")))
    })?;
    let ledger = made(ledger, &args.database)?;
    let (mut doubts, mut news, mut fresh) = (Vec::new(), Vec::new(), 0);
    for Judged { row, is_new, doubts: mut found } in entry::judge(rows, &yard, books, &events, now) {
        let who = row.author.clone().or_else(|| args.author.clone());
        let author = who.map(|author| author.trim().to_string()).filter(|author| !author.is_empty());
        let Some(author) = author else {
            let what = "does not say who entered it; accepted: a column author, or --author";
            return Err(Failure::Input(format!("{name}: line {}: {what}", row.line)));
        };
        found.retain(|doubt| !args.confirm || needs_reason(doubt));
        doubts.extend(
            found
                .iter()
                .map(|doubt| format!("{name}: line {}: {}", row.line, display.tell(&doubt.message()))),
        );
        fresh += usize::from(is_new);
        let device = args.device.clone();
        news.push(Event { id: row.id, occurred_at: row.at, author, device, body: row.body });
    }
    if !doubts.is_empty() {
        return Err(Failure::Input(format!(
            "{}\n  Nothing was recorded; --confirm records what needs no reason.",
            doubts.join("\n  ")
        )));
    }
    ledger.append(&news, now)?;
    print(&format!("Recorded {fresh} of {} rows; the others stood in the ledger already.", news.len()))?;
    Ok(Done::Yes)
}

fn list(args: &args::LedgerList, units: Option<Units>) -> Outcome {
    let yard = input::yard(&args.yard)?;
    let ledger = input::ledger(&args.database)?;
    let rows = ledger.rows_after(0)?;
    let mut wanted: Vec<(&Row, event::Event)> = Vec::new();
    for row in rows.iter().rev() {
        if wanted.len() == args.limit {
            break;
        }
        let event = row.decode()?.event;
        if args.tank.as_deref().is_none_or(|tank| event.body.tanks().contains(&tank)) {
            wanted.push((row, event));
        }
    }
    wanted.reverse();
    if args.json {
        let rows: Vec<Value> = wanted.iter().map(|(row, _)| row_document(row)).collect();
        print(&format!("{:#}", Value::Array(rows)))?;
        return Ok(Done::Yes);
    }
    if args.table.is_some() {
        let rows: Vec<&Row> = wanted.iter().map(|(row, _)| *row).collect();
        print(&csv_text(&rows)?)?;
        return Ok(Done::Yes);
    }
    let (display, words) = (input::display(&yard, units)?, input::words());
    let teller = Teller { words: &words, display: &display, yard: &yard };
    let lines: Vec<String> = wanted
        .iter()
        .map(|(row, event)| {
            format!(
                "{:>6}  {}  {}: {} ({})",
                row.seq,
                display.time(event.occurred_at),
                teller.event_kind(event.body.kind()),
                teller.event_line(&event.body),
                event.author
            )
        })
        .collect();
    print(&lines.join("\n"))?;
    Ok(Done::Yes)
}

fn balance(args: &args::LedgerBalance, units: Option<Units>) -> Outcome {
    let yard = input::yard(&args.yard)?;
    let books = Books::fold(&yard, &input::events(&args.database)?);
    let text = if args.json {
        format!("{:#}", balance_document(&books, &yard, units)?)
    } else if args.table.is_some() {
        balance_csv(&books, &yard)?
    } else {
        balance_text(&books, &yard, units)?
    };
    print(&text)?;
    Ok(if books.close() { Done::Yes } else { Done::No })
}

/// What a tank holds that is not its product alone.
fn unlike(yard: &site::Yard, place: usize, tank: &TankBook) -> Vec<Part> {
    yard.product(&yard.tanks[place].product).map_or_else(Vec::new, |product| tank.unlike(product))
}

fn balance_document(books: &Books, yard: &site::Yard, units: Option<Units>) -> Result<Value, Failure> {
    let totals = &books.totals;
    let (display, words) = (input::display(yard, units)?, input::words());
    let teller = Teller { words: &words, display: &display, yard };
    Ok(json!({
        "close": books.close(),
        "tanks": books.tanks.iter().enumerate().map(|(place, tank)| json!({
            "id": tank.tank,
            "product": yard.tanks[place].product,
            "mass_kg": in_kilograms(tank.content.mass),
            "sodium_chloride_kg": in_kilograms(tank.content.sodium_chloride),
            "volume_m3": in_cubic_metres(tank.volume(yard)),
            "strength_pct": tank.strength().map(|w| w.percent()),
            "chloride_kg": in_kilograms(tank.chloride(yard)),
            "declared_kg": tank
                .content
                .declared
                .iter()
                .map(|(id, mass)| (id.clone(), json!(in_kilograms(*mass))))
                .collect::<serde_json::Map<_, _>>(),
            "mixed": !unlike(yard, place, tank).is_empty(),
            "there": books.estimate(&tank.tank).map(|one| there(one, yard)),
        })).collect::<Vec<_>>(),
        "rock_salt_kg": in_kilograms(books.rock_salt),
        "totals_kg": {
            "made": in_kilograms(totals.made),
            "salt_delivered": in_kilograms(totals.salt_delivered),
            "salt_dissolved": in_kilograms(totals.salt_dissolved),
            "salt_spread": in_kilograms(totals.salt_spread),
            "loaded": in_kilograms(totals.loaded),
            "returned": in_kilograms(totals.returned),
            "issued": in_kilograms(totals.issued),
            "lost": in_kilograms(totals.lost),
        },
        "problems": books.problems.iter().map(|p| teller.book_problem(p)).collect::<Vec<_>>(),
    }))
}

/// What a tank is thought to hold, by the flows and all evidence.
fn there(one: &yard::estimate::TankEstimate, yard: &site::Yard) -> Value {
    let (volume, strength) = (one.volume(yard), one.strength());
    json!({
        "volume_m3": in_cubic_metres(volume.value),
        "volume_within_m3": in_cubic_metres(volume.uncertainty),
        "strength_pct": strength.map(|strength| strength.value.percent()),
        "strength_within_pct": strength.map(|strength| strength.uncertainty.percent()),
        "is_counted": one.counted_at().is_some(),
        "asks_second_look": one.doubted().is_some(),
    })
}

fn balance_csv(books: &Books, yard: &site::Yard) -> Result<String, Failure> {
    let mut lines = vec!["tank,product,volume_gal,mass_lb,strength_pct".to_string()];
    for (place, tank) in books.tanks.iter().enumerate() {
        lines.push(format!(
            "{},{},{},{},{}",
            tank.tank,
            yard.tanks[place].product,
            in_gallons(tank.volume(yard)),
            in_pounds(tank.content.mass),
            tank.strength().map_or_else(String::new, |w| w.percent().to_string())
        ));
    }
    Ok(lines.join("\n"))
}

fn balance_text(books: &Books, yard: &site::Yard, units: Option<Units>) -> Result<String, Failure> {
    let (d, words) = (input::display(yard, units)?, input::words());
    let teller = Teller { words: &words, display: &d, yard };
    let mut lines = Vec::new();
    for (place, tank) in books.tanks.iter().enumerate() {
        let volume = tank.volume(yard);
        let strength = tank.strength().map_or_else(|| "-".to_string(), |w| d.strength(w));
        lines.push(format!(
            "Tank {:<4} {:>12} ({:>12})  {:>12}  {strength:>8}",
            tank.tank,
            d.volume(volume),
            d.volume_beside(volume),
            d.mass(tank.content.mass)
        ));
        if let Some(one) = books.estimate(&tank.tank).filter(|one| one.seen_at().is_some()) {
            let (volume, strength) = (one.volume(yard), one.strength());
            let strength = strength.map_or_else(String::new, |strength| {
                format!(", {} ± {}", d.strength(strength.value), d.strength(strength.uncertainty))
            });
            let there = format!("{} ± {}{strength}", d.volume(volume.value), d.volume(volume.uncertainty));
            lines.push(format!("          {}", words.fill("balance.there", &[("what", &there)])));
        }
        let unlike = unlike(yard, place, tank);
        if !unlike.is_empty() {
            lines.push(format!("          {}", teller.not_its_own(&unlike)));
        }
    }
    lines.push(format!("Rock salt {}", d.mass(books.rock_salt)));
    let t = &books.totals;
    lines.push(format!(
        "Made {}, loaded {}, returned {}, issued {}, lost {}.",
        d.mass(t.made),
        d.mass(t.loaded),
        d.mass(t.returned),
        d.mass(t.issued),
        d.mass(t.lost)
    ));
    lines.push(format!(
        "Salt delivered {}, dissolved {}, spread {}.",
        d.mass(t.salt_delivered),
        d.mass(t.salt_dissolved),
        d.mass(t.salt_spread)
    ));
    if !books.close() {
        lines.push(words.say("caution.books").to_string());
    }
    lines.extend(books.problems.iter().map(|problem| format!("- {}", teller.book_problem(problem))));
    Ok(lines.join("\n"))
}

fn verify(args: &args::LedgerVerify) -> Outcome {
    let ledger = input::ledger(&args.database)?;
    if args.accept_end {
        let head = ledger.accept_end()?;
        let people = args.database.with_file_name("people.db");
        if people.exists() {
            store::people::PeopleFile::open(&people)?
                .remember(store::people::LEDGER_END, &head.to_string())?;
        }
    }
    if let Some(text) = &args.expect {
        let end = store::Head::read(text).ok_or_else(|| {
            Failure::Input(format!(
                "--expect = {text}: accepted: ROW:HASH, as verify and every report print it"
            ))
        })?;
        // What stands against it is remembered, and told below.
        let _ = ledger.holds(end);
    }
    let found = ledger.verify()?;
    let (text, document, done) = match &found {
        Verification::Sound(head) => (
            format!(
                "Sound: {} rows. Its end, to keep elsewhere, so that nothing can be cut off unseen:\n{head}",
                head.seq
            ),
            json!({ "sound": true, "rows": head.seq, "hash": head.hash.to_string() }),
            Done::Yes,
        ),
        Verification::Damaged { seq, reason } => {
            let reason = english(reason);
            let text = match seq {
                0 => format!("Damaged: {reason}. Restore a backup."),
                seq => format!("Damaged at row {seq}: {reason}. Rows before it are sound. Restore a backup."),
            };
            (text, json!({ "sound": false, "row": seq, "reason": reason }), Done::No)
        }
    };
    print(&if args.json { format!("{document:#}") } else { text })?;
    Ok(done)
}

fn export(args: &args::LedgerExport) -> Outcome {
    drop(input::ledger(&args.database)?);
    let (rows, lost) = SqliteLedger::salvage(&args.database)?;
    let text = match args.format {
        ExportFormat::Jsonl => rows.iter().map(|row| format!("{}\n", row_document(row))).collect(),
        ExportFormat::Csv => csv_text(&rows.iter().collect::<Vec<_>>())?,
    };
    match &args.output {
        Some(path) => {
            write_file(path, &text)?;
            print(&format!("{} rows written to {}.", rows.len(), path.display()))?;
        }
        None => print(&text)?,
    }
    if lost.is_empty() {
        return Ok(Done::Yes);
    }
    let lines: Vec<String> =
        lost.iter().map(|(seq, reason)| format!("row {seq}: {}", english(reason))).collect();
    Err(Failure::No(format!(
        "{} rows are not sound and were left out:\n  {}",
        lost.len(),
        lines.join("\n  ")
    )))
}

fn csv_text(rows: &[&Row]) -> Result<String, Failure> {
    let failed = |error: String| Failure::Machine(format!("the table could not be written: {error}"));
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(CSV_COLUMNS).map_err(|e| failed(e.to_string()))?;
    for row in rows {
        writer.write_record(row_cells(row)).map_err(|e| failed(e.to_string()))?;
    }
    let bytes = writer.into_inner().map_err(|e| failed(e.to_string()))?;
    String::from_utf8(bytes).map_err(|e| failed(e.to_string()))
}
