//! Calls on the crew in words.

use planner::roads::{CallKind, CallOut, CallWhy};

use crate::Teller;

impl Teller<'_> {
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
