//! The curves of brines of one salt: where ice appears, and at what strength each solid is saturated.

use crate::solid::Solid;
use crate::surface::{polynomial, slope};
use crate::{Error, Salt, fitted, root};

/// The saturation curve of one solid.
pub(super) struct Branch {
    pub(super) solid: Solid,
    curve: Curve,
    /// Temperatures, °C, between which the curve has data.
    from: f64,
    to: f64,
}

/// How a saturation curve is written down.
enum Curve {
    /// Saturated fraction by τ.
    ByTemperature(&'static [f64]),
    /// Temperature by saturated fraction: for a solid that melts whole, whose saturated strength runs away
    /// near its melting point. From a fraction, to that of the solid itself, and on to where the next hydrate
    /// takes over.
    ByStrength(&'static [f64], [f64; 3]),
}

const HYDROHALITE: Branch = Branch {
    solid: Solid::Hydrohalite,
    curve: Curve::ByTemperature(&fitted::HYDROHALITE),
    from: -47.0,
    to: 0.5,
};

const HALITE: Branch =
    Branch { solid: Solid::Halite, curve: Curve::ByTemperature(&fitted::HALITE), from: -1.0, to: 40.5 };

const CACL2_6H2O: Branch = Branch {
    solid: Solid::CalciumChlorideHexahydrate,
    curve: Curve::ByTemperature(&fitted::CACL2_6H2O),
    from: -52.0,
    to: 29.5,
};

const CACL2_4H2O: Branch = Branch {
    solid: Solid::CalciumChlorideTetrahydrate,
    curve: Curve::ByTemperature(&fitted::CACL2_4H2O),
    from: 29.5,
    to: 40.5,
};

const MGCL2_12H2O: Branch = Branch {
    solid: Solid::MagnesiumChlorideDodecahydrate,
    curve: Curve::ByStrength(&fitted::MGCL2_12H2O, [0.205, 0.305, 0.3175]),
    from: -36.0,
    to: -16.5,
};

const MGCL2_8H2O: Branch = Branch {
    solid: Solid::MagnesiumChlorideOctahydrate,
    curve: Curve::ByTemperature(&fitted::MGCL2_8H2O),
    from: -20.0,
    to: -2.0,
};

const MGCL2_6H2O: Branch = Branch {
    solid: Solid::MagnesiumChlorideHexahydrate,
    curve: Curve::ByTemperature(&fitted::MGCL2_6H2O),
    from: -5.0,
    to: 41.0,
};

const SYLVITE: Branch =
    Branch { solid: Solid::Sylvite, curve: Curve::ByTemperature(&fitted::SYLVITE), from: -12.0, to: 41.0 };

/// The curves of a salt that freezes by itself; none for sulfate, which is only an impurity here.
pub(super) fn branches(salt: Salt) -> &'static [Branch] {
    match salt {
        Salt::SodiumChloride => &[HYDROHALITE, HALITE],
        Salt::CalciumChloride => &[CACL2_6H2O, CACL2_4H2O],
        Salt::MagnesiumChloride => &[MGCL2_12H2O, MGCL2_8H2O, MGCL2_6H2O],
        Salt::PotassiumChloride => &[SYLVITE],
        Salt::SodiumSulfate => &[],
    }
}

impl Branch {
    /// Saturated fraction at a temperature within the data.
    pub(super) fn strength(&self, t: f64) -> Option<f64> {
        if !(self.from..=self.to).contains(&t) {
            return None;
        }
        match self.curve {
            Curve::ByTemperature(c) => Some(polynomial(c, t / 100.0)),
            Curve::ByStrength(c, [low, whole, _]) => read_backward(c, t, low, whole),
        }
    }

    /// Temperature at which a fraction is saturated, where that lies within the data.
    pub(super) fn temperature(&self, w: f64) -> Option<f64> {
        match self.curve {
            Curve::ByTemperature(c) => {
                read_backward(c, w, self.from / 100.0, self.to / 100.0).map(|tau| 100.0 * tau)
            }
            Curve::ByStrength(c, [low, whole, high]) => {
                // Past the solid's own strength its liquidus hardly falls before the next hydrate takes over.
                (low..=high).contains(&w).then(|| polynomial(c, w.min(whole)))
            }
        }
    }
}

/// The point between two limits where a rising polynomial has a value; none when it does not.
fn read_backward(coefficients: &[f64], wanted: f64, low: f64, high: f64) -> Option<f64> {
    let (at_low, at_high) = (polynomial(coefficients, low), polynomial(coefficients, high));
    if !(at_low - 1e-12..=at_high + 1e-12).contains(&wanted) {
        return None;
    }
    let guess = low + (high - low) * (wanted - at_low) / (at_high - at_low);
    let off = |x: f64| (polynomial(coefficients, x) - wanted, slope(coefficients, x));
    Some(root::newton(off, guess, (low, high), 1e-13))
}

/// Temperature, °C, at which MgCl2·12H2O melts whole: warmer, the 8-hydrate is the wettest solid.
pub(crate) fn dodecahydrate_melts() -> f64 {
    match MGCL2_12H2O.curve {
        Curve::ByStrength(c, [_, whole, _]) => polynomial(c, whole),
        Curve::ByTemperature(_) => MGCL2_12H2O.to,
    }
}

/// Eutectic as fraction and °C.
pub(crate) fn eutectic_point(salt: Salt) -> Result<(f64, f64), Error> {
    fitted::EUTECTIC
        .get(salt.place())
        .copied()
        .ok_or(Error::NotCovered { what: "chemistry.freezing", reason: "chemistry.why.sulfate" })
}

/// Stable solid and saturated fraction at a temperature in °C, where a curve has data.
pub(crate) fn saturation(salt: Salt, t: f64) -> Option<(Solid, f64)> {
    let found = branches(salt).iter().filter_map(|branch| Some((branch.solid, branch.strength(t)?)));
    found.min_by(|a, b| a.1.total_cmp(&b.1))
}

/// Ice point, °C, of a fraction; none past the data.
pub(super) fn ice_celsius(salt: Salt, w: f64) -> Option<f64> {
    let most = [0.2667, 0.32, 0.25, 0.24].get(salt.place())?;
    (w <= most + 1e-12).then(|| w * polynomial(fitted::ICE[salt.place()], w))
}

/// Fraction in equilibrium with ice at a temperature in °C; none past the eutectic.
pub(crate) fn ice_strength(salt: Salt, t: f64) -> Option<f64> {
    let curve = fitted::ICE.get(salt.place())?;
    let (most, coldest) = fitted::EUTECTIC[salt.place()];
    if !(coldest - 1e-9..=1e-9).contains(&t) {
        return None;
    }
    let off = |w: f64| {
        let value = polynomial(curve, w);
        (w * value - t, value + w * slope(curve, w))
    };
    Some(root::newton(off, most * t / coldest, (0.0, most), 1e-14))
}
