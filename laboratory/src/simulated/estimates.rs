//! How often the interval of a tank's estimate holds what is truly in it, on seasons drawn by chance.

use quantity::{in_cubic_metres, in_kilograms};
use site::Yard;
use yard::stock::Books;

use super::seasons::life::{Lived, clean};

/// Seeds held out; nothing was chosen on them. Seeds below 20,000 were looked at while the estimate was made.
const HELD_OUT: std::ops::Range<u64> = 30_000..31_000;
/// First line of the section.
pub const HEADING: &str = "## What a tank is thought to hold";
/// What the share of 95 % intervals that hold may come to, per cent.
const HOLDS: std::ops::RangeInclusive<f64> = 93.0..=97.0;

/// Looks, and of these how many hold.
#[derive(Debug, Clone, Copy, Default)]
struct Count {
    held: usize,
    looks: usize,
    width: f64,
    doubted: usize,
}

impl Count {
    fn look(&mut self, apart: f64, within: f64) {
        self.looks += 1;
        self.held += usize::from(apart.abs() <= within);
        self.width += within;
    }

    fn per_cent(self) -> f64 {
        100.0 * self.held as f64 / self.looks.max(1) as f64
    }

    fn mean_width(self) -> f64 {
        self.width / self.looks.max(1) as f64
    }
}

/// Mass, strength and salt, looked at after evidence and after a day's work.
#[derive(Debug, Clone, Copy, Default)]
struct Counts {
    volume: Count,
    strength: Count,
    salt: Count,
}

fn judge(yard: &Yard, lived: &Lived, counts: &mut Counts) {
    let mut books = Books::empty(yard);
    let mut events = lived.events.iter().peekable();
    for (at, tanks) in &lived.truth {
        while let Some(recorded) = events.next_if(|recorded| recorded.event.occurred_at <= *at) {
            let _ = books.try_append(yard, recorded);
        }
        for (place, truth) in tanks.iter().enumerate() {
            let Some(one) = books.estimate(&yard.tanks[place].id) else { continue };
            let volume = one.volume(yard);
            // The interval is of a volume; the truth is a mass: held against each other at the estimate's own density.
            let density = in_kilograms(one.content().mass) / in_cubic_metres(volume.value).max(1e-6);
            let apart = truth.mass - in_kilograms(one.content().mass);
            counts.volume.look(apart / density, in_cubic_metres(volume.uncertainty));
            let salt = one.sodium_chloride();
            counts.salt.look(truth.salt - in_kilograms(salt.value), in_kilograms(salt.uncertainty));
            if let Some(strength) = one.strength() {
                let apart = 100.0 * truth.strength() - strength.value.percent();
                counts.strength.look(apart, strength.uncertainty.percent());
            }
            counts.volume.doubted += usize::from(one.doubted().is_some());
        }
    }
}

/// The section of VALIDATION.md, a line for the exam, and whether what is promised holds.
pub struct Held {
    /// Section of VALIDATION.md, as Markdown.
    pub section: String,
    /// Line that the exam prints, with its figures.
    pub line: String,
    /// Whether it holds.
    pub holds: bool,
}

/// Draws the seasons held out and counts.
///
/// # Errors
/// A yard file that cannot be read.
pub fn held() -> Result<Held, String> {
    let counts = count(HELD_OUT)?;
    let Counts { volume, strength, salt } = counts;
    let seasons = HELD_OUT.count();
    let holds = [volume, strength, salt].iter().all(|one| HOLDS.contains(&one.per_cent()));
    let doubted = 100.0 * volume.doubted as f64 / volume.looks.max(1) as f64;
    let line = format!(
        "holds in {:.1} % (volume), {:.1} % (strength), {:.1} % (salt) of {} looks in {seasons} seasons",
        volume.per_cent(),
        strength.per_cent(),
        salt.per_cent(),
        volume.looks
    );
    let section = format!(
        "\n{HEADING}\n\n\
         {seasons} seasons of 120 days, drawn as for the next section with nothing wrong beyond what yards live with\n\
         (`laboratory/src/simulated/estimates.rs`); every reading states its own interval of 0.235 %, and a quarter\n\
         of its variance all readings of a season share. Twice a day, after dips and readings and after the day's\n\
         work, the 95 % interval of each of three tanks is held against what is truly there. Held out.\n\n\
         | What | Looks | Interval holds | Mean half-width |\n\
         | --- | ---: | ---: | ---: |\n\
         | volume | {} | {:.1} % | {:.0} gal |\n\
         | strength | {} | {:.1} % | {:.2} % |\n\
         | salt | {} | {:.1} % | {:.0} lb |\n\n\
         A second look was being asked for in {doubted:.1} % of the looks, although nothing was wrong.\n",
        volume.looks,
        volume.per_cent(),
        volume.mean_width() * 264.172_052_4,
        strength.looks,
        strength.per_cent(),
        strength.mean_width(),
        salt.looks,
        salt.per_cent(),
        quantity::units::POUND.of_base(salt.mean_width()),
    );
    Ok(Held { section, line, holds })
}

fn count(seeds: std::ops::Range<u64>) -> Result<Counts, String> {
    let text = include_str!("../../../examples/alder_fork.toml");
    let yard =
        site::yard_file::read_yard(text, "alder_fork.toml").map_err(|problems| format!("{problems:?}"))?;
    let mut counts = Counts::default();
    for seed in seeds {
        judge(&yard, &clean(&yard, seed)?, &mut counts);
    }
    Ok(counts)
}

#[cfg(test)]
mod tests {
    /// Twenty seasons that are not held out: what all have alike is drawn twenty times only, so the share may stray.
    #[test]
    fn twenty_seasons() {
        let counts = super::count(100..120).unwrap_or_else(|error| panic!("{error}"));
        for (of, one) in [("volume", counts.volume), ("strength", counts.strength), ("salt", counts.salt)] {
            assert!((88.0..=99.5).contains(&one.per_cent()), "{of}: {:.1} %", one.per_cent());
        }
    }
}
