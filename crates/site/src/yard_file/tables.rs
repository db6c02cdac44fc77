//! Values to a yard, and what must hold between them.

mod books;
mod freezing;
mod instruments;
mod known;
mod machines;
mod making;
mod places;
mod roads;
mod tank;

use super::problem::{NEWEST_FORMAT, Problem, names};
use super::reader::{Context, Section, closest, complaint, sections};
use super::schema::{TABLES, table};
use crate::Yard;
use message::message;
use toml_edit::{Document, Item};

use known::{Known, each};

pub(super) use making::tables as layout_tables;

/// Reads a whole file: the yard, or all problems by line.
pub(super) fn read(text: &str, file: &str) -> Result<Yard, Vec<Problem>> {
    let mut context = Context::new(text, file);
    let document = match Document::parse(text) {
        Ok(document) => document,
        Err(error) => {
            let line = context.line(error.span());
            let words = error.message().split_whitespace().collect::<Vec<_>>().join(" ");
            context.push(line, "", None, complaint(message!("site.file.not_toml", reason = words)));
            return Err(context.problems);
        }
    };
    let yard = whole(&mut context, document.as_table());
    let mut problems = context.problems;
    problems.sort_by_key(|problem| problem.line);
    match yard {
        Some(yard) if problems.is_empty() => Ok(yard),
        _ if problems.is_empty() => {
            let mut context = Context::new(text, file);
            context.push(1, "", None, complaint("site.file.unusable"));
            Err(context.problems)
        }
        _ => Err(problems),
    }
}

fn whole(context: &mut Context<'_>, root: &toml_edit::Table) -> Option<Yard> {
    let top = Section::new(context, table("")?, None, 1, root);
    let newer = root.get("format").and_then(Item::as_integer).filter(|format| *format > NEWEST_FORMAT);
    if newer.is_some() {
        let newest = names(NEWEST_FORMAT.to_string());
        top.blame(context, "format", complaint("site.file.newer").accepted(newest));
        return None;
    }
    let excused = unknown_tables(context, root);
    let mut all = |name: &'static str| -> Vec<Section<'_>> {
        table(name).map_or_else(Vec::new, |table| sections(context, root, table, excused.contains(&name)))
    };
    let found = Found {
        yard: all("yard"),
        plant: all("plant"),
        salt: all("salt"),
        products: all("product"),
        freezing: all("product_freezing"),
        tanks: all("tank"),
        classes: all("route_class"),
        routes: all("route"),
        segments: all("segment"),
        trucks: all("truck"),
        loading: all("loading"),
        crew: all("crew"),
        policy: all("policy"),
        put_right: all("put_right"),
        instruments: all("instrument"),
        printed: all("printed_scale"),
        specs: all("spec"),
        trim: all("trim"),
        signing: all("signing"),
        bench: all("bench"),
        making: all("making"),
        vessels: all("vessel"),
        lines: all("line"),
        feeders: all("feeder"),
        sensors: all("sensor"),
        machines: all("machine"),
        points: all("point"),
        axles: all("axle"),
        meters: all("meter"),
        watersheds: all("watershed"),
        agencies: all("agency"),
        contacts: all("contact"),
        chores: all("chore"),
        receiving: all("receiving"),
        accounts: all("accounts"),
        alerts: all("alerts"),
    };
    top.number(context, "format");
    found.build(context, &excused)
}

/// Reports names at the top of the file that are not tables of it, and gives back the tables they seem to mean.
fn unknown_tables(context: &mut Context<'_>, root: &toml_edit::Table) -> Vec<&'static str> {
    let mut excused = Vec::new();
    for (key, item) in root.iter() {
        if key == "format" || (!key.is_empty() && table(key).is_some()) {
            continue;
        }
        let line = context.line(root.key(key).and_then(toml_edit::Key::span));
        let is_table = item.is_table() || item.is_array_of_tables();
        let value = if is_table { None } else { context.quote(item.span()) };
        let all = TABLES.iter().map(|table| table.name).filter(|name| !name.is_empty());
        let home = TABLES.iter().find(|table| !table.name.is_empty() && table.find(key).is_some());
        let wrong = match (is_table, home, closest(key, all.clone())) {
            (false, Some(home), _) => complaint(message!("site.file.above_tables", home = home.header())),
            (_, _, Some(like)) => {
                excused.extend(all.clone().find(|name| *name == like));
                complaint("site.file.not_a_table").suggest(Some(like))
            }
            _ => complaint("site.file.not_a_table").accepted(names(all.collect::<Vec<_>>().join(", "))),
        };
        context.push(line, key, value, wrong);
    }
    excused
}

/// Everything the file holds, table by table.
struct Found<'a> {
    yard: Vec<Section<'a>>,
    plant: Vec<Section<'a>>,
    salt: Vec<Section<'a>>,
    products: Vec<Section<'a>>,
    freezing: Vec<Section<'a>>,
    tanks: Vec<Section<'a>>,
    classes: Vec<Section<'a>>,
    routes: Vec<Section<'a>>,
    segments: Vec<Section<'a>>,
    trucks: Vec<Section<'a>>,
    loading: Vec<Section<'a>>,
    crew: Vec<Section<'a>>,
    policy: Vec<Section<'a>>,
    put_right: Vec<Section<'a>>,
    instruments: Vec<Section<'a>>,
    printed: Vec<Section<'a>>,
    specs: Vec<Section<'a>>,
    trim: Vec<Section<'a>>,
    signing: Vec<Section<'a>>,
    bench: Vec<Section<'a>>,
    making: Vec<Section<'a>>,
    vessels: Vec<Section<'a>>,
    lines: Vec<Section<'a>>,
    feeders: Vec<Section<'a>>,
    sensors: Vec<Section<'a>>,
    machines: Vec<Section<'a>>,
    points: Vec<Section<'a>>,
    axles: Vec<Section<'a>>,
    meters: Vec<Section<'a>>,
    watersheds: Vec<Section<'a>>,
    agencies: Vec<Section<'a>>,
    contacts: Vec<Section<'a>>,
    chores: Vec<Section<'a>>,
    receiving: Vec<Section<'a>>,
    accounts: Vec<Section<'a>>,
    alerts: Vec<Section<'a>>,
}

impl Found<'_> {
    fn build(&self, context: &mut Context<'_>, excused: &[&str]) -> Option<Yard> {
        let known = |context: &mut Context<'_>, sections: &[Section<'_>], name: &str| {
            Known::find(context, sections, !excused.contains(&name))
        };
        let mut product_ids = known(context, &self.products, "product");
        let class_ids = known(context, &self.classes, "route_class");
        let truck_ids = known(context, &self.trucks, "truck");
        let tank_ids = known(context, &self.tanks, "tank");
        let route_ids = known(context, &self.routes, "route");
        let instrument_ids = known(context, &self.instruments, "instrument");

        let mut products = places::products(context, &self.products, &mut product_ids);
        let brines = places::brines(&self.products, &product_ids);
        freezing::rows(context, &self.freezing, &product_ids, &brines, &mut products);
        places::at_least_one_brine(context, &self.products, &brines);
        let plant = self.plant.first().and_then(|one| places::plant(context, one, &product_ids, &brines));
        let tanks = tank::tanks(context, &self.tanks, &tank_ids, &product_ids, &brines, plant.as_ref());
        if let (Some(plant), Some(section), true) =
            (&plant, self.plant.first(), tanks.len() == self.tanks.len())
        {
            tank::one_holds_what_is_made(context, section, plant, &tanks);
        }
        let route_classes = each(context, &self.classes, &class_ids, roads::class);
        let mut trucks = each(context, &self.trucks, &truck_ids, places::truck);
        books::axles(context, &self.axles, &truck_ids, &mut trucks);
        let watershed_ids = known(context, &self.watersheds, "watershed");
        let watersheds = books::watersheds(context, &self.watersheds, &watershed_ids);
        let meter_ids = known(context, &self.meters, "meter");
        let meters = books::meters(context, &self.meters, &meter_ids);
        let agencies = books::agencies(context, &self.agencies);
        let contacts = books::contacts(context, &self.contacts);
        let chore_ids = known(context, &self.chores, "chore");
        let chores = books::chores(context, &self.chores, &chore_ids);
        let receiving = or_defaults(context, &self.receiving, "receiving", books::receiving);
        let accounts = or_defaults(context, &self.accounts, "accounts", books::accounts);
        let alerts = or_defaults(context, &self.alerts, "alerts", books::alerts);
        let routes = each(context, &self.routes, &route_ids, |context, section, id| {
            places::route(context, section, id, (&class_ids, &truck_ids, &watershed_ids))
        });
        let segment_ids = known(context, &self.segments, "segment");
        let segments = each(context, &self.segments, &segment_ids, |context, section, id| {
            roads::segment(context, section, id, &route_ids)
        });
        let site = self.yard.first().and_then(|one| places::place(context, one));
        let salt = or_defaults(context, &self.salt, "salt", places::salt);
        let loading = self.loading.first().and_then(|one| places::loading(context, one));
        let crew = or_defaults(context, &self.crew, "crew", places::crew);
        let policy = or_defaults(context, &self.policy, "policy", places::policy);
        let put_right = or_defaults(context, &self.put_right, "put_right", places::put_right);
        let printed = instruments::printed(context, &self.printed, &self.instruments, &instrument_ids);
        let instruments = instruments::instruments(context, &self.instruments, &instrument_ids, &printed);
        let specs = instruments::specs(context, &self.specs, &tank_ids, &product_ids, &brines);
        let trim = or_defaults(context, &self.trim, "trim", instruments::trim);
        let bench = or_defaults(context, &self.bench, "bench", instruments::bench);
        let signing = or_defaults(context, &self.signing, "signing", places::signing);
        let parts = making::Parts {
            vessels: (&self.vessels, known(context, &self.vessels, "vessel")),
            lines: (&self.lines, known(context, &self.lines, "line")),
            feeders: (&self.feeders, known(context, &self.feeders, "feeder")),
            sensors: (&self.sensors, known(context, &self.sensors, "sensor")),
        };
        let making = match (self.making.first(), &plant, &salt) {
            (Some(section), Some(plant), Some(salt)) => making::layout(context, section, &parts, plant, salt),
            (Some(_), ..) => None,
            (None, ..) => {
                parts.need_making(context);
                None
            }
        };
        let machine_ids = known(context, &self.machines, "machine");
        let machines = each(context, &self.machines, &machine_ids, machines::machine);
        let point_ids = known(context, &self.points, "point");
        let points = each(context, &self.points, &point_ids, |context, section, id| {
            machines::point(
                context,
                section,
                id,
                &machine_ids,
                &self.machines,
                making.as_ref(),
                (&tank_ids, [&class_ids, &segment_ids]),
            )
        });
        let site = site?;
        Some(Yard {
            name: site.name,
            time_zone: site.time_zone,
            units: site.units,
            weather_station: site.weather_station,
            elevation: site.elevation,
            place: site.sun,
            plant: plant?,
            salt: salt?,
            products,
            tanks,
            route_classes,
            routes,
            segments,
            trucks,
            loading: loading?,
            crew: crew?,
            policy: policy?,
            put_right: put_right?,
            instruments,
            specs,
            trim: trim?,
            bench: bench?,
            signing: signing?,
            making,
            machines,
            points,
            meters,
            watersheds,
            agencies,
            contacts,
            chores,
            receiving: receiving?,
            accounts: accounts?,
            alerts: alerts?,
        })
    }
}

/// Builds a table that may be left out.
fn or_defaults<T>(
    context: &mut Context<'_>,
    found: &[Section<'_>],
    name: &str,
    build: impl Fn(&mut Context<'_>, &Section<'_>) -> Option<T>,
) -> Option<T> {
    match found.first() {
        Some(section) => build(context, section),
        None => build(context, &Section::absent(table(name)?)),
    }
}
