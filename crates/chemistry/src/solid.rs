//! The solids that can leave a brine, by name.

use std::fmt;

use message::{Message, Tell};

/// A solid that can leave a brine.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Solid {
    /// Water ice.
    Ice,
    /// So near the eutectic that it cannot be said: ice or hydrohalite.
    IceOrHydrohalite,
    /// NaCl·2H2O.
    Hydrohalite,
    /// NaCl.
    Halite,
    /// KCl.
    Sylvite,
    /// CaCl2·6H2O.
    CalciumChlorideHexahydrate,
    /// CaCl2·4H2O, above 30 °C.
    CalciumChlorideTetrahydrate,
    /// MgCl2·12H2O.
    MagnesiumChlorideDodecahydrate,
    /// MgCl2·8H2O.
    MagnesiumChlorideOctahydrate,
    /// MgCl2·6H2O.
    MagnesiumChlorideHexahydrate,
    /// KMgCl3·6H2O.
    Carnallite,
    /// CaMg2Cl6·12H2O.
    Tachyhydrite,
    /// Na2SO4·10H2O.
    Mirabilite,
    /// Na2SO4.
    Thenardite,
    /// MgSO4·7H2O.
    Epsomite,
    /// MgSO4·11H2O.
    Meridianiite,
    /// CaSO4·2H2O.
    Gypsum,
    /// Na2Ca(SO4)2.
    Glauberite,
    /// K2Mg(SO4)2·6H2O.
    Picromerite,
    /// K2Ca(SO4)2·H2O.
    Syngenite,
}

impl Solid {
    /// Short name, as tables have it.
    pub fn code(self) -> &'static str {
        match self {
            Solid::Ice => "ice",
            Solid::IceOrHydrohalite => "ice_or_hydrohalite",
            Solid::Hydrohalite => "hydrohalite",
            Solid::Halite => "halite",
            Solid::Sylvite => "sylvite",
            Solid::CalciumChlorideHexahydrate => "cacl2_6h2o",
            Solid::CalciumChlorideTetrahydrate => "cacl2_4h2o",
            Solid::MagnesiumChlorideDodecahydrate => "mgcl2_12h2o",
            Solid::MagnesiumChlorideOctahydrate => "mgcl2_8h2o",
            Solid::MagnesiumChlorideHexahydrate => "mgcl2_6h2o",
            Solid::Carnallite => "carnallite",
            Solid::Tachyhydrite => "tachyhydrite",
            Solid::Mirabilite => "mirabilite",
            Solid::Thenardite => "thenardite",
            Solid::Epsomite => "epsomite",
            Solid::Meridianiite => "meridianiite",
            Solid::Gypsum => "gypsum",
            Solid::Glauberite => "glauberite",
            Solid::Picromerite => "picromerite",
            Solid::Syngenite => "syngenite",
        }
    }
}

/// Its mineral name and formula, for tables and logs.
impl fmt::Display for Solid {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Solid::Ice => "ice",
            Solid::IceOrHydrohalite => "ice or hydrohalite",
            Solid::Hydrohalite => "hydrohalite (NaCl·2H2O)",
            Solid::Halite => "halite (NaCl)",
            Solid::Sylvite => "potassium chloride",
            Solid::CalciumChlorideHexahydrate => "CaCl2·6H2O",
            Solid::CalciumChlorideTetrahydrate => "CaCl2·4H2O",
            Solid::MagnesiumChlorideDodecahydrate => "MgCl2·12H2O",
            Solid::MagnesiumChlorideOctahydrate => "MgCl2·8H2O",
            Solid::MagnesiumChlorideHexahydrate => "MgCl2·6H2O",
            Solid::Carnallite => "carnallite (KMgCl3·6H2O)",
            Solid::Tachyhydrite => "tachyhydrite (CaMg2Cl6·12H2O)",
            Solid::Mirabilite => "mirabilite (Na2SO4·10H2O)",
            Solid::Thenardite => "thenardite (Na2SO4)",
            Solid::Epsomite => "epsomite (MgSO4·7H2O)",
            Solid::Meridianiite => "meridianiite (MgSO4·11H2O)",
            Solid::Gypsum => "gypsum (CaSO4·2H2O)",
            Solid::Glauberite => "glauberite (Na2Ca(SO4)2)",
            Solid::Picromerite => "picromerite (K2Mg(SO4)2·6H2O)",
            Solid::Syngenite => "syngenite (K2Ca(SO4)2·H2O)",
        })
    }
}

impl Tell for Solid {
    fn message(&self) -> Message {
        Message::new(match self {
            Solid::Ice => "chemistry.solid.ice",
            Solid::IceOrHydrohalite => "chemistry.solid.ice_or_hydrohalite",
            Solid::Hydrohalite => "chemistry.solid.hydrohalite",
            Solid::Halite => "chemistry.solid.halite",
            Solid::Sylvite => "chemistry.solid.sylvite",
            Solid::CalciumChlorideHexahydrate => "chemistry.solid.cacl2_6h2o",
            Solid::CalciumChlorideTetrahydrate => "chemistry.solid.cacl2_4h2o",
            Solid::MagnesiumChlorideDodecahydrate => "chemistry.solid.mgcl2_12h2o",
            Solid::MagnesiumChlorideOctahydrate => "chemistry.solid.mgcl2_8h2o",
            Solid::MagnesiumChlorideHexahydrate => "chemistry.solid.mgcl2_6h2o",
            Solid::Carnallite => "chemistry.solid.carnallite",
            Solid::Tachyhydrite => "chemistry.solid.tachyhydrite",
            Solid::Mirabilite => "chemistry.solid.mirabilite",
            Solid::Thenardite => "chemistry.solid.thenardite",
            Solid::Epsomite => "chemistry.solid.epsomite",
            Solid::Meridianiite => "chemistry.solid.meridianiite",
            Solid::Gypsum => "chemistry.solid.gypsum",
            Solid::Glauberite => "chemistry.solid.glauberite",
            Solid::Picromerite => "chemistry.solid.picromerite",
            Solid::Syngenite => "chemistry.solid.syngenite",
        })
    }
}
