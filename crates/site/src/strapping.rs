//! Depth in a tank to volume, and back.
//!
//! A [`TankShape`] is the inside of a cylinder, standing or lying, with an [`End`] below (standing) or at both sides
//! (lying). Depth is measured from the lowest inside point: the tip of a cone, the bottom of a dish. A gauge zeroed
//! on the straight wall needs that offset added first.
//!
//! Everything here follows from geometry ("derived here"); nothing is fitted. What the formula cannot know is how
//! far a wall bulges, how a cone is rounded, or that the tank leans: a table poured with a meter beats it.

mod end;
mod table;

use chemistry::root;
use message::{Arg, Message, Tell, message};
use quantity::{Length, Volume, cubic_metres, in_cubic_metres, in_metres, metres};
use std::f64::consts::PI;

pub use end::End;
pub use table::{StrapError, strap_csv};

/// Share of the full height (or volume) by which a value may pass the limit and still count as the limit: what
/// printing a height to the micrometre can do to it.
const LIMIT_ROUNDING: f64 = 1e-6;
/// No tank is longer, m; beyond it a volume would be no number.
const LONGEST_M: f64 = 10_000.0;

/// A measure of a tank that must be above zero.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    /// Inside diameter of the cylinder.
    Diameter,
    /// Length of the straight wall.
    StraightLength,
    /// Depth of an end.
    EndDepth,
}

/// A ratio of a torispherical end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EndRatio {
    /// Crown radius over inside diameter, 0.5…10.
    Crown,
    /// Knuckle radius over inside diameter, 0…0.5.
    Knuckle,
}

/// Why a tank's measures are refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}", self.message())]
pub enum ShapeError {
    /// A length that is not a positive number, or longer than any tank.
    Size {
        /// The measure that is refused.
        what: Measure,
        /// The refused value, m.
        metres: f64,
    },
    /// A ratio of a torispherical end outside what can be built.
    Ratio {
        /// The ratio that is refused.
        what: EndRatio,
        /// The refused value.
        value: f64,
    },
}

/// Why a depth or a volume has no counterpart in this tank.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}", self.message())]
pub enum LevelError {
    /// A depth below the lowest point or above the top.
    Depth {
        /// The refused depth, m.
        metres: f64,
        /// Full inside height, m.
        full_height: f64,
    },
    /// A volume below zero or above the full volume.
    Volume {
        /// The refused volume, m³.
        cubic_metres: f64,
        /// Full volume, m³.
        full_volume: f64,
    },
}

/// The inside of a tank. Built only by [`TankShape::vertical`] and [`TankShape::horizontal`], which check it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TankShape {
    radius: f64,
    straight: f64,
    position: Position,
}

/// How the tank stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Position {
    /// Upright, with a flat or open top.
    Vertical {
        /// The lower end.
        bottom: End,
    },
    /// On its side, with its axis level.
    Horizontal {
        /// The two ends.
        ends: [End; 2],
    },
}

impl TankShape {
    /// A standing cylinder: inside diameter, height of the straight wall, and the end below it. The top is flat or
    /// open.
    ///
    /// # Errors
    /// [`ShapeError`] when a size is not a positive number or a torispherical ratio cannot be built.
    pub fn vertical(diameter: Length, straight_height: Length, bottom: End) -> Result<Self, ShapeError> {
        Self::checked(diameter, straight_height, Position::Vertical { bottom })
    }

    /// A lying, level cylinder: inside diameter, length of the straight wall, and its two ends.
    ///
    /// # Errors
    /// [`ShapeError`] when a size is not a positive number or a torispherical ratio cannot be built.
    pub fn horizontal(
        diameter: Length,
        straight_length: Length,
        one_end: End,
        other_end: End,
    ) -> Result<Self, ShapeError> {
        Self::checked(diameter, straight_length, Position::Horizontal { ends: [one_end, other_end] })
    }

    fn checked(diameter: Length, straight: Length, position: Position) -> Result<Self, ShapeError> {
        let shape = Self {
            radius: positive(Measure::Diameter, diameter)? / 2.0,
            straight: positive(Measure::StraightLength, straight)?,
            position,
        };
        match position {
            Position::Vertical { bottom } => bottom.check()?,
            Position::Horizontal { ends } => ends.iter().try_for_each(End::check)?,
        }
        Ok(shape)
    }

    /// Inside diameter of the cylinder.
    pub fn diameter(&self) -> Length {
        metres(2.0 * self.radius)
    }

    /// Length of the straight wall.
    pub fn straight_length(&self) -> Length {
        metres(self.straight)
    }

    /// How it stands, and its ends.
    pub fn position(&self) -> Position {
        self.position
    }

    /// Inside height, from the lowest inside point to the top.
    ///
    /// **Equation**: standing: depth of the bottom end plus straight height; lying: the diameter.
    /// **Range**: every tank that can be built here.
    /// **Error**: none beyond rounding.
    /// **Source**: derived here.
    pub fn full_height(&self) -> Length {
        metres(self.height())
    }

    /// Volume when full to the top.
    ///
    /// **Equation**: π R² L plus the volume of each end ([`End::volume`]).
    /// **Range**: every tank that can be built here.
    /// **Error**: none beyond rounding.
    /// **Source**: derived here.
    pub fn full_volume(&self) -> Volume {
        cubic_metres(self.content(self.height()))
    }

    /// Volume of liquid at a depth measured from the lowest inside point.
    ///
    /// **Equation**: standing: the part of the bottom end below the surface, plus π R² times what stands in the
    /// straight wall. Lying: L R² (θ − sin θ cos θ) with θ = 2 asin √(h / 2R), plus the part of each end below the
    /// surface: ellipsoid π a h² (1 − h / 3R) / 2; cone and torispherical end as described at [`End`]. Above the
    /// middle, the full volume less the empty part.
    /// **Range**: 0 to [`TankShape::full_height`]; a value past a limit by less than 1e-6 of the height is taken as
    /// the limit.
    /// **Error**: closed forms: rounding only. Lying torispherical ends: numerical integration, better than 1e-10 of
    /// the end's volume. A real tank bulges and leans: expect per cents there.
    /// **Source**: derived here; compared with `fluids.geometry.TANK` 1.3.1 in the tests.
    ///
    /// # Errors
    /// [`LevelError::Depth`] when the depth is outside the tank or not a number.
    pub fn volume_at(&self, depth: Length) -> Result<Volume, LevelError> {
        let height = self.height();
        let given = in_metres(depth);
        within(given, height)
            .map(|level| cubic_metres(self.content(level)))
            .ok_or(LevelError::Depth { metres: given, full_height: height })
    }

    /// Depth at which the tank holds a volume: the inverse of [`TankShape::volume_at`].
    ///
    /// **Equation**: [`root::zero`] between 0 and the full height; the volume rises with depth, so the root
    /// is the only one.
    /// **Range**: 0 to [`TankShape::full_volume`]; a value past a limit by less than 1e-6 of it is taken as the
    /// limit.
    /// **Error**: below 1e-12 of the height where the tank is wide. In the last millimetres of a tip, or under the
    /// top of a lying tank, a small volume is a large depth and the rounding of the volume decides.
    /// **Source**: derived here.
    ///
    /// # Errors
    /// [`LevelError::Volume`] when the volume is outside the tank or not a number.
    pub fn depth_of(&self, volume: Volume) -> Result<Length, LevelError> {
        let full = self.content(self.height());
        let given = in_cubic_metres(volume);
        let wanted =
            within(given, full).ok_or(LevelError::Volume { cubic_metres: given, full_volume: full })?;
        if wanted <= 0.0 {
            return Ok(metres(0.0));
        }
        if wanted >= full {
            return Ok(self.full_height());
        }
        let over = |depth: f64| self.content(depth) - wanted;
        let (bottom, top) = ((0.0, -wanted), (self.height(), full - wanted));
        Ok(metres(root::zero(over, bottom, top, 1e-14 * self.height())))
    }

    fn height(&self) -> f64 {
        match self.position {
            Position::Vertical { bottom } => bottom.depth_m(self.radius) + self.straight,
            Position::Horizontal { .. } => 2.0 * self.radius,
        }
    }

    fn content(&self, level: f64) -> f64 {
        match self.position {
            Position::Vertical { bottom } => {
                let end = bottom.depth_m(self.radius);
                let wall = (level - end).max(0.0);
                bottom.standing_m3(self.radius, level.min(end)) + PI * self.radius * self.radius * wall
            }
            Position::Horizontal { ends } => {
                let wall = self.straight * below_chord(self.radius, level);
                wall + ends.iter().map(|end| end.lying_m3(self.radius, level)).sum::<f64>()
            }
        }
    }
}

/// The value of a length that must be a positive number, m.
fn positive(what: Measure, length: Length) -> Result<f64, ShapeError> {
    let value = in_metres(length);
    if 0.0 < value && value <= LONGEST_M { Ok(value) } else { Err(ShapeError::Size { what, metres: value }) }
}

/// The value, brought into 0…limit when it misses it only by rounding.
fn within(value: f64, limit: f64) -> Option<f64> {
    let slack = LIMIT_ROUNDING * limit;
    (-slack..=limit + slack).contains(&value).then(|| value.clamp(0.0, limit))
}

/// Area of a circle below a chord at height `level` above the lowest point, 0…2R.
fn below_chord(radius: f64, level: f64) -> f64 {
    let share = (level / (2.0 * radius)).clamp(0.0, 1.0);
    radius * radius * segment(2.0 * share.sqrt().asin())
}

/// θ − sin θ cos θ, without cancellation at small angles.
fn segment(half_angle: f64) -> f64 {
    let x = 2.0 * half_angle;
    if x < 0.2 {
        let y = x * x;
        y * x / 12.0 * (1.0 - y / 20.0 * (1.0 - y / 42.0 * (1.0 - y / 72.0 * (1.0 - y / 110.0))))
    } else {
        0.5 * (x - x.sin())
    }
}

impl EndRatio {
    /// What is accepted, both ends included. 0.5 is a hemisphere; a crown of 10 is nearly flat.
    fn accepted(self) -> std::ops::RangeInclusive<f64> {
        match self {
            EndRatio::Crown => 0.5..=10.0,
            EndRatio::Knuckle => 0.0..=0.5,
        }
    }
}

impl Tell for ShapeError {
    fn message(&self) -> Message {
        match self {
            ShapeError::Size { what, metres } => {
                let what = Message::new(match what {
                    Measure::Diameter => "site.tank.diameter",
                    Measure::StraightLength => "site.tank.straight_length",
                    Measure::EndDepth => "site.tank.end_depth",
                });
                // What is no length stays the number it is.
                let size = if metres.is_finite() { Arg::LengthM(*metres) } else { Arg::Number(*metres) };
                message!("site.tank.size", what = what, size = size, most = Arg::LengthM(LONGEST_M))
            }
            ShapeError::Ratio { what, value } => {
                let (accepted, name) = (
                    what.accepted(),
                    match what {
                        EndRatio::Crown => "site.tank.crown_ratio",
                        EndRatio::Knuckle => "site.tank.knuckle_ratio",
                    },
                );
                let (low, high) = (*accepted.start(), *accepted.end());
                message!("site.tank.ratio", what = Message::new(name), value = *value, low = low, high = high)
            }
        }
    }
}

impl Tell for LevelError {
    fn message(&self) -> Message {
        match self {
            LevelError::Depth { metres, full_height } => {
                message!(
                    "site.tank.depth_outside",
                    depth = Arg::LengthM(*metres),
                    height = Arg::LengthM(*full_height)
                )
            }
            LevelError::Volume { cubic_metres, full_volume } => {
                message!("site.tank.volume_outside", volume = *cubic_metres, full = *full_volume)
            }
        }
    }
}
