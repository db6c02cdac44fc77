//! What falls, from the words and codes the formats use.

use crate::PhaseReport;

const SNOW: PhaseReport = PhaseReport { snow: true, rain: false, freezing: false, pellets: false };
const RAIN: PhaseReport = PhaseReport { snow: false, rain: true, freezing: false, pellets: false };
const FREEZING: PhaseReport = PhaseReport { snow: false, rain: false, freezing: true, pellets: false };
const PELLETS: PhaseReport = PhaseReport { snow: false, rain: false, freezing: false, pellets: true };
const SLEET_OF_BOTH: PhaseReport = PhaseReport { snow: true, rain: true, freezing: false, pellets: false };
const NOTHING: PhaseReport = PhaseReport { snow: false, rain: false, freezing: false, pellets: false };

/// From English words (`Snow Likely`, `freezing_drizzle`). American usage: sleet is ice pellets.
pub(crate) fn from_words(text: &str) -> PhaseReport {
    let text = text.to_lowercase().replace('_', " ");
    // Phrases that contain the name of a kind without meaning it are taken out first.
    let mut rest = text.clone();
    for phrase in ["freezing rain", "freezing drizzle", "blowing snow", "drifting snow", "freezing spray"] {
        rest = rest.replace(phrase, " ");
    }
    let has = |words: &[&str]| words.iter().any(|word| rest.contains(word));
    let mix = has(&["wintry mix"]);
    let snow = mix || has(&["snow", "flurr", "ice crystals"]);
    let pellets = mix || has(&["ice pellets", "sleet"]);
    let named_shower = has(&["shower", "thunder"]) && !snow && !pellets;
    PhaseReport {
        snow,
        rain: has(&["rain", "drizzle"]) || named_shower,
        freezing: text.contains("freezing rain") || text.contains("freezing drizzle"),
        pellets,
    }
}

/// From a symbol code of the Norwegian service (`lightsnowshowers_day`). European usage: sleet is rain with snow.
pub(crate) fn from_symbol(code: &str) -> PhaseReport {
    let has = |word: &str| code.contains(word);
    if has("sleet") {
        SLEET_OF_BOTH
    } else if has("snow") {
        SNOW
    } else if has("rain") {
        RAIN
    } else {
        NOTHING
    }
}

/// From a present-weather code of WMO table 4677. Codes 0…49 are without precipitation at the station.
pub(crate) fn from_wmo_code(code: u32) -> PhaseReport {
    match code {
        56 | 57 | 66 | 67 => FREEZING,
        68 | 69 | 83 | 84 => SLEET_OF_BOTH,
        50..=65 | 80..=82 | 91 | 92 | 95..=97 | 99 => RAIN,
        70..=78 | 85 | 86 => SNOW,
        79 | 87..=90 => PELLETS,
        93 | 94 => SLEET_OF_BOTH,
        _ => NOTHING,
    }
}

/// From the precipitation situation of NTCIP 1204 (`essPrecipSituation`).
pub(crate) fn from_station_situation(code: u32) -> PhaseReport {
    match code {
        7..=9 => SNOW,
        10..=12 => RAIN,
        13..=15 => PELLETS,
        _ => NOTHING,
    }
}

/// From one weather group of a METAR (`-SN`, `FZDZ`, `+SHRA`); `None` when the group is no weather group at all.
pub(crate) fn from_metar_group(group: &str) -> Option<PhaseReport> {
    let signless = group.trim_start_matches(['+', '-']);
    let (near, body) = signless.strip_prefix("VC").map_or((false, signless), |rest| (true, rest));
    if body.is_empty() || !body.is_ascii() || body.len() % 2 != 0 {
        return None;
    }
    let (mut report, mut freezing, mut lifted) = (NOTHING, false, false);
    for pair in body.as_bytes().chunks_exact(2) {
        let kind = match pair {
            b"FZ" => {
                freezing = true;
                NOTHING
            }
            // Blown by the wind from the ground, not falling.
            b"BL" | b"DR" => {
                lifted = true;
                NOTHING
            }
            b"SN" | b"SG" | b"IC" => SNOW,
            b"RA" | b"DZ" if freezing => FREEZING,
            b"RA" | b"DZ" | b"GR" => RAIN,
            b"PL" | b"GS" | b"PE" => PELLETS,
            b"SH" | b"TS" | b"MI" | b"PR" | b"BC" | b"UP" | b"BR" | b"FG" | b"HZ" | b"FU" | b"DU" | b"SA"
            | b"VA" | b"PY" | b"PO" | b"SQ" | b"FC" | b"SS" | b"DS" => NOTHING,
            _ => return None,
        };
        report = report.with(kind);
    }
    Some(if near || lifted { NOTHING } else { report })
}

/// From a cell of a table: METAR groups if every word is one, else English words.
pub(crate) fn from_cell(text: &str) -> PhaseReport {
    let groups: Option<Vec<PhaseReport>> = text.split_whitespace().map(from_metar_group).collect();
    match groups {
        Some(groups) => groups.into_iter().fold(NOTHING, PhaseReport::with),
        None => from_words(text),
    }
}
