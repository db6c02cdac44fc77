//! The bench's pages: a sample judged, the plant trimmed by it, the instruments watched, and the record of it all.

pub(crate) mod instruments;
pub(crate) mod lab;
pub(crate) mod record;
pub(crate) mod sample;
pub(crate) mod trim;

use yard::stock::Books;

use crate::page_frame::{Link, Visitor};

/// k of the intervals that the ledger keeps with a bench reading: 95 %, normal.
const K95: f64 = 1.96;

/// Which of the bench's pages.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Leaf {
    Sample,
    Trim,
    Instruments,
    Lab,
    Record,
}

/// Links between the bench's pages.
fn leaves(visitor: &Visitor, here: Leaf) -> Vec<Link> {
    let link = |key: &str, path: &str, leaf: Leaf| Link {
        label: visitor.words.say(key).to_string(),
        url: visitor.app.url(path),
        current: leaf == here,
    };
    vec![
        link("bench.leaf-sample", "/bench", Leaf::Sample),
        link("bench.leaf-trim", "/bench/trim", Leaf::Trim),
        link("bench.leaf-instruments", "/bench/instruments", Leaf::Instruments),
        link("bench.leaf-lab", "/bench/lab", Leaf::Lab),
        link("bench.leaf-record", "/bench/record", Leaf::Record),
    ]
}

/// What is due to be looked at again, in sentences.
fn due_lines(visitor: &Visitor, books: &Books) -> Vec<String> {
    let due = books.bench.due(&visitor.app.yard, visitor.app.clock.now());
    due.iter().map(|due| visitor.teller().due(due)).collect()
}
