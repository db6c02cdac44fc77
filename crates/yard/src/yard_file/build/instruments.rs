//! The bench's instruments.

use bench::instrument::{Compensation, Scale};
use bench::register::{scale, usual};
use chemistry::quantity::celsius;

use super::{Known, each};
use crate::site::Instrument;
use crate::yard_file::reader::{Context, Section, complaint};

/// Id, name and scale of what is supplied when the file names none.
const SUPPLIED: [(&str, &str, &str); 2] =
    [("hydrometer", "Hydrometer 60/60 °F", "sg_60_60"), ("refractometer", "Refractometer, °Brix", "brix")];

/// The instruments of the file, or those supplied.
pub(super) fn instruments(
    context: &mut Context<'_>,
    sections: &[Section<'_>],
    known: &Known,
) -> Vec<Instrument> {
    if !sections.is_empty() {
        return each(context, sections, known, instrument);
    }
    let supplied = SUPPLIED.into_iter().filter_map(|(id, name, engraved)| {
        let card = usual(scale(engraved)?);
        Some(Instrument { id: id.to_owned(), name: name.to_owned(), scale: engraved.to_owned(), card })
    });
    supplied.collect()
}

fn instrument(context: &mut Context<'_>, section: &Section<'_>, id: String) -> Option<Instrument> {
    let name = section.text(context, "name").unwrap_or_else(|| id.clone());
    let engraved = section.text(context, "scale");
    let compensated = section.switch(context, "compensated").unwrap_or(false);
    let alpha = section.number(context, "alpha_pct_per_k");
    let reference = section.number(context, "alpha_reference");
    let (resolution, calibration, repeatability) = (
        section.number(context, "resolution"),
        section.number(context, "calibration"),
        section.number(context, "repeatability"),
    );
    let engraved = engraved?;
    let read_on = match scale(&engraved)? {
        Scale::Refractometer { scale, .. } => Scale::Refractometer { scale, compensated },
        other if compensated => {
            section.blame(context, "compensated", complaint("is for refractometers only"));
            other
        }
        Scale::Conductivity { cell_factor, .. } => Scale::Conductivity {
            compensation: alpha.zip(reference).map(|(percent, reference)| Compensation {
                per_kelvin: percent / 100.0,
                reference: celsius(reference),
            }),
            cell_factor,
        },
        other => other,
    };
    if alpha.is_some() && !matches!(read_on, Scale::Conductivity { .. }) {
        section.blame(context, "alpha_pct_per_k", complaint("is for scale \"conductivity\" only"));
    }
    let mut card = usual(read_on);
    card.resolution = resolution.unwrap_or(card.resolution);
    card.calibration = calibration.unwrap_or(card.calibration);
    card.repeatability = repeatability.unwrap_or(card.repeatability);
    Some(Instrument { id, name, scale: engraved, card })
}
