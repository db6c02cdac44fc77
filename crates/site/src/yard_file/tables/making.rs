//! How the plant is built and run.

use message::{Tell, message};
use plant::layout::{
    Control, Dissolving, End, Feeder, Grain, Layout, Line, LineKind, Sensed, Sensor, Store, Supply, Vessel,
    Way,
};
use quantity::{cubic_metres, hours, in_cubic_metres, kelvins};

use super::known::{Known, each};
use crate::yard_file::reader::{Context, Section, complaint};
use crate::{Plant, Salt};

/// The tables an own layout is made of, with their ids.
pub(super) struct Parts<'a> {
    pub vessels: (&'a [Section<'a>], Known),
    pub lines: (&'a [Section<'a>], Known),
    pub feeders: (&'a [Section<'a>], Known),
    pub sensors: (&'a [Section<'a>], Known),
}

/// A part's place by a key, or what stands for it where the key is left out.
fn place(
    context: &mut Context<'_>,
    section: &Section<'_>,
    stem: &str,
    (table, known): (&str, &Known),
    otherwise: Option<usize>,
) -> Option<usize> {
    let Some(id) = section.text(context, stem) else {
        if otherwise.is_none() && !section.has(stem) {
            section.missing(context, stem, "site.why.way");
        }
        return otherwise.filter(|_| !section.has(stem));
    };
    if !known.check(context, section, stem, table, &id) {
        return None;
    }
    known.of_each.iter().position(|known| known.as_deref() == Some(id.as_str()))
}

impl Parts<'_> {
    fn all(&self) -> [&[Section<'_>]; 4] {
        [self.vessels.0, self.lines.0, self.feeders.0, self.sensors.0]
    }

    /// Parts of a layout that nothing asks for.
    pub fn need_making(&self, context: &mut Context<'_>) {
        for section in self.all().into_iter().flatten() {
            let wrong = complaint("site.file.no_making");
            section.blame(context, "id", wrong.accepted("site.accepted.own_layout"));
        }
    }
}

/// The layout of the file.
pub(super) fn layout(
    context: &mut Context<'_>,
    section: &Section<'_>,
    parts: &Parts<'_>,
    plant: &Plant,
    salt: &Salt,
) -> Option<Layout> {
    let name = section.text(context, "layout")?;
    let target = plant.target_strength;
    let band = (plant.spec_high.fraction() - plant.spec_low.fraction()) / 2.0;
    let supply = Supply { temperature: plant.water_temperature, air: plant.water_temperature };
    let sizes = plant::layouts::batch().salt.sizes;
    let salt =
        Grain { purity: salt.purity, moisture: salt.moisture, sizes, temperature: plant.water_temperature };
    if let Some(mut shipped) = plant::layouts::all().into_iter().find(|one| one.name == name) {
        for part in parts.all().into_iter().flatten() {
            let wrong = complaint(message!("site.file.other_layout", layout = &name));
            part.blame(context, "id", wrong.accepted("site.accepted.own_or_none"));
        }
        shipped.supply = supply;
        shipped.salt = salt;
        shipped.control.target = target;
        shipped.control.band = band;
        return Some(shipped);
    }
    let lines = lines(context, parts);
    let vessels = each(context, parts.vessels.0, &parts.vessels.1, |context, section, id| {
        vessel(context, section, id, parts)
    });
    let mut stores: Vec<Store> = Vec::new();
    let mut feeders = Vec::new();
    for (one, id) in parts.feeders.0.iter().zip(&parts.feeders.1.of_each) {
        let store = one.text(context, "store");
        let to = place(context, one, "into", ("vessel", &parts.vessels.1), Some(0));
        let rate = one.number(context, "rate");
        let (Some(id), Some(store), Some(to), Some(rate)) = (id.clone(), store, to, rate) else { continue };
        let from = stores.iter().position(|known| known.id == store).unwrap_or_else(|| {
            stores.push(Store { id: store });
            stores.len() - 1
        });
        feeders.push(Feeder { id, from, to, rate: quantity::kg_per_second(rate) });
    }
    let sensors = each(context, parts.sensors.0, &parts.sensors.1, |context, section, id| {
        sensor(context, section, id, parts)
    });
    for (name, list) in ["vessel", "line", "feeder", "sensor"].into_iter().zip(parts.all()) {
        if list.is_empty() {
            let wrong = complaint(message!("site.file.no_parts", table = format!("[[{name}]]")));
            section.blame(context, "layout", wrong);
        }
    }
    let way = way(context, section, parts, &lines)?;
    let first_strength = sensors.iter().position(|one| matches!(one.of, Sensed::Strength { .. }));
    let panel = place(context, section, "panel", ("sensor", &parts.sensors.1), first_strength)?;
    let control = Control { period: hours(section.number(context, "look")?), target, band, panel, way };
    let is_whole = vessels.len() == parts.vessels.0.len()
        && lines.len() == parts.lines.0.len()
        && feeders.len() == parts.feeders.0.len()
        && sensors.len() == parts.sensors.0.len();
    if !is_whole || vessels.is_empty() || feeders.is_empty() {
        return None;
    }
    let made = Layout { name, vessels, lines, stores, feeders, supply, salt, sensors, control };
    if let Err(error) = made.check() {
        section.blame(context, "layout", complaint(error.message()));
        return None;
    }
    Some(made)
}

fn lines(context: &mut Context<'_>, parts: &Parts<'_>) -> Vec<Line> {
    each(context, parts.lines.0, &parts.lines.1, |context, section, id| {
        let mut end = |stem: &str, outside: (&str, End)| -> Option<End> {
            let text = section.text(context, stem)?;
            if text == outside.0 {
                return Some(outside.1);
            }
            parts.vessels.1.check(context, section, stem, "vessel", &text).then_some(())?;
            let known = &parts.vessels.1.of_each;
            known.iter().position(|id| id.as_deref() == Some(text.as_str())).map(End::Vessel)
        };
        let (from, to) = (end("from", ("supply", End::Supply)), end("to", ("out", End::Out)));
        let kind = section.text(context, "kind");
        let rate = section.number(context, "rate");
        let above = section.number(context, "above_share");
        let drains = section.number(context, "drains");
        let kind = match kind?.as_str() {
            "overflow" => {
                if above.is_none() && !section.has("above_share") {
                    section.missing(context, "above_share", "site.why.overflow");
                }
                LineKind::Overflow { above: above?, within: hours(drains?) }
            }
            pumped => {
                if rate.is_none() && !section.has("rate") {
                    section.missing(context, "rate", "site.why.pump");
                }
                let rate = cubic_metres(rate?) / hours(1.0);
                if pumped == "pump" { LineKind::Pump(rate) } else { LineKind::Valve(rate) }
            }
        };
        Some(Line { id, from: from?, to: to?, kind })
    })
}

fn vessel(context: &mut Context<'_>, section: &Section<'_>, id: String, parts: &Parts<'_>) -> Option<Vessel> {
    let volume = section.number(context, "volume");
    let loss = section.number(context, "loss_w_per_k");
    let dissolves = section.text(context, "dissolves");
    let speed = section.number(context, "grain_speed_m_s");
    let reached = section.number(context, "reached_share");
    let area = section.number(context, "cross_section_m2");
    let sludge = section.number(context, "sludge_room");
    let dissolving = match dissolves?.as_str() {
        "stirred" => {
            let by = place(context, section, "stirred_by", ("line", &parts.lines.1), None)?;
            Some(Dissolving::Stirred { speed: speed?, by, reached: reached? })
        }
        "bed" => {
            if area.is_none() && !section.has("cross_section_m2") {
                section.missing(context, "cross_section_m2", "site.why.bed");
            }
            Some(Dissolving::Bed { cross_section: area?, reached: reached? })
        }
        _ => None,
    };
    let volume = cubic_metres(volume?);
    let sludge_room = sludge.map_or(volume * 0.1, cubic_metres);
    Some(Vessel { id, volume, loss_watts_per_kelvin: loss?, dissolving, sludge_room })
}

fn sensor(context: &mut Context<'_>, section: &Section<'_>, id: String, parts: &Parts<'_>) -> Option<Sensor> {
    let of = section.text(context, "of");
    let lag = section.number(context, "lag");
    let noise = section.number(context, "noise");
    let of = of?;
    let of = if of == "flow" {
        Sensed::Flow { line: place(context, section, "at", ("line", &parts.lines.1), None)? }
    } else {
        let vessel = place(context, section, "at", ("vessel", &parts.vessels.1), Some(0))?;
        match of.as_str() {
            "strength" => Sensed::Strength { vessel, probe: kelvins(0.0) },
            "temperature" => Sensed::Temperature { vessel },
            "level" => Sensed::Level { vessel },
            _ => Sensed::Bed { vessel },
        }
    };
    let usual = match of {
        Sensed::Strength { .. } | Sensed::Temperature { .. } => 0.05,
        Sensed::Level { .. } => 0.002,
        Sensed::Bed { .. } => 20.0,
        Sensed::Flow { .. } => 2e-6,
    };
    Some(Sensor { id, of, lag: hours(lag?), noise: noise.unwrap_or(usual) })
}

fn way(context: &mut Context<'_>, section: &Section<'_>, parts: &Parts<'_>, lines: &[Line]) -> Option<Way> {
    let name = section.text(context, "way");
    if name.is_none() && !section.has("way") {
        section.missing(context, "way", "site.why.own_layout");
    }
    let name = name?;
    let ids = &parts.lines.1;
    let supplied = lines.iter().position(|line| line.from == End::Supply);
    let vessel = place(context, section, "vessel", ("vessel", &parts.vessels.1), Some(0));
    let water = place(context, section, "water", ("line", ids), supplied);
    let outlet = place(context, section, "outlet", ("line", ids), lines.len().checked_sub(1));
    let feeder = place(context, section, "feed", ("feeder", &parts.feeders.1), Some(0));
    let moved = match name.as_str() {
        "upflow" => place(context, section, "thin", ("line", ids), None),
        _ => place(context, section, "stir", ("line", ids), None),
    };
    let fill = (section.number(context, "fill_share"), section.number(context, "empty_share"));
    let settle = section.number(context, "settle");
    let level = section.number(context, "level_share");
    let bed = section.number(context, "bed");
    let (vessel, water, outlet, feeder, moved) = (vessel?, water?, outlet?, feeder?, moved?);
    Some(match name.as_str() {
        "batch" => {
            let fill = (fill.0?, fill.1?);
            if fill.0 <= fill.1 {
                section.blame(context, "empty_share", complaint("site.file.fill_share"));
                return None;
            }
            Way::Batch { vessel, water, stir: moved, outlet, feeder, fill, settle: hours(settle?) }
        }
        "fed" => Way::Fed { vessel, water, stir: moved, outlet, feeder, level: level? },
        _ => Way::Upflow { bed: vessel, water, thin: moved, outlet, feeder, salt_kg: bed? },
    })
}

/// A layout as the tables of a yard file.
pub(crate) fn tables(layout: &Layout) -> String {
    use std::fmt::Write as _;
    let mut out = String::new();
    let mut say = |line: std::fmt::Arguments<'_>| {
        // Writing to a String cannot fail.
        let _ = out.write_fmt(line);
        out.push('\n');
    };
    let vessel = |place: usize| layout.vessels[place].id.as_str();
    let line = |place: usize| layout.lines[place].id.as_str();
    let seconds = quantity::in_seconds;
    let per_hour = |rate: quantity::VolumeRate| in_cubic_metres(rate * hours(1.0));
    say(format_args!("[making]\nlayout = \"own\""));
    let (way, at, water, outlet, feeder) = match layout.control.way {
        Way::Batch { vessel, water, outlet, feeder, .. } => ("batch", vessel, water, outlet, feeder),
        Way::Fed { vessel, water, outlet, feeder, .. } => ("fed", vessel, water, outlet, feeder),
        Way::Upflow { bed, water, outlet, feeder, .. } => ("upflow", bed, water, outlet, feeder),
    };
    say(format_args!("way = \"{way}\"\nvessel = \"{}\"\nwater = \"{}\"", vessel(at), line(water)));
    say(format_args!("outlet = \"{}\"\nfeed = \"{}\"", line(outlet), layout.feeders[feeder].id));
    match layout.control.way {
        Way::Batch { stir, fill, settle, .. } => {
            say(format_args!("stir = \"{}\"\nfill_share = {}", line(stir), fill.0));
            say(format_args!("empty_share = {}\nsettle_min = {}", fill.1, round(seconds(settle) / 60.0)));
        }
        Way::Fed { stir, level, .. } => {
            say(format_args!("stir = \"{}\"\nlevel_share = {level}", line(stir)));
        }
        Way::Upflow { thin, salt_kg, .. } => {
            say(format_args!("thin = \"{}\"\nbed_kg = {salt_kg}", line(thin)));
        }
    }
    say(format_args!("panel = \"{}\"", layout.sensors[layout.control.panel].id));
    say(format_args!("look_s = {}", round(seconds(layout.control.period))));
    for one in &layout.vessels {
        say(format_args!(
            "\n[[vessel]]\nid = \"{}\"\nvolume_m3 = {}",
            one.id,
            round(in_cubic_metres(one.volume))
        ));
        say(format_args!("loss_w_per_k = {}", one.loss_watts_per_kelvin));
        say(format_args!("sludge_room_m3 = {}", round(in_cubic_metres(one.sludge_room))));
        match one.dissolving {
            Some(Dissolving::Stirred { speed, by, reached }) => {
                say(format_args!("dissolves = \"stirred\"\nstirred_by = \"{}\"", line(by)));
                say(format_args!("grain_speed_m_s = {speed}\nreached_share = {}", round(reached)));
            }
            Some(Dissolving::Bed { cross_section, reached }) => {
                say(format_args!("dissolves = \"bed\"\ncross_section_m2 = {cross_section}"));
                say(format_args!("reached_share = {}", round(reached)));
            }
            None => {}
        }
    }
    for one in &layout.lines {
        let end = |end: End| match end {
            End::Supply => "supply",
            End::Out => "out",
            End::Vessel(place) => vessel(place),
        };
        say(format_args!(
            "\n[[line]]\nid = \"{}\"\nfrom = \"{}\"\nto = \"{}\"",
            one.id,
            end(one.from),
            end(one.to)
        ));
        match one.kind {
            LineKind::Pump(rate) => {
                say(format_args!("kind = \"pump\"\nrate_m3_h = {}", round(per_hour(rate))))
            }
            LineKind::Valve(rate) => {
                say(format_args!("kind = \"valve\"\nrate_m3_h = {}", round(per_hour(rate))))
            }
            LineKind::Overflow { above, within } => {
                say(format_args!(
                    "kind = \"overflow\"\nabove_share = {above}\ndrains_s = {}",
                    round(seconds(within))
                ));
            }
        }
    }
    for one in &layout.feeders {
        let rate = quantity::in_kilograms(one.rate * hours(1.0)) / 60.0;
        let store = &layout.stores[one.from].id;
        say(format_args!(
            "\n[[feeder]]\nid = \"{}\"\nstore = \"{store}\"\ninto = \"{}\"",
            one.id,
            vessel(one.to)
        ));
        say(format_args!("rate_kg_min = {}", round(rate)));
    }
    for one in &layout.sensors {
        let (of, at) = match one.of {
            Sensed::Strength { vessel: at, .. } => ("strength", vessel(at)),
            Sensed::Temperature { vessel: at } => ("temperature", vessel(at)),
            Sensed::Bed { vessel: at } => ("bed", vessel(at)),
            Sensed::Level { vessel: at } => ("level", vessel(at)),
            Sensed::Flow { line: at } => ("flow", line(at)),
        };
        say(format_args!("\n[[sensor]]\nid = \"{}\"\nof = \"{of}\"\nat = \"{at}\"", one.id));
        say(format_args!("lag_s = {}\nnoise = {}", round(seconds(one.lag)), one.noise));
    }
    out
}

/// Nine digits: more are the last bits of a conversion.
fn round(value: f64) -> f64 {
    format!("{value:.9e}").parse().unwrap_or(value)
}
