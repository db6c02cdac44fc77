//! The published rate table: data with a source on each row, shipped in the program.
//!
//! A row whose figure was read in its source is on; a remembered one is off until the yard switches it on.

use chemistry::Brine;
use message::{Message, Tell, message};
use quantity::{ThermodynamicTemperature, fahrenheit, gallons, in_fahrenheit};

use crate::amount::{LiquidRate, PrewetRatio, SolidRate, lane_mile, salt_pounds};

const PUBLISHED: &str = include_str!("../data/rates.csv");

/// What a row is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Use {
    /// Pretreatment: liquid before the event.
    AntiIcing,
    /// Prewet salt during the event.
    PrewetSalt,
    /// The source says to use no chemical.
    NoChemical,
}

/// What is falling or forming.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EventKind {
    /// Snow.
    Snow,
    /// Snow and rain together.
    Mixed,
    /// Rain that freezes on the road.
    FreezingRain,
    /// Frost, with nothing falling.
    Frost,
}

/// Which pass of an event.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pass {
    /// The first treatment of a route.
    First,
    /// Any after it.
    Later,
}

/// Trend of the pavement temperature.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Trend {
    /// Rising.
    Rising,
    /// Neither rising nor falling.
    Steady,
    /// Falling.
    Falling,
}

/// A liquid as a rate row names it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LiquidClass {
    /// Sodium chloride brine.
    SaltBrine,
    /// Magnesium or calcium chloride liquid.
    MagnesiumOrCalcium,
}

/// How well the source of a row is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// Read in the named source.
    Seen,
    /// Remembered: confirm before use.
    Memory,
}

/// Low and high rate of a row, by the material it applies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Amount {
    /// No chemical is to be used.
    None,
    /// A liquid, by volume.
    Liquid {
        /// Low end of the published rate, liquid per lane length.
        low: LiquidRate,
        /// High end of the published rate, liquid per lane length.
        high: LiquidRate,
    },
    /// A liquid, by the dry salt in it.
    LiquidAsDrySalt {
        /// Low end of the published rate, dry salt per lane length.
        low: SolidRate,
        /// High end of the published rate, dry salt per lane length.
        high: SolidRate,
    },
    /// Salt with prewetting liquid.
    Salt {
        /// Low end of the published rate, salt per lane length before prewetting.
        low: SolidRate,
        /// High end of the published rate, salt per lane length before prewetting.
        high: SolidRate,
        /// Liquid for prewetting, per mass of salt.
        prewet: PrewetRatio,
    },
}

/// One rule of one source.
#[derive(Debug, Clone, PartialEq)]
pub struct RateRow {
    /// Id by which a yard file switches it on or off.
    pub id: String,
    /// What it is for.
    pub use_for: Use,
    /// Events it covers.
    pub events: Vec<EventKind>,
    /// Pass it covers; none is any.
    pub pass: Option<Pass>,
    /// Pavement at or above this.
    pub pavement_from: Option<ThermodynamicTemperature>,
    /// Pavement below this.
    pub pavement_below: Option<ThermodynamicTemperature>,
    /// Trend it covers; none is any. A row printed "steady or falling" covers falling and steady.
    pub trend: RowTrend,
    /// Liquids it names, in the order printed.
    pub liquids: Vec<LiquidClass>,
    /// Low and high rate.
    pub amount: Amount,
    /// What the source remarks, reworded.
    pub note: String,
    /// Where it comes from.
    pub source: String,
    /// Whether it was read in its source.
    pub mark: Mark,
    /// Whether the row is used.
    pub on: bool,
}

/// Trend condition of a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RowTrend {
    /// Any trend, known or not.
    Any,
    /// Steady or rising.
    SteadyOrRising,
    /// Steady or falling.
    SteadyOrFalling,
}

/// The conditions a rate is looked up for.
#[derive(Debug, Clone, Copy)]
pub struct Condition {
    /// What the rate is for. [`Use::PrewetSalt`] also finds rows that say "no chemical".
    pub use_for: Use,
    /// What is falling or forming.
    pub event: EventKind,
    /// First or later pass over the route.
    pub pass: Pass,
    /// Pavement temperature at the time of the pass.
    pub pavement: ThermodynamicTemperature,
    /// Which way the pavement temperature is going.
    pub trend: Trend,
}

/// Why a rate table cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}", self.message())]
pub enum RateError {
    /// The table that ships with the program is damaged.
    Row {
        /// Row number, 1 the first after the header.
        row: usize,
        /// Name of the column in the table.
        column: &'static str,
        /// The cell's text.
        value: String,
    },
    /// A yard names a row that does not exist.
    NoSuchRow {
        /// The id that the yard file names.
        id: String,
        /// All ids, with commas between.
        accepted: String,
    },
}

impl Tell for RateError {
    fn message(&self) -> Message {
        match self {
            RateError::Row { row, column, value } => {
                message!("road.damaged_row", row = *row, column = *column, value = value)
            }
            RateError::NoSuchRow { id, accepted } => {
                message!("road.no_such_row", id = id, accepted = accepted)
            }
        }
    }
}

/// Published rates with their switches.
#[derive(Debug, Clone)]
pub struct RateTable {
    rows: Vec<RateRow>,
}

impl RateTable {
    /// The shipped table: rows read in their source on, remembered ones off.
    ///
    /// # Errors
    /// [`RateError::Row`] when the shipped data is damaged.
    pub fn published() -> Result<Self, RateError> {
        let mut reader = csv::ReaderBuilder::new()
            .comment(Some(b'#'))
            .trim(csv::Trim::All)
            .from_reader(PUBLISHED.as_bytes());
        let mut rows = Vec::new();
        for (index, record) in reader.deserialize::<Printed>().enumerate() {
            let damaged =
                |e: csv::Error| RateError::Row { row: index + 1, column: "row", value: e.to_string() };
            rows.push(record.map_err(damaged)?.into_row(index + 1)?);
        }
        Ok(Self { rows })
    }

    /// The shipped table with a yard's switches. Rows the yard switches on come first, in the yard's order.
    ///
    /// ```
    /// use road::RateTable;
    /// let table = RateTable::with_choice(&["mn-anti-icing-snow".to_string()], &[])?;
    /// assert_eq!(table.rows()[0].id, "mn-anti-icing-snow");
    /// assert!(RateTable::with_choice(&["no-such".to_string()], &[]).is_err());
    /// # Ok::<(), road::rates::RateError>(())
    /// ```
    ///
    /// # Errors
    /// [`RateError::NoSuchRow`] for an unknown id.
    pub fn with_choice(on: &[String], off: &[String]) -> Result<Self, RateError> {
        let mut table = Self::published()?;
        for id in off {
            let at = table.position(id)?;
            table.rows[at].on = false;
        }
        let mut placed = 0;
        for id in on {
            let at = table.position(id)?;
            // Named twice is named once.
            if at >= placed {
                let mut row = table.rows.remove(at);
                row.on = true;
                table.rows.insert(placed, row);
                placed += 1;
            }
        }
        Ok(table)
    }

    /// All rows, on and off, in the order they are tried.
    pub fn rows(&self) -> &[RateRow] {
        &self.rows
    }

    /// The first row that is on and covers a condition.
    ///
    /// A band is read `from ≤ pavement < below`. At or above the warmest band with the pavement falling, a source that
    /// says "steady or rising; watch for a fall" is read one band colder: the road will be there before the next pass.
    pub fn find(&self, condition: &Condition) -> Option<&RateRow> {
        self.rows.iter().find(|row| row.covers(condition, condition.pavement)).or_else(|| {
            let just_below = self
                .rows
                .iter()
                .filter(|row| row.on && row.serves(condition))
                .filter_map(|row| row.pavement_below)
                .map(in_fahrenheit)
                .filter(|f| *f <= in_fahrenheit(condition.pavement))
                .fold(f64::NEG_INFINITY, f64::max);
            let falling = condition.trend == Trend::Falling && just_below.is_finite();
            let colder = fahrenheit(just_below - 1e-6);
            self.rows.iter().find(|row| falling && row.covers(condition, colder))
        })
    }

    fn position(&self, id: &str) -> Result<usize, RateError> {
        self.rows.iter().position(|row| row.id == id).ok_or_else(|| RateError::NoSuchRow {
            id: id.to_string(),
            accepted: self.rows.iter().map(|r| r.id.as_str()).collect::<Vec<_>>().join(", "),
        })
    }
}

impl RateRow {
    /// Liquid of this row at its low, middle and high rate, with the brine that dry-salt rates are turned into.
    ///
    /// # Errors
    /// As [`LiquidRate::carrying`].
    pub fn liquid(&self, brine: &Brine) -> Result<[LiquidRate; 3], chemistry::Error> {
        let (low, high) = match self.amount {
            Amount::None => (LiquidRate::ZERO, LiquidRate::ZERO),
            Amount::Liquid { low, high } => (low, high),
            Amount::LiquidAsDrySalt { low, high } => {
                (LiquidRate::carrying(low, brine)?, LiquidRate::carrying(high, brine)?)
            }
            Amount::Salt { low, high, prewet } => (low.prewet(prewet), high.prewet(prewet)),
        };
        Ok([low, LiquidRate::middle(low, high), high])
    }

    /// Dry salt of this row at its low, middle and high rate; none for liquid rows.
    pub fn salt(&self) -> [SolidRate; 3] {
        match self.amount {
            Amount::Salt { low, high, .. } => [low, SolidRate::middle(low, high), high],
            _ => [SolidRate::ZERO; 3],
        }
    }

    fn serves(&self, condition: &Condition) -> bool {
        let same_use = self.use_for == condition.use_for
            || (condition.use_for == Use::PrewetSalt && self.use_for == Use::NoChemical);
        same_use && self.events.contains(&condition.event) && self.pass.is_none_or(|p| p == condition.pass)
    }

    fn covers(&self, condition: &Condition, pavement: ThermodynamicTemperature) -> bool {
        // A hair of tolerance: 32 °F reached through °C must count as 32.
        let f = in_fahrenheit(pavement) + 1e-9;
        let trend = match self.trend {
            RowTrend::Any => true,
            RowTrend::SteadyOrFalling => condition.trend != Trend::Rising,
            RowTrend::SteadyOrRising => condition.trend != Trend::Falling,
        };
        self.on
            && self.serves(condition)
            && trend
            && self.pavement_from.is_none_or(|low| in_fahrenheit(low) <= f)
            && self.pavement_below.is_none_or(|high| f < in_fahrenheit(high))
    }
}

/// A row as it stands in the file.
#[derive(serde::Deserialize)]
struct Printed {
    id: String,
    r#use: String,
    events: String,
    pass: String,
    pavement_low_f: Option<f64>,
    pavement_high_f: Option<f64>,
    trend: String,
    liquid: String,
    rate_low: Option<f64>,
    rate_high: Option<f64>,
    unit: String,
    prewet_gal_per_ton: Option<f64>,
    note: String,
    source: String,
    mark: String,
}

impl Printed {
    fn into_row(self, row: usize) -> Result<RateRow, RateError> {
        let bad =
            |column: &'static str, value: &str| RateError::Row { row, column, value: value.to_string() };
        let use_for = match self.r#use.as_str() {
            "anti_icing" => Use::AntiIcing,
            "salt_prewet" => Use::PrewetSalt,
            "no_chemical" => Use::NoChemical,
            other => return Err(bad("use", other)),
        };
        let events = self
            .events
            .split('+')
            .map(|word| match word {
                "snow" => Ok(EventKind::Snow),
                "mixed" => Ok(EventKind::Mixed),
                "freezing_rain" => Ok(EventKind::FreezingRain),
                "frost" => Ok(EventKind::Frost),
                other => Err(bad("events", other)),
            })
            .collect::<Result<Vec<_>, _>>()?;
        let pass = match self.pass.as_str() {
            "any" => None,
            "first" => Some(Pass::First),
            "later" => Some(Pass::Later),
            other => return Err(bad("pass", other)),
        };
        let trend = match self.trend.as_str() {
            "any" => RowTrend::Any,
            "steady_or_rising" => RowTrend::SteadyOrRising,
            "steady_or_falling" => RowTrend::SteadyOrFalling,
            other => return Err(bad("trend", other)),
        };
        let liquids = match self.liquid.as_str() {
            "none" => vec![],
            "salt_brine" => vec![LiquidClass::SaltBrine],
            "mg_or_ca" => vec![LiquidClass::MagnesiumOrCalcium],
            "salt_brine+mg_or_ca" => vec![LiquidClass::SaltBrine, LiquidClass::MagnesiumOrCalcium],
            other => return Err(bad("liquid", other)),
        };
        let mark = match self.mark.as_str() {
            "seen" => Mark::Seen,
            "memory" => Mark::Memory,
            other => return Err(bad("mark", other)),
        };
        let amount = self.amount().ok_or_else(|| bad("unit", &self.unit))?;
        Ok(RateRow {
            id: self.id,
            use_for,
            events,
            pass,
            pavement_from: self.pavement_low_f.map(fahrenheit),
            pavement_below: self.pavement_high_f.map(fahrenheit),
            trend,
            liquids,
            amount,
            note: self.note,
            source: self.source,
            mark,
            on: mark == Mark::Seen,
        })
    }

    fn amount(&self) -> Option<Amount> {
        if self.unit.is_empty() {
            return Some(Amount::None);
        }
        let (low, high) = (self.rate_low?, self.rate_high?);
        let salt = |value: f64, lanes: f64| SolidRate::per_mile_of_lanes(salt_pounds(value), lanes);
        let prewet = self.prewet_gal_per_ton.map(|g| PrewetRatio::per_short_ton(gallons(g)));
        Some(match self.unit.as_str() {
            "gal_per_lane_mile" => Amount::Liquid {
                low: LiquidRate::of(gallons(low), lane_mile()),
                high: LiquidRate::of(gallons(high), lane_mile()),
            },
            "lb_dry_per_lane_mile" => Amount::LiquidAsDrySalt { low: salt(low, 1.0), high: salt(high, 1.0) },
            "lb_per_lane_mile" => {
                Amount::Salt { low: salt(low, 1.0), high: salt(high, 1.0), prewet: prewet? }
            }
            "lb_per_two_lane_mile" => {
                Amount::Salt { low: salt(low, 2.0), high: salt(high, 2.0), prewet: prewet? }
            }
            _ => return None,
        })
    }
}
