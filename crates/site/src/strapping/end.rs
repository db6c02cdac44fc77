//! The ends of a cylinder: how deep they are and what stands in them.

use super::{EndRatio, Measure, ShapeError, below_chord, positive, segment};
use quantity::{Length, Volume, cubic_metres, in_metres, metres};
use std::f64::consts::{FRAC_PI_2, PI};

/// Shape of an end of the cylinder, bulging outwards.
///
/// With R the inside radius of the cylinder, a the depth of the end and h the depth of the liquid:
///
/// - **Standing** (tip down), h ≤ a: elliptical π R² h² (1 − h / 3a) / a; conical π R² h³ / 3a²; torispherical
///   π h² (R_c − h / 3) up to the edge of the crown, then the torus π ∫ (R − r + √(r² − u²))² du in closed form.
/// - **Lying**, h ≤ R: elliptical π a h² (1 − h / 3R) / 2; conical a R² (θ − 2 sin θ cos θ + cos³θ artanh sin θ) / 3
///   with cos θ = 1 − h / R; torispherical by integrating the wetted circle segments along the axis. For h > R, the
///   volume of the end less the part of depth 2R − h.
///
/// A torispherical end is a sphere of radius R_c = f D (crown) joined by a torus of radius r = k D (knuckle) that
/// meets both tangentially: the crown reaches to the angle α from the axis with sin α = (R − r) / (R_c − r), and
/// a = R_c − (R_c − r) cos α. All derived here.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum End {
    /// A flat plate, without depth.
    Flat,
    /// Half an ellipsoid of revolution; depth = D / 4 is the usual "2:1".
    Elliptical {
        /// From the end of the straight wall to the tip.
        depth: Length,
    },
    /// Half a sphere of the cylinder's diameter.
    Hemispherical,
    /// A cone, tip outward.
    Conical {
        /// From the end of the straight wall to the tip.
        depth: Length,
    },
    /// Dished end: crown and knuckle.
    Torispherical {
        /// Crown radius over inside diameter; 1 for the common flanged and dished end.
        crown_ratio: f64,
        /// Knuckle radius over inside diameter; 0.06 for the common flanged and dished end.
        knuckle_ratio: f64,
    },
}

impl End {
    /// Depth of the end on a cylinder of this inside diameter.
    ///
    /// **Equation**: flat 0; hemispherical D / 2; elliptical and conical as given; torispherical as at [`End`].
    /// **Range**: ends and diameters that [`crate::strapping::TankShape`] accepts.
    /// **Error**: none beyond rounding.
    /// **Source**: derived here.
    pub fn depth_on(&self, diameter: Length) -> Length {
        metres(self.depth_m(0.5 * in_metres(diameter)))
    }

    /// Volume of the end on a cylinder of this inside diameter.
    ///
    /// **Equation**: flat 0; elliptical and hemispherical 2 π R² a / 3; conical π R² a / 3; torispherical as at
    /// [`End`], standing and full.
    /// **Range**: ends and diameters that [`crate::strapping::TankShape`] accepts.
    /// **Error**: none beyond rounding.
    /// **Source**: derived here.
    pub fn volume(&self, diameter: Length) -> Volume {
        let radius = 0.5 * in_metres(diameter);
        cubic_metres(self.standing_m3(radius, self.depth_m(radius)))
    }

    pub(super) fn check(&self) -> Result<(), ShapeError> {
        match *self {
            End::Flat | End::Hemispherical => Ok(()),
            End::Elliptical { depth } | End::Conical { depth } => {
                positive(Measure::EndDepth, depth).map(|_| ())
            }
            End::Torispherical { crown_ratio, knuckle_ratio } => {
                for (what, value) in [(EndRatio::Crown, crown_ratio), (EndRatio::Knuckle, knuckle_ratio)] {
                    if !what.accepted().contains(&value) {
                        return Err(ShapeError::Ratio { what, value });
                    }
                }
                Ok(())
            }
        }
    }

    /// Depth, m, on a cylinder of radius R, m.
    pub(super) fn depth_m(&self, radius: f64) -> f64 {
        match *self {
            End::Flat => 0.0,
            End::Hemispherical => radius,
            End::Elliptical { depth } | End::Conical { depth } => in_metres(depth),
            End::Torispherical { crown_ratio, knuckle_ratio } => {
                Dish::new(radius, crown_ratio, knuckle_ratio).depth
            }
        }
    }

    /// Volume, m³, up to `level` ≤ depth above the tip, when it is the bottom of a standing tank.
    pub(super) fn standing_m3(&self, radius: f64, level: f64) -> f64 {
        let h = level.max(0.0);
        match *self {
            End::Flat => 0.0,
            End::Hemispherical => PI * h * h * (radius - h / 3.0),
            End::Elliptical { depth } => {
                let a = in_metres(depth);
                PI * radius * radius * h * (h / a) * (1.0 - h / (3.0 * a))
            }
            End::Conical { depth } => {
                let share = radius * h / in_metres(depth);
                PI * share * share * h / 3.0
            }
            End::Torispherical { crown_ratio, knuckle_ratio } => {
                Dish::new(radius, crown_ratio, knuckle_ratio).standing(h)
            }
        }
    }

    /// Volume, m³, up to `level` ≤ 2R above the lowest point, when it is an end of a lying tank.
    pub(super) fn lying_m3(&self, radius: f64, level: f64) -> f64 {
        let shallow = level.min(2.0 * radius - level).max(0.0);
        let part = match *self {
            End::Flat => return 0.0,
            End::Hemispherical => return ellipsoid_lying(radius, radius, level),
            End::Elliptical { depth } => return ellipsoid_lying(radius, in_metres(depth), level),
            End::Conical { depth } => cone_lying(radius, in_metres(depth), shallow),
            End::Torispherical { crown_ratio, knuckle_ratio } => {
                Dish::new(radius, crown_ratio, knuckle_ratio).lying(shallow)
            }
        };
        if level <= radius { part } else { self.standing_m3(radius, self.depth_m(radius)) - part }
    }
}

/// Half an ellipsoid lying on its side: valid for every level 0…2R.
fn ellipsoid_lying(radius: f64, depth: f64, level: f64) -> f64 {
    0.5 * PI * depth * level * level * (1.0 - level / (3.0 * radius))
}

/// A cone lying on its side, level ≤ R.
fn cone_lying(radius: f64, depth: f64, level: f64) -> f64 {
    let theta = 2.0 * (level / (2.0 * radius)).clamp(0.0, 0.5).sqrt().asin();
    let share = if theta < 0.3 {
        integrate(0.0, theta, |angle| cone_slope(angle.sin()))
    } else {
        let (sine, cosine) = theta.sin_cos();
        // Towards the axis cos³θ falls faster than artanh grows: the limit is zero.
        let tail = if sine < 1.0 { cosine * cosine * cosine * sine.atanh() } else { 0.0 };
        (theta - 2.0 * sine * cosine + tail) / 3.0
    };
    depth * radius * radius * share
}

/// Derivative of the cone's share by θ: s² − (1 − s²) s artanh s with s = sin θ, as its series in s, which has no
/// cancellation at small angles: Σ 2 s²ⁿ⁺² / (4n² − 1).
fn cone_slope(sine: f64) -> f64 {
    let square = sine * sine;
    let mut power = square;
    let mut sum = 0.0;
    for n in 1..=14_u32 {
        power *= square;
        let twice = 2.0 * f64::from(n);
        sum += 2.0 * power / (twice * twice - 1.0);
    }
    sum
}

/// A torispherical end worked out for one cylinder, m.
struct Dish {
    /// Radius of the cylinder.
    radius: f64,
    /// Radius of the crown.
    crown: f64,
    /// Radius of the knuckle.
    knuckle: f64,
    /// Angle from the axis at which the crown meets the knuckle.
    alpha: f64,
    /// Depth of the whole end.
    depth: f64,
}

impl Dish {
    fn new(radius: f64, crown_ratio: f64, knuckle_ratio: f64) -> Self {
        let crown = crown_ratio * 2.0 * radius;
        let knuckle = knuckle_ratio * 2.0 * radius;
        let between = crown - knuckle;
        // Both ratios 0.5: the crown is the knuckle, and any split gives the same hemisphere.
        let sine =
            if between > 1e-12 * radius { ((radius - knuckle) / between).clamp(0.0, 1.0) } else { 0.0 };
        let alpha = sine.asin();
        Self { radius, crown, knuckle, alpha, depth: crown - between * alpha.cos() }
    }

    /// Tip down, filled to `level` ≤ depth.
    fn standing(&self, level: f64) -> f64 {
        let half = (0.5 * self.alpha).sin();
        let crown_height = 2.0 * self.crown * half * half;
        let cap = level.min(crown_height);
        let crown = PI * cap * cap * (self.crown - cap / 3.0);
        if level <= crown_height || self.knuckle <= 0.0 {
            return crown;
        }
        let (r, core) = (self.knuckle, self.radius - self.knuckle);
        // ∫ (core + √(r² − u²))² du, u counted downwards from the end of the straight wall.
        let primitive = |u: f64| {
            let u = u.clamp(0.0, r);
            let root = (r * r - u * u).max(0.0).sqrt();
            (core * core + r * r) * u - u * u * u / 3.0 + core * (u * root + r * r * (u / r).asin())
        };
        crown + PI * (primitive(self.depth - crown_height) - primitive(self.depth - level))
    }

    /// Axis level, filled to `level` ≤ R: circle segments added up along the axis, first through the knuckle (angle
    /// from the cylinder's wall), then through the crown (angle from the axis).
    fn lying(&self, level: f64) -> f64 {
        if level <= 0.0 {
            return 0.0;
        }
        let r = self.knuckle;
        let knuckle = if r > 0.0 {
            let wet = 2.0 * (level / (2.0 * r)).clamp(0.0, 0.5).sqrt().asin();
            let end = wet.min(FRAC_PI_2 - self.alpha);
            integrate(0.0, end, |angle| {
                let drop = 2.0 * r * (0.5 * angle).sin().powi(2);
                below_chord(self.radius - drop, level - drop) * r * angle.cos()
            })
        } else {
            0.0
        };
        let dry = ((self.radius - level) / self.crown).clamp(0.0, 1.0).asin();
        if dry >= self.alpha {
            return knuckle;
        }
        let crown = integrate(dry, self.alpha, |past| {
            let angle = dry + past;
            let circle = self.crown * angle.sin();
            if circle <= 0.0 {
                return 0.0;
            }
            let wet = 2.0 * self.crown * (dry + 0.5 * past).cos() * (0.5 * past).sin();
            let half_angle = 2.0 * (wet / (2.0 * circle)).clamp(0.0, 1.0).sqrt().asin();
            circle * circle * segment(half_angle) * circle
        });
        knuckle + crown
    }
}

/// ∫ over low…high by the double-exponential rule, which does not mind a root-like start or end. The integrand gets
/// the distance from `low`.
///
/// Step 1/16 over ±3.3: on the integrands of this file better than 1e-11 of the result (see the tests).
fn integrate(low: f64, high: f64, integrand: impl Fn(f64) -> f64) -> f64 {
    const STEP: f64 = 1.0 / 16.0;
    const REACH: i32 = 53;
    let width = high - low;
    if width <= 0.0 {
        return 0.0;
    }
    let sum: f64 = (-REACH..=REACH)
        .map(|k| {
            let t = f64::from(k) * STEP;
            let bend = FRAC_PI_2 * t.sinh();
            // Shares of the width on either side: 1 / (1 + e^∓2bend), each without cancellation.
            let from = 1.0 / (1.0 + (-2.0 * bend).exp());
            let to = 1.0 / (1.0 + (2.0 * bend).exp());
            let weight = 2.0 * FRAC_PI_2 * t.cosh() * from * to;
            weight * integrand(from * width)
        })
        .sum();
    sum * STEP * width
}
