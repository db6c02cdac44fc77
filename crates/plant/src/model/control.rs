//! The program's own simple controller: it reads the sensors once a period, and sets lines and feeders.

use quantity::{in_cubic_metres, in_hours, in_kg_per_second, in_seconds};

use super::amounts::Commands;
use crate::layout::{Layout, LineKind, Sensed, Way};

/// Share of feed for each per cent that the panel is too low, and for each per cent too low over an hour.
const PROPORTIONAL: f64 = 0.4;
const INTEGRAL: f64 = 3.0;
/// Share of water per unit of level, as a share of the volume, that is lacking.
const BY_LEVEL: f64 = 20.0;

/// Share of a batch's salt that is fed before the panel counts.
const FIRST_SHARE: f64 = 0.94;
/// Rise of the panel, % by mass, below which it has stopped rising.
const AT_REST: f64 = 0.05;
/// Readings between two that are compared for that.
const LOOKS_APART: usize = 10;
/// Salt below the set amount, kg, at which the feeder runs at full speed.
const BED_SPAN: f64 = 300.0;

/// Step of a batch.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Step {
    Fill,
    /// Salt is fed; this much time at full feed is left.
    Feed {
        left: f64,
    },
    Dissolve,
    Settle {
        until: f64,
    },
    LetOut,
}

/// The controller, with what it remembers between readings.
#[derive(Debug, Clone)]
pub(super) struct Controller {
    step: Step,
    summed: f64,
    /// The last panel readings, oldest first.
    panel: Vec<f64>,
    has_started: bool,
    /// Level when the last filling began.
    filled_from: f64,
}

/// What the controller reads of the panel and a level.
struct Seen {
    /// How much the panel is below the target, % by mass.
    lacking: f64,
    in_band: bool,
}

impl Controller {
    pub(super) fn new() -> Self {
        Self { step: Step::Fill, summed: 0.0, panel: Vec::new(), has_started: false, filled_from: 0.0 }
    }

    /// Takes one reading and returns the commands.
    pub(super) fn look(
        &mut self,
        layout: &Layout,
        shown: &[f64],
        seconds: f64,
        before: &Commands,
    ) -> Commands {
        let control = &layout.control;
        let target = control.target.percent();
        let panel = shown[control.panel];
        let seen = Seen { lacking: target - panel, in_band: (panel - target).abs() <= 100.0 * control.band };
        let mut set = before.clone();
        for (one, line) in set.lines.iter_mut().zip(&layout.lines) {
            *one = f64::from(u8::from(matches!(line.kind, LineKind::Overflow { .. })));
        }
        set.feeders.fill(0.0);
        match control.way {
            Way::Batch { vessel, water, stir, outlet, feeder, fill, settle } => {
                let level = level_of(layout, shown, vessel);
                let period = in_seconds(control.period);
                self.step = match self.step {
                    Step::Fill if fill.0 <= level => {
                        let fresh = salt_for(layout, vessel, level - self.filled_from);
                        Step::Feed { left: FIRST_SHARE * fresh / full_rate(layout, feeder) }
                    }
                    Step::Feed { left } if left <= 0.0 => Step::Dissolve,
                    Step::Feed { left } => Step::Feed { left: left - period },
                    Step::Dissolve if self.is_at_rest() && seen.in_band => {
                        Step::Settle { until: seconds + in_seconds(settle) }
                    }
                    Step::Dissolve if self.is_at_rest() && 0.0 < seen.lacking => {
                        self.panel.clear();
                        let share = seen.lacking / target;
                        Step::Feed {
                            left: share * salt_for(layout, vessel, level) / full_rate(layout, feeder),
                        }
                    }
                    Step::Settle { until } if until <= seconds => {
                        if seen.in_band {
                            Step::LetOut
                        } else {
                            Step::Dissolve
                        }
                    }
                    Step::LetOut if level <= fill.1 => {
                        self.filled_from = level;
                        self.panel.clear();
                        Step::Fill
                    }
                    step => step,
                };
                set.lines[stir] = f64::from(u8::from(fill.1 < level));
                match self.step {
                    Step::Fill => set.lines[water] = 1.0,
                    Step::Feed { .. } => set.feeders[feeder] = 1.0,
                    // No longer rising and too strong: diluted a little at a time.
                    Step::Dissolve if self.is_at_rest() && !seen.in_band => set.lines[water] = 0.3,
                    Step::Dissolve | Step::Settle { .. } => {}
                    Step::LetOut => set.lines[outlet] = 1.0,
                }
            }
            Way::Fed { vessel, water, stir, outlet, feeder, level } => {
                let now = level_of(layout, shown, vessel);
                set.lines[stir] = f64::from(u8::from(0.1 < now));
                set.lines[water] = (BY_LEVEL * (level - now)).clamp(0.0, 1.0);
                set.feeders[feeder] = if 0.3 < now { self.by_panel(&seen, control.period) } else { 0.0 };
                // Released once it was strong enough; brine that is too strong is diluted by the water that follows.
                self.has_started |= seen.lacking <= 0.0;
                let is_weak = 100.0 * control.band < seen.lacking;
                set.lines[outlet] = if self.has_started && !is_weak && 0.6 * level < now { 0.6 } else { 0.0 };
            }
            Way::Upflow { bed, water, thin, outlet: _, feeder, salt_kg } => {
                let lies = bed_of(layout, shown, bed);
                set.lines[water] = 1.0;
                set.feeders[feeder] = ((salt_kg - lies) / BED_SPAN).clamp(0.0, 1.0);
                set.lines[thin] = (1.0 - self.by_panel(&seen, control.period)).clamp(0.0, 1.0);
            }
        }
        self.panel.push(panel);
        if LOOKS_APART < self.panel.len() {
            self.panel.remove(0);
        }
        set
    }

    /// Whether the panel has stopped rising.
    fn is_at_rest(&self) -> bool {
        let half = LOOKS_APART / 2;
        let mean = |part: &[f64]| part.iter().sum::<f64>() / part.len() as f64;
        self.panel.len() == LOOKS_APART
            && (mean(&self.panel[half..]) - mean(&self.panel[..half])).abs() < AT_REST
    }

    /// Returns the command for what makes it stronger, by what is lacking now and what was lacking before.
    fn by_panel(&mut self, seen: &Seen, period: quantity::Time) -> f64 {
        let wanted = PROPORTIONAL * seen.lacking + self.summed;
        // No integration while the command is at its limit.
        if (0.0..=1.0).contains(&wanted) {
            self.summed = (self.summed + INTEGRAL * seen.lacking * in_hours(period)).clamp(0.0, 1.0);
        }
        wanted.clamp(0.0, 1.0)
    }
}

/// Returns the salt for the water in a vessel, kg as delivered.
fn salt_for(layout: &Layout, vessel: usize, level: f64) -> f64 {
    let w = layout.control.target.fraction();
    let per_kilogram = (1.0 - layout.salt.moisture.fraction()) * layout.salt.purity.fraction();
    let water = 1000.0 * level * in_cubic_metres(layout.vessels[vessel].volume);
    water * w / (1.0 - w) / per_kilogram
}

/// Returns the salt that a feeder drops at full speed, kg/s as delivered.
fn full_rate(layout: &Layout, feeder: usize) -> f64 {
    in_kg_per_second(layout.feeders[feeder].rate)
}

/// Returns the salt in a bed as its gauge shows it, kg; none where there is no gauge.
fn bed_of(layout: &Layout, shown: &[f64], bed: usize) -> f64 {
    let is_it = |of: &Sensed| matches!(of, Sensed::Bed { vessel } if *vessel == bed);
    layout.sensors.iter().position(|sensor| is_it(&sensor.of)).map_or(0.0, |place| shown[place])
}

/// Returns the level of a vessel as shown, a share of its volume; full where nothing shows it.
fn level_of(layout: &Layout, shown: &[f64], vessel: usize) -> f64 {
    let sensor = layout
        .sensors
        .iter()
        .position(|sensor| matches!(sensor.of, Sensed::Level { vessel: one } if one == vessel));
    sensor.map_or(1.0, |place| shown[place])
}
