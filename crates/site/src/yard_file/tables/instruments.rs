//! The bench's instruments, what they judge by, and the plant's trim.

use bench::instrument::{Compensation, HydrometerScale, Printed, RefractometerScale, Scale};
use bench::register::{PRINTED, scale, usual};
use message::message;
use quantity::{Time, celsius, hours, kelvins};

use super::known::{Known, each, strength};
use super::places;
use crate::yard_file::reader::{Context, Section, complaint};
use crate::{Bench, Instrument, Spec, SpecFor, Trim};

/// Id, name and scale of what is supplied when the file names none.
const SUPPLIED: [(&str, &str, &str); 2] =
    [("hydrometer", "Hydrometer 60/60 °F", "sg_60_60"), ("refractometer", "Refractometer, °Brix", "brix")];

/// Longest time between checks, h: a refractometer's zero daily, all others weekly. Common practice, no source.
const CHECK_HOURS: (f64, f64) = (24.0, 168.0);

fn usual_interval(scale: &Scale) -> Time {
    let (refractometer, other) = CHECK_HOURS;
    hours(if matches!(scale, Scale::Refractometer { .. }) { refractometer } else { other })
}

/// The instruments of the file, or those supplied.
pub(super) fn instruments(
    context: &mut Context<'_>,
    sections: &[Section<'_>],
    known: &Known,
    printed: &[(String, Vec<(f64, f64)>)],
) -> Vec<Instrument> {
    if !sections.is_empty() {
        return each(context, sections, known, |context, section, id| {
            instrument(context, section, id, printed)
        });
    }
    let supplied = SUPPLIED.into_iter().filter_map(|(id, name, engraved)| {
        let read_on = scale(engraved)?;
        let check_every = usual_interval(&read_on);
        let (id, name, scale) = (id.to_owned(), name.to_owned(), engraved.to_owned());
        Some(Instrument { id, name, scale, card: usual(read_on), offset: 0.0, check_every })
    });
    supplied.collect()
}

/// The points of every printed scale, by instrument, weakest first.
pub(super) fn printed(
    context: &mut Context<'_>,
    sections: &[Section<'_>],
    instruments: &[Section<'_>],
    known: &Known,
) -> Vec<(String, Vec<(f64, f64)>)> {
    let mut found: Vec<(String, Vec<(f64, f64)>)> = Vec::new();
    let mut quiet = Context::new("", "");
    for section in sections {
        let id = section.text(context, "instrument");
        let percent = section.number(context, "strength_pct");
        let shown = section.number(context, "shown");
        let Some(id) = id else { continue };
        if !known.check(context, section, "instrument", "instrument", &id) {
            continue;
        }
        let of = instruments.iter().zip(&known.of_each).find(|(_, other)| other.as_deref() == Some(&id));
        if of.is_some_and(|(one, _)| one.text(&mut quiet, "scale").is_some_and(|scale| scale != PRINTED)) {
            let wrong = complaint(message!("site.file.other_scale", scale = PRINTED));
            section.blame(context, "instrument", wrong);
            continue;
        }
        let Some(point) = percent.zip(shown) else { continue };
        match found.iter_mut().find(|(other, _)| *other == id) {
            Some((_, points)) => points.push(point),
            None => found.push((id, vec![point])),
        }
    }
    for (_, points) in &mut found {
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
    }
    found
}

fn instrument(
    context: &mut Context<'_>,
    section: &Section<'_>,
    id: String,
    printed: &[(String, Vec<(f64, f64)>)],
) -> Option<Instrument> {
    let name = section.text(context, "name").unwrap_or_else(|| id.clone());
    let engraved = section.text(context, "scale");
    let compensated = section.switch(context, "compensated").unwrap_or(false);
    let mut number = |stem: &str| section.number(context, stem);
    let (alpha, reference, cell_factor) =
        (number("alpha_pct_per_k"), number("alpha_reference"), number("cell_factor"));
    let (full, millilitres, offset) = (number("full_pct"), number("cup_ml"), number("offset"));
    let check_every = number("check_every").map(hours);
    let (resolution, calibration, repeatability) =
        (number("resolution"), number("calibration"), number("repeatability"));
    let engraved = engraved?;
    let plain = if engraved == PRINTED {
        let points = printed.iter().find(|(other, _)| *other == id).map(|(_, points)| points.as_slice());
        match Printed::new(points.unwrap_or_default()) {
            Ok(table) => {
                Scale::Refractometer { scale: RefractometerScale::Printed(table), compensated: false }
            }
            Err(error) => {
                let what = message!("site.file.printed_scale", error = &error);
                section.blame(context, "scale", complaint(what));
                return None;
            }
        }
    } else {
        scale(&engraved)?
    };
    let read_on = match plain {
        Scale::Refractometer { scale, .. } => Scale::Refractometer { scale, compensated },
        Scale::Conductivity { .. } => Scale::Conductivity {
            compensation: alpha.zip(reference).map(|(percent, reference)| Compensation {
                per_kelvin: percent / 100.0,
                reference: celsius(reference),
            }),
            cell_factor: cell_factor.unwrap_or(1.0),
        },
        Scale::Hydrometer(HydrometerScale::Salometer { full_percent, made_for }) => {
            let full_percent = full.unwrap_or(full_percent);
            Scale::Hydrometer(HydrometerScale::Salometer { full_percent, made_for })
        }
        Scale::Cup { millilitres: usual } => Scale::Cup { millilitres: millilitres.unwrap_or(usual) },
        other => other,
    };
    let is_salometer = matches!(read_on, Scale::Hydrometer(HydrometerScale::Salometer { .. }));
    let belongs = [
        ("compensated", matches!(read_on, Scale::Refractometer { .. }), "site.file.refractometers_only"),
        ("alpha_pct_per_k", matches!(read_on, Scale::Conductivity { .. }), "site.file.conductivity_only"),
        ("cell_factor", matches!(read_on, Scale::Conductivity { .. }), "site.file.conductivity_only"),
        ("full_pct", is_salometer, "site.file.salometers_only"),
        ("cup_ml", matches!(read_on, Scale::Cup { .. }), "site.file.cup_only"),
    ];
    for (stem, does, message) in belongs {
        if !does && section.has(stem) && (stem != "compensated" || compensated) {
            section.blame(context, stem, complaint(message));
        }
    }
    let check_every = check_every.unwrap_or_else(|| usual_interval(&read_on));
    let mut card = usual(read_on);
    card.resolution = resolution.unwrap_or(card.resolution);
    card.calibration = calibration.unwrap_or(card.calibration);
    card.repeatability = repeatability.unwrap_or(card.repeatability);
    Some(Instrument { id, name, scale: engraved, card, offset: offset.unwrap_or(0.0), check_every })
}

/// Targets and bands that are not the plant's.
pub(super) fn specs(
    context: &mut Context<'_>,
    sections: &[Section<'_>],
    tanks: &Known,
    products: &Known,
    brines: &[(String, Option<bool>)],
) -> Vec<SpecFor> {
    let mut found: Vec<SpecFor> = Vec::new();
    for section in sections {
        let (tank, product) = (section.text(context, "tank"), section.text(context, "product"));
        let mut percent = |stem: &str| section.number(context, stem);
        let (target, low, high) =
            (percent("target_strength_pct"), percent("spec_low_pct"), percent("spec_high_pct"));
        let reason = section.text(context, "reason");
        let (whose, list, name, id) = match (&tank, &product) {
            (Some(id), None) => ("tank", tanks, "tank", id),
            (None, Some(id)) => ("product", products, "product", id),
            (None, None) => {
                section.missing(context, "tank", "site.why.spec");
                continue;
            }
            (Some(_), Some(_)) => {
                section.blame(context, "product", complaint("site.file.tank_or_product"));
                continue;
            }
        };
        if !list.check(context, section, whose, name, id) {
            continue;
        }
        if brines.iter().any(|(other, brine)| Some(other) == product.as_ref() && *brine == Some(false)) {
            section.blame(context, "product", complaint("site.file.strength_not_kept"));
        }
        if found.iter().any(|one| one.tank == tank && one.product == product) {
            section.blame(context, whose, complaint("site.file.spec_twice"));
        }
        if let (Some(low), Some(target), Some(high)) = (low, target, high) {
            places::spec_order(context, section, low, target, high);
        }
        let of = |percent| strength(percent);
        if let (Some(target), Some(low), Some(high)) = (of(target), of(low), of(high)) {
            found.push(SpecFor { tank, product, spec: Spec { target, low, high, reason } });
        }
    }
    found
}

/// The plant's trim.
pub(super) fn trim(context: &mut Context<'_>, section: &Section<'_>) -> Option<Trim> {
    let name = section.text(context, "name");
    let mut number = |stem: &str| section.number(context, stem);
    let (largest, smallest) = (number("largest_step"), number("smallest_step"));
    let (lag, panel) = (number("lag").map(hours), number("panel_uncertainty_pct"));
    Some(Trim {
        name: name?,
        largest_step: largest?,
        smallest_step: smallest?,
        lag: lag?,
        panel_uncertainty_percent: panel?,
    })
}

/// How the bench judges.
pub(super) fn bench(context: &mut Context<'_>, section: &Section<'_>) -> Option<Bench> {
    let risk = section.number(context, "risk_pct").map(|percent| percent / 100.0);
    let thermometer = section.number(context, "thermometer").map(kelvins);
    Some(Bench { risk: risk?, thermometer: thermometer? })
}
