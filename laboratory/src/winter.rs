//! A whole winter planned day by day on its own weather: how much salt a lane-mile the plans put down, against what
//! agencies publish.

use std::fmt::Write as _;
use std::path::Path;

use jiff::{SignedDuration, Timestamp};
use planner::PlanRequest;
use quantity::{in_gallons, in_metres, in_pounds, units::MILE};
use road::RateTable;
use road::course::Purpose;
use weather::ReadOptions;
use yard::road_log::RoadTreatment;
use yard::stock::Books;

/// Its section of VALIDATION.md.
pub const HEADING: &str = "## A winter planned day by day: salt a lane-mile";
/// Hours that each plan looks ahead, and that of it are done before the next.
const AHEAD: usize = 48;
const DONE: i64 = 24;
/// Pounds in a short ton.
const TON: f64 = 2000.0;
/// What a winter's three months at Newark should ask for, tons a lane-mile: see [`PUBLISHED`].
pub const RANGE: [f64; 2] = [2.5, 9.0];
/// Published salt a lane-mile, and where.
const PUBLISHED: [(&str, &str); 7] = [
    (
        "Pennsylvania, five counties around Philadelphia, 2011/12, 2012/13, 2009/10",
        "3.3, 5.9, 12.9 tons a season: over 37,000, 65,000 and 142,738 tons on 11,106 lane-miles (CBS Philadelphia 2013; Inquirer 2014; District 6 winter guide 2013-14)",
    ),
    ("Pennsylvania, five-winter mean and 2022/23", "8.5 and 4.7 tons (agency's own pages)"),
    (
        "New Jersey state highways, 2012/13",
        "19.4 to 19.9 tons: 258,201 tons in 38 events on 12,953 to 13,341 lane-miles, multi-lane freeways for the most (nj.com, February 2014; NJ Spotlight 2011)",
    ),
    ("Minnesota, 2011/12, 2012/13, 2023/24", "5.1, 10.1, 3.8 tons (MnDOT; lane-miles of 2022-24)"),
    ("Connecticut, 2018/19", "16 tons: 172,958 tons on 10,800 lane-miles (CT Examiner 2019)"),
    ("Maine, towns, 2011/12", "3.3 to 10 tons (Portland Press Herald 2012)"),
    (
        "Massachusetts, Connecticut, New Hampshire, a pass",
        "under 300, 150 to 215, 250 to 300 lb (TRB Special Report 235, 1991, table 2-1, as quoted)",
    ),
];

/// One class of road over the winter, for each lane-mile of it.
#[derive(Debug, Clone, Default)]
pub struct ClassWinter {
    /// Id of the class.
    pub class: String,
    /// Passes with salt; sprayings ahead.
    pub passes: usize,
    /// Sprayings ahead of an event.
    pub sprayed: usize,
    /// Passes that plow only.
    pub plowed: usize,
    /// Rock salt spread, lb.
    pub spread: f64,
    /// Brine put down, gal.
    pub brine: f64,
    /// Salt of both, lb as rock salt.
    pub salt: f64,
}

/// Three months.
#[derive(Debug, Clone)]
pub struct Winter {
    /// Each class of the demo's yard.
    pub classes: Vec<ClassWinter>,
    /// Days planned, and days on which something was put down.
    pub days: usize,
    /// Days on which something was put down on a road of the first class.
    pub treated: usize,
}

impl Winter {
    /// Tons of salt a lane-mile of the first class.
    pub fn tons(&self) -> f64 {
        self.classes.first().map_or(0.0, |class| class.salt / TON)
    }

    /// Whether it lies in the range.
    pub fn is_plausible(&self) -> bool {
        (RANGE[0]..=RANGE[1]).contains(&self.tons())
    }
}

/// Plans every day of January to March 2013 at Newark at 1 PM, on the weather as it came; what each plan does in its
/// first day is done, and lies on the roads of the next.
///
/// # Errors
/// A text, where a file cannot be read or a day cannot be planned.
pub fn newark(root: &Path) -> Result<Winter, String> {
    let text =
        |path: &str| std::fs::read_to_string(root.join(path)).map_err(|error| format!("{path}: {error}"));
    let yard = site::yard_file::read_yard(&text("examples/alder_fork.toml")?, "alder_fork.toml")
        .map_err(|problems| format!("{} problems in the yard file", problems.len()))?;
    let rates = RateTable::published().map_err(|error| error.to_string())?;
    let options = ReadOptions { station: Some("KEWR".into()), ..ReadOptions::default() };
    let weather = weather::read(&text("laboratory/tests/data/newark_jan_mar_2013.csv")?, &options)
        .map_err(|error| error.to_string())?;
    let first: Timestamp = "2013-01-02T18:00:00Z".parse().map_err(|error| format!("{error}"))?;
    let last: Timestamp = "2013-03-31T00:00:00Z".parse().map_err(|error| format!("{error}"))?;
    let mut books = Books::opening(&yard);
    let mut classes: Vec<ClassWinter> = yard
        .route_classes
        .iter()
        .map(|class| ClassWinter { class: class.id.clone(), ..ClassWinter::default() })
        .collect();
    let (mut days, mut treated) = (0, 0);
    let mut issued = first;
    while issued < last {
        let until = issued + SignedDuration::from_hours(DONE);
        let forecast = weather.as_perfect_forecast(issued);
        let request = PlanRequest {
            yard: &yard,
            books: &books,
            rates: &rates,
            weather: &forecast,
            issued,
            hours: AHEAD,
            now: issued,
            seen: None,
        };
        let roads = planner::roads_under(&request).map_err(|error| format!("{issued}: {error:?}"))?;
        let brine =
            chemistry::Brine::sodium_chloride(yard.plant.target_strength).map_err(|e| e.to_string())?;
        let density = brine.density(chemistry::recipe::reference_temperature()).map_err(|e| e.to_string())?;
        let before = classes.first().map_or(0.0, |class| class.salt);
        let mut put: Vec<RoadTreatment> = Vec::new();
        for class in &roads.classes {
            let own = &mut classes[class.class];
            for act in class.middle.acts.iter().filter(|act| act.at < until) {
                let lane = quantity::metres(MILE.to_base(1.0));
                let [_, liquid, _] = act.liquid(&brine).map_err(|e| e.to_string())?;
                let (liquid, salt) = (liquid.on(lane), act.salt()[1].on(lane));
                match act.purpose {
                    Purpose::Pretreat => own.sprayed += 1,
                    Purpose::PlowOnly => own.plowed += 1,
                    _ => own.passes += 1,
                }
                own.spread += in_pounds(salt);
                own.brine += in_gallons(liquid);
                let dissolved = in_pounds(liquid * density) * brine.strength().fraction();
                own.salt += in_pounds(salt) + dissolved / yard.salt.purity.fraction();
                let id = &yard.route_classes[class.class].id;
                put.extend(yard.routes.iter().filter(|route| route.class == *id).map(|route| {
                    let lanes = in_metres(route.lane_length) / in_metres(lane);
                    RoadTreatment {
                        at: act.at,
                        route: route.id.clone(),
                        lanes: route.lane_length,
                        liquid: Some(liquid * lanes),
                        salt: Some(salt * lanes),
                    }
                }));
            }
        }
        put.sort_by_key(|one| one.at);
        books.roads.treatments.extend(put);
        days += 1;
        treated += usize::from(classes.first().map_or(0.0, |class| class.salt) > before);
        issued = until;
    }
    Ok(Winter { classes, days, treated })
}

/// The section of VALIDATION.md.
///
/// # Errors
/// As [`newark`].
pub fn section(root: &Path) -> Result<String, String> {
    let winter = newark(root)?;
    let mut text = format!("\n{HEADING}\n\n");
    let _ = write!(
        text,
        "Newark, 2 January to 30 March 2013, the demo's yard, {} plans of {AHEAD} h made at 1 PM on the weather as it came; the \
         first day of each is done and lies on the roads of the next. Something was put down on {} days.\n\n\
         | class | sprayings ahead | passes with salt | plow only | rock salt spread, lb | brine, gal | \
         all salt, tons a lane-mile |\n\
         |---|---|---|---|---|---|---|\n",
        winter.days, winter.treated
    );
    for class in &winter.classes {
        let _ = writeln!(
            text,
            "| {} | {} | {} | {} | {:.0} | {:.0} | {:.1} |",
            class.class,
            class.sprayed,
            class.passes,
            class.plowed,
            class.spread,
            class.brine,
            class.salt / TON
        );
    }
    let _ = write!(
        text,
        "\nTo be within {} to {} tons for the first class. Why: four real storms and about six small ones fell in these \
         months (1.9 in of water at 32 °F or less on nine days, about 19 in of snow), near the five counties around \
         Philadelphia whose whole season took 5.9 tons; three quarters of a season is 4.4. Storms of 700 to 1,400 lb, \
         small ones of 200 to 400 and frost add up to 2.3 to 4.5 (common practice, no source). Less than 2.5: events \
         were missed; more than 9: freeways, not two-lane roads.\n\n",
        RANGE[0], RANGE[1]
    );
    text.push_str("| published | salt a lane-mile |\n|---|---|\n");
    for (who, what) in PUBLISHED {
        let _ = writeln!(text, "| {who} | {what} |");
    }
    text.push_str("\nTons over lane-miles are our own quotients. News pages were read in excerpt.\n");
    Ok(text)
}
