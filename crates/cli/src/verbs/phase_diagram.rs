//! `phase-diagram`: where ice and where salt appear in a blend, at every strength or every share, as CSV and as a
//! drawing.

use chemistry::equilibrium::{Onset, onset};
use chemistry::freezing::{all_solid_below, on_cooling};
use chemistry::recipe::reference_temperature;
use chemistry::{Brine, Error, MassFraction, Salt, root};
use quantity::{ThermodynamicTemperature, in_celsius, in_kelvins, in_kilograms, litres};
use report::Display;
use report::chart::{PhaseDiagram, Size, phase_diagram};
use site::UnitSystem;

use super::blend::{liquid, salts};
use crate::args::{self, Units};
use crate::errors::{in_a_table, sentence};
use crate::input;
use crate::outcome::{Done, Failure, Outcome, print};

/// Fewest and most points.
const POINTS: std::ops::RangeInclusive<usize> = 2..=5000;
/// Places at which the last liquid is looked for.
const ENDS: usize = 24;
/// What a drawing in a file needs of the pages' style: one set of colours, light.
const STYLE: &str = "text{font:14px sans-serif;fill:#17242b}.c-tick{fill:#4c5b62}.c-end{text-anchor:end}\
    .c-mid,.c-zone{text-anchor:middle}.c-zone{font-style:italic}.c-axis{stroke:#4c5b62}.c-liquid{fill:#d7e6e4}\
    .c-hatch{stroke:#8fa8bb;stroke-width:2.4}.c-dot{fill:#4c5b62}.c-curve{fill:none;stroke:#17242b;stroke-width:2.5}\
    .c-dash{stroke-dasharray:7 6}svg{background:#f5f3ec}";

/// A point along the bottom.
struct Point {
    place: f64,
    by_mass: f64,
    brine: Brine,
}

/// Runs the verb.
pub fn run(args: &args::PhaseDiagram, units: Option<Units>) -> Outcome {
    if !POINTS.contains(&args.points) {
        let (low, high) = (POINTS.start(), POINTS.end());
        return Err(Failure::Input(format!("--points = {}: accepted: {low} to {high}", args.points)));
    }
    let (head, points, axis) = match (&args.salts, args.liquid.as_slice()) {
        (Some(text), _) => {
            ("total_wt_pct", by_strength(text, args.points)?, format!("{text}: % salts by mass"))
        }
        (None, [first, second]) => {
            let points = by_share(&liquid("--liquid", first)?, &liquid("--liquid", second)?, args.points)?;
            ("second_vol_pct", points, format!("{second} in {first}: % by volume"))
        }
        (None, given) => {
            let count = given.len();
            return Err(Failure::Input(format!("--liquid: {count} given; accepted: two, or --salts")));
        }
    };
    let onsets: Vec<Result<Onset, Error>> = points.iter().map(|point| onset(&point.brine)).collect();
    print(&table(head, &points, &onsets)?)?;
    if let Some(path) = &args.svg {
        // At equilibrium, where the table has the liquid as it is.
        let drawn: Vec<(f64, Option<Onset>)> =
            points.iter().map(|point| (point.place, on_cooling(&point.brine).ok())).collect();
        // A trace of another salt keeps liquid far below the eutectic of the first: ends of one salt alone are no
        // part of the line between.
        let is_mixed = points.iter().any(|point| point.brine.only_salt().is_none());
        let solid_below: Vec<(f64, ThermodynamicTemperature)> = points
            .iter()
            .step_by(points.len().div_ceil(ENDS))
            .chain(points.last())
            .filter(|point| point.brine.strength().fraction() > 0.0)
            .filter(|point| !is_mixed || point.brine.only_salt().is_none())
            .filter_map(|point| Some((point.place, all_solid_below(&point.brine).ok()?)))
            .collect();
        let display = Display::new(units.map_or(UnitSystem::Us, input::system), jiff::tz::TimeZone::UTC);
        let of = PhaseDiagram {
            id: "blend",
            axis: &axis,
            points: &drawn,
            solid_below: &solid_below,
            marks: &[],
            ahead: None,
            says: &axis,
        };
        let svg = phase_diagram(&of, Size::Wide, &display, &input::words());
        let svg = svg.replacen("<svg ", "<svg xmlns=\"http://www.w3.org/2000/svg\" ", 1);
        let svg = svg.replacen('>', &format!("><style>{STYLE}</style>"), 1);
        std::fs::write(path, svg)
            .map_err(|error| Failure::Machine(format!("{}: cannot be written: {error}", path.display())))?;
    }
    Ok(Done::Yes)
}

/// Salts in one ratio, from next to nothing to the strongest that is covered.
fn by_strength(text: &str, count: usize) -> Result<Vec<Point>, Failure> {
    let parts = salts("--salts", text)?;
    let whole: f64 = parts.iter().map(|(_, value)| value).sum();
    if whole <= 0.0 || !whole.is_finite() {
        return Err(Failure::Input(format!(
            "--salts = {text}: accepted: at least one above zero, none endless"
        )));
    }
    let of = |strength: f64| -> Result<Brine, Error> {
        let part =
            |(salt, value): &(Salt, f64)| Ok((*salt, MassFraction::from_fraction(strength * value / whole)?));
        Brine::blend(&parts.iter().map(part).collect::<Result<Vec<_>, Error>>()?)
    };
    // The strongest that the crate takes.
    let is_taken = |strength: f64| of(strength).is_ok();
    let most = 0.45;
    let strongest = if is_taken(most) { most } else { root::edge(is_taken, 0.0, most, 1e-7) };
    (0..count)
        .map(|n| {
            let strength = strongest * n as f64 / (count - 1) as f64;
            let brine = of(strength)
                .map_err(|error| Failure::Input(format!("--salts = {text}: {}", sentence(&error))))?;
            Ok(Point { place: 100.0 * strength, by_mass: 100.0 * strength, brine })
        })
        .collect()
}

/// Two liquids, the second from nothing to all of it by volume at 60 °F.
fn by_share(first: &Brine, second: &Brine, count: usize) -> Result<Vec<Point>, Failure> {
    let refuse = |error: Error| Failure::Input(format!("--liquid: {}", sentence(&error)));
    let kg_per_l = |brine: &Brine| -> Result<f64, Failure> {
        Ok(in_kilograms(brine.density(reference_temperature()).map_err(refuse)? * litres(1.0)))
    };
    let (a, b) = (kg_per_l(first)?, kg_per_l(second)?);
    (0..count)
        .map(|n| {
            let share = n as f64 / (count - 1) as f64;
            let by_mass = share * b / (share * b + (1.0 - share) * a);
            let part = |salt: Salt| {
                let w =
                    first.part(salt).fraction() * (1.0 - by_mass) + second.part(salt).fraction() * by_mass;
                MassFraction::from_fraction(w).map(|part| (salt, part))
            };
            let parts = Salt::ALL.into_iter().map(part).collect::<Result<Vec<_>, _>>().map_err(refuse)?;
            let brine = Brine::blend(&parts).map_err(refuse)?;
            Ok(Point { place: 100.0 * share, by_mass: 100.0 * by_mass, brine })
        })
        .collect()
}

fn table(head: &str, points: &[Point], onsets: &[Result<Onset, Error>]) -> Result<String, Failure> {
    let machine = |error: String| Failure::Machine(format!("the table cannot be written: {error}"));
    let mut writer = csv::Writer::from_writer(Vec::new());
    let columns = [
        head,
        "by_mass_pct",
        "nacl_wt_pct",
        "cacl2_wt_pct",
        "mgcl2_wt_pct",
        "kcl_wt_pct",
        "na2so4_wt_pct",
        "ice_c",
        "salt",
        "salt_c",
        "first_solid",
        "first_solid_c",
        "first_solid_u_k",
        "error",
    ];
    writer.write_record(columns).map_err(|error| machine(error.to_string()))?;
    for (point, onset) in points.iter().zip(onsets) {
        let mut cells = vec![format!("{:.4}", point.place), format!("{:.4}", point.by_mass)];
        cells.extend(Salt::ALL.map(|salt| format!("{:.4}", point.brine.part(salt).percent())));
        let first = point.brine.first_solid().ok();
        // No minus before a zero.
        let text = |t: Option<f64>| t.map_or_else(String::new, |t| format!("{:.4}", t + 0.0));
        let found = onset.as_ref().ok();
        cells.push(text(found.and_then(|one| one.ice).map(in_celsius)));
        cells.push(
            found.and_then(|one| one.salt).map_or_else(String::new, |(solid, _)| solid.code().to_owned()),
        );
        cells.push(text(found.and_then(|one| one.salt).map(|(_, at)| in_celsius(at))));
        cells.push(first.map_or_else(String::new, |first| first.solid.code().to_owned()));
        cells.push(text(first.map(|first| in_celsius(first.temperature))));
        cells.push(first.map_or_else(String::new, |first| format!("{:.2}", in_kelvins(first.uncertainty))));
        cells.push(onset.as_ref().err().map_or_else(String::new, in_a_table));
        writer.write_record(&cells).map_err(|error| machine(error.to_string()))?;
    }
    let bytes = writer.into_inner().map_err(|error| machine(error.to_string()))?;
    String::from_utf8(bytes).map_err(|error| machine(error.to_string()))
}
