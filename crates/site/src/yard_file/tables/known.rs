//! What every table of the file is built with: the ids that are known so far, and readings that several tables share.

use chemistry::MassFraction;
use message::message;

use crate::yard_file::problem::names;
use crate::yard_file::reader::{Context, Section, closest, complaint};

/// Id of the product that is supplied when the file names none.
pub(super) const SUPPLIED_PRODUCT: (&str, &str) = ("brine", "Salt brine");

/// Builds each entry of a list whose id could be read.
pub(super) fn each<T>(
    context: &mut Context<'_>,
    sections: &[Section<'_>],
    known: &Known,
    build: impl Fn(&mut Context<'_>, &Section<'_>, String) -> Option<T>,
) -> Vec<T> {
    // Every entry is built, to find what is wrong with it, even where its id is not usable.
    sections
        .iter()
        .zip(&known.of_each)
        .filter_map(|(section, id)| {
            let built = build(context, section, id.clone().unwrap_or_default());
            built.filter(|_| id.is_some())
        })
        .collect()
}

/// The ids of one list of tables.
pub(super) struct Known {
    /// Per entry, when it can be read.
    pub(super) of_each: Vec<Option<String>>,
    /// Whether every id could be read, so that an unknown one is wrong for sure.
    pub(super) complete: bool,
}

impl Known {
    pub(super) fn find(context: &mut Context<'_>, sections: &[Section<'_>], complete: bool) -> Self {
        let mut of_each: Vec<Option<String>> = Vec::new();
        for section in sections {
            let id = section.text(context, "id");
            if let Some(twin) = of_each.iter().position(|other| id.is_some() && *other == id) {
                let table = section.table.header();
                let what = message!("site.file.id_twice", table = table, number = twin + 1);
                section.blame(context, "id", complaint(what));
            }
            of_each.push(id);
        }
        let complete = complete && of_each.iter().all(Option::is_some);
        Self { of_each, complete }
    }

    pub(super) fn ids(&self) -> impl Iterator<Item = &str> {
        self.of_each.iter().flatten().map(String::as_str)
    }

    /// Checks that a reference is one of the ids.
    pub(super) fn check(
        &self,
        context: &mut Context<'_>,
        section: &Section<'_>,
        stem: &str,
        name: &str,
        id: &str,
    ) -> bool {
        let there = self.ids().any(|known| known == id);
        if !there && self.complete {
            let what = message!("site.file.no_such_id", table = format!("[[{name}]]"));
            let mut wrong = complaint(what).suggest(closest(id, self.ids()));
            let all = self.ids().collect::<Vec<_>>().join(", ");
            if !all.is_empty() {
                wrong = wrong.accepted(names(all));
            }
            section.blame(context, stem, wrong);
        }
        there || !self.complete
    }
}

/// A strength that has passed its range.
pub(super) fn strength(percent: Option<f64>) -> Option<MassFraction> {
    MassFraction::from_percent(percent?).ok()
}
