//! What the books say, in tables and sentences: accounts, bills, lots, whether they close, what is due.

use accounts::{Accounts, Line, LiquidAccount};
use entry::ticket::{Flag, Oddity};
use quantity::units::{GALLON, MILE, SHORT_TON};
use quantity::{cubic_metres, in_cubic_metres, in_hours, in_kilograms, in_metres, kilograms};
use yard::stock::Content;

use crate::Teller;
use crate::display::number;
use crate::table::{Cell, Kind, Table};

/// Drinking water is called salty from here, mg/L: EPA 440/5-88-025, for domestic supply.
const DRINKING_MG_L: f64 = 250.0;

impl Teller<'_> {
    /// All tables of a report, in its order.
    pub fn account_tables(&self, accounts: &Accounts, flags: &[Flag]) -> Vec<Table> {
        let mut tables = vec![
            self.liquids(accounts),
            self.tanks_account(accounts),
            self.salt_account(accounts),
            self.routes(accounts),
            self.watersheds(accounts),
            self.money(accounts),
        ];
        let rest =
            [self.agencies(accounts), self.overrides(accounts), self.shorts(accounts), self.flags(flags)];
        tables.extend(rest.into_iter().filter(|table| !table.rows.is_empty()));
        tables
    }

    pub(crate) fn table(&self, key: &'static str, title: &str, columns: &[(&str, Kind)]) -> Table {
        let columns: Vec<(&str, Kind)> = columns
            .iter()
            .map(|(key, kind)| (self.words.say(self.display.at_reference(key)), *kind))
            .collect();
        Table::new(key, self.words.say(title), &columns)
    }

    fn content_cells(&self, content: &Content) -> Vec<Cell> {
        vec![
            in_cubic_metres(content.volume(self.yard, None)).into(),
            in_kilograms(content.mass).into(),
            in_kilograms(content.sodium_chloride).into(),
            in_kilograms(content.chloride(self.yard)).into(),
        ]
    }

    /// Name of a line of an account.
    pub fn account_line(&self, line: Line) -> &'static str {
        self.words.say(match line {
            Line::Made => "account.made",
            Line::Bought => "account.bought",
            Line::Added => "account.added",
            Line::FromTank => "account.from-tank",
            Line::Returned => "account.returned",
            Line::Agreed => "account.agreed",
            Line::ToTank => "account.to-tank",
            Line::Loaded => "account.loaded",
            Line::Issued => "account.issued",
            Line::Lost => "account.lost",
            Line::CleanedOut => "account.cleaned",
        })
    }

    fn account_rows(&self, table: &mut Table, head: Option<&str>, account: &LiquidAccount) {
        let first = |text: &str| -> Vec<Cell> {
            head.map(Cell::from).into_iter().chain([Cell::from(text)]).collect()
        };
        let m3 = |content: &Content| in_cubic_metres(content.volume(self.yard, None));
        // Volumes do not add when strengths differ: the settlements' line closes the column.
        let signed = |(line, content): (&Line, &Content)| {
            if line.comes_in() { m3(content) } else { -m3(content) }
        };
        let others: f64 = account.lines.iter().filter(|(line, _)| **line != Line::Agreed).map(signed).sum();
        let agreed = m3(&account.closing) - m3(&account.opening) - others;
        let mut row = |text: &str, content: &Content, change: Option<f64>, volume: Option<f64>| {
            let mut figures = self.content_cells(content);
            if let (Some(volume), Some(cell)) = (volume, figures.first_mut()) {
                *cell = volume.into();
            }
            let cells = [first(text), figures].concat();
            // One tank's account stands among those of others: it draws no bars.
            match change {
                None => table.total(cells),
                Some(change) if head.is_none() => table.step(cells, change),
                Some(_) => table.row(cells),
            }
        };
        row(self.words.say("account.opening"), &account.opening, None, None);
        for line in Line::ALL {
            if let Some(content) = account.lines.get(&line) {
                let sign = if line.comes_in() { "+" } else { "−" };
                let volume = (line == Line::Agreed).then_some(agreed);
                let change = volume.unwrap_or_else(|| signed((&line, content)));
                row(&format!("{} ({sign})", self.account_line(line)), content, Some(change), volume);
            }
        }
        row(self.words.say("account.closing"), &account.closing, None, None);
    }

    /// Brine and bought liquids of all tanks together.
    fn liquids(&self, accounts: &Accounts) -> Table {
        let columns = [
            ("account.what", Kind::Text),
            ("account.volume", Kind::Volume),
            ("account.mass", Kind::Mass),
            ("account.in-it", Kind::Mass),
            ("account.chloride", Kind::Mass),
        ];
        let mut table = self.table("liquids", "account.liquids", &columns);
        self.account_rows(&mut table, None, &accounts.liquids);
        table.notes.push(self.words.say("account.liquids-note").to_owned());
        if accounts.liquids.lines.contains_key(&Line::Agreed) {
            table.notes.push(self.words.say("account.agreed-note").to_owned());
        }
        table
    }

    fn tanks_account(&self, accounts: &Accounts) -> Table {
        let columns = [
            ("tanks.tank", Kind::Text),
            ("account.what", Kind::Text),
            ("account.volume", Kind::Volume),
            ("account.mass", Kind::Mass),
            ("account.in-it", Kind::Mass),
            ("account.chloride", Kind::Mass),
        ];
        let mut table = self.table("tanks", "account.tanks", &columns);
        for (tank, account) in &accounts.tanks {
            self.account_rows(&mut table, Some(tank), account);
        }
        table
    }

    fn salt_account(&self, accounts: &Accounts) -> Table {
        let columns = [("account.what", Kind::Text), ("account.as-delivered", Kind::Mass)];
        let mut table = self.table("rock-salt", "account.salt", &columns);
        let salt = &accounts.salt;
        let say = |key: &'static str| self.words.say(key);
        table.total(vec![say("account.opening").into(), in_kilograms(salt.opening).into()]);
        let lines = [
            ("+", "account.delivered", salt.delivered),
            ("+", "account.agreed", salt.agreed),
            ("−", "account.dissolved", salt.made),
            ("−", "account.corrected", salt.corrected),
            ("−", "account.spread", salt.spread),
        ];
        for (sign, key, mass) in lines.into_iter().filter(|(.., mass)| in_kilograms(*mass).abs() > 1e-9) {
            let change = if sign == "+" { in_kilograms(mass) } else { -in_kilograms(mass) };
            table.step(vec![format!("{} ({sign})", say(key)).into(), in_kilograms(mass).into()], change);
        }
        table.total(vec![say("account.closing").into(), in_kilograms(salt.closing).into()]);
        table
    }

    /// What a route is called: id and name.
    pub fn route_name(&self, route: Option<&str>) -> String {
        match route {
            None => self.words.say("account.no-route").to_owned(),
            Some(id) => match self.yard.route(id) {
                Some(route) if route.name != route.id => format!("{id} {}", route.name),
                _ => id.to_owned(),
            },
        }
    }

    fn routes(&self, accounts: &Accounts) -> Table {
        let columns = [
            ("account.route", Kind::Text),
            ("account.loads", Kind::Count),
            ("account.treatments", Kind::Count),
            ("account.lane", Kind::Lane),
            ("account.liquid", Kind::Volume),
            ("account.planned", Kind::Volume),
            ("account.salt-in-liquid", Kind::Mass),
            ("account.dry-salt", Kind::Mass),
            ("account.chloride", Kind::Mass),
            ("account.truck-hours", Kind::Hours),
        ];
        let mut table = self.table("routes", "account.routes", &columns);
        let some = |figure: f64| (figure.abs() > 1e-9).then_some(figure);
        let cells = |name: String, route: &accounts::RouteAccount| -> Vec<Cell> {
            let liquid = route.all_liquid();
            vec![
                name.into(),
                (route.loads as f64).into(),
                (route.treatments as f64).into(),
                some(in_metres(route.lane)).into(),
                in_cubic_metres(liquid.volume(self.yard, None)).into(),
                some(in_cubic_metres(route.planned_liquid)).into(),
                in_kilograms(liquid.sodium_chloride).into(),
                in_kilograms(route.dry_salt).into(),
                in_kilograms(route.chloride(self.yard)).into(),
                some(in_hours(route.truck_time)).into(),
            ]
        };
        for (route, account) in &accounts.routes {
            table.row(cells(self.route_name(route.as_deref()), account));
        }
        table.total(cells(self.words.say("account.all-routes").to_owned(), &accounts.roads));
        table.notes.push(self.words.say("account.routes-note").to_owned());
        if in_kilograms(accounts.roads.off_ticket.mass) > 1e-6 {
            let volume = self.display.volume(accounts.roads.off_ticket.volume(self.yard, None));
            table.notes.push(self.words.fill("account.off-ticket", &[("volume", &volume)]));
        }
        let planned = accounts.roads.planned_liquid;
        if planned > cubic_metres(0.0) {
            let share = 100.0 * in_cubic_metres(accounts.roads.done_of_planned) / in_cubic_metres(planned);
            table.notes.push(self.words.fill("account.of-plan", &[("share", &number(share, 0))]));
        }
        table
    }

    fn watersheds(&self, accounts: &Accounts) -> Table {
        let columns = [
            ("account.water", Kind::Text),
            ("account.chloride", Kind::Mass),
            ("account.in-runoff", Kind::MilligramsPerLitre),
            ("account.reads", Kind::Text),
            ("account.samples", Kind::Text),
        ];
        let mut table = self.table("chloride", "account.watersheds", &columns);
        let limits = &self.yard.accounts;
        for water in &accounts.watersheds {
            let site =
                water.watershed.as_deref().and_then(|id| self.yard.watersheds.iter().find(|w| w.id == id));
            let name = site.map_or_else(|| self.words.say("account.no-water").to_owned(), |w| w.name.clone());
            let reads = match water.in_runoff_mg_l {
                None => "account.no-runoff",
                Some(found) if found > limits.acute_mg_l => "account.above-acute",
                Some(found) if found > limits.chronic_mg_l => "account.above-chronic",
                Some(_) => "account.below-chronic",
            };
            table.row(vec![
                name.into(),
                in_kilograms(water.chloride).into(),
                water.in_runoff_mg_l.into(),
                self.words.say(reads).into(),
                self.samples(&water.samples).into(),
            ]);
        }
        let figures = [
            ("chronic", number(limits.chronic_mg_l, 0)),
            ("acute", number(limits.acute_mg_l, 0)),
            ("drinking", number(DRINKING_MG_L, 0)),
        ];
        let figures = figures.each_ref().map(|(name, text)| (*name, text.as_str()));
        table.notes.push(self.words.fill("account.screening", &figures));
        table.notes.push(self.words.say("account.screening-limits").to_owned());
        table
    }

    /// What the samples of a water say.
    fn samples(&self, samples: &accounts::Samples) -> String {
        if samples.count == 0 {
            return self.words.say("account.no-samples").to_owned();
        }
        let limits = &self.yard.accounts;
        let values = [
            ("count", samples.count.to_string()),
            ("highest", number(samples.highest_mg_l, 0)),
            ("chronic", number(limits.chronic_mg_l, 0)),
            ("above", samples.above_chronic.to_string()),
            ("acute", number(limits.acute_mg_l, 0)),
            ("over", samples.above_acute.to_string()),
        ];
        let key = if samples.is_impaired() { "account.impaired" } else { "account.sampled" };
        self.words.fill_with(key, &values)
    }

    fn money(&self, accounts: &Accounts) -> Table {
        let columns = [("account.what", Kind::Text), ("account.dollars", Kind::Dollars)];
        let mut table = self.table("money", "account.money", &columns);
        let money = &accounts.money;
        let lines = [
            ("money.making-salt", money.making_salt),
            ("money.making-water", money.making_water),
            ("money.making-hours", money.making_hours),
        ];
        for (key, usd) in lines {
            table.row(vec![self.words.say(key).into(), usd.into()]);
        }
        let (key, usd, ton) = match self.display.units {
            site::UnitSystem::Us => {
                ("money.per-gal", GALLON.to_base(money.usd_per_m3_made), money.salt_usd_per_ton)
            }
            site::UnitSystem::Si => {
                let per_kg = money.salt_usd_per_ton / SHORT_TON.to_base(1.0);
                ("money.per-litre", money.usd_per_m3_made / 1000.0, 1000.0 * per_kg)
            }
        };
        table.notes.push(self.words.fill(key, &[("usd", &number(usd, 3)), ("ton", &number(ton, 2))]));
        for (key, usd) in [
            ("money.liquid-on-road", money.liquid_on_road),
            ("money.dry-on-road", money.dry_on_road),
            ("money.trucks", money.trucks),
        ] {
            table.row(vec![self.words.say(key).into(), usd.into()]);
        }
        table.total(vec![self.words.say("money.on-road").into(), money.on_road().into()]);
        table.row(vec![self.words.say("money.lost").into(), money.lost.into()]);
        table.row(vec![self.words.say("money.billed").into(), money.billed.into()]);
        let lane = in_metres(accounts.roads.lane);
        if lane > 0.0 {
            let per_mile = money.on_road() / MILE.of_base(lane);
            table.notes.push(self.words.fill("money.per-lane-mile", &[("usd", &number(per_mile, 2))]));
        }
        table.notes.push(self.words.say("money.note").to_owned());
        table
    }

    /// Salt saved against the stated baseline; none where the yard states none or no lane length was entered.
    pub fn saved(&self, accounts: &Accounts) -> Option<String> {
        let saved = accounts.saved.as_ref()?;
        let less = saved.baseline - saved.used;
        let share = 100.0 * in_kilograms(less) / in_kilograms(saved.baseline);
        let values = [
            ("less", self.display.mass(kilograms(in_kilograms(less).abs()))),
            ("share", number(share.abs(), 0)),
            ("baseline", self.display.mass(saved.baseline)),
            ("used", self.display.mass(saved.used)),
            ("lane", self.display.lane_length(accounts.roads.lane)),
            ("source", saved.source.clone()),
        ];
        let values = values.each_ref().map(|(name, text)| (*name, text.as_str()));
        let key = if in_kilograms(less) >= 0.0 { "account.saved" } else { "account.not-saved" };
        Some(self.words.fill(key, &values))
    }

    fn agencies(&self, accounts: &Accounts) -> Table {
        let columns = [
            ("account.agency", Kind::Text),
            ("account.volume", Kind::Volume),
            ("account.mass", Kind::Mass),
            ("account.billed", Kind::Dollars),
        ];
        let mut table = self.table("agencies", "account.agencies", &columns);
        for (name, content, usd) in &accounts.agencies {
            table.row(vec![
                name.as_str().into(),
                in_cubic_metres(content.volume(self.yard, None)).into(),
                in_kilograms(content.mass).into(),
                (*usd).into(),
            ]);
        }
        table
    }

    fn overrides(&self, accounts: &Accounts) -> Table {
        let columns = [
            ("account.row", Kind::Count),
            ("account.when", Kind::Text),
            ("tanks.tank", Kind::Text),
            ("account.to", Kind::Text),
            ("account.who", Kind::Text),
            ("account.why", Kind::Text),
        ];
        let mut table = self.table("overrides", "account.overrides", &columns);
        for one in &accounts.overrides {
            table.row(vec![
                (one.seq as f64).into(),
                self.display.time(one.at).into(),
                one.tank.as_str().into(),
                one.to.as_str().into(),
                one.author.as_str().into(),
                one.reason.as_str().into(),
            ]);
        }
        table
    }

    fn shorts(&self, accounts: &Accounts) -> Table {
        let columns =
            [("account.when", Kind::Text), ("account.route", Kind::Text), ("account.missing", Kind::Volume)];
        let mut table = self.table("short", "account.shorts", &columns);
        for short in &accounts.shorts {
            table.row(vec![
                self.display.time(short.at).into(),
                self.route_name(short.route.as_deref()).into(),
                in_cubic_metres(short.missing).into(),
            ]);
        }
        table
    }

    fn flags(&self, flags: &[Flag]) -> Table {
        let columns = [
            ("account.row", Kind::Count),
            ("account.when", Kind::Text),
            ("account.who", Kind::Text),
            ("account.odd", Kind::Text),
        ];
        let mut table = self.table("odd", "account.flags", &columns);
        for flag in flags {
            table.row(vec![
                (flag.seq as f64).into(),
                self.display.time(flag.at).into(),
                flag.author.as_str().into(),
                self.oddity(&flag.oddity).into(),
            ]);
        }
        table
    }

    fn oddity(&self, oddity: &Oddity) -> String {
        let d = self.display;
        match oddity {
            Oddity::OverTruckTank(volume) => {
                self.words.fill("odd.over-tank", &[("volume", &d.volume(*volume))])
            }
            Oddity::OverWeight(mass) => self.words.fill("odd.over-weight", &[("mass", &d.mass(*mass))]),
            Oddity::MoreBackThanLoaded(mass) => self.words.fill("odd.more-back", &[("mass", &d.mass(*mass))]),
            Oddity::SameTicket(seq) => self.words.fill("odd.same-ticket", &[("row", &seq.to_string())]),
            Oddity::AfterClosing(month) => self.words.fill("odd.after-closing", &[("month", month)]),
            Oddity::BelowZero(Some(tank)) => self.words.fill("odd.tank-below", &[("tank", tank)]),
            Oddity::BelowZero(None) => self.words.say("odd.salt-below").to_owned(),
            Oddity::NotCounted(reason) => self.words.fill("odd.not-counted", &[("reason", &d.tell(reason))]),
            Oddity::NoPrice => self.words.say("odd.no-price").to_owned(),
        }
    }
}
