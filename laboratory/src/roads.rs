//! Roads against a measured street and an ensemble that was verified: data whose licence keeps them out of the tree,
//! read from a folder that the exam is given.

use std::path::Path;

use jiff::{SignedDuration, Timestamp};
use road::correction::{Correction, Instrument, Taken, wrong_clock};
use road::film::Film;
use road::score::Contingency;
use road::section::{Exchange, Horizon, Section, Traffic};
use road::sky::{Place, Sun, bridged, cloud_of};
use road::surface::{Forcing, Road, Weather};

/// Step of the balance, s.
const STEP: f64 = 300.0;
/// Steps in an hour.
const STEPS: u32 = 12;
/// Hours of a night that cloud is bridged over.
const NIGHT: usize = 20;
/// Film thicker than this counts as wet, mm.
const WET: f64 = 0.03;

/// One hour of the street.
struct Row {
    at: Timestamp,
    weather: Option<Weather>,
    vehicles: [f64; 2],
    speed: f64,
    measured: Option<f64>,
    /// Millivolts of the wetness sensor.
    wetness: Option<f64>,
}

/// The street's rows, and what was put down: time and grams of salt, millimetres of water.
pub struct Street {
    rows: Vec<Row>,
    treatments: Vec<(Timestamp, f64, f64)>,
}

/// Bias and root mean square error, K, and the hours they are of.
#[derive(Debug, Clone, Copy)]
pub struct Fit {
    /// Model less reading, K.
    pub bias: f64,
    /// Root mean square of it, K.
    pub rmse: f64,
    /// Hours compared.
    pub hours: usize,
}

impl Fit {
    fn of(pairs: &[(f64, f64)]) -> Self {
        let count = pairs.len() as f64;
        let off = |(model, read): &(f64, f64)| model - read;
        Self {
            bias: pairs.iter().map(off).sum::<f64>() / count,
            rmse: (pairs.iter().map(|pair| off(pair).powi(2)).sum::<f64>() / count).sqrt(),
            hours: pairs.len(),
        }
    }
}

/// A correction by readings at one lead.
#[derive(Debug, Clone, Copy)]
pub struct Corrected {
    /// Lead, h.
    pub lead: usize,
    /// Error of the corrected model, K.
    pub rmse: f64,
    /// Share of readings within the band that should hold eight of ten.
    pub held: f64,
}

/// Stamps of the street are an hour ahead of UTC all year.
const AHEAD: SignedDuration = SignedDuration::from_hours(1);

fn number(text: Option<&str>) -> Option<f64> {
    text?.trim().parse().ok().filter(|value: &f64| value.is_finite())
}

fn moment(text: &str) -> Result<Timestamp, String> {
    let whole = if text.len() == 16 { format!("{text}:00Z") } else { format!("{text}Z") };
    whole.parse::<Timestamp>().map(|at| at - AHEAD).map_err(|error| format!("{text}: {error}"))
}

fn table(path: &Path) -> Result<Vec<csv::StringRecord>, String> {
    let mut reader = csv::Reader::from_path(path).map_err(|error| format!("{}: {error}", path.display()))?;
    reader.records().collect::<Result<_, _>>().map_err(|error| format!("{}: {error}", path.display()))
}

impl Street {
    /// Reads the hours and treatments from a folder. Names of files end so: `dev` or `holdout`.
    ///
    /// # Errors
    /// A text, where a file is missing or not such a table.
    pub fn read(folder: &Path, part: &str) -> Result<Self, String> {
        let hours = table(&folder.join(format!("road_stockholm_hourly_{part}.csv")))?;
        let place = Place { latitude: 59.32, longitude: 18.05 };
        let mut rows = Vec::with_capacity(hours.len());
        for row in &hours {
            let at = moment(row.get(0).unwrap_or_default())?;
            let of = |place: usize| number(row.get(place));
            let weather =
                of(1).zip(of(2)).zip(of(3)).zip(of(7)).map(|(((air, humidity), wind), sun)| Weather {
                    air,
                    vapour: humidity.min(100.0) / 100.0 * 6.112 * (17.62 * air / (243.12 + air)).exp(),
                    wind,
                    cloud: f64::NAN,
                    shortwave: sun.max(0.0),
                    longwave: None,
                    rain: of(5).unwrap_or(0.0),
                    snow: of(6).unwrap_or(0.0),
                });
            let heavy = of(11).unwrap_or(0.0);
            rows.push(Row {
                at,
                weather,
                // Four lanes.
                vehicles: [(of(10).unwrap_or(0.0) - heavy).max(0.0) / 4.0, heavy / 4.0],
                speed: of(12).unwrap_or(0.0),
                measured: of(8),
                wetness: of(9),
            });
        }
        let clouds: Vec<Option<f64>> =
            rows.iter().map(|row| cloud_of(row.weather?.shortwave, Sun::at(place, row.at))).collect();
        for (row, cloud) in rows.iter_mut().zip(bridged(&clouds, NIGHT)) {
            if let Some(weather) = &mut row.weather {
                weather.cloud = cloud.unwrap_or(0.7);
            }
        }
        let treatments = table(&folder.join(format!("road_stockholm_treatments_{part}.csv")))?
            .iter()
            .map(|row| {
                let of = |place: usize| number(row.get(place)).unwrap_or(0.0);
                Ok((moment(row.get(0).unwrap_or_default())?, of(1), of(3)))
            })
            .collect::<Result<_, String>>()?;
        Ok(Self { rows, treatments })
    }

    /// The street as its site's own file describes it; open to the sky where that is asked.
    fn section(is_open: bool) -> Section {
        let walls = Horizon::Street { axis: 76.0, heights: [25.0, 30.0], width: 23.0, road: 15.0 };
        let road = Section {
            albedo: 0.15,
            exchange: Exchange::Bulk { height: 2.0, roughness: 1e-3, heat_ratio: 0.1, floor: 2.0 },
            ..Section::ASPHALT
        };
        if is_open { Section { wind_share: 0.5, ..road } } else { road.in_street(walls, 3.0, 0.5) }
    }

    /// Surface and film hour by hour, by the weather alone. `follow` takes the measured surface where it is known,
    /// `salted` puts down what was put down. None where no weather is known.
    fn run(&self, is_open: bool, follow: bool, salted: bool) -> Vec<Option<(f64, Film)>> {
        let place = Place { latitude: 59.32, longitude: 18.05 };
        let known: Vec<&Weather> = self.rows.iter().filter_map(|row| row.weather.as_ref()).collect();
        let mean = |count: usize| {
            known.iter().take(count).map(|one| one.air).sum::<f64>() / count.min(known.len()).max(1) as f64
        };
        let (top, deep) = (mean(24), mean(30 * 24) + 2.0);
        let profile = |depth: f64| top + (deep - top) * depth.min(1.0);
        let mut road = Road::new(Self::section(is_open), profile, Some(deep));
        let mut found = Vec::with_capacity(self.rows.len());
        let mut before: Option<Weather> = None;
        for row in &self.rows {
            let Some(weather) = row.weather else {
                before = None;
                found.push(None);
                continue;
            };
            let from = before.unwrap_or(weather);
            for (at, salt, water) in &self.treatments {
                if salted && *at > row.at - SignedDuration::from_hours(1) && *at <= row.at {
                    road.film = road.film.plus(Film { salt: *salt, water: *water, ..Film::default() });
                }
            }
            road.set_traffic(Traffic { light: row.vehicles[0], heavy: row.vehicles[1], speed: row.speed });
            for step in 1..=STEPS {
                let mut now = from.between(&weather, f64::from(step) / f64::from(STEPS));
                (now.rain, now.snow) = (weather.rain, weather.snow);
                let at = row.at - SignedDuration::from_secs(i64::from(300 * (STEPS - step)));
                let forcing = Forcing::new(&now, Sun::at(place, at), STEP);
                match row.measured.filter(|_| follow) {
                    Some(surface) => road.follow(surface, &forcing, STEP),
                    None => road.step(&forcing, STEP),
                };
            }
            // Snow on a street with buses is cleared.
            if road.film.snow > 3.0 {
                road.film.plow();
            }
            before = Some(weather);
            found.push(Some((road.surface(), road.film)));
        }
        found
    }

    fn pairs(&self, model: &[Option<(f64, Film)>], from: Timestamp, to: Timestamp) -> Vec<(f64, f64)> {
        let inside = |row: &&(&Row, &Option<(f64, Film)>)| row.0.at >= from && row.0.at < to;
        self.rows
            .iter()
            .zip(model)
            .filter(|pair| inside(&pair))
            .filter_map(|(row, model)| Some(((*model)?.0, row.measured?)))
            .collect()
    }

    /// How the model stands to the road between two moments, by the weather alone.
    pub fn fit(&self, is_open: bool, from: Timestamp, to: Timestamp) -> Fit {
        Fit::of(&self.pairs(&self.run(is_open, false, true), from, to))
    }

    /// Air in the model's place, for comparison.
    pub fn air(&self, from: Timestamp, to: Timestamp) -> Fit {
        let air: Vec<_> =
            self.rows.iter().map(|row| row.weather.map(|one| (one.air, Film::default()))).collect();
        Fit::of(&self.pairs(&air, from, to))
    }

    /// The model with what readings correct: each hour, or once a day at five with an infrared thermometer whose
    /// error is drawn.
    pub fn corrected(&self, hourly: bool, from: Timestamp, to: Timestamp) -> Vec<Corrected> {
        use rand::{RngExt, SeedableRng};
        use statrs::distribution::{ContinuousCDF, Normal};
        let model = self.run(false, false, true);
        let mut draw = rand::rngs::StdRng::seed_from_u64(20_110_116);
        let noise = Instrument::Infrared.deviation();
        let mut filter = Correction::default();
        let mut states = Vec::with_capacity(self.rows.len());
        for (row, model) in self.rows.iter().zip(&model) {
            filter.advance(row.at);
            let is_due = hourly || (row.at + AHEAD).as_second().rem_euclid(86_400) == 5 * 3600;
            if let (Some((surface, _)), Some(read), true) = (model, row.measured, is_due) {
                let (reading, instrument) = if hourly {
                    (read, Instrument::Station)
                } else {
                    let error = Normal::standard().inverse_cdf(draw.random_range(1e-9..1.0 - 1e-9));
                    (read + noise * error, Instrument::Infrared)
                };
                filter.read(reading - surface, instrument);
            }
            states.push(filter);
        }
        let leads: &[usize] = if hourly { &[1, 3, 6, 12, 24] } else { &[6, 12, 24] };
        let one = |lead: usize| {
            let (mut squares, mut held, mut count) = (0.0, 0.0, 0.0);
            for (place, row) in self.rows.iter().enumerate().skip(lead) {
                let (Some((surface, _)), Some(read)) = (model[place], row.measured) else { continue };
                if row.at < from || row.at >= to {
                    continue;
                }
                let (add, deviation) = states[place - lead].ahead(lead as f64);
                let off = surface + add - read;
                squares += off * off;
                // Eight of ten of a normal lie within 1.2816 deviations.
                held += f64::from(off.abs() <= 1.2816 * deviation.hypot(Instrument::Station.deviation()));
                count += 1.0;
            }
            Corrected { lead, rmse: f64::sqrt(squares / count), held: held / count }
        };
        leads.iter().map(|lead| one(*lead)).collect()
    }

    /// Lag that the guard finds when the readings are this many hours late; none where it finds the clock right.
    pub fn lag_found(&self, hours: i64) -> Option<SignedDuration> {
        let model = self.run(false, false, true);
        let filled: Vec<f64> = model.iter().map(|one| one.map_or(f64::NAN, |(surface, _)| surface)).collect();
        let count = filled.len() as i64;
        let late: Vec<Option<f64>> = (0..count)
            .map(|hour| {
                let at = hour - hours;
                let place = usize::try_from(at).ok().filter(|place| *place < filled.len())?;
                self.rows[place].measured.filter(|_| filled[hour as usize].is_finite())
            })
            .collect();
        let end = filled.iter().position(|value| value.is_nan()).unwrap_or(filled.len());
        wrong_clock(&late[..end], &filled[..end])
    }

    /// Wet or dry said against the sensor, with the measured surface, with salt or without.
    pub fn wet_or_dry(&self, salted: bool, from: Timestamp, to: Timestamp) -> Contingency {
        let model = self.run(false, true, salted);
        let mut table = Contingency::default();
        for (row, model) in self.rows.iter().zip(&model) {
            // Between 0.7 and 1.5 mV the sensor says neither.
            let came = match row.wetness {
                Some(value) if value > 1.5 => true,
                Some(value) if value < 0.7 => false,
                _ => continue,
            };
            if let (Some((_, film)), true) = (model, row.at >= from && row.at < to) {
                table.count(film.all_water() > WET, came);
            }
        }
        table
    }

    /// Whether a reading off by so much would be taken.
    pub fn takes(&self, off: f64) -> bool {
        let mut filter = Correction::default();
        if let Some(row) = self.rows.first() {
            filter.advance(row.at);
        }
        filter.read(off, Instrument::Infrared) == Taken::Used
    }
}

/// Its section of VALIDATION.md.
pub const HEADING: &str = "## Roads: surface, film, correction by readings";

/// What holds what is in the tree: what, the data, the limit, the test.
const IN_TREE: [[&str; 4]; 12] = [
    [
        "surface of a column, five days",
        "independent stiff solver (series kept with the test)",
        "RMSE 0.05 K, worst 0.15 K",
        "surface.rs",
    ],
    [
        "longwave radiation of the sky",
        "Bondville, Illinois, 4,239 half hours of 1998 (AmeriFlux, US government work)",
        "bias 6, RMSE 23 W/m²",
        "sky.rs",
    ],
    [
        "bare soil, measured longwave",
        "the same site, infrared skin temperature",
        "1.65 K, and 0.8 of the air's error",
        "surface.rs",
    ],
    ["step and wave into a half space", "closed solutions (Carslaw and Jaeger)", "0.02 K", "surface.rs"],
    ["position of the sun", "reference rows of a second program", "0.05°", "sky.rs"],
    ["hours of a film to first ice, and to 0.4 liquid", "table worked out apart", "1 %", "film.rs"],
    [
        "water that a residue takes up",
        "activity of water, table worked out apart",
        "as the table prints",
        "film.rs",
    ],
    [
        "brine trials on live roads, 15 and 30 mL/m²",
        "TRL, Scotland",
        "the same moist film within 3 g/m²",
        "film.rs",
    ],
    ["loss by spray", "parameter tables of Denby et al. 2013", "as the table prints", "film.rs"],
    ["vapor that leaves and settles", "table worked out apart", "3 % and 0.6 % of all vapor", "film.rs"],
    ["scores of forecasts", "two libraries", "1e-6", "score.rs"],
    [
        "error of forecast air temperature by lead",
        "10,000 pairs a lead, 70 cities of the northern US",
        "0.15 K",
        "film.rs",
    ],
];

impl Street {
    /// The half winter that the equations were developed on elsewhere, and the autumn for wet or dry.
    ///
    /// # Errors
    /// None for these dates; a text otherwise.
    pub fn spans() -> Result<[(Timestamp, Timestamp); 2], String> {
        let at = |text: &str| text.parse::<Timestamp>().map_err(|error| format!("{text}: {error}"));
        Ok([
            (at("2010-11-01T00:00:00Z")?, at("2011-01-16T00:00:00Z")?),
            (at("2010-10-01T00:00:00Z")?, at("2010-12-01T00:00:00Z")?),
        ])
    }

    /// The section of VALIDATION.md.
    ///
    /// # Errors
    /// As [`Street::spans`].
    pub fn validated(&self) -> Result<String, String> {
        use std::fmt::Write as _;
        let [(from, to), (wet_from, wet_to)] = Self::spans()?;
        let mut text = format!("\n{HEADING}\n\n");
        let _ = write!(
            text,
            "A street in Stockholm, 1 November 2010 to 15 January 2011, weather and geometry alone; its rows may not \
             be copied, so the exam reads them from beside the project. One street in one winter is thin evidence, and \
             these months are those that the equations were developed on elsewhere.\n\n\
             | what | found | asked |\n|---|---|---|\n"
        );
        let (fit, open) = (self.fit(false, from, to), self.fit(true, from, to));
        let _ = writeln!(
            text,
            "| surface, no reading | bias {:+.2} K, RMSE {:.2} K of {} hours | 1.25 K |\n\
             | the same under an open sky | RMSE {:.2} K | at least 2.5 K: geometry acts |",
            fit.bias, fit.rmse, fit.hours, open.rmse
        );
        for (hourly, name, limits) in [
            (true, "a sensor each hour", &[0.35, 0.55, 0.72, 0.85, 0.88][..]),
            (false, "one reading a day, ± 0.7 K", &[0.90, 0.90, 0.90][..]),
        ] {
            for (one, limit) in self.corrected(hourly, from, to).iter().zip(limits) {
                let is_bold = if one.rmse > *limit { "**" } else { "" };
                let _ = writeln!(
                    text,
                    "| {name}, {} h ahead | {is_bold}RMSE {:.2} K{is_bold}, band of 8 in 10 holds {:.2} | {limit:.2} K |",
                    one.lead, one.rmse, one.held
                );
            }
        }
        let [with, without] = [true, false].map(|salted| self.wet_or_dry(salted, wet_from, wet_to));
        let _ = writeln!(
            text,
            "| wet or dry, October and November | {:.3} right, Heidke {:.2}; without salt {:.3} | 0.84 |",
            with.right(),
            with.heidke(),
            without.right()
        );
        text.push_str("\nHeld by tests in `crates/road/tests`, with their data:\n\n| what | against | limit | test |\n|---|---|---|---|\n");
        for [what, against, limit, test] in IN_TREE {
            let _ = writeln!(text, "| {what} | {against} | {limit} | `{test}` |");
        }
        text.push_str(
            "\nWeather spells: `cargo xtask exam --only-roads` runs 76 of them, with 494 expectations of a reader of the trade, \
             and prints how many hold.\n",
        );
        Ok(text)
    }
}
