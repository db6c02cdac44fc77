//! How good forecasts were, held against what came.

/// Continuous ranked probability score of a normal forecast, in the unit of the values.
///
/// # Equation
/// σ [z (2 Φ(z) − 1) + 2 φ(z) − 1/√π], z = (y − μ)/σ.
///
/// # Range
/// σ > 0.
///
/// # Source
/// Gneiting et al. 2005, Mon. Weather Rev. 133:1098.
pub fn crps_normal(mean: f64, deviation: f64, came: f64) -> f64 {
    use statrs::distribution::{Continuous, ContinuousCDF, Normal};
    let z = (came - mean) / deviation;
    let unit = Normal::standard();
    deviation * (z * (2.0 * unit.cdf(z) - 1.0) + 2.0 * unit.pdf(z) - 1.0 / std::f64::consts::PI.sqrt())
}

/// How many members' differences a score counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Counting {
    /// The members are the whole forecast: divided by M².
    Plain,
    /// They are a sample of it: divided by M (M − 1). May be negative for few members.
    Fair,
}

/// Continuous ranked probability score of members, in the unit of the values; 0 without members.
///
/// # Equation
/// mean |x − y| − Σ|xᵢ − xⱼ| / (2 M²); fair: / (2 M (M − 1)).
///
/// # Source
/// Ferro 2014, Q. J. R. Meteorol. Soc. 140:1917.
pub fn crps_members(members: &[f64], came: f64, counting: Counting) -> f64 {
    let count = members.len() as f64;
    if members.is_empty() {
        return 0.0;
    }
    let mut sorted = members.to_vec();
    sorted.sort_by(f64::total_cmp);
    // Sum over pairs of sorted values: the k-th counts 2k − M + 1 times.
    let pairs: f64 =
        sorted.iter().enumerate().map(|(place, value)| value * (2.0 * place as f64 - count + 1.0)).sum();
    let divisor = match counting {
        Counting::Plain => count * count,
        Counting::Fair => count * (count - 1.0),
    };
    let spread = if divisor > 0.0 { pairs / divisor } else { 0.0 };
    members.iter().map(|member| (member - came).abs()).sum::<f64>() / count - spread
}

/// Pinball score of a quantile at a level, 0…1.
///
/// # Source
/// Koenker and Bassett 1978, Econometrica 46:33.
pub fn pinball(quantile: f64, level: f64, came: f64) -> f64 {
    let above = came - quantile;
    if above >= 0.0 { level * above } else { (level - 1.0) * above }
}

/// Interval score of a central interval that leaves out a share α.
///
/// # Source
/// Gneiting and Raftery 2007, J. Am. Stat. Assoc. 102:359.
pub fn interval(low: f64, high: f64, left_out: f64, came: f64) -> f64 {
    (high - low) + 2.0 / left_out * ((low - came).max(0.0) + (came - high).max(0.0))
}

/// Brier's score with its parts by Murphy 1973, J. Appl. Meteorol. 12:595: score = reliability − resolution +
/// uncertainty, exactly so where forecasts take few values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Brier {
    /// Mean of (p − o)², 0 the best.
    pub score: f64,
    /// How far the chances said are from how often it came.
    pub reliability: f64,
    /// How far the forecasts tell cases apart.
    pub resolution: f64,
    /// What saying the mean chance each time would score.
    pub uncertainty: f64,
}

impl Brier {
    /// Of chances said and whether it came; none without any. Forecasts count as one where they differ by less than
    /// 1e-9.
    pub fn of(pairs: &[(f64, bool)]) -> Option<Self> {
        let count = pairs.len() as f64;
        if pairs.is_empty() {
            return None;
        }
        let came = |pairs: &[(f64, bool)]| pairs.iter().filter(|(_, came)| *came).count() as f64;
        let score =
            pairs.iter().map(|(chance, came)| (chance - f64::from(*came)).powi(2)).sum::<f64>() / count;
        let base = came(pairs) / count;
        let mut sorted = pairs.to_vec();
        sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (mut reliability, mut resolution) = (0.0, 0.0);
        for bin in sorted.chunk_by(|a, b| (a.0 - b.0).abs() < 1e-9) {
            let (size, share) = (bin.len() as f64, came(bin) / bin.len() as f64);
            reliability += size * (bin[0].0 - share).powi(2) / count;
            resolution += size * (share - base).powi(2) / count;
        }
        Some(Self { score, reliability, resolution, uncertainty: base * (1.0 - base) })
    }

    /// Skill against saying the mean chance each time: 1 the best, 0 none; none where that is never wrong.
    pub fn skill(&self) -> Option<f64> {
        (self.uncertainty > 0.0).then(|| 1.0 - self.score / self.uncertainty)
    }
}

/// Yes or no said against yes or no that came.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Contingency {
    /// Said and came.
    pub hits: u32,
    /// Came and not said.
    pub misses: u32,
    /// Said and did not come.
    pub false_alarms: u32,
    /// Neither.
    pub rejections: u32,
}

impl Contingency {
    /// Counts one pair.
    pub fn count(&mut self, said: bool, came: bool) {
        *(match (said, came) {
            (true, true) => &mut self.hits,
            (false, true) => &mut self.misses,
            (true, false) => &mut self.false_alarms,
            (false, false) => &mut self.rejections,
        }) += 1;
    }

    fn parts(&self) -> [f64; 4] {
        [self.hits, self.misses, self.false_alarms, self.rejections].map(f64::from)
    }

    /// Share of all that was right.
    pub fn right(&self) -> f64 {
        let [hits, misses, false_alarms, rejections] = self.parts();
        (hits + rejections) / (hits + misses + false_alarms + rejections)
    }

    /// Share of what came that was said.
    pub fn hit_rate(&self) -> f64 {
        let [hits, misses, ..] = self.parts();
        hits / (hits + misses)
    }

    /// Share of what was said that did not come.
    pub fn false_alarm_ratio(&self) -> f64 {
        let [hits, _, false_alarms, _] = self.parts();
        false_alarms / (hits + false_alarms)
    }

    /// Heidke's skill: share right beyond chance, 1 the best.
    pub fn heidke(&self) -> f64 {
        let [a, c, b, d] = self.parts();
        2.0 * (a * d - b * c) / ((a + c) * (c + d) + (a + b) * (b + d))
    }

    /// Peirce's skill: hit rate less false alarm rate.
    pub fn peirce(&self) -> f64 {
        let [hits, misses, false_alarms, rejections] = self.parts();
        hits / (hits + misses) - false_alarms / (false_alarms + rejections)
    }
}

/// Rank of what came among the members, 1 below all of them.
pub fn rank(members: &[f64], came: f64) -> usize {
    1 + members.iter().filter(|member| **member < came).count()
}

/// The value below which a share of sorted values lies, by straight lines between them; none without values.
pub fn quantile(sorted: &[f64], share: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    let place = share.clamp(0.0, 1.0) * last as f64;
    let low = (place as usize).min(last);
    let high = (low + 1).min(last);
    Some(sorted[low] + (place - low as f64) * (sorted[high] - sorted[low]))
}

/// Pairs below which no score is told.
pub const LEAST_PAIRS: usize = 30;

/// A forecast of a temperature beside what came.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    /// Members of the forecast, °C.
    pub members: Vec<f64>,
    /// What 10, 50 and 90 of 100 members are below, °C.
    pub quantiles: [f64; 3],
    /// Chance that was given to less than 0 °C, 0…1.
    pub below_freezing: f64,
    /// What came, °C.
    pub came: f64,
}

/// How good forecasts of a temperature were.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scores {
    /// Pairs.
    pub pairs: usize,
    /// Mean of forecast less what came, K.
    pub bias: f64,
    /// Root mean square of forecast less what came, K.
    pub rmse: f64,
    /// Fair continuous ranked probability score, K.
    pub crps: f64,
    /// Share of what came within the band of 8 in 10.
    pub coverage: f64,
    /// Skill of the chance of freezing against its mean; none where it always froze, or never.
    pub freezing_skill: Option<f64>,
}

impl Scores {
    /// Of pairs; none below [`LEAST_PAIRS`].
    ///
    /// # Source
    /// Each score as above; thirty pairs are judgement.
    pub fn of(pairs: &[Pair]) -> Option<Self> {
        if pairs.len() < LEAST_PAIRS {
            return None;
        }
        let count = pairs.len() as f64;
        let mean = |of: &dyn Fn(&Pair) -> f64| pairs.iter().map(of).sum::<f64>() / count;
        let said: Vec<(f64, bool)> =
            pairs.iter().map(|pair| (pair.below_freezing, pair.came < 0.0)).collect();
        Some(Self {
            pairs: pairs.len(),
            bias: mean(&|pair| pair.quantiles[1] - pair.came),
            rmse: mean(&|pair| (pair.quantiles[1] - pair.came).powi(2)).sqrt(),
            crps: mean(&|pair| crps_members(&pair.members, pair.came, Counting::Fair)),
            coverage: mean(&|pair| {
                f64::from(pair.quantiles[0] <= pair.came && pair.came <= pair.quantiles[2])
            }),
            freezing_skill: Brier::of(&said).and_then(|brier| brier.skill()),
        })
    }
}
