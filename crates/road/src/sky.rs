//! What the sky sends down: where the sun is, how much of it a cloud lets through, and longwave radiation.

use jiff::Timestamp;

/// Stefan and Boltzmann's constant, W/m²/K⁴ (CODATA 2018).
pub(crate) const STEFAN_BOLTZMANN: f64 = 5.670_374_419e-8;
/// 0 °C, K.
pub(crate) const FREEZING_KELVIN: f64 = 273.15;
/// Emissivity of an overcast sky against air: Konzelmann et al. 1994, form and figure.
const OVERCAST_EMISSIVITY: f64 = 0.952;
/// Sine of the lowest sun from which cloud is read out of radiation: 8°, below which horizon and haze decide.
const LOWEST_SUN: f64 = 0.139;

/// A point of the earth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Degrees north of the equator, −90…90.
    pub latitude: f64,
    /// Degrees east of Greenwich, −180…180.
    pub longitude: f64,
}

/// Where the sun stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sun {
    /// Elevation of its centre above the horizon, degrees, without refraction.
    pub elevation: f64,
    /// Azimuth clockwise from north, degrees, 0…360.
    pub azimuth: f64,
}

impl Sun {
    /// Position of the sun.
    ///
    /// # Equation
    /// Low-precision almanac: mean longitude and anomaly, ecliptic longitude, sidereal time.
    ///
    /// # Range
    /// Years 1950…2050, every place.
    ///
    /// # Error
    /// 0.01° of the almanac; held within 0.05° of the NREL algorithm (`road/tests/sky.rs`).
    ///
    /// # Source
    /// Astronomical Almanac, as printed by Michalsky 1988, Solar Energy 40:227.
    pub fn at(place: Place, at: Timestamp) -> Self {
        let days = at.as_second() as f64 / 86_400.0 - 10_957.5;
        let hour = (at.as_second().rem_euclid(86_400)) as f64 / 3600.0;
        let anomaly = (357.528 + 0.985_600_3 * days).to_radians();
        let longitude =
            (280.460 + 0.985_647_4 * days + 1.915 * anomaly.sin() + 0.020 * (2.0 * anomaly).sin())
                .to_radians();
        let obliquity = (23.439 - 4e-7 * days).to_radians();
        let ascension = (obliquity.cos() * longitude.sin()).atan2(longitude.cos());
        let declination = (obliquity.sin() * longitude.sin()).asin();
        let sidereal = 6.697_375 + 0.065_709_824_2 * days + hour;
        let hour_angle = (15.0 * sidereal + place.longitude).to_radians() - ascension;
        let latitude = place.latitude.to_radians();
        let sine = declination.sin() * latitude.sin() + declination.cos() * latitude.cos() * hour_angle.cos();
        let east = -declination.cos() * hour_angle.sin();
        let north =
            declination.sin() * latitude.cos() - declination.cos() * latitude.sin() * hour_angle.cos();
        Self {
            elevation: sine.clamp(-1.0, 1.0).asin().to_degrees(),
            azimuth: east.atan2(north).to_degrees().rem_euclid(360.0),
        }
    }

    /// Sine of the elevation, −1…1.
    pub fn sine(self) -> f64 {
        self.elevation.to_radians().sin()
    }
}

/// Radiation of the sun on a level surface under a clear sky, W/m²; 0 while it is down.
///
/// # Equation
/// 1098 s exp(−0.057/s), s the sine of the elevation.
///
/// # Range
/// Every elevation; a fit of low places: a clear day at 2,300 m has 15 % more.
///
/// # Error
/// About 8 % on clear days near sea level.
///
/// # Source
/// Haurwitz 1945, J. Meteorol. 2:154.
pub fn clear_sky(sun: Sun) -> f64 {
    let sine = sun.sine();
    if sine <= 1e-3 { 0.0 } else { 1098.0 * sine * (-0.057 / sine).exp() }
}

/// Share of the sun's radiation that a cloud cover lets through, 0.25…1.
///
/// # Equation
/// 1 − 0.75 N^3.4.
///
/// # Range
/// Cloud cover 0…1.
///
/// # Error
/// 0.1 on a day's mean; a single hour of broken cloud may be anything.
///
/// # Source
/// Kasten and Czeplak 1980, Solar Energy 24:177.
pub fn through_cloud(cloud: f64) -> f64 {
    1.0 - 0.75 * cloud.clamp(0.0, 1.0).powf(3.4)
}

/// Cloud cover that a measured radiation means, 0…1; none while the sun is lower than 8°.
///
/// # Equation
/// [`through_cloud`] solved for N; above the clear sky 0, below a quarter of it 1.
///
/// # Range
/// Radiation from 0 W/m².
///
/// # Error
/// 0.15 at high sun, more near the horizon.
///
/// # Source
/// As [`through_cloud`].
pub fn cloud_of(radiation: f64, sun: Sun) -> Option<f64> {
    let share = radiation / clear_sky(sun);
    (sun.sine() >= LOWEST_SUN && share >= 0.0).then(|| ((1.0 - share) / 0.75).clamp(0.0, 1.0).powf(1.0 / 3.4))
}

/// Share of the radiation on a level surface that comes from all of the sky and not straight from the sun, 0.165…1.
///
/// # Equation
/// By the clearness index k = G/(1367 s): 1 − 0.09 k up to 0.22, a polynomial of the fourth order up to 0.80, 0.165
/// above.
///
/// # Range
/// Sun above the horizon; 1 while it is down.
///
/// # Error
/// 0.1 by the hour.
///
/// # Source
/// Erbs, Klein and Duffie 1982, Solar Energy 28:293; figures from memory.
pub fn diffuse_share(radiation: f64, sun: Sun) -> f64 {
    let sine = sun.sine();
    if sine <= 0.02 || radiation <= 0.0 {
        return 1.0;
    }
    let k = radiation / (1367.0 * sine);
    if k <= 0.22 {
        1.0 - 0.09 * k
    } else if k <= 0.80 {
        0.9511 + k * (-0.1604 + k * (4.388 + k * (-16.638 + k * 12.336)))
    } else {
        0.165
    }
}

/// Longwave radiation of the sky on a level surface, W/m².
///
/// # Equation
/// σ T⁴ [ε (1 − N⁴) + 0.952 N⁴], ε = 1 − (1 + w) exp(−√(1.2 + 3 w)), w = 46.5 e/T (e in hPa, T in K).
///
/// # Range
/// Air −60…50 °C, vapor pressure from 0 hPa, cloud 0…1.
///
/// # Error
/// 20 W/m² by the half hour, −0.6 W/m² in the mean, of 2,976 measured winter half hours
/// (`road/tests/sky.rs` holds rows of the same station).
///
/// # Source
/// Clear sky Prata 1996, Q. J. R. Meteorol. Soc. 122:1127; cloud in the form of Konzelmann et al. 1994.
pub fn longwave(air_celsius: f64, vapour_hpa: f64, cloud: f64) -> f64 {
    let kelvin = air_celsius + FREEZING_KELVIN;
    let w = 46.5 * vapour_hpa.max(0.0) / kelvin;
    let clear = 1.0 - (1.0 + w) * (-(1.2 + 3.0 * w).sqrt()).exp();
    let covered = cloud.clamp(0.0, 1.0).powi(4);
    STEFAN_BOLTZMANN * kelvin.powi(4) * (clear * (1.0 - covered) + OVERCAST_EMISSIVITY * covered)
}

/// Cloud where it is not known, by a straight line between known values, over at most so many values in a row; at the
/// ends the nearest known holds on for half as many.
///
/// A night between two days is bridged so: cloud read out of the sun ends at dusk.
pub fn bridged(known: &[Option<f64>], most: usize) -> Vec<Option<f64>> {
    let mut filled = known.to_vec();
    let places: Vec<usize> = (0..known.len()).filter(|place| known[*place].is_some()).collect();
    for pair in places.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        if let (Some(before), Some(after)) = (known[from], known[to])
            && (2..=most + 1).contains(&(to - from))
        {
            for (step, value) in filled[from + 1..to].iter_mut().enumerate() {
                *value = Some(before + (after - before) * (step + 1) as f64 / (to - from) as f64);
            }
        }
    }
    if let (Some(first), Some(last)) = (places.first().copied(), places.last().copied()) {
        let count = known.len();
        for value in &mut filled[first.saturating_sub(most / 2)..first] {
            *value = known[first];
        }
        for value in &mut filled[last + 1..count.min(last + 1 + most / 2)] {
            *value = known[last];
        }
    }
    filled
}
