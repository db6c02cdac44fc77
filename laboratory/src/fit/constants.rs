//! The constants that are fitted: form, data and powers of each.

use chemistry::Salt;
use chemistry::forms::Form;

/// One constant to write.
pub(crate) struct Job {
    pub(crate) constant: &'static str,
    pub(crate) about: &'static str,
    pub(crate) file: &'static str,
    /// Column of the observed value and the unit its residuals are given in.
    pub(crate) column: &'static str,
    pub(crate) unit: &'static str,
    /// Residuals in per cent of the value.
    pub(crate) relative: bool,
    /// Coefficients come in threes: powers of temperature.
    pub(crate) surface: bool,
    pub(crate) parts: Vec<Part>,
}

/// One salt (or one line) of a constant.
pub(crate) struct Part {
    pub(crate) salt: Salt,
    /// Solid, where the file has several for a salt.
    pub(crate) solid: Option<&'static str>,
    pub(crate) form: Form,
    pub(crate) powers: usize,
}

fn part(salt: Salt, form: Form, powers: usize) -> Part {
    Part { salt, solid: None, form, powers }
}

/// Powers of composition for NaCl, CaCl2, MgCl2, KCl and Na2SO4.
fn of_salts(form: Form, powers: &[usize]) -> Vec<Part> {
    Salt::ALL.into_iter().zip(powers).map(|(salt, powers)| part(salt, form, *powers)).collect()
}

fn solid(salt: Salt, name: &'static str, form: Form, powers: usize) -> Vec<Part> {
    vec![Part { salt, solid: Some(name), form, powers }]
}

pub(crate) fn jobs() -> Vec<Job> {
    let job = |constant, about, file, column, unit, relative, surface, parts| Job {
        constant,
        about,
        file,
        column,
        unit,
        relative,
        surface,
        parts,
    };
    let sat = |constant, about, parts| {
        job(constant, about, "saturation.csv", "wt_pct", "% by mass", false, false, parts)
    };
    vec![
        job(
            "DENSITY",
            "Apparent specific volume, 1e-3 m³/kg, in √w.",
            "density.csv",
            "density_kg_m3",
            "kg/m³",
            false,
            true,
            of_salts(Form::Density, &[4, 4, 4, 4, 2]),
        ),
        job(
            "VISCOSITY",
            "ln of apparent viscosity, ln(mPa·s), in w.",
            "viscosity.csv",
            "viscosity_mpa_s",
            "%",
            true,
            true,
            of_salts(Form::Viscosity, &[4, 4, 4, 3, 2]),
        ),
        job(
            "HEAT_CAPACITY",
            "Apparent specific heat capacity, J/(kg·K), in w.",
            "heat_capacity.csv",
            "cp_j_kg_k",
            "J/(kg·K)",
            false,
            true,
            of_salts(Form::HeatCapacity, &[4, 3, 3, 3, 2]),
        ),
        job(
            "CONDUCTIVITY",
            "ln of conductivity over strength, ln(mS/cm), in √w.",
            "conductivity.csv",
            "ms_per_cm",
            "%",
            true,
            true,
            of_salts(Form::Conductivity, &[5, 5, 5, 5, 2]),
        ),
        job(
            "REFRACTION",
            "Apparent specific refraction, 1e-3 m³/kg, in √w.",
            "refractive_index.csv",
            "n_d",
            "1",
            false,
            false,
            of_salts(Form::Refraction, &[3, 3, 3, 3, 2]),
        ),
        job(
            "OSMOTIC",
            "Osmotic coefficient: m, m·exp(−2√I), m², m³.",
            "water_activity.csv",
            "water_activity",
            "1",
            false,
            true,
            of_salts(Form::WaterActivity, &[3, 4, 4, 3, 2]),
        ),
        job(
            "RELATIVE_ENTHALPY",
            "Apparent relative molar enthalpy at 25 °C, kJ/mol: m, m·exp(−2√I), m², m³.",
            "relative_enthalpy.csv",
            "lphi_kj_mol",
            "kJ/mol",
            false,
            false,
            of_salts(Form::RelativeEnthalpy, &[3, 4, 4, 3]),
        ),
        job(
            "ICE",
            "Ice point, °C, powers 1 and up of w.",
            "ice_points.csv",
            "t_ice_c",
            "K",
            false,
            false,
            of_salts(Form::Ice, &[5, 5, 5, 3]),
        ),
        sat(
            "HYDROHALITE",
            "Strength (fraction) saturated with NaCl·2H2O, powers of τ.",
            solid(Salt::SodiumChloride, "hydrohalite", Form::SaturatedStrength, 5),
        ),
        sat(
            "HALITE",
            "Strength saturated with NaCl.",
            solid(Salt::SodiumChloride, "halite", Form::SaturatedStrength, 3),
        ),
        sat(
            "CACL2_6H2O",
            "Strength saturated with CaCl2·6H2O.",
            solid(Salt::CalciumChloride, "cacl2_6h2o", Form::SaturatedStrength, 4),
        ),
        sat(
            "CACL2_4H2O",
            "Strength saturated with CaCl2·4H2O.",
            solid(Salt::CalciumChloride, "cacl2_4h2o", Form::SaturatedStrength, 2),
        ),
        sat(
            "MGCL2_12H2O",
            "Temperature, °C, saturated with MgCl2·12H2O, powers of w.",
            solid(Salt::MagnesiumChloride, "mgcl2_12h2o", Form::SaturationTemperature, 4),
        ),
        sat(
            "MGCL2_8H2O",
            "Strength saturated with MgCl2·8H2O.",
            solid(Salt::MagnesiumChloride, "mgcl2_8h2o", Form::SaturatedStrength, 3),
        ),
        sat(
            "MGCL2_6H2O",
            "Strength saturated with MgCl2·6H2O.",
            solid(Salt::MagnesiumChloride, "mgcl2_6h2o", Form::SaturatedStrength, 3),
        ),
        sat(
            "SYLVITE",
            "Strength saturated with KCl.",
            solid(Salt::PotassiumChloride, "sylvite", Form::SaturatedStrength, 3),
        ),
    ]
}
