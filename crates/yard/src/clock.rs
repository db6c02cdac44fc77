//! Rows that lie ahead of now: made while a machine's clock was wrong. They stay in the ledger as they are; what is
//! worked out from them takes them as having happened when the ledger took them, by its other rows, so that a dip of
//! next month hides no dip of today.

use jiff::{SignedDuration, Timestamp};

use crate::event::Recorded;

/// Two clocks of a yard may differ by so much.
pub const TOLERANCE: SignedDuration = SignedDuration::from_secs(30);

/// Whether a row lies ahead of now.
pub fn is_ahead(recorded: &Recorded, now: Timestamp) -> bool {
    let limit = now + TOLERANCE;
    limit < recorded.recorded_at || limit < recorded.event.occurred_at
}

/// The rows with those that lie ahead of now put where they can have happened: no later than the next row that does
/// not, and no later than now. With them their numbers. When they were recorded stays as it stands.
pub fn as_of(mut events: Vec<Recorded>, now: Timestamp) -> (Vec<Recorded>, Vec<u64>) {
    let mut ahead = Vec::new();
    let mut latest = now;
    for recorded in events.iter_mut().rev() {
        if is_ahead(recorded, now) {
            ahead.push(recorded.seq);
            recorded.event.occurred_at = recorded.event.occurred_at.min(latest);
        } else {
            latest = recorded.recorded_at;
        }
    }
    ahead.reverse();
    (events, ahead)
}

#[cfg(test)]
mod tests {
    use super::as_of;
    use crate::event::{Body, Dip, Event, EventId, Recorded};
    use jiff::{SignedDuration, Timestamp};
    use uuid::Uuid;

    #[test]
    fn a_dip_of_next_month_hides_no_dip_of_today() {
        let now: Timestamp = "2027-01-14T12:00:00Z".parse().unwrap_or(Timestamp::UNIX_EPOCH);
        let row = |seq: u64, hours: i64| {
            let at = now + SignedDuration::from_hours(hours);
            let body = Body::Dip(Dip { tank: "1".into(), depth_m: seq as f64, temp_c: None });
            let id = EventId(Uuid::from_u128(u128::from(seq)));
            let event = Event { id, occurred_at: at, author: "Pat".into(), device: "test".into(), body };
            Recorded { seq, recorded_at: at, event }
        };
        // The second was made with the clock twenty days ahead.
        let (rows, ahead) = as_of(vec![row(1, -9), row(2, 480), row(3, -5), row(4, -1)], now);
        assert_eq!(ahead, [2]);
        let order: Vec<u64> = {
            let mut sorted: Vec<&Recorded> = rows.iter().collect();
            sorted.sort_by_key(|row| (row.event.occurred_at, row.seq));
            sorted.iter().map(|row| row.seq).collect()
        };
        assert_eq!(order, [1, 2, 3, 4]);
        assert_eq!(rows[1].event.occurred_at, rows[2].recorded_at);
        // The last of all is of now at the latest; a sound ledger is as it was.
        let (rows, ahead) = as_of(vec![row(1, -9), row(2, 480)], now);
        assert!(ahead == [2] && rows[1].event.occurred_at == now);
        let sound = vec![row(1, -9), row(2, -3)];
        assert_eq!(as_of(sound.clone(), now), (sound, Vec::new()));
    }
}
