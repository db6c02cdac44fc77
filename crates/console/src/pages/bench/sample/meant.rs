//! A number that makes no sense as it was read, and would otherwise, put into words with what leads to the other.

use entry::sample;
use quantity::{in_celsius, in_fahrenheit};

use super::{Read, TAP};
use crate::page_frame::Visitor;
use crate::pages::parts;

/// What a number that makes no sense was perhaps meant to be.
#[derive(Default)]
pub(super) struct Meant {
    pub(super) text: String,
    /// The same sample as it was perhaps read: what a button says, and where it leads.
    pub(super) instead: Vec<(String, String)>,
}

/// What it was perhaps meant to be; nothing where no other reading of it makes sense.
pub(super) fn or_meant(visitor: &Visitor, read: &Read<'_>, is_off_scale: bool) -> Option<Meant> {
    let words = visitor.words;
    let found = read.shown.meant(is_off_scale)?;
    let text = visitor.display.tell(&read.shown.problem(&found, &read.typed));
    let instead = match &found {
        sample::Meant::Slip(readings, decimals) => {
            let shown: Vec<String> = readings.iter().map(|one| format!("{one:.decimals$}")).collect();
            let shown = shown.join(" ");
            let url = again_at(visitor, read, &read.shown.instrument.id, &shown);
            vec![(words.fill("bench.it-was", &[("what", &shown)]), url)]
        }
        sample::Meant::Instruments(ids) => {
            let known = ids.iter().filter_map(|id| visitor.app.yard.instrument(id));
            known
                .map(|other| {
                    let label = words.fill("bench.it-was", &[("what", &other.name)]);
                    (label, again_at(visitor, read, &other.id, &read.typed))
                })
                .collect()
        }
        sample::Meant::Scales(_) => Vec::new(),
    };
    Some(Meant { text, instead })
}

/// The same sample with another instrument, or another number.
fn again_at(visitor: &Visitor, read: &Read<'_>, instrument: &str, shown: &str) -> String {
    let code = crate::encoded::form_encoded;
    let temp = read.shown.temperature.map_or_else(String::new, |at| match visitor.is_us() {
        true => format!("&temp_f={}", parts::plain(in_fahrenheit(at))),
        false => format!("&temp_c={}", parts::plain(in_celsius(at))),
    });
    let sample = read.sample.map_or_else(String::new, |id| format!("&sample={id}"));
    let (tank, instrument, shown) = (code(&read.tank), code(instrument), code(shown));
    let level = if read.tank == TAP { String::new() } else { format!("&level={}", code(read.level.word())) };
    // What is of now stays of now.
    let age = visitor.now().duration_since(read.at).as_secs().abs();
    let at = if age < 60 { String::new() } else { format!("&at={}", read.at) };
    let occasion = &read.occasion;
    let asked = format!("tank={tank}&instrument={instrument}&reading={shown}{temp}{level}{at}{sample}");
    visitor.app.url(&format!("/bench?{asked}&occasion={occasion}"))
}
