//! Charts of several pages, each in both sizes, with what it says and its key.

use chemistry::freezing::{Solid, all_solid_below};
use chemistry::{Brine, recipe};
use planner::outlook::RoadHour;
use planner::{Plan, TankStock};
use quantity::{ThermodynamicTemperature, in_celsius, in_cubic_metres};
use report::chart::{
    ColdToSpare, CoverChart, FreezeMap, PhaseDiagram, Size, SpareRow, StrengthsChart, TankMark, Texture,
    cold_to_spare, cover_chart, freeze_map, in_its_ratio, phase_diagram, strengths_chart,
};
use yard::stock::{Books, TankBook};

use crate::page_frame::Visitor;

/// A chart for phones and one for wider screens, with what it says and its key.
pub(crate) struct ChartPair {
    pub(crate) phone: String,
    pub(crate) wide: String,
    pub(crate) says: String,
    pub(crate) key: Vec<KeyEntry>,
}

/// A line of a chart's key.
pub(crate) struct KeyEntry {
    pub(crate) class: &'static str,
    pub(crate) label: String,
}

pub(crate) fn key(visitor: &Visitor, entries: &[(&'static str, &str)]) -> Vec<KeyEntry> {
    entries
        .iter()
        .map(|(class, text)| KeyEntry { class, label: visitor.words.say(text).to_string() })
        .collect()
}

/// The freeze map of the tanks that hold brine; none when there is none.
pub(crate) fn map(
    visitor: &Visitor,
    tanks: &[TankStock],
    books: &Books,
    hours: &[RoadHour],
) -> Option<ChartPair> {
    let teller = visitor.teller();
    let ahead = air_ahead(hours);
    let coldest = ahead.map(|[low, _]| low);
    let air_now = hours.first().and_then(|hour| hour.air);
    let marks: Vec<TankMark> = tanks
        .iter()
        .filter_map(|tank| {
            let dipped = books.tank(&tank.tank).and_then(|book| book.dip).and_then(|dip| dip.temperature);
            Some(TankMark {
                label: visitor.words.fill("chart.tank", &[("tank", &tank.tank)]),
                strength: tank.strength?,
                temperature: dipped.or(air_now).unwrap_or_else(recipe::reference_temperature),
                needs_act: teller.tank_needs_act(tank, coldest),
            })
        })
        .collect();
    if marks.is_empty() {
        return None;
    }
    let says = teller.freeze_map(tanks, coldest);
    let drawing = FreezeMap { id: "map", marks: &marks, ahead, says: &says };
    let draw = |size| freeze_map(&drawing, size, &visitor.display, &visitor.words);
    let worst = tanks.iter().find(|tank| teller.tank_needs_act(tank, coldest));
    // An empty tank freezes nothing; one of an unknown liquid may.
    let is_known = |tank: &TankStock| {
        tank.is_indoors || tank.freezes_at().is_some() || in_cubic_metres(tank.volume) <= 0.0
    };
    let well = match ahead {
        None => "map.no-air",
        Some(_) if tanks.iter().all(is_known) => "map.all-well",
        Some(_) => "map.well-as-known",
    };
    let caption = worst.map_or_else(
        || visitor.words.say(well).to_string(),
        |tank| {
            let state = teller.tank_state(tank, coldest);
            visitor.words.fill("map.worst", &[("tank", &tank.tank), ("state", &state)])
        },
    );
    Some(ChartPair { phone: draw(Size::Phone), wide: draw(Size::Wide), says: caption, key: Vec::new() })
}

/// The freeze map of a blend: its salts in their ratio at every strength, and the tank at its own.
pub(crate) fn blend_map(
    visitor: &Visitor,
    (id, tank): (&str, &str),
    brine: &Brine,
    temperature: ThermodynamicTemperature,
    ahead: Option<[ThermodynamicTemperature; 2]>,
) -> ChartPair {
    let says = visitor.words.say("blend.ratio");
    let points = in_its_ratio(brine);
    let marks = [TankMark {
        label: visitor.words.fill("chart.tank", &[("tank", tank)]),
        strength: brine.strength(),
        temperature,
        needs_act: false,
    }];
    let words = &visitor.words;
    let axis = words.say("chart.strength-axis");
    // The same at every strength of one ratio.
    let end = all_solid_below(brine).ok();
    let solid_below: Vec<_> = [points.first(), points.last()]
        .into_iter()
        .flatten()
        .filter_map(|(place, _)| Some((*place, end?)))
        .collect();
    let drawing =
        PhaseDiagram { id, axis, points: &points, solid_below: &solid_below, marks: &marks, ahead, says };
    let draw = |size| phase_diagram(&drawing, size, &visitor.display, words);
    let mut entries = vec![("k-line", "chart.key.salt-line"), ("k-ice-line", "chart.key.ice-line")];
    if ahead.is_some() {
        entries.push(("k-band", "chart.key.band"));
    }
    let key = key(visitor, &entries);
    ChartPair { phone: draw(Size::Phone), wide: draw(Size::Wide), says: says.to_owned(), key }
}

/// Coldest and warmest air of some hours.
pub(crate) fn air_ahead(hours: &[RoadHour]) -> Option<[ThermodynamicTemperature; 2]> {
    let by = |a: &ThermodynamicTemperature, b: &ThermodynamicTemperature| {
        in_celsius(*a).total_cmp(&in_celsius(*b))
    };
    let air = || hours.iter().filter_map(|hour| hour.air);
    Some([air().min_by(by)?, air().max_by(by)?])
}

/// The cover chart of a plan; on the page of the plan with its work below.
pub(crate) fn cover(visitor: &Visitor, plan: &Plan, with_work: bool) -> ChartPair {
    let says = visitor.teller().cover(plan);
    let drawing = CoverChart { id: "cover", plan, with_work, says: &says };
    let draw = |size| cover_chart(&drawing, size, &visitor.display, &visitor.words);
    let (phone, wide) = (draw(Size::Phone), draw(Size::Wide));
    ChartPair { phone, wide, says, key: key(visitor, &[("k-need", "chart.key.need")]) }
}

/// How much colder each tank may get; none where no air is forecast or no tank's freeze point is known.
pub(crate) fn spare(
    visitor: &Visitor,
    tanks: &[TankStock],
    books: &Books,
    hours: &[RoadHour],
) -> Option<ChartPair> {
    let (d, words) = (&visitor.display, visitor.words);
    let ahead = air_ahead(hours)?;
    let coldest = ahead[0];
    let rows: Vec<SpareRow> = tanks
        .iter()
        .filter(|tank| !tank.is_indoors)
        .filter_map(|tank| {
            let stop = tank.freezes_at()?;
            let is_short = tank.freezes_in(Some(coldest));
            let key = if is_short { "spare.none" } else { "spare.left" };
            let margin = d.degrees_between(coldest, stop);
            let solid = match tank.first_solid.map(|first| first.solid) {
                Some(Solid::Ice | Solid::IceOrHydrohalite) => Texture::Ice,
                Some(_) => Texture::Salt,
                None => Texture::Plain,
            };
            Some(SpareRow {
                label: words.fill("chart.tank", &[("tank", &tank.tank)]),
                now: books.tank(&tank.tank).and_then(|book| book.dip).and_then(|dip| dip.temperature),
                stop,
                solid,
                says: words.fill(key, &[("margin", &margin)]),
                is_short,
            })
        })
        .collect();
    if rows.is_empty() {
        return None;
    }
    let told = rows.iter().map(|row| format!("{}: {}.", row.label, row.says)).collect::<Vec<_>>().join(" ");
    let drawing = ColdToSpare { id: "spare", rows: &rows, ahead, says: &told };
    let draw = |size| cold_to_spare(&drawing, size, d, &words);
    let says = words.say("spare.caption").to_owned();
    Some(ChartPair { phone: draw(Size::Phone), wide: draw(Size::Wide), says, key: Vec::new() })
}

/// A tank's strength by the book beside that of its last sample; none without both.
pub(crate) fn strengths(
    visitor: &Visitor,
    id: &str,
    stock: &TankStock,
    book: &TankBook,
) -> Option<ChartPair> {
    let (d, words) = (&visitor.display, visitor.words);
    let booked = book.strength().filter(|_| stock.is_brine)?.percent();
    let last = book.readings.last()?;
    let sample = (last.reading.strength_pct, last.reading.uncertainty_pct?);
    let spec = visitor.app.yard.spec(&stock.tank);
    let values = [
        ("book", d.percent(booked, 1)),
        ("sample", d.percent(sample.0, 1)),
        ("within", d.percent(sample.1, 1)),
        ("at", d.time(last.at)),
    ];
    let key = if (booked - sample.0).abs() <= sample.1 { "strengths.agree" } else { "strengths.differ" };
    let says = words.fill_with(key, &values);
    let drawing = StrengthsChart { id, book: booked, sample, spec: &spec, says: &says };
    let draw = |size| strengths_chart(&drawing, size, d, &words);
    Some(ChartPair { phone: draw(Size::Phone), wide: draw(Size::Wide), says, key: Vec::new() })
}
