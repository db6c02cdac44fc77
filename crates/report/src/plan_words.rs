//! A plan's parts as sentences: what is coming, what to do next and why, what to watch. Used by pages and text alike.

use bench::Conformity;
use jiff::Timestamp;
use planner::outlook::Case;
use planner::production::Bound;
use planner::storm::{Storm, StormKind};
use planner::treatment::{PreSpray, Treatment};
use planner::{Caution, Plan, Shortage};
use quantity::{in_cubic_metres, in_millimetres};
use road::spraying::{Reason, Verdict};
use site::CoverFor;
use weather::{Notice, NoticeKind};

use crate::Teller;

/// What to do next, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NextAct {
    /// One sentence, with a time where there is one.
    pub act: String,
    /// Why, in a sentence or two.
    pub why: Vec<String>,
    /// Something is asked of the reader now.
    pub urgent: bool,
}

impl Teller<'_> {
    /// Name of an event's kind.
    pub fn storm_kind(&self, kind: StormKind) -> &str {
        self.words.say(match kind {
            StormKind::Snow => "storm.snow",
            StormKind::RainToSnow => "storm.rain-to-snow",
            StormKind::Mixed => "storm.mixed",
            StormKind::FreezingRain => "storm.freezing-rain",
            StormKind::FreezingMix => "storm.freezing-mix",
            StormKind::Rain => "storm.rain",
            StormKind::Frost => "storm.frost",
            StormKind::WetFreeze => "storm.wet-freeze",
        })
    }

    /// An event in a line: kind, start, end, liquid, air.
    pub fn storm_line(&self, storm: &Storm) -> String {
        let d = self.display;
        let air = storm.air.map_or_else(String::new, |[low, high]| {
            self.words.fill("storm.air", &[("low", &d.temperature(low)), ("high", &d.temperature(high))])
        });
        let key = match in_millimetres(storm.liquid) {
            mm if mm > 0.0 => "storm.line",
            _ => "storm.line-dry",
        };
        let (from, to) = d.span(storm.start, storm.end);
        self.words.fill(
            key,
            &[
                ("kind", self.storm_kind(storm.kind)),
                ("from", &from),
                ("to", &to),
                ("water", &d.water(storm.liquid)),
                ("frozen", &d.water(storm.frozen)),
                ("air", &air),
            ],
        )
    }

    /// Whether to spray ahead of an event, in a sentence.
    pub fn verdict(&self, treatment: &Treatment, pre_spray: &PreSpray) -> &str {
        if treatment.too_late.is_some() {
            return self.words.say("verdict.too-late");
        }
        self.words.say(match pre_spray.verdict() {
            Some(Verdict::Pretreat) => "verdict.spray",
            Some(Verdict::PretreatWithCaution) => "verdict.care",
            Some(Verdict::DoNot) => "verdict.do-not",
            None => "verdict.look",
        })
    }

    /// A reason for or against, with its figures.
    pub fn reason(&self, reason: &Reason) -> String {
        let d = self.display;
        match reason {
            Reason::RainFirst { rain } => self.words.fill("reason.rain-first", &[("rain", &d.water(*rain))]),
            Reason::FreezingRain => self.words.say("reason.freezing-rain").to_string(),
            Reason::TooCold { pavement, limit } => self.words.fill(
                "reason.too-cold",
                &[("pavement", &d.temperature(*pavement)), ("limit", &d.temperature(*limit))],
            ),
            Reason::Cold { pavement, limit } => self.words.fill(
                "reason.cold",
                &[("pavement", &d.temperature(*pavement)), ("limit", &d.temperature(*limit))],
            ),
            Reason::Windy { wind } => self.words.fill("reason.windy", &[("wind", &d.wind(*wind))]),
            Reason::NotNeeded => self.words.say("reason.not-needed").to_string(),
            Reason::StillTreated => self.words.say("reason.still-treated").to_string(),
        }
    }

    /// Where salt first works, in a sentence; none where the road never freezes in any case.
    pub fn first_useful(&self, treatment: &Treatment) -> Option<String> {
        let d = self.display;
        let mid = treatment.first_useful[Case::Mid as usize];
        let cold = treatment.first_useful[Case::Cold as usize];
        let warm = treatment.first_useful[Case::Warm as usize];
        let cases = [mid, cold, warm];
        let from = cases.iter().flatten().min()?;
        let to = cases.iter().flatten().max()?;
        let first = d.time(mid.unwrap_or(*from));
        // The day is said once, where all are on one.
        let day = |at: Timestamp| at.to_zoned_datetime(d.zone.clone()).date();
        let is_one_day = day(*from) == day(*to) && mid.is_some_and(|mid| day(mid) == day(*from));
        let (from, to) = if is_one_day { (d.clock(*from), d.clock(*to)) } else { d.span(*from, *to) };
        let key = match (mid, cases.contains(&None)) {
            (None, _) => "storm.first-useful-unlikely",
            (_, true) => "storm.first-useful-maybe",
            _ if cases.iter().all(|case| *case == mid) => "storm.first-useful",
            _ => "storm.first-useful-band",
        };
        Some(self.words.fill(key, &[("at", &first), ("from", &from), ("to", &to)]))
    }

    /// What keeps the yard from making enough.
    pub fn bound(&self, bound: Bound) -> &str {
        self.words.say(match bound {
            Bound::Salt => "bound.salt",
            Bound::Room => "bound.room",
            Bound::Time => "bound.time",
        })
    }

    /// Something that runs short: at most by so much where the plan covers the high case, else in its middle case.
    pub fn shortage(&self, shortage: &Shortage) -> String {
        let d = self.display;
        let [brine, other, salt] = match self.yard.policy.cover_for {
            CoverFor::High => ["shortage.brine", "shortage.other", "shortage.salt"],
            CoverFor::Mid => ["shortage.brine-mid", "shortage.other-mid", "shortage.salt-mid"],
        };
        match shortage {
            Shortage::Brine { at, by, bound_by } => self.words.fill(
                brine,
                &[("at", &d.time(*at)), ("by", &d.volume(*by)), ("bound", self.bound(*bound_by))],
            ),
            Shortage::OtherLiquid { by } => self.words.fill(other, &[("by", &d.volume(*by))]),
            Shortage::RockSalt { by } => self.words.fill(salt, &[("by", &d.mass(*by))]),
        }
    }

    /// A caution, in plain words.
    pub fn caution(&self, caution: &Caution) -> String {
        let (d, w) = (self.display, self.words);
        match caution {
            Caution::PavementAssumed => w.say("caution.pavement-assumed").to_string(),
            Caution::LookAtPavement { .. } => w.say("caution.look-at-pavement").to_string(),
            Caution::NoLiquidAhead { .. } => w.say("caution.no-liquid-ahead").to_string(),
            Caution::MayRefreeze { at, pavement } => w.fill(
                "caution.may-refreeze",
                &[("at", &d.time(*at)), ("pavement", &d.temperature(*pavement))],
            ),
            Caution::RememberedRates { ids } => {
                w.fill("caution.remembered-rates", &[("ids", &ids.join(", "))])
            }
            Caution::NoRate { passes } => w.fill("caution.no-rate", &[("passes", &passes.to_string())]),
            Caution::NoOtherLiquid => w.say("caution.no-other-liquid").to_string(),
            Caution::TooLateToSpray { begin, .. } => {
                w.fill("caution.too-late", &[("begin", &d.time(*begin))])
            }
            Caution::LeadCutShort { .. } => w.say("caution.lead-cut-short").to_string(),
            Caution::NoRateAhead => w.say("caution.no-rate-ahead").to_string(),
            Caution::IssueUnknown => w.say("caution.issue-unknown").to_string(),
            Caution::NoTruck { .. } => w.say("caution.no-truck").to_string(),
            Caution::OldForecast { hours } if *hours >= 72 => {
                let days = crate::display::number(*hours as f64 / 24.0, 0);
                w.fill("caution.old-forecast-days", &[("days", &days)])
            }
            Caution::OldForecast { hours } => {
                w.fill("caution.old-forecast", &[("hours", &hours.to_string())])
            }
            Caution::NoAmounts => w.say("caution.no-amounts").to_string(),
            Caution::OutsideCrewHours { .. } => w.say("caution.outside-crew-hours").to_string(),
            Caution::TooFarAhead { .. } => w.say("caution.too-far-ahead").to_string(),
            Caution::PrecipitationUnknown { hours } => {
                w.fill("caution.precipitation-unknown", &[("hours", &hours.to_string())])
            }
            Caution::TankNotInSpec { tank, conformity } => {
                w.fill("caution.tank-not-in-spec", &[("tank", tank), ("what", self.conformity(*conformity))])
            }
            Caution::TankMayFreeze { tank, first_solid, coldest } => w.fill(
                "caution.tank-may-freeze",
                &[
                    ("tank", tank),
                    ("first", &d.temperature(*first_solid)),
                    ("coldest", &d.temperature(*coldest)),
                ],
            ),
            Caution::TankUnlike { tank, parts } => {
                w.fill("caution.tank-unlike", &[("tank", tank), ("state", &self.not_its_own(parts))])
            }
            Caution::FrostPossible { from, to } => {
                let (from, to) = d.span(*from, *to);
                w.fill("caution.frost-possible", &[("from", &from), ("to", &to)])
            }
            Caution::CycleTooShort { truck, routes, hours } => w.fill(
                "caution.cycle",
                &[
                    ("truck", truck),
                    ("routes", &routes.join(", ")),
                    ("minutes", &crate::display::number(60.0 * hours, 0)),
                ],
            ),
            Caution::RushHour { at } => w.fill("caution.rush", &[("at", &self.display.time(*at))]),
            Caution::BooksDoNotClose => w.say("caution.books").to_string(),
            Caution::Shortened => w.say("caution.shortened").to_string(),
        }
    }

    /// What had to be done to read a forecast, in plain words.
    pub fn notice(&self, notice: &Notice) -> String {
        let key = match notice.kind {
            NoticeKind::Filled => "notice.filled",
            NoticeKind::Spread => "notice.spread",
            NoticeKind::Suspect => "notice.suspect",
            NoticeKind::LowerBound => "notice.lower-bound",
            NoticeKind::Impossible => "notice.impossible",
            // Terms of use and what is rarer speak for themselves.
            _ => return self.display.tell(&notice.text),
        };
        self.words.fill(key, &[("count", &notice.count.to_string())])
    }

    /// A chore by its id, as it is read.
    pub(crate) fn chore_task(&self, id: &str) -> String {
        let all = site::chores::chores(self.yard);
        let chore = all.iter().find(|chore| chore.id == id);
        chore.map_or(id, |chore| crate::chores::task(self.words.language(), chore)).to_owned()
    }

    /// The next act of a plan.
    pub fn next_act(&self, plan: &Plan) -> NextAct {
        let (d, w) = (self.display, self.words);
        let run = plan.schedule.runs.first();
        let load = plan.loadings.first();
        let mut why = Vec::new();
        if let Some((storm, _)) = plan.storms.iter().find(|(storm, _)| storm.kind != StormKind::Rain) {
            let (kind, from) = (self.storm_kind(storm.kind), d.time(storm.start));
            why.push(w.fill("next.storm", &[("kind", kind), ("from", &from)]));
        }
        why.push(self.need(plan));
        if run.is_some() {
            why.push(w.fill("next.make-much", &[("volume", &d.volume(plan.made))]));
        }
        for (place, short) in plan.shortages.iter().enumerate() {
            why.insert(place, self.shortage(short));
        }
        let urgent = !plan.shortages.is_empty();
        let here = plan.storms.iter().find(|(_, treatment)| {
            let soon = plan.issued + jiff::SignedDuration::from_hours(1);
            treatment.first_useful[Case::Mid as usize].is_some_and(|at| at <= soon)
                && !treatment.passes[Case::Mid as usize].is_empty()
        });
        let act = match (run, load) {
            _ if here.is_some() => {
                let kind = here.map_or("", |(storm, _)| self.storm_kind(storm.kind));
                w.fill("next.now", &[("kind", kind)])
            }
            (Some(run), None) => w.fill("next.make", &[("at", &self.when(run.latest_start, plan.now))]),
            (Some(run), Some((_, loading))) if run.latest_start <= loading.begin => {
                w.fill("next.make", &[("at", &self.when(run.latest_start, plan.now))])
            }
            (_, Some((_, loading))) => w.fill("next.load", &[("at", &self.when(loading.begin, plan.now))]),
            (None, None) => self.quiet_act(plan),
        };
        NextAct { act, why, urgent }
    }

    /// A time as one would say it: today and tomorrow by name.
    fn when(&self, at: Timestamp, now: Timestamp) -> String {
        let date = |at: Timestamp| at.to_zoned_datetime(self.display.zone.clone()).date();
        let clock = self.display.clock(at);
        match date(now) {
            today if date(at) == today => self.words.fill("when.today", &[("clock", &clock)]),
            today if today.tomorrow().is_ok_and(|next| date(at) == next) => {
                self.words.fill("when.tomorrow", &[("clock", &clock)])
            }
            _ => self.display.time(at),
        }
    }

    fn quiet_act(&self, plan: &Plan) -> String {
        let waiting = plan.storms.iter().find(|(storm, t)| {
            let not_ahead = t.pre_spray.as_ref().is_some_and(|p| p.verdict() == Some(Verdict::DoNot));
            storm.kind != StormKind::Frost && (t.too_late.is_some() || not_ahead)
        });
        if let Some((_, treatment)) = waiting
            && let Some(at) = treatment.first_useful[Case::Mid as usize]
        {
            return self.words.fill("next.wait", &[("at", &self.when(at, plan.now))]);
        }
        let off = plan.tanks.iter().find(|tank| tank.conformity.is_some_and(|c| c != Conformity::InSpec));
        match off {
            Some(tank) => self.words.fill("next.put-right", &[("tank", &tank.tank)]),
            None if plan.storms.is_empty() => self.words.say("next.nothing").to_string(),
            None => self.words.say("next.enough").to_string(),
        }
    }

    /// Need against stock, in a sentence.
    pub fn need(&self, plan: &Plan) -> String {
        let d = self.display;
        if in_cubic_metres(plan.brine.high) <= 0.0 {
            return self.words.fill("plan.no-need", &[("have", &d.volume(plan.in_hand))]);
        }
        let (mid, range) = (d.volume(plan.brine.mid), d.volume_range(plan.brine));
        let key = if mid == range { "plan.need-sure" } else { "plan.need" };
        self.words.fill(key, &[("mid", &mid), ("range", &range), ("have", &d.volume(plan.in_hand))])
    }

    /// What the cover chart says.
    pub fn cover(&self, plan: &Plan) -> String {
        let d = self.display;
        let short_at = |stock: &[f64]| stock.iter().position(|s| *s < -1e-4).map(|bin| plan.bins.at(bin));
        let without = short_at(&plan.schedule.stock_without);
        match (without, plan.shortages.first()) {
            (None, _) => self.words.say("cover.enough").to_string(),
            (Some(at), None) => {
                self.words.fill("cover.plan-covers", &[("at", &d.time(at)), ("made", &d.volume(plan.made))])
            }
            (Some(at), Some(short)) => {
                self.words.fill("cover.short", &[("at", &d.time(at)), ("short", &self.shortage(short))])
            }
        }
    }
}
