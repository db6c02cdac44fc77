//! Cold to spare: from each tank's liquid as it is down to its first solid, beside the air ahead.

use quantity::{ThermodynamicTemperature, celsius};
use site::UnitSystem;

use super::canvas::{Axis, Canvas, ticks};
use super::{Size, Texture};
use crate::Display;
use crate::words::Words;

/// A tank's row.
#[derive(Debug, Clone)]
pub struct SpareRow {
    /// What it is called.
    pub label: String,
    /// Temperature of its liquid, where it was measured.
    pub now: Option<ThermodynamicTemperature>,
    /// Temperature at which the first solid forms in it.
    pub stop: ThermodynamicTemperature,
    /// What that solid is; plain where nobody says.
    pub solid: Texture,
    /// What is to spare, in words.
    pub says: String,
    /// The air ahead can bring it there.
    pub is_short: bool,
}

/// What the chart shows.
#[derive(Debug, Clone)]
pub struct ColdToSpare<'a> {
    /// Prefix of element ids, unique on the page.
    pub id: &'a str,
    /// Tanks, in the yard's order.
    pub rows: &'a [SpareRow],
    /// Coldest and warmest air ahead.
    pub ahead: [ThermodynamicTemperature; 2],
    /// What it says, in a sentence or two.
    pub says: &'a str,
}

const TOP: f64 = 26.0;
const BAR: f64 = 17.0;

/// Draws the chart. Rows that have no measured temperature are drawn from the warmest air ahead.
pub fn cold_to_spare(chart: &ColdToSpare<'_>, size: Size, display: &Display, words: &Words) -> String {
    let is_wide = size == Size::Wide;
    let width = size.width();
    let (left, row, drop) = if is_wide { (90.0, 40.0, 12.0) } else { (6.0, 49.0, 25.0) };
    let right = if is_wide { width - 190.0 } else { width - 6.0 };
    let base = TOP + row * chart.rows.len() as f64;
    let id = format!("{}-{}", chart.id, size.suffix());
    let mut canvas = Canvas::new(size, width, base + 28.0, &id, words.say("chart.spare"), chart.says);
    canvas.patterns(&id);
    let value = |t: ThermodynamicTemperature| display.temperature_value(t);
    let [low, high] = chart.ahead.map(value);
    let now = |row: &SpareRow| row.now.map_or(high, value);
    let is_us = display.units == UnitSystem::Us;
    let (cold, warm) = if is_us { (9.0, 6.0) } else { (5.0, 3.5) };
    let coldest = chart.rows.iter().map(|row| value(row.stop)).fold(low, f64::min) - cold;
    let warmest = chart.rows.iter().map(now).fold(high.max(value(celsius(0.0))), f64::max) + warm;
    let x = Axis { from: coldest, to: warmest, start: left, end: right };
    let degrees = |v: f64| format!("{}°", crate::display::number(v, 0));
    canvas.rect("c-band", x.at(low), TOP - 4.0, (x.at(high) - x.at(low)).max(2.0), base - TOP + 4.0);
    canvas.text("c-tick c-mid", f64::midpoint(x.at(low), x.at(high)), TOP - 10.0, words.say("chart.air"));
    for (place, of) in (0..).zip(chart.rows) {
        let top = TOP + row * f64::from(place);
        let bar = top + drop;
        canvas.text("c-name", 0.0, if is_wide { bar + 13.0 } else { top + 17.0 }, &of.label);
        let (stop, held) = (x.at(value(of.stop)), x.at(now(of)));
        let pattern = match of.solid {
            Texture::Ice => Some("ice"),
            Texture::Salt => Some("salt"),
            Texture::Plain => None,
        };
        if let Some(pattern) = pattern {
            let corners = [(x.start, bar), (stop, bar), (stop, bar + BAR), (x.start, bar + BAR)];
            canvas.path("c-solid", &corners, true, Some(&format!("{id}-{pattern}")));
        }
        canvas.rect("c-bar", stop, bar, held - stop, BAR);
        let heavy = if of.is_short { "c-stop c-act" } else { "c-stop" };
        canvas.line(heavy, (stop, bar - 3.0), (stop, bar + BAR + 3.0));
        let word = if of.is_short { "c-name c-word-act c-halo" } else { "c-name c-halo" };
        // On the bar, where it has room: hatching would eat a minus sign.
        let (at, anchor) = if held - stop > 44.0 { (stop + 6.0, "") } else { (stop - 5.0, " c-end") };
        canvas.text(&format!("{word}{anchor}"), at, bar + 14.0, &degrees(value(of.stop)));
        if let Some(measured) = of.now {
            canvas.text("c-halo", held.max(stop) + 6.0, bar + 14.0, &degrees(value(measured)));
        }
        let at = if is_wide { bar + 13.0 } else { top + 17.0 };
        canvas.text(&format!("{word} c-end"), width, at, &of.says);
        canvas.line("c-grid", (0.0, top + row + 1.0), (width, top + row + 1.0));
    }
    let bold = [low, high];
    for tick in bold.into_iter().chain(ticks(coldest, warmest, if is_us { 10.0 } else { 5.0 })) {
        let is_bold = bold.contains(&tick);
        // Ends of the air stand for themselves; a round figure beside them would touch.
        if !is_bold && bold.iter().any(|end| (x.at(*end) - x.at(tick)).abs() < 30.0) {
            continue;
        }
        let is_second = is_bold && tick > low;
        if is_second && x.at(high) - x.at(low) < 34.0 {
            continue;
        }
        canvas.line("c-axis", (x.at(tick), base + 2.0), (x.at(tick), base + 8.0));
        let class = if is_bold { "c-name c-mid" } else { "c-tick c-mid" };
        canvas.text(class, x.at(tick), base + 24.0, &degrees(tick));
    }
    canvas.finish()
}
