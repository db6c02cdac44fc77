//! Days, months and clock times as a language writes them, by the Unicode locale data of `icu_datetime`.

use std::sync::LazyLock;

use icu_calendar::{Date, Gregorian};
use icu_datetime::FixedCalendarDateTimeFormatter as Formatter;
use icu_datetime::fieldsets::{self, E, MD, T};
use icu_datetime::input;
use icu_datetime::options::TimePrecision;
use icu_locale_core::preferences::extensions::unicode::keywords::HourCycle;
use icu_locale_core::{Locale, locale};
use jiff::civil;

use crate::words::Language;

/// Whether an hour is told with its minutes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Precision {
    Minute,
    Hour,
}

/// Short name of the day of the week: `Thu`, `jue`, `jeu.`.
pub(crate) fn weekday(language: Language, date: civil::Date) -> String {
    let formatter = Formatter::<Gregorian, E>::try_new(locale_of(language).into(), E::short());
    match (formatter, gregorian(date)) {
        (Ok(formatter), Some(date)) => formatter.format(&date).to_string(),
        _ => date.strftime("%a").to_string(),
    }
}

/// Month and day, short: `Jan 14`, `14 ene`, `14 janv.`.
pub(crate) fn month_and_day(language: Language, date: civil::Date) -> String {
    let formatter = Formatter::<Gregorian, MD>::try_new(locale_of(language).into(), MD::medium());
    match (formatter, gregorian(date)) {
        (Ok(formatter), Some(date)) => formatter.format(&date).to_string(),
        _ => date.strftime("%m-%d").to_string(),
    }
}

/// Clock time: `6:10 PM` or `18:10`, `6:10 p.m.`, `18 h 10`. A whole hour: `6 PM` or `18:00`, `18 h`.
pub(crate) fn clock(language: Language, half_days: bool, time: civil::Time, precision: Precision) -> String {
    let cycle = if half_days { HourCycle::Clock12 } else { HourCycle::H23 };
    let text = written(language, Some(cycle), time, precision);
    // A bare figure does not read as an hour.
    if text.bytes().all(|byte| byte.is_ascii_digit()) {
        return written(language, Some(cycle), civil::time(time.hour(), 0, 0, 0), Precision::Minute);
    }
    text
}

/// Whether those who speak the language here go to twelve twice a day.
pub(crate) fn has_half_days(language: Language) -> bool {
    static HALF: LazyLock<Vec<Language>> = LazyLock::new(|| {
        let one = civil::time(13, 0, 0, 0);
        let halves = |language: &Language| !written(*language, None, one, Precision::Hour).contains("13");
        Language::ALL.iter().copied().filter(halves).collect()
    });
    HALF.contains(&language)
}

fn written(language: Language, cycle: Option<HourCycle>, time: civil::Time, precision: Precision) -> String {
    let mut preferences = icu_datetime::DateTimeFormatterPreferences::from(locale_of(language));
    preferences.hour_cycle = cycle;
    let fields = fieldsets::T::short().with_time_precision(match precision {
        Precision::Minute => TimePrecision::Minute,
        Precision::Hour => TimePrecision::Hour,
    });
    let formatter = Formatter::<Gregorian, T>::try_new(preferences, fields);
    let [hour, minute] = [time.hour(), time.minute()].map(i8::unsigned_abs);
    match (formatter, input::Time::try_new(hour, minute, 0, 0)) {
        // A narrow space is missing in many a font; the wider one holds the two together as well.
        (Ok(formatter), Ok(time)) => formatter.format(&time).to_string().replace('\u{202f}', "\u{a0}"),
        _ => time.strftime("%H:%M").to_string(),
    }
}

/// Where those who read the language here live: it settles the clock and the short months.
fn locale_of(language: Language) -> Locale {
    match language {
        Language::En => locale!("en-US"),
        Language::Es => locale!("es-US"),
        Language::Fr => locale!("fr-CA"),
    }
}

fn gregorian(date: civil::Date) -> Option<Date<Gregorian>> {
    let [month, day] = [date.month(), date.day()].map(i8::unsigned_abs);
    Date::try_new_gregorian(i32::from(date.year()), month, day).ok()
}
