//! `plan`: from a yard file and a forecast to gallons, making runs and loads.

use jiff::Timestamp;
use message::Tell;
use planner::{Plan, PlanRequest};
use quantity::units::MILE;
use quantity::{in_gallons, in_metres, in_pounds};
use report::Teller;
use report::plan_document::plan_document;
use report::plan_text::plan_text;
use site::Yard;
use yard::stock::Books;

use crate::args::{self, Units};
use crate::input;
use crate::outcome::{Done, Failure, Outcome, print};

/// Runs the verb.
pub fn run(args: &args::Plan, units: Option<Units>) -> Outcome {
    let yard = input::yard(&args.yard)?;
    let rates = input::rates(&yard)?;
    let (weather, issued) = input::forecast(&args.forecast, &args.reading, &yard, Timestamp::now())?;
    let books = match &args.ledger {
        Some(path) => Books::fold(&yard, &input::events(path)?),
        None => Books::opening(&yard),
    };
    let request = PlanRequest {
        yard: &yard,
        books: &books,
        rates: &rates,
        weather: &weather,
        issued,
        hours: args.hours,
        now: if args.reading.issued.is_some() { issued } else { Timestamp::now() },
        seen: None,
    };
    let (display, words) = (input::display(&yard, units)?, input::words());
    let plan = planner::plan(&request).map_err(|error| {
        Failure::Input(format!("{}: {}", args.forecast.display(), display.tell(&error.message())))
    })?;
    let teller = Teller { words: &words, display: &display, yard: &yard };
    let text = if args.json {
        format!("{:#}", plan_document(&plan, &weather, &teller))
    } else if args.table.is_some() {
        match args.rows {
            args::Rows::Routes => routes_csv(&plan, &yard)?,
            args::Rows::Hours => hours_csv(&plan),
        }
    } else {
        plan_text(&plan, &weather, &teller)
    };
    print(&text)?;
    // A plan that leaves something short is an answer, and the answer is no.
    Ok(if plan.shortages.is_empty() { Done::Yes } else { Done::No })
}

/// The hours as CSV, unrounded: brine drawn by purpose, and what stands at the end.
fn hours_csv(plan: &Plan) -> String {
    let mut lines = vec![
        "start,anti_icing_low_gal,anti_icing_mid_gal,anti_icing_high_gal,first_pass_low_gal,first_pass_mid_gal,\
         first_pass_high_gal,follow_up_low_gal,follow_up_mid_gal,follow_up_high_gal,stock_end_gal"
            .to_string(),
    ];
    let per_hour = plan.bins.count / plan.hours.len().max(1);
    let gallons = |m3: f64| in_gallons(quantity::cubic_metres(m3)).to_string();
    for (hour, road) in plan.hours.iter().enumerate() {
        let end = (hour + 1) * per_hour - 1;
        let mut cells = vec![road.start.to_string()];
        for band in &plan.purpose_bands {
            for part in [&band.low, &band.mid, &band.high] {
                cells.push(gallons(part[end] - if hour == 0 { 0.0 } else { part[end - per_hour] }));
            }
        }
        cells.push(gallons(plan.schedule.stock[end]));
        lines.push(cells.join(","));
    }
    lines.join("\n")
}

/// The routes as CSV, unrounded.
fn routes_csv(plan: &Plan, yard: &Yard) -> Result<String, Failure> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let failed = |error: String| Failure::Machine(format!("the table could not be written: {error}"));
    let head = [
        "route",
        "name",
        "lane_miles",
        "anti_icing_mid_gal",
        "brine_low_gal",
        "brine_mid_gal",
        "brine_high_gal",
        "other_low_gal",
        "other_mid_gal",
        "other_high_gal",
        "salt_low_lb",
        "salt_mid_lb",
        "salt_high_lb",
        "loads",
    ];
    writer.write_record(head).map_err(|e| failed(e.to_string()))?;
    for need in &plan.routes {
        let route = &yard.routes[need.route];
        let mut row = vec![
            route.id.clone(),
            route.name.clone(),
            MILE.of_base(in_metres(route.lane_length)).to_string(),
        ];
        row.push(in_gallons(need.anti_icing.mid).to_string());
        for spread in [&need.brine, &need.other] {
            row.extend([spread.low, spread.mid, spread.high].map(|v| in_gallons(v).to_string()));
        }
        row.extend([need.salt.low, need.salt.mid, need.salt.high].map(|m| in_pounds(m).to_string()));
        row.push(need.loads.to_string());
        writer.write_record(row).map_err(|e| failed(e.to_string()))?;
    }
    let bytes = writer.into_inner().map_err(|e| failed(e.to_string()))?;
    String::from_utf8(bytes).map_err(|e| failed(e.to_string()))
}
