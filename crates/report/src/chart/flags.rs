//! Tanks on a chart of strength against temperature: a ring where each lies, and a flag above the plot that names it.

use super::canvas::{Axis, Canvas, apart};
use super::freeze_map::TankMark;
use crate::Display;

/// Room for flags above a plot, px.
pub(super) const FLAGS: f64 = 58.0;
/// Width of a flag with a strength, and of one with a name alone, px.
const BROAD: f64 = 62.0;
/// See [`BROAD`].
const NARROW: f64 = 26.0;
/// Radius of a ring, px.
const RING: f64 = 6.0;

/// Draws the rings and their flags. `along` is where each mark lies along the bottom, in the axis' own unit.
pub(super) fn flags(canvas: &mut Canvas, marks: &[TankMark], (x, y): (&Axis, &Axis), display: &Display) {
    let wanted: Vec<f64> = marks.iter().map(|mark| x.held(mark.strength.percent())).collect();
    let room = x.end - x.start;
    let is_broad = marks.len() as f64 * BROAD <= room + BROAD;
    let gap = if is_broad { BROAD } else { NARROW.min(room / marks.len().max(1) as f64) };
    let margin = if is_broad { 0.5 * BROAD } else { 0.5 * NARROW };
    // The unit stands at the left end.
    let placed = apart(&wanted, gap, (x.start + margin - 4.0, x.end - margin + 8.0));
    for ((mark, across), flag) in marks.iter().zip(&wanted).zip(placed) {
        let height = y.held(display.temperature_value(mark.temperature));
        let foot = y.end - 6.0;
        let line = [(*across, height), (*across, foot), (flag, y.end - 19.0)];
        canvas.path(if mark.needs_act { "c-leader c-act" } else { "c-leader" }, &line, false, None);
        canvas.ring(if mark.needs_act { "c-mark c-act" } else { "c-mark" }, (*across, height), RING);
        let class = if mark.needs_act { "c-mark-label c-mid c-word-act" } else { "c-mark-label c-mid" };
        if is_broad {
            canvas.text(class, flag, y.end - 41.0, &mark.label);
            canvas.text("c-mid", flag, y.end - 24.0, &display.strength(mark.strength));
        } else {
            canvas.text(class, flag, y.end - 24.0, &mark.label);
        }
    }
}
