//! A storm in a paragraph, and what a plan warns of.

use planner::Plan;
use planner::storm::{Storm, StormKind};
use planner::treatment::Treatment;
use report::Teller;

use crate::page_frame::Visitor;

/// A reason with its source.
pub(crate) struct ReasonView {
    pub(crate) text: String,
    pub(crate) source: String,
}

/// An event of a plan.
pub(crate) struct StormView {
    pub(crate) title: String,
    pub(crate) line: String,
    pub(crate) first_useful: Option<String>,
    pub(crate) verdict: Option<String>,
    pub(crate) reasons: Vec<ReasonView>,
    pub(crate) rate: String,
    pub(crate) rate_source: String,
    pub(crate) passes: Vec<ReasonView>,
}

/// Tells one event.
pub(crate) fn storm_view(visitor: &Visitor, storm: &Storm, treatment: &Treatment) -> StormView {
    let (d, w, teller) = (&visitor.display, &visitor.words, visitor.teller());
    let pre_spray = treatment.pre_spray.as_ref();
    StormView {
        title: w
            .fill("storm.title", &[("kind", teller.storm_kind(storm.kind)), ("at", &d.time(storm.start))]),
        line: teller.storm_line(storm),
        first_useful: teller.first_useful(treatment).filter(|_| storm.kind != StormKind::Frost),
        verdict: pre_spray.map(|p| teller.verdict(treatment, p).to_string()),
        reasons: pre_spray.map_or_else(Vec::new, |p| {
            p.reasons
                .iter()
                .map(|reason| ReasonView {
                    text: teller.reason(reason),
                    source: visitor.display.tell(&reason.source()),
                })
                .collect()
        }),
        rate: pre_spray.map_or_else(String::new, |p| {
            w.fill("storm.rate", &[("rate", &d.liquid_rate_range(p.liquid.low, p.liquid.high))])
        }),
        rate_source: pre_spray.map_or_else(String::new, |p| p.rate.source.clone()),
        passes: teller
            .pass_lines(treatment)
            .into_iter()
            .map(|(text, source)| ReasonView { text, source })
            .collect(),
    }
}

/// Cautions of a plan, shortages first.
pub(crate) fn cares(teller: &Teller<'_>, plan: &Plan) -> Vec<String> {
    let mut cares: Vec<String> = plan.shortages.iter().map(|s| teller.shortage(s)).collect();
    cares.extend(plan.cautions.iter().map(|c| teller.caution(c)));
    cares.extend(plan.suspect.as_ref().map(|s| teller.suspect_line(s)));
    cares
}
