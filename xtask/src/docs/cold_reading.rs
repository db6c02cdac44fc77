//! The figure of docs/bench.md: what good brine seems to be when its temperature is left out.

use std::fmt::Write;

use bench::instrument::{Compensation, HydrometerScale, RefractometerScale, Scale};
use bench::measure::measure;
use bench::register::usual;
use bench::solute::Solute;
use chemistry::{MassFraction, Salt};
use quantity::{ThermodynamicTemperature, celsius, fahrenheit, kelvins};

/// The brine that is read, per cent by mass.
const BRINE: f64 = 23.3;
/// The band, per cent by mass.
const BAND: (f64, f64) = (22.8, 23.8);
/// Temperatures and strengths of the axes.
const FAHRENHEIT: (f64, f64) = (14.0, 86.0);
const PERCENT: (f64, f64) = (22.0, 26.0);

const WIDTH: f64 = 720.0;
const HEIGHT: f64 = 430.0;
const LEFT: f64 = 62.0;
const RIGHT: f64 = 704.0;
const TOP: f64 = 20.0;
const BOTTOM: f64 = 340.0;

fn across(temp_f: f64) -> f64 {
    LEFT + (temp_f - FAHRENHEIT.0) / (FAHRENHEIT.1 - FAHRENHEIT.0) * (RIGHT - LEFT)
}

fn up(percent: f64) -> f64 {
    BOTTOM - (percent - PERCENT.0) / (PERCENT.1 - PERCENT.0) * (BOTTOM - TOP)
}

/// What the brine seems to be to someone who takes a reading as made at the scale's own temperature.
fn seems(scale: &Scale, at: ThermodynamicTemperature, taken_as: ThermodynamicTemperature) -> Option<f64> {
    let solute = Solute::of(Salt::SodiumChloride);
    let brine = solute.at(MassFraction::from_percent(BRINE).ok()?).ok()?;
    let shown = scale.shows(&brine, at).ok()?;
    let sample = bench::measure::Sample {
        solute,
        readings: vec![shown],
        temperature: Some(taken_as),
        temperature_half_width: kelvins(0.0),
    };
    Some(measure(&usual(scale.clone()), &sample).ok()?.brine.strength().percent())
}

/// The figure as SVG.
pub(super) fn figure() -> String {
    let cell = Scale::Conductivity {
        compensation: Some(Compensation { per_kelvin: 0.02, reference: celsius(25.0) }),
        cell_factor: 1.0,
    };
    let brix = Scale::Refractometer { scale: RefractometerScale::Brix, compensated: true };
    let float = Scale::Hydrometer(HydrometerScale::Relative60);
    let lines = [
        ("a", float, fahrenheit(60.0), "hydrometer 60/60 °F", 0.0),
        ("b", brix, celsius(20.0), "refractometer that compensates", 220.0),
        ("c", cell, celsius(25.0), "conductivity cell", 525.0),
    ];
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" role=\"img\" \
         aria-label=\"What 23.3 % brine seems to be when its temperature is left out\">\n\
         <style>svg{{background:#f5f3ec}}text{{font:15px system-ui,sans-serif;fill:#17242b}}.g{{stroke:#cfcabb}}\
         .s{{fill:#d7e6e4}}.l{{fill:none;stroke:#17242b;stroke-width:3}}.b{{stroke-dasharray:9 6}}\
         .c{{stroke-dasharray:2 5}}.e{{text-anchor:end}}.m{{text-anchor:middle}}</style>\n"
    );
    let _ = writeln!(
        svg,
        "<rect class=\"s\" x=\"{LEFT}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{:.1}\"/>",
        up(BAND.1),
        RIGHT - LEFT,
        up(BAND.0) - up(BAND.1)
    );
    for percent in [22.0, 23.0, 24.0, 25.0, 26.0] {
        let y = up(percent);
        let _ = writeln!(
            svg,
            "<line class=\"g\" x1=\"{LEFT}\" x2=\"{RIGHT}\" y1=\"{y:.1}\" y2=\"{y:.1}\"/>\
             <text class=\"e\" x=\"{:.1}\" y=\"{:.1}\">{percent:.0} %</text>",
            LEFT - 8.0,
            y + 5.0
        );
    }
    for temp_f in [14.0, 32.0, 50.0, 68.0, 86.0] {
        let _ = writeln!(
            svg,
            "<text class=\"m\" x=\"{:.1}\" y=\"{:.1}\">{temp_f:.0} °F ({:.0} °C)</text>",
            across(temp_f).clamp(LEFT + 34.0, RIGHT - 40.0),
            BOTTOM + 22.0,
            quantity::units::FAHRENHEIT.to_base(temp_f)
        );
    }
    for (class, scale, taken_as, name, key) in lines {
        let points: Vec<String> = (0..=72)
            .map(|step| FAHRENHEIT.0 + f64::from(step))
            .filter_map(|temp_f| Some((temp_f, seems(&scale, fahrenheit(temp_f), taken_as)?)))
            .filter(|(_, percent)| (PERCENT.0..=PERCENT.1).contains(percent))
            .map(|(temp_f, percent)| format!("{:.1},{:.1}", across(temp_f), up(percent)))
            .collect();
        let _ = writeln!(
            svg,
            "<polyline class=\"l {class}\" points=\"{0}\"/><line class=\"l {class}\" x1=\"{1:.1}\" x2=\"{2:.1}\" y1=\"{3:.1}\" \
             y2=\"{3:.1}\"/><text x=\"{4:.1}\" y=\"{5:.1}\">{name}</text>",
            points.join(" "),
            LEFT + key - 40.0,
            LEFT + key,
            HEIGHT - 20.0,
            LEFT + key + 8.0,
            HEIGHT - 15.0
        );
    }
    let _ = writeln!(
        svg,
        "<text x=\"{:.1}\" y=\"{:.1}\">in spec</text>\
         <text class=\"m\" x=\"{:.1}\" y=\"{:.1}\">temperature of the sample</text>\n</svg>",
        LEFT + 8.0,
        up(BAND.0) - 8.0,
        (LEFT + RIGHT) / 2.0,
        BOTTOM + 48.0
    );
    svg
}
