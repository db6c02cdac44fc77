//! Calls on the crew in words.

use jiff::Timestamp;
use planner::Plan;
use planner::roads::{ACTED_ON, CallKind, CallOut, CallWhy, ReadRoad, Strip, Use};
use quantity::{celsius, kelvins};
use road::course::Form;
use road::score::Scores;
use yard::road_log::RoadLog;

use crate::Teller;
use crate::display::number;
use crate::table::{Kind, Table};

/// Calls that a short line holds.
const MOST_IN_SHORT: usize = 6;
/// Share of members from which a road may freeze, and from which it is likely to.
pub const MAY: f64 = 0.2;
/// The same for what is likely.
pub const LIKELY: f64 = 0.5;

/// The hour of a plan from which a road, served as planned, may freeze; none where it holds.
pub fn may_freeze_from(strip: &Strip) -> Option<usize> {
    strip.hours.iter().position(|hour| hour.slippery >= MAY)
}

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

    /// A road by name: a segment's own, or its class's with the part that is meant.
    pub fn road_name(&self, road: &str, is_deck: bool) -> String {
        match (self.yard.segment(road), is_deck) {
            (Some(segment), _) => segment.name.clone(),
            (None, true) => self.words.fill("road.class-bridges", &[("class", road)]),
            (None, false) => self.words.fill("road.class", &[("class", road)]),
        }
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
            kind => format!("{}, {}", self.call_kind(kind), self.display.clock_and_day(call.span[0])),
        })
    }

    /// Calls that crews act on in one line, for a sheet with little room: what for, from when, how likely; none where
    /// nothing is to be done.
    pub fn calls_in_short(&self, plan: &Plan) -> Option<String> {
        let acted = |call: &&CallOut| call.chance >= ACTED_ON && call.kind != CallKind::NoAction;
        let short = |call: &CallOut| {
            let chance = self.display.percent((call.chance * 20.0).round() * 5.0, 0);
            format!("{} {} ({chance})", self.call_kind(call.kind), self.display.clock_and_day(call.span[0]))
        };
        let calls: Vec<String> =
            plan.roads.callouts.iter().filter(acted).take(MOST_IN_SHORT).map(short).collect();
        (!calls.is_empty()).then(|| self.words.fill("night.calls", &[("calls", &calls.join("; "))]))
    }

    /// A call that a newer forecast took back, in a sentence.
    pub fn taken_back(&self, call: &CallOut) -> String {
        let at = self.display.time(call.span[0]);
        self.words.fill("call.taken-back", &[("kind", self.call_kind(call.kind)), ("at", &at)])
    }

    /// The first call that crews act on and that is not over, with its chance; none where nothing is to be done.
    pub fn call_ahead(&self, plan: &Plan, now: Timestamp) -> Option<String> {
        let is_ahead = |call: &&CallOut| {
            call.chance >= ACTED_ON && call.kind != CallKind::NoAction && call.span[1] > now
        };
        let call = plan.roads.callouts.iter().find(is_ahead)?;
        let chance = self.display.percent((call.chance * 20.0).round() * 5.0, 0);
        let at = self.display.clock_and_day(call.span[0]);
        let values = [("kind", self.call_kind(call.kind)), ("at", &at), ("chance", &chance)];
        Some(self.words.fill("call.ahead", &values))
    }

    /// A call in a line: what for, when, how likely, which routes, why.
    pub fn call_line(&self, call: &CallOut) -> String {
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
        if let CallWhy::Segment(segment) = call.why {
            let key = if call.kind == CallKind::Frost { "call.frost-segment" } else { "call.freeze-segment" };
            return self.words.fill(key, &[("segment", &self.yard.segments[segment].name)]);
        }
        let key = match (call.why, call.kind) {
            (CallWhy::Segment(_), _) => "call.freeze-segment",
            (CallWhy::Banks, _) => "call.banks",
            (CallWhy::AsTreated, _) => "call.as-treated",
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

    /// Until when a road holds, in a few words.
    pub fn road_verdict(&self, strip: &Strip) -> String {
        match may_freeze_from(strip) {
            None => self.words.say("roads.holds").to_owned(),
            Some(0) => self.words.say("roads.freezes-now").to_owned(),
            Some(hour) => {
                let at = self.display.clock_and_day(strip.hours[hour].start);
                self.words.fill("roads.holds-until", &[("at", &at)])
            }
        }
    }

    /// The road that needs an act first, as a heading.
    pub fn roads_title(&self, plan: &Plan) -> String {
        let first = plan.roads.strips.iter().filter_map(|strip| Some((may_freeze_from(strip)?, strip)));
        match first.min_by_key(|(hour, _)| *hour) {
            None => self.words.say("roads.all-hold").to_owned(),
            Some((_, strip)) => {
                let is_deck = strip.road.is_deck && strip.road.segment.is_none();
                let name = self.road_name(strip.road.id(self.yard), is_deck);
                self.words.fill("roads.first", &[("road", &name), ("verdict", &self.road_verdict(strip))])
            }
        }
    }

    /// What a road's chart says.
    pub fn road_strip(&self, strip: &Strip, name: &str) -> String {
        let d = self.display;
        let coldest = strip.hours.iter().min_by(|a, b| a.surface[1].total_cmp(&b.surface[1]));
        let Some(coldest) = coldest else { return name.to_owned() };
        let values = [
            ("road", name.to_owned()),
            ("verdict", self.road_verdict(strip)),
            ("coldest", d.temperature(celsius(coldest.surface[1]))),
            ("low", d.temperature(celsius(coldest.surface[0]))),
            ("high", d.temperature(celsius(coldest.surface[2]))),
            ("at", d.time(coldest.start)),
        ];
        self.words.fill_with("roads.chart", &values)
    }

    /// When a road was last read, and what it showed; or that nobody read one.
    pub fn last_road_reading(&self, log: &RoadLog, now: Timestamp) -> Option<String> {
        let last = log.readings.last()?;
        if now.duration_since(last.at).as_hours() > 72 {
            return Some(self.words.fill("roads.last-old", &[("at", &self.display.time(last.at))]));
        }
        let values = [
            ("road", self.road_name(&last.road, last.is_deck)),
            ("surface", self.display.temperature(celsius(last.surface))),
            ("at", self.display.time(last.at)),
        ];
        Some(self.words.fill_with("roads.last", &values))
    }

    /// What a road's readings make of its forecast.
    pub fn road_corrected(&self, read: &ReadRoad) -> String {
        let used = read.readings.iter().filter(|one| one.used == Use::Used).count();
        let Some(correction) = read.correction else {
            return self.words.say("roads.not-corrected").to_owned();
        };
        let (mean, deviation) = correction.ahead(0.0);
        let key = if mean < 0.0 { "roads.corrected-colder" } else { "roads.corrected-warmer" };
        let values = [
            ("by", self.display.degrees(kelvins(mean))),
            // Eight in ten of a normal error lie within 1.28 standard deviations.
            ("within", self.display.degrees(kelvins(1.28 * deviation))),
            ("count", used.to_string()),
        ];
        self.words.fill_with(key, &values)
    }

    /// What the roads of a plan are worked out from.
    pub fn roads_rest_on(&self, plan: &Plan) -> Vec<String> {
        let say = |key: &str| self.words.say(key).to_owned();
        let mut lines = Vec::new();
        let days = number(plan.roads.past_hours as f64 / 24.0, 1);
        lines.push(match plan.roads.past_hours {
            0 => say("roads.no-past"),
            _ => self.words.fill("roads.past", &[("days", &days)]),
        });
        if plan.roads.cloud_unknown {
            lines.push(say("roads.cloud-unknown"));
        }
        if !plan.roads.place_known {
            lines.push(say("roads.place-unknown"));
        }
        if plan.roads.read.is_empty() {
            lines.push(say("roads.nobody-read"));
        }
        lines
    }

    /// Treatments of a class in the middle story: when, what, how much, and until when it holds to the first ice.
    pub fn road_treatments(&self, plan: &Plan, class: usize) -> Option<Table> {
        let (words, d) = (self.words, self.display);
        let class = plan.roads.classes.iter().find(|one| one.class == class)?;
        if class.middle.acts.is_empty() {
            return None;
        }
        let columns = [
            (words.say("account.when"), Kind::Text),
            (words.say("roads.what"), Kind::Text),
            (words.say("roads.rate"), Kind::Text),
            (words.say("roads.until"), Kind::Text),
        ];
        let mut table = Table::new("road-treatments", words.say("roads.treatments"), &columns);
        for (place, act) in class.middle.acts.iter().enumerate() {
            let (what, rate) = match act.form {
                Form::Plow => ("call.kind.plow-only", String::new()),
                Form::Brine => (
                    "call.kind.pretreat",
                    act.liquid(&plan.brine_made)
                        .map_or_else(|_| String::new(), |[_, mid, _]| d.liquid_rate(mid)),
                ),
                Form::PrewetSalt => ("roads.salt", d.salt_rate(act.salt()[1])),
            };
            let until = class.works_until.get(place).copied().unwrap_or_default();
            let time = |at: Option<Timestamp>| {
                at.map_or_else(|| words.say("roads.longer").to_owned(), |at| d.clock_and_day(at))
            };
            let held = match act.form {
                Form::Plow => String::new(),
                _ => {
                    let [low, mid, high] = until.map(time);
                    words.fill("roads.until-range", &[("mid", &mid), ("low", &low), ("high", &high)])
                }
            };
            table.row(vec![d.clock_and_day(act.at).into(), words.say(what).into(), rate.into(), held.into()]);
        }
        table.notes.push(words.say("roads.until-note").to_owned());
        Some(table)
    }

    /// How good forecasts of a road were: hours ahead, pairs, and scores where there are enough.
    pub fn road_scores(&self, scored: &[(usize, usize, Option<Scores>)]) -> Table {
        let (words, d) = (self.words, self.display);
        let columns = [
            (words.say("roads.lead"), Kind::Text),
            (words.say("roads.pairs"), Kind::Count),
            (words.say("roads.bias"), Kind::Text),
            (words.say("roads.rmse"), Kind::Text),
            (words.say("roads.crps"), Kind::Text),
            (words.say("roads.coverage"), Kind::Percent),
            (words.say("roads.skill"), Kind::Percent),
        ];
        let mut table = Table::new("road-scores", words.say("roads.scores"), &columns);
        for (lead, pairs, scores) in scored {
            let lead = words.fill("roads.lead-h", &[("hours", &lead.to_string())]);
            let degrees =
                |of: fn(&Scores) -> f64| scores.as_ref().map(|one| d.degrees_fine(kelvins(of(one))));
            let signed = scores.map(|one| {
                let sign = if one.bias < 0.0 { "−" } else { "+" };
                format!("{sign}{}", d.degrees_fine(kelvins(one.bias)))
            });
            table.row(vec![
                lead.into(),
                (*pairs as f64).into(),
                signed.into(),
                degrees(|one| one.rmse).into(),
                degrees(|one| one.crps).into(),
                scores.map(|one| 100.0 * one.coverage).into(),
                scores.and_then(|one| one.freezing_skill).map(|skill| 100.0 * skill).into(),
            ]);
        }
        table.notes.push(words.say("roads.scores-note").to_owned());
        table
    }
}
