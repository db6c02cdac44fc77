//! A plan's parts as sentences: what is coming, what to do next and why, what to watch. Used by pages and text alike.

use bench::Conformity;
use chemistry::freezing::Solid;
use jiff::Timestamp;
use planner::outlook::Case;
use planner::production::Bound;
use planner::storm::{Storm, StormKind};
use planner::treatment::{PreSpray, Treatment};
use planner::{Caution, Plan, Shortage, TankStock};
use quantity::{celsius, in_cubic_metres, in_millimetres};
use road::spraying::{Reason, Verdict};
use site::Yard;
use weather::{Notice, NoticeKind};
use yard::estimate::{Apart, BookApart, Mismatch};
use yard::event::Body;
use yard::stock::BookProblem;

use crate::{Display, Words};

/// A reader: what language, what units, which yard.
#[derive(Debug, Clone, Copy)]
pub struct Teller<'a> {
    /// Texts.
    pub words: &'a Words,
    /// Numbers.
    pub display: &'a Display,
    /// The yard.
    pub yard: &'a Yard,
}

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
        self.words.fill(
            key,
            &[
                ("kind", self.storm_kind(storm.kind)),
                ("from", &d.time(storm.start)),
                ("to", &d.time(storm.end)),
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
        }
    }

    /// Where salt first works, in a sentence; none where the road never freezes in any case.
    pub fn first_useful(&self, treatment: &Treatment) -> Option<String> {
        let d = self.display;
        let mid = treatment.first_useful[Case::Mid as usize];
        let cold = treatment.first_useful[Case::Cold as usize];
        let warm = treatment.first_useful[Case::Warm as usize];
        let text = |at: Option<Timestamp>| {
            at.map_or_else(|| self.words.say("storm.never").to_string(), |at| d.time(at))
        };
        match (mid, cold) {
            (None, None) => None,
            _ if mid == cold && mid == warm => {
                Some(self.words.fill("storm.first-useful", &[("at", &text(mid))]))
            }
            _ => Some(self.words.fill(
                "storm.first-useful-band",
                &[("at", &text(mid)), ("cold", &text(cold)), ("warm", &text(warm))],
            )),
        }
    }

    /// What keeps the yard from making enough.
    pub fn bound(&self, bound: Bound) -> &str {
        self.words.say(match bound {
            Bound::Salt => "bound.salt",
            Bound::Room => "bound.room",
            Bound::Time => "bound.time",
        })
    }

    /// Something that runs short.
    pub fn shortage(&self, shortage: &Shortage) -> String {
        let d = self.display;
        match shortage {
            Shortage::Brine { at, by, bound_by } => self.words.fill(
                "shortage.brine",
                &[("at", &d.time(*at)), ("by", &d.volume(*by)), ("bound", self.bound(*bound_by))],
            ),
            Shortage::OtherLiquid { by } => self.words.fill("shortage.other", &[("by", &d.volume(*by))]),
            Shortage::RockSalt { by } => self.words.fill("shortage.salt", &[("by", &d.mass(*by))]),
        }
    }

    /// A caution, in plain words.
    pub fn caution(&self, caution: &Caution) -> String {
        let (d, w) = (self.display, self.words);
        match caution {
            Caution::PavementAssumed => w.fill(
                "caution.pavement-assumed",
                &[
                    ("colder", &d.degrees(self.yard.policy.pavement_colder)),
                    ("warmer", &d.degrees(self.yard.policy.pavement_warmer)),
                ],
            ),
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
                w.fill("caution.frost-possible", &[("from", &d.time(*from)), ("to", &d.time(*to))])
            }
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
            _ => return notice.text.clone(),
        };
        self.words.fill(key, &[("count", &notice.count.to_string())])
    }

    /// A strength against the band, in a word or two.
    pub fn conformity(&self, conformity: Conformity) -> &str {
        self.words.say(match conformity {
            Conformity::InSpec => "spec.in",
            Conformity::TooWeak => "spec.weak",
            Conformity::TooStrong => "spec.strong",
            Conformity::CannotTell => "spec.cannot-tell",
        })
    }

    /// A tank's state in a sentence: spec, first solid, margin to the coldest ahead.
    pub fn tank_state(
        &self,
        tank: &TankStock,
        coldest: Option<quantity::ThermodynamicTemperature>,
    ) -> String {
        let mut parts: Vec<String> = tank.doubted.iter().map(|doubted| self.doubted(doubted)).collect();
        parts.push(self.content_state(tank, coldest));
        parts.extend(
            tank.corrected_at
                .map(|at| self.words.fill("tanks.after-correction", &[("at", &self.display.time(at))])),
        );
        if !tank.is_counted {
            parts.push(self.words.say("tanks.uncounted").to_owned());
        }
        parts.join(" ")
    }

    /// Evidence that does not fit, and what it asks for.
    pub fn doubted(&self, doubted: &Mismatch) -> String {
        let d = self.display;
        match doubted.of {
            Apart::Strength { seen, expected } => {
                let values = [("seen", d.strength(seen)), ("expected", d.strength(expected))];
                self.words.fill_with("tanks.doubt-strength", &values)
            }
            Apart::Volume { seen, expected } => {
                let values = [("seen", d.volume(seen)), ("expected", d.volume(expected))];
                self.words.fill_with("tanks.doubt-volume", &values)
            }
        }
    }

    /// How a tank's book stands apart from what is there, in a sentence.
    pub fn book_apart(&self, apart: &BookApart) -> String {
        if apart.is_first_count {
            return self.words.say("tanks.first-count").to_owned();
        }
        let metres = quantity::in_cubic_metres(apart.volume);
        let by = self.display.volume(quantity::cubic_metres(metres.abs()));
        let mut told = Vec::new();
        if metres.abs() > quantity::in_cubic_metres(apart.within) {
            let key = if metres > 0.0 { "tanks.book-less" } else { "tanks.book-more" };
            told.push(self.words.fill(key, &[("by", &by)]));
        }
        if let Some((thought, booked)) = apart.strength {
            let values =
                [("thought", self.display.strength(thought)), ("booked", self.display.strength(booked))];
            told.push(self.words.fill_with("tanks.book-strength", &values));
        }
        told.join(" ")
    }

    /// What is in it, against spec and cold.
    fn content_state(&self, tank: &TankStock, coldest: Option<quantity::ThermodynamicTemperature>) -> String {
        let d = self.display;
        if !tank.unlike.is_empty() {
            return self.mixed_state(tank, coldest);
        }
        let Some(conformity) = tank.conformity else { return self.declared_state(tank, coldest) };
        let Some(first) = tank.first_solid else { return self.conformity(conformity).to_string() };
        let solid = self.solid(first.solid);
        let mut text = self.words.fill(
            "tank.state",
            &[
                ("spec", self.conformity(conformity)),
                ("solid", solid),
                ("first", &d.temperature(first.temperature)),
                ("u", &d.degrees(first.uncertainty)),
            ],
        );
        // The ice beside it, where salt comes first.
        if let (Some(ice), Solid::Hydrohalite | Solid::Halite) = (first.ice, first.solid) {
            text.push(' ');
            text.push_str(&self.words.fill("tank.ice-beside", &[("ice", &d.temperature(ice))]));
        }
        text.push_str(&self.freeze_margin(tank, coldest));
        text
    }

    /// A chore by its id, as it is read.
    fn chore_task(&self, id: &str) -> String {
        let all = site::chores::chores(self.yard);
        let chore = all.iter().find(|chore| chore.id == id);
        chore.map_or(id, |chore| crate::chores::task(self.words.language(), chore)).to_owned()
    }

    /// Whether a tank asks for something: mixed, a second look, out of spec, or not colder-proof enough.
    pub fn tank_needs_act(
        &self,
        tank: &TankStock,
        coldest: Option<quantity::ThermodynamicTemperature>,
    ) -> bool {
        let is_off = !tank.unlike.is_empty() || tank.doubted.is_some();
        is_off
            || tank.freezes_in(coldest)
            || tank.conformity.is_some_and(|conformity| conformity != Conformity::InSpec)
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

    /// What the freeze map says.
    pub fn freeze_map(
        &self,
        tanks: &[TankStock],
        coldest: Option<quantity::ThermodynamicTemperature>,
    ) -> String {
        let lines: Vec<String> = tanks
            .iter()
            .filter(|tank| tank.conformity.is_some())
            .map(|tank| {
                let strength = tank.strength.map_or_else(String::new, |w| self.display.strength(w));
                self.words.fill(
                    "chart.tank-says",
                    &[
                        ("tank", &tank.tank),
                        ("strength", &strength),
                        ("state", &self.tank_state(tank, coldest)),
                    ],
                )
            })
            .collect();
        lines.join(" ")
    }

    /// What does not add up, in a sentence.
    pub fn book_problem(&self, problem: &BookProblem) -> String {
        match problem {
            BookProblem::TankBelowZero { tank, event } => {
                self.words.fill("books.tank-below-zero", &[("tank", tank), ("event", &event.to_string())])
            }
            BookProblem::SaltBelowZero { event } => {
                self.words.fill("books.salt-below-zero", &[("event", &event.to_string())])
            }
            BookProblem::NotCounted { event, reason } => {
                let reason = self.display.tell(&message::Tell::message(reason));
                self.words.fill("books.not-counted", &[("event", &event.to_string()), ("reason", &reason)])
            }
        }
    }

    /// Name of an event's kind, for a list.
    pub fn event_kind(&self, kind: &str) -> String {
        let key = format!("event.{kind}");
        if self.words.knows(&key) { self.words.say(&key).to_string() } else { kind.to_string() }
    }

    /// What an event says, in a line.
    pub fn event_line(&self, body: &Body) -> String {
        let d = self.display;
        let volume = |m3: f64| d.volume(quantity::cubic_metres(m3));
        let mass = |kg: f64| d.mass(quantity::kilograms(kg));
        let pct = |p: f64| format!("{} %", crate::display::number(p, 1));
        let temp =
            |c: Option<f64>| c.map_or_else(String::new, |c| format!(", {}", d.temperature(celsius(c))));
        let fill = |key: &str, values: &[(&str, &str)]| self.words.fill(key, values);
        match body {
            Body::SaltDelivery(b) => fill("line.salt_delivery", &[("mass", &mass(b.mass_kg))]),
            Body::LiquidDelivery(b) => {
                let volume = volume(b.volume_m3);
                match &b.product {
                    Some(id) => fill(
                        "line.liquid_delivery-of",
                        &[("volume", &volume), ("product", self.called(id)), ("tank", &b.tank)],
                    ),
                    None => fill("line.liquid_delivery", &[("volume", &volume), ("tank", &b.tank)]),
                }
            }
            Body::MakingRun(b) => fill(
                "line.making_run",
                &[("volume", &volume(b.volume_m3)), ("strength", &pct(b.strength_pct)), ("tank", &b.tank)],
            ),
            Body::Reading(b) => {
                let (strength, temp) = (pct(b.strength_pct), temp(b.temp_c));
                match &b.tank {
                    Some(tank) => {
                        fill("line.reading", &[("strength", &strength), ("tank", tank), ("temp", &temp)])
                    }
                    None => fill("line.reading-tap", &[("strength", &strength), ("temp", &temp)]),
                }
            }
            Body::Dip(b) => fill(
                "line.dip",
                &[
                    ("depth", &d.depth(quantity::metres(b.depth_m))),
                    ("tank", &b.tank),
                    ("temp", &temp(b.temp_c)),
                ],
            ),
            Body::JarTest(b) => self.jar_test(b),
            Body::Transfer(b) => fill(
                "line.transfer",
                &[("volume", &volume(b.volume_m3)), ("from", &b.from_tank), ("to", &b.to_tank)],
            ),
            Body::Correction(b) => fill(
                "line.correction",
                &[
                    ("tank", &b.tank),
                    ("water", &volume(b.water_m3.unwrap_or(0.0))),
                    ("salt", &mass(b.salt_kg.unwrap_or(0.0))),
                ],
            ),
            Body::LoadOut(b) => fill(
                "line.load_out",
                &[
                    ("volume", &volume(b.volume_m3)),
                    ("tank", &b.tank),
                    ("truck", &b.truck),
                    ("route", b.route.as_deref().unwrap_or("-")),
                ],
            ),
            Body::ReturnToTank(b) if b.volume_m3 <= 0.0 => fill("line.home-empty", &[("truck", &b.truck)]),
            Body::ReturnToTank(b) => fill(
                "line.return_to_tank",
                &[("volume", &volume(b.volume_m3)), ("tank", &b.tank), ("truck", &b.truck)],
            ),
            Body::Application(b) => {
                let liquid = b.volume_m3.map(|m3| fill("line.liquid-part", &[("volume", &volume(m3))]));
                let salt = b.salt_kg.map(|kg| fill("line.salt-part", &[("salt", &mass(kg))]));
                let what: Vec<String> = liquid.into_iter().chain(salt).collect();
                fill("line.application", &[("route", &b.route), ("what", &what.join(", "))])
            }
            Body::IssueOut(b) => fill(
                "line.issue_out",
                &[("volume", &volume(b.volume_m3)), ("tank", &b.tank), ("agency", &b.agency)],
            ),
            Body::Loss(b) => fill(
                "line.loss",
                &[("volume", &volume(b.volume_m3)), ("tank", &b.tank), ("reason", &b.reason)],
            ),
            Body::CleanOut(b) => fill(
                "line.clean_out",
                &[("volume", &volume(b.volume_m3)), ("tank", &b.tank), ("disposal", &b.disposal)],
            ),
            Body::MeterReading(b) => {
                fill("line.meter_reading", &[("meter", &b.meter), ("volume", &volume(b.total_m3))])
            }
            Body::Settlement(b) => {
                let salt = b.salt_kg.map(|kg| fill("line.salt-part", &[("salt", &mass(kg))]));
                let parts = [b.volume_m3.map(volume), b.strength_pct.map(pct), salt];
                let what = parts.into_iter().flatten().collect::<Vec<_>>().join(", ");
                match &b.tank {
                    Some(tank) => {
                        fill("line.settlement", &[("tank", tank), ("what", &what), ("reason", &b.reason)])
                    }
                    None => fill("line.settlement-salt", &[("what", &what), ("reason", &b.reason)]),
                }
            }
            Body::MeterCheck(b) => fill(
                "line.meter_check",
                &[("meter", &b.meter), ("volume", &volume(b.shown_m3)), ("mass", &mass(b.weighed_kg))],
            ),
            Body::BucketCount(b) => fill(
                "line.bucket_count",
                &[
                    ("count", &crate::display::number(b.buckets_number, 0)),
                    ("to", &self.words.say(&format!("buckets.{}", b.to)).to_lowercase()),
                ],
            ),
            Body::PileSurvey(b) => fill(
                "line.pile_survey",
                &[("mass", &mass(b.mass_kg)), ("within", &crate::display::number(b.uncertainty_pct, 0))],
            ),
            Body::WaterSample(b) => fill(
                "line.water_sample",
                &[
                    ("water", &b.watershed),
                    ("chloride", &crate::display::number(b.chloride_mg_l, 0)),
                    ("sampled", &self.words.say(&format!("sampled.{}", b.sampled)).to_lowercase()),
                ],
            ),
            Body::SprayerCheck(b) => fill(
                "line.sprayer_check",
                &[
                    ("truck", &b.truck),
                    ("count", &entry::figures(&b.caught_ml).len().to_string()),
                    ("liquid", &self.words.say(&format!("caught-in.{}", b.liquid)).to_lowercase()),
                ],
            ),
            Body::SpreaderCheck(b) => fill(
                "line.spreader_check",
                &[("truck", &b.truck), ("setting", &b.setting), ("material", &b.material)],
            ),
            Body::Storm(b) => {
                let until = b.until.parse().map_or_else(|_| b.until.clone(), |at| d.time(at));
                fill("line.storm", &[("name", &b.name), ("until", &until)])
            }
            Body::MonthClose(b) => fill("line.month_close", &[("month", &b.month)]),
            Body::ChoreDone(b) => {
                fill("line.chore_done", &[("chore", &self.chore_task(&b.chore)), ("done", &b.done)])
            }
            Body::Maintenance(b) => fill("line.maintenance", &[("subject", &b.subject), ("done", &b.done)]),
            Body::PanelCheck(b) => self.panel_check(b),
            Body::TrimSet(b) => self.trim_set(b),
            Body::InstrumentCheck(b) => self.instrument_check(b),
            Body::WaterChange(b) => b.what.clone(),
            Body::RunStart(b) => b.procedure.clone(),
            Body::RunStep(b) => self.run_step(b),
            Body::RunEnd(b) => self.run_end(b),
            Body::PlantFit(b) => self.plant_fit(b),
            Body::PracticeRun(b) => fill("line.practice_run", &[("title", &b.title)]),
            Body::SeasonStart(b) => b.season.clone(),
            Body::CheckSeen(b) => b.done.clone(),
            Body::Note(b) => b.text.clone(),
            Body::Void(b) => fill("line.void", &[("event", &b.event), ("reason", &b.reason)]),
        }
    }
}
