//! Calls on the crew in words.

use planner::Plan;
use planner::roads::{ACTED_ON, CallKind, CallOut, CallWhy};

use crate::Teller;

impl Teller<'_> {
    /// What a call is for.
    pub fn call_kind(&self, kind: CallKind) -> &str {
        self.words.say(match kind {
            CallKind::Pretreat => "call.kind.pretreat",
            CallKind::FirstTreatment => "call.kind.first",
            CallKind::Repeat => "call.kind.repeat",
            CallKind::CleanUp => "call.kind.clean-up",
            CallKind::PlowOnly => "call.kind.plow-only",
            CallKind::BlowingSnow => "call.kind.blowing-snow",
            CallKind::Frost => "call.kind.frost",
            CallKind::WetFreeze => "call.kind.wet-freeze",
            CallKind::Refreeze => "call.kind.refreeze",
            CallKind::NoAction => "call.kind.no-action",
        })
    }

    /// Calls that crews act on, in order of time, each in a line: when, what for, how likely, for which routes, why.
    pub fn call_lines(&self, plan: &Plan) -> Vec<String> {
        let calls = plan.roads.callouts.iter().filter(|call| call.chance >= ACTED_ON);
        calls.map(|call| self.call_line(call)).collect()
    }

    /// The first call that crews act on, in a few words: what for, and from when.
    pub fn next_call(&self, plan: &Plan) -> String {
        let first = plan.roads.callouts.iter().find(|call| call.chance >= ACTED_ON);
        first.map_or_else(String::new, |call| match call.kind {
            CallKind::NoAction => self.call_kind(call.kind).to_owned(),
            kind => format!("{}, {}", self.call_kind(kind), self.display.time(call.span[0])),
        })
    }

    fn call_line(&self, call: &CallOut) -> String {
        let d = self.display;
        let (from, to) = d.span(call.span[0], call.span[1]);
        let all = call.routes.len() == self.yard.routes.len();
        let routes = if all {
            self.words.say("call.all-routes").to_owned()
        } else {
            call.routes
                .iter()
                .map(|route| self.yard.routes[*route].id.as_str())
                .collect::<Vec<_>>()
                .join(", ")
        };
        // To the nearest twentieth: forty members tell no more.
        let chance = d.percent((call.chance * 20.0).round() * 5.0, 0);
        let (kind, why) = (self.call_kind(call.kind), self.call_why(call));
        if call.kind == CallKind::NoAction {
            return self.words.fill("call.line-none", &[("kind", kind), ("why", &why)]);
        }
        let values = [
            ("kind", kind),
            ("from", &from),
            ("to", &to),
            ("chance", &chance),
            ("routes", &routes),
            ("why", &why),
        ];
        self.words.fill("call.line", &values)
    }

    /// Why a call is made, in a sentence.
    pub fn call_why(&self, call: &CallOut) -> String {
        let key = match (call.why, call.kind) {
            (CallWhy::Banks, _) => "call.banks",
            (CallWhy::Bridges, CallKind::Frost) => "call.frost-bridges",
            (CallWhy::Bridges, _) => "call.freeze-bridges",
            (CallWhy::Road, CallKind::Pretreat) => "call.pretreat",
            (CallWhy::Road, CallKind::FirstTreatment) => "call.first",
            (CallWhy::Road, CallKind::Repeat) => "call.repeat",
            (CallWhy::Road, CallKind::CleanUp) => "call.clean-up",
            (CallWhy::Road, CallKind::PlowOnly) => "call.plow-only",
            (CallWhy::Road, CallKind::BlowingSnow) => "call.blowing-snow",
            (CallWhy::Road, CallKind::Frost) => "call.frost",
            (CallWhy::Road, CallKind::WetFreeze) => "call.wet-freeze",
            (CallWhy::Road, CallKind::Refreeze) => "call.refreeze",
            (CallWhy::Road, CallKind::NoAction) => "call.no-action",
        };
        self.words.fill(key, &[("coldest", &self.display.temperature(call.coldest))])
    }
}
