//! The cover chart: brine needed, as a fan, against brine on hand, as a line.

use planner::Plan;
use quantity::{cubic_metres, in_gallons, in_litres};
use site::UnitSystem;

use super::Size;
use super::canvas::{Axis, Canvas, round_step, ticks};
use crate::Display;
use crate::words::Words;

/// What the chart shows.
#[derive(Debug, Clone)]
pub struct CoverChart<'a> {
    /// Prefix of element ids, unique on the page.
    pub id: &'a str,
    /// The plan whose brine on hand and needed is drawn.
    pub plan: &'a Plan,
    /// What the chart says, in a sentence or two.
    pub says: &'a str,
}

/// Draws the chart.
pub fn cover_chart(chart: &CoverChart<'_>, size: Size, display: &Display, words: &Words) -> String {
    let plan = chart.plan;
    let (width, height, left) = match size {
        Size::Phone => (340.0, 250.0, 44.0),
        Size::Wide => (640.0, 290.0, 60.0),
    };
    let id = format!("{}-{}", chart.id, if size == Size::Phone { "p" } else { "w" });
    let mut canvas = Canvas::new(size, width, height, &id, words.say("chart.cover"), chart.says);
    let volume = |m3: f64| match display.units {
        UnitSystem::Us => in_gallons(cubic_metres(m3)),
        UnitSystem::Si => in_litres(cubic_metres(m3)),
    };
    let in_hand = quantity::in_cubic_metres(plan.in_hand);
    let last = plan.bins.count.saturating_sub(1);
    let have: Vec<f64> = plan.schedule.ready_by.iter().map(|ready| volume(in_hand + ready)).collect();
    let top = plan.brine_band.high.last().map_or(0.0, |v| volume(*v));
    let most = have.iter().copied().fold(top, f64::max).max(100.0) * 1.08;
    let x = Axis { from: 0.0, to: plan.bins.count as f64, start: left, end: width - 10.0 };
    let y = Axis { from: 0.0, to: most, start: height - 34.0, end: 12.0 };
    for tick in ticks(0.0, most, round_step(most, 4.0)) {
        canvas.line("c-grid", (x.start, y.at(tick)), (x.end, y.at(tick)));
        canvas.text("c-tick c-end", x.start - 6.0, y.at(tick) + 5.0, &thousands(tick));
    }
    let unit = if display.units == UnitSystem::Us { "gal" } else { "L" };
    canvas.text("c-tick", 2.0, height - 12.0, unit);
    super::timeline::clock_ticks(&mut canvas, plan, &x, y.start, size, display);
    let points = |values: &[f64]| -> Vec<(f64, f64)> {
        (0..=last)
            .map(|bin| (x.at(bin as f64 + 1.0), y.at(volume(values.get(bin).copied().unwrap_or(0.0)))))
            .collect()
    };
    let mut fan = points(&plan.brine_band.high);
    let mut low = points(&plan.brine_band.low);
    low.reverse();
    fan.extend(low);
    canvas.path("c-fan", &fan, true, None);
    canvas.path("c-need", &points(&plan.brine_band.mid), false, None);
    let flat = y.at(volume(in_hand));
    canvas.line("c-have c-dash", (x.start, flat), (x.end, flat));
    let line: Vec<(f64, f64)> =
        have.iter().enumerate().map(|(bin, have)| (x.at(bin as f64), y.at(*have))).collect();
    canvas.path("c-have", &line, false, None);
    canvas.finish()
}

/// `12k`, `7.5k` or `500`: an axis has little room.
fn thousands(value: f64) -> String {
    if value >= 1000.0 {
        let k = value / 1000.0;
        format!("{}k", crate::display::number(k, usize::from(k.fract() > 1e-6)))
    } else {
        crate::display::number(value, 0)
    }
}
