//! Whether the books balance, as sentences: what is left over, and what may have caused it.

use accounts::reconcile::{Balance, Cause, Findings, Suspect};
use quantity::{cubic_metres, in_kilograms, kilograms};

use crate::Teller;
use crate::display::number;
use crate::table::{Kind, Table};

impl Teller<'_> {
    /// Whether the books close, in a short sentence and a longer one.
    pub fn closes(&self, found: &Findings) -> [String; 2] {
        match found.suspects.first() {
            None if !found.closes() => {
                let of = found.worst().map_or_else(String::new, |one| self.balance(&one.of));
                let long = self.words.fill("close.unexplained", &[("of", &of)]);
                [self.words.say("close.does-not").to_owned(), long]
            }
            None => {
                let count = found.balances.to_string();
                [
                    self.words.say("close.closes").to_owned(),
                    self.words.fill("close.closes-why", &[("count", &count)]),
                ]
            }
            Some(first) => [
                self.words.say("close.does-not").to_owned(),
                self.words.fill("close.likeliest", &[("cause", &self.cause(first))]),
            ],
        }
    }

    /// A cause, with its size.
    pub fn cause(&self, suspect: &Suspect) -> String {
        let d = self.display;
        let percent =
            || format!("{} ± {}", number(100.0 * suspect.size, 1), number(100.0 * suspect.interval, 1));
        let of_density = |kg: f64| {
            // Litres of brine are read easier than pounds of it.
            d.volume(cubic_metres(kg.abs() / 1176.0))
        };
        let daily = || (of_density(suspect.size), of_density(suspect.interval));
        let fill = |key: &str, values: &[(&str, &str)]| self.words.fill(key, values);
        match &suspect.cause {
            Cause::LoadingMeter => fill("cause.loading-meter", &[("percent", &percent())]),
            Cause::MakingVolume => fill("cause.making", &[("percent", &percent())]),
            Cause::WaterMeter(id) => fill("cause.water-meter", &[("meter", id), ("percent", &percent())]),
            Cause::TankTable(tank) => fill("cause.table", &[("tank", tank), ("percent", &percent())]),
            Cause::TruckMarks(truck) => fill("cause.marks", &[("truck", truck), ("percent", &percent())]),
            Cause::Leak { tank, since } => {
                let (rate, within) = daily();
                let values = [
                    ("tank", tank.as_str()),
                    ("rate", &rate),
                    ("within", &within),
                    ("since", &d.time(*since)),
                ];
                fill("cause.leak", &values)
            }
            Cause::WaterIn { tank, since } => {
                let (rate, within) = daily();
                let values = [
                    ("tank", tank.as_str()),
                    ("rate", &rate),
                    ("within", &within),
                    ("since", &d.time(*since)),
                ];
                fill("cause.water-in", &values)
            }
            Cause::NotEntered { tank, from, until, is_metered } => {
                let (volume, within) = daily();
                let key = match (suspect.size < 0.0, is_metered) {
                    (true, true) => "cause.no-ticket",
                    (true, false) => "cause.went",
                    (false, _) => "cause.came",
                };
                let values = [
                    ("tank", tank.as_str()),
                    ("volume", &volume),
                    ("within", &within),
                    ("from", &d.time(*from)),
                    ("until", &d.time(*until)),
                ];
                fill(key, &values)
            }
            Cause::SaltUsed => fill("cause.salt-used", &[("percent", &percent())]),
            Cause::SaltLost => {
                let rate = d.mass(kilograms(suspect.size.abs()));
                fill("cause.salt-lost", &[("rate", &rate)])
            }
        }
    }

    /// What to look at first for a cause.
    pub fn what_to_inspect(&self, cause: &Cause) -> &'static str {
        self.words.say(match cause {
            Cause::LoadingMeter => "seek.loading-meter",
            Cause::MakingVolume => "seek.making",
            Cause::WaterMeter(_) => "seek.water-meter",
            Cause::TankTable(_) => "seek.table",
            Cause::TruckMarks(_) => "seek.marks",
            Cause::Leak { .. } => "seek.leak",
            Cause::WaterIn { .. } => "seek.water-in",
            Cause::NotEntered { .. } => "seek.not-entered",
            Cause::SaltUsed => "seek.salt-used",
            Cause::SaltLost => "seek.salt-lost",
        })
    }

    /// What is left over, balance by balance.
    pub fn left_over(&self, found: &Findings) -> Table {
        let columns = [
            ("close.of", Kind::Text),
            ("close.balances", Kind::Count),
            ("close.more", Kind::Mass),
            ("close.within", Kind::Mass),
            ("close.verdict", Kind::Text),
        ];
        let mut table = self.table("left-over", "close.left-over", &columns);
        for one in &found.left_over {
            let of = self.balance(&one.of);
            let is_within = in_kilograms(one.mass).abs() <= in_kilograms(one.interval);
            let verdict = if is_within { "close.is-within" } else { "close.is-outside" };
            table.row(vec![
                of.into(),
                (one.balances as f64).into(),
                in_kilograms(one.mass).into(),
                in_kilograms(one.interval).into(),
                self.words.say(verdict).into(),
            ]);
        }
        table.notes.push(self.words.say("close.note").to_owned());
        table
    }

    /// What a balance is of.
    fn balance(&self, of: &Balance) -> String {
        let id = |key: &str, id: &str| self.words.fill(key, &[("id", id)]);
        match of {
            Balance::Tank(tank) => id("close.tank", tank),
            Balance::TankSalt(tank) => id("close.tank-salt", tank),
            Balance::LoadingTotals(meter) => id("close.totals", meter),
            Balance::Weighed => self.words.say("close.weighed").to_owned(),
            Balance::Water(meter) => id("close.water", meter),
            Balance::SaltMade => self.words.say("close.salt-made").to_owned(),
            Balance::Pile => self.words.say("close.pile").to_owned(),
        }
    }
}
