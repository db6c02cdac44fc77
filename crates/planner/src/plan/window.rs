//! The part of the forecast that a plan can use, checked for gaps.

use jiff::{SignedDuration, Timestamp};
use site::Yard;
use weather::{GridOptions, HourlyGrid, Notice, WeatherFile};

use super::{GapOf, PlanError, PlanRequest};
/// Hours in a row with a temperature that make a dense stretch.
const DENSE_HOURS: usize = 3;

/// Hours that may be missing at the start: as many as a gap later on that is filled.
const MOST_MISSING_AT_START: usize = 2;

/// The forecast's hours in the window, checked for gaps.
pub(super) struct Window {
    pub(super) from: Timestamp,
    pub(super) to: Timestamp,
    pub(super) grid: HourlyGrid,
}

pub(super) fn window(request: &PlanRequest<'_>, use_suspect: bool) -> Result<Window, PlanError> {
    let mut from = hour_floor(request.issued);
    let options = grid_options(request.yard, use_suspect);
    let mut grid = request.weather.hourly(from, request.hours, options);
    let covered = hours_between(from, grid.covers_until).min(request.hours);
    if covered == 0 {
        return Err(PlanError::NothingCovered { from, latest: request.weather.latest });
    }
    grid.hours.truncate(covered);
    let no_temperature = |hour: &weather::Hour| hour.air.is_none() && hour.pavement.is_none();
    let mut covered = covered;
    // An hour or two missing right at the start are left out, as such a gap later on would be filled.
    let missing = grid.hours.iter().take_while(|hour| no_temperature(hour)).count();
    if (1..=MOST_MISSING_AT_START).contains(&missing) && missing < grid.hours.len() {
        grid.hours.drain(..missing);
        from += SignedDuration::from_hours(missing as i64);
        covered -= missing;
    }
    if let Some([start, end]) = open_gap(&grid, no_temperature, 1) {
        // A forecast that gets sparse toward its end is used as far as it is dense; a gap before dense hours is
        // refused.
        let rest = &grid.hours[hours_between(from, end).min(grid.hours.len())..];
        let dense = rest.windows(DENSE_HOURS).any(|hours| hours.iter().all(|hour| !no_temperature(hour)));
        if dense || start <= from {
            return Err(PlanError::Gap { of: GapOf::Temperature, from: start, to: end });
        }
        covered = hours_between(from, start);
        grid.hours.truncate(covered);
    }
    let no_water = |hour: &weather::Hour| hour.precipitation.is_none() && hour.probability.is_none();
    if let Some(gap) = open_gap(&grid, no_water, 3) {
        return Err(PlanError::Gap { of: GapOf::Precipitation, from: gap[0], to: gap[1] });
    }
    Ok(Window { from, to: from + SignedDuration::from_hours(covered as i64), grid })
}

pub(super) fn notices(grid: &HourlyGrid, file: &WeatherFile) -> Vec<Notice> {
    let terms = file.notices.iter().filter(|notice| notice.kind == weather::NoticeKind::Terms);
    let kept = grid.notices.iter().filter(|notice| notice.kind != weather::NoticeKind::OpenGap);
    kept.chain(terms).cloned().collect()
}

fn grid_options(yard: &Yard, use_suspect: bool) -> GridOptions {
    GridOptions { use_suspect, pressure: weather::psychrometrics::standard_pressure(yard.elevation).ok() }
}

/// Returns the first stretch of at least so many hours that lack something.
fn open_gap(
    grid: &HourlyGrid,
    lacks: impl Fn(&weather::Hour) -> bool,
    at_least: usize,
) -> Option<[Timestamp; 2]> {
    let mut run = 0;
    for (place, hour) in grid.hours.iter().enumerate() {
        run = if lacks(hour) { run + 1 } else { 0 };
        let ends = grid.hours.get(place + 1).is_none_or(|next| !lacks(next));
        if run >= at_least && ends {
            let end = hour.start + SignedDuration::from_hours(1);
            return Some([end - SignedDuration::from_hours(run as i64), end]);
        }
    }
    None
}

pub(super) fn hour_floor(at: Timestamp) -> Timestamp {
    let seconds = at.as_second().rem_euclid(3600);
    at - SignedDuration::from_secs(seconds) - SignedDuration::from_nanos(i64::from(at.subsec_nanosecond()))
}

pub(super) fn hours_between(from: Timestamp, to: Timestamp) -> usize {
    (to.duration_since(from).as_secs().max(0) / 3600) as usize
}
