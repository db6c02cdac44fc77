//! Many entries of one kind from a table: all of them, or what is wrong with each row.

use std::collections::{HashMap, HashSet};

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;
use message::{Arg, Message, Tell, message};
use uuid::Uuid;

use super::problem::{did_you_mean, none};
use super::{EntryProblem, read_body};
use event::{Body, Event, EventId, Recorded};
use site::Yard;
use yard::stock::Books;

/// Most rows of one table: a season of a large yard.
const MOST_ROWS: usize = 50_000;
/// Namespace of the ids of imported rows (UUID version 5), so that the same row is the same entry. Drawn once.
const NAMESPACE: Uuid = Uuid::from_u128(0x4f2b_7c1e_93d8_4e5a_a06b_51c7_2f8d_9b34);

/// A row as an entry.
#[derive(Debug, Clone, PartialEq)]
pub struct Imported {
    /// Line of the table, from 1.
    pub line: u64,
    /// Its id: the same row read again has the same.
    pub id: EventId,
    /// When it happened.
    pub at: Timestamp,
    /// Name of the person who made the entry; none where the table does not say.
    pub author: Option<String>,
    /// The fields of the event, checked against the yard.
    pub body: Body,
}

/// What is wrong with a row.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}", self.message())]
pub struct ImportProblem {
    /// Line of the table, from 1.
    pub line: u64,
    /// The field, what is wrong with it, and what is accepted.
    pub problem: EntryProblem,
}

impl Tell for ImportProblem {
    fn message(&self) -> Message {
        message!("entry.line", line = self.line, problem = &self.problem)
    }
}

/// Reads a table (CSV; semicolons and tabs are read too) whose header names the fields of a kind, with their units, as
/// `ledger add` takes them; `at` says when, and `author` who. The same row twice in a table is two entries.
///
/// # Errors
/// Every problem found, by line; then nothing is to be recorded.
pub fn import(
    text: &str,
    kind: &str,
    (yard, books): (&Yard, &Books),
    zone: &TimeZone,
    now: Timestamp,
) -> Result<Vec<Imported>, Vec<ImportProblem>> {
    let whole = text.trim_start_matches('\u{feff}');
    let text = whole.trim_start();
    // Lines are counted as the person sees them, with the blank ones above.
    let above = whole[..whole.len() - text.len()].matches('\n').count() as u64;
    let first = text.lines().next().unwrap_or("");
    let mark = [b'\t', b';', b','].into_iter().max_by_key(|mark| first.bytes().filter(|b| b == mark).count());
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(mark.unwrap_or(b','))
        .trim(csv::Trim::All)
        .flexible(true)
        .from_reader(text.as_bytes());
    let unreadable = |line: u64, problem: Message| {
        let accepted = message!("entry.accept-table", example = "at,route,treated,salt_lb");
        let problem = EntryProblem::new("table", message!("entry.whole-line"), problem, accepted);
        ImportProblem { line, problem }
    };
    let no_csv = |error: &csv::Error| message!("entry.no-csv", reason = error.to_string());
    let heads: Vec<String> = match reader.headers() {
        Ok(heads) => heads.iter().map(str::to_owned).collect(),
        Err(error) => return Err(vec![unreadable(above + 1, no_csv(&error))]),
    };
    if !heads.iter().any(|head| head == "at") {
        let names = heads.iter().map(String::as_str);
        return Err(vec![unreadable(above + 1, did_you_mean(message!("entry.no-time-column"), "at", names))]);
    }
    let twice = |(place, head): (usize, &String)| (heads[..place].contains(head)).then(|| head.clone());
    if let Some(head) = heads.iter().enumerate().find_map(twice) {
        return Err(vec![unreadable(above + 1, message!("entry.column-twice", column = head))]);
    }
    let (mut found, mut problems) = (Vec::new(), Vec::new());
    let mut seen: HashMap<String, u32> = HashMap::new();
    for record in reader.records() {
        let record = match record {
            Ok(record) => record,
            Err(error) => {
                let line = above + error.position().map_or(0, csv::Position::line);
                problems.push(unreadable(line, no_csv(&error)));
                continue;
            }
        };
        let line = above + record.position().map_or(0, csv::Position::line);
        if record.iter().all(str::is_empty) {
            continue;
        }
        if record.len() > heads.len() {
            let what = message!("entry.too-many-cells", cells = record.len(), heads = heads.len());
            problems.push(unreadable(line, what));
            continue;
        }
        if found.len() == MOST_ROWS {
            problems.push(unreadable(line, message!("entry.too-many-rows", most = MOST_ROWS)));
            break;
        }
        match row(&heads, &record, kind, (yard, books), (zone, now)) {
            Ok((at, author, body)) => {
                let said = record.iter().collect::<Vec<_>>().join("\u{1f}");
                let count = seen.entry(said.clone()).or_insert(0);
                *count += 1;
                let name = format!("{kind}\u{1f}{}\u{1f}{said}\u{1f}{count}", heads.join("\u{1f}"));
                let id = EventId(Uuid::new_v5(&NAMESPACE, name.as_bytes()));
                found.push(Imported { line, id, at, author, body });
            }
            Err(all) => problems.extend(all.into_iter().map(|problem| ImportProblem { line, problem })),
        }
    }
    if found.is_empty() && problems.is_empty() {
        problems.push(unreadable(above + 1, message!("entry.no-rows")));
    }
    if problems.is_empty() { Ok(found) } else { Err(problems) }
}

/// An imported row, compared with the ledger.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// The row. One that was voided and comes again has a new id.
    pub row: Imported,
    /// Whether the ledger does not have it yet.
    pub is_new: bool,
    /// Doubts about the row, if it is new.
    pub doubts: Vec<EntryProblem>,
}

/// Holds rows against the ledger: which are new, and what is doubted of those. The rows after a new one are judged with
/// it; one out of order is judged by what stands in the ledger.
pub fn judge(
    rows: Vec<Imported>,
    yard: &Yard,
    mut books: Books,
    ledger: &[Recorded],
    now: Timestamp,
) -> Vec<Judged> {
    let known: HashSet<EventId> = ledger.iter().map(|recorded| recorded.event.id).collect();
    let voided: HashSet<EventId> = ledger.iter().filter_map(|r| r.event.body.voids()).collect();
    // The same row twice in a table is two entries.
    let mut earlier: HashSet<(Timestamp, String)> = HashSet::new();
    let judged = |mut row: Imported| {
        let is_twin = !earlier.insert((row.at, format!("{:?}", row.body)));
        let taken_back = voided.contains(&row.id);
        while voided.contains(&row.id) {
            row.id = EventId(Uuid::new_v5(&NAMESPACE, row.id.0.as_bytes()));
        }
        if known.contains(&row.id) {
            return Judged { row, is_new: false, doubts: Vec::new() };
        }
        let again = taken_back.then(|| {
            let accepted = message!("entry.accept-import-again");
            EntryProblem::new("row", row.body.kind(), message!("entry.imported-and-voided"), accepted)
        });
        let doubts = again
            .into_iter()
            .chain(super::asked((row.id, &row.body), (yard, &books), row.at, now))
            .filter(|doubt| !(is_twin && doubt.field == super::doubt::WHOLE_ENTRY))
            .collect();
        let author = row.author.clone().unwrap_or_default();
        let (id, body) = (row.id, row.body.clone());
        let event = Event { id, occurred_at: row.at, author, device: "import".into(), body };
        let seq = books.last_seq + 1;
        // What it cannot take it judges without.
        let _ = books.try_append(yard, &Recorded { seq, recorded_at: now, event });
        Judged { row, is_new: true, doubts }
    };
    rows.into_iter().map(judged).collect()
}

fn row(
    heads: &[String],
    record: &csv::StringRecord,
    kind: &str,
    site: (&Yard, &Books),
    (zone, now): (&TimeZone, Timestamp),
) -> Result<(Timestamp, Option<String>, Body), Vec<EntryProblem>> {
    let cell = |name: &str| heads.iter().position(|head| head == name).and_then(|place| record.get(place));
    let at = moment(cell("at").unwrap_or(""), zone, now).map_err(|problem| vec![*problem]);
    let author = cell("author").filter(|text| !text.is_empty()).map(str::to_owned);
    let fields: Vec<(String, String)> = heads
        .iter()
        .zip(record)
        .filter(|(head, _)| !["at", "author"].contains(&head.as_str()))
        .map(|(head, cell)| (head.clone(), cell.to_owned()))
        .collect();
    match (at, read_body(kind, &fields, site)) {
        (Ok(at), Ok(body)) => Ok((at, author, body)),
        (at, body) => Err(at.err().into_iter().chain(body.err()).flatten().collect()),
    }
}

/// A time of a table: UTC with a Z, or the yard's own.
fn moment(text: &str, zone: &TimeZone, now: Timestamp) -> Result<Timestamp, Box<EntryProblem>> {
    let problem = |what: Message| {
        let value = if text.is_empty() { none() } else { Arg::from(text) };
        let accepted =
            message!("entry.accept-moment", ours = "2027-01-14 05:40", utc = "2027-01-14T10:40:00Z");
        Box::new(EntryProblem::new("at", value, what, accepted))
    };
    let at = match text.parse::<Timestamp>() {
        Ok(at) => at,
        Err(_) => {
            let civil = ["%Y-%m-%d %H:%M", "%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"]
                .iter()
                .find_map(|form| DateTime::strptime(form, text).ok())
                .ok_or_else(|| problem(message!("entry.not-a-moment")))?;
            yard::calendar::by_the_clock(civil, zone).map_err(|error| problem(error.message()))?
        }
    };
    let first = TimeZone::UTC.to_timestamp(DateTime::constant(2000, 1, 1, 0, 0, 0, 0));
    if first.is_ok_and(|first| at < first) {
        return Err(problem(message!("entry.before-2000")));
    }
    if at > now { Err(problem(message!("entry.still-to-come"))) } else { Ok(at) }
}
