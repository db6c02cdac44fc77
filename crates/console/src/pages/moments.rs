//! Times as they are typed.

use jiff::Timestamp;
use message::{Message, message};

use crate::field_messages::Wrong;
use crate::page_frame::Visitor;

/// A time as typed, in the yard's zone: a clock time is the last such time that is not to come, a day with a time is
/// that one. Blank is now.
pub(crate) fn moment(visitor: &Visitor, typed: &str) -> Result<Timestamp, String> {
    moment_of(visitor, visitor.words.say("form.at"), typed)
}

/// The same for a field of another name.
pub(crate) fn moment_of(visitor: &Visitor, label: &str, typed: &str) -> Result<Timestamp, String> {
    let now = visitor.now();
    let typed = typed.trim();
    if typed.is_empty() {
        return Ok(now);
    }
    let problem = |what: Message| {
        let accepted = message!("console.accepted.moment");
        let bad =
            message!("console.form.bad", field = label, value = typed, problem = what, accepted = accepted);
        let says = visitor.refuse(bad);
        visitor.note_wrong(Wrong::of("at", label, &says));
        says
    };
    let not_taken = |id: &'static str| problem(Message::new(id));
    let on = |moment: jiff::civil::DateTime| {
        yard::calendar::by_the_clock(moment, &visitor.app.zone)
            .map_err(|why| problem(message::Tell::message(&why)))
    };
    // In UTC, for the hour that comes twice in autumn.
    if let Ok(at) = typed.parse::<Timestamp>() {
        return match at {
            at if at > now => Err(not_taken("console.time.to-come")),
            at if at.to_zoned_datetime(visitor.app.zone.clone()).date().year() < 2000 => {
                Err(not_taken("console.time.before-2000"))
            }
            at => Ok(at),
        };
    }
    let day_and_time = typed.replace('T', " ");
    if let Ok(moment) = jiff::civil::DateTime::strptime("%Y-%m-%d %H:%M", &day_and_time) {
        let at = on(moment)?;
        return if at <= now { Ok(at) } else { Err(not_taken("console.time.to-come")) };
    }
    let time = time_of_day(typed).ok_or_else(|| not_taken("console.time.not-of-day"))?;
    let today = now.to_zoned_datetime(visitor.app.zone.clone()).date();
    let at = on(today.to_datetime(time))?;
    if at <= now {
        return Ok(at);
    }
    let yesterday = today.yesterday().map_err(|_| not_taken("console.time.not-here"))?;
    on(yesterday.to_datetime(time))
}

/// A time of day as people write it: `17:40`, `5:40 PM`, `5:40pm`.
fn time_of_day(typed: &str) -> Option<jiff::civil::Time> {
    let typed = typed.replace(['\u{a0}', '\u{202f}', ' '], "").to_uppercase();
    ["%H:%M", "%I:%M%p", "%I%p"].into_iter().find_map(|form| jiff::civil::Time::strptime(form, &typed).ok())
}

#[cfg(test)]
mod tests {
    use super::time_of_day;

    #[test]
    fn a_time_of_day_is_read_as_it_is_shown() {
        let read = |typed: &str| time_of_day(typed).map(|time| (time.hour(), time.minute()));
        assert_eq!(read("17:40"), Some((17, 40)));
        assert_eq!(read("5:40\u{a0}PM"), Some((17, 40)));
        assert_eq!(read("5:40pm"), Some((17, 40)));
        assert_eq!(read("12:05 am"), Some((0, 5)));
        assert_eq!(read("7 AM"), Some((7, 0)));
        assert_eq!(read("13:00 PM"), None);
        assert_eq!(read("noon"), None);
    }
}
