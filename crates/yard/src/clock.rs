//! Rows that lie ahead of now: made while a machine's clock was wrong. They stay in the ledger as they are; what is
//! worked out from them takes them as having happened when the ledger took them, by its other rows, so that a dip of
//! next month hides no dip of today.

use std::collections::HashSet;

use jiff::{SignedDuration, Timestamp};

use event::{Body, EventId, Recorded};

/// Two clocks of a yard may differ by so much.
pub const TOLERANCE: SignedDuration = SignedDuration::from_secs(30);

/// Whether a row lies ahead of now.
pub fn is_ahead(recorded: &Recorded, now: Timestamp) -> bool {
    let limit = now + TOLERANCE;
    limit < recorded.recorded_at || limit < recorded.event.occurred_at
}

/// The rows with those that lie ahead of now put where they can have happened: no later than the next row that does
/// not, and no later than now. With them their numbers. When they were recorded stays as it stands.
///
/// A dip or a reading that lies ahead is left out where its tank has a later one that does not: nobody knows when it
/// was true, and it must not stand against what is known.
pub fn as_of(mut events: Vec<Recorded>, now: Timestamp) -> (Vec<Recorded>, Vec<u64>) {
    let mut ahead = Vec::new();
    let mut latest = now;
    let mut out_of_date = HashSet::new();
    let mut known: HashSet<String> = HashSet::new();
    let voided: HashSet<EventId> = events.iter().filter_map(|recorded| recorded.event.body.voids()).collect();
    for recorded in events.iter_mut().rev() {
        let is_ahead = is_ahead(recorded, now);
        let tank = evidence_of(&recorded.event.body).filter(|_| !voided.contains(&recorded.event.id));
        match tank {
            Some(tank) if is_ahead && known.contains(tank) => {
                out_of_date.insert(recorded.seq);
            }
            Some(tank) if !is_ahead => {
                known.insert(tank.to_owned());
            }
            _ => {}
        }
        if is_ahead {
            ahead.push(recorded.seq);
            recorded.event.occurred_at = recorded.event.occurred_at.min(latest);
        } else {
            latest = recorded.recorded_at;
        }
    }
    events.retain(|recorded| !out_of_date.contains(&recorded.seq));
    ahead.reverse();
    (events, ahead)
}

/// The tank that an event says something of without changing it.
fn evidence_of(body: &Body) -> Option<&str> {
    match body {
        Body::Dip(dip) => Some(&dip.tank),
        Body::Reading(reading) => reading.tank.as_deref(),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::as_of;
    use event::{Body, Dip, Event, EventId, Recorded};
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
        // The second was made with the clock twenty days ahead: of another tank, it stays, where it can have happened.
        let elsewhere = |mut row: Recorded| {
            row.event.body = Body::Dip(Dip { tank: "2".into(), depth_m: 1.0, temp_c: None });
            row
        };
        let (rows, ahead) = as_of(vec![row(1, -9), elsewhere(row(2, 480)), row(3, -5), row(4, -1)], now);
        assert_eq!(ahead, [2]);
        let order: Vec<u64> = {
            let mut sorted: Vec<&Recorded> = rows.iter().collect();
            sorted.sort_by_key(|row| (row.event.occurred_at, row.seq));
            sorted.iter().map(|row| row.seq).collect()
        };
        assert_eq!(order, [1, 2, 3, 4]);
        assert_eq!(rows[1].event.occurred_at, rows[2].recorded_at);
        // Of a tank that was dipped since, it says nothing any more; until then it is all there is.
        let (rows, ahead) = as_of(vec![row(1, -9), row(2, 480), row(3, -5)], now);
        let left: Vec<u64> = rows.iter().map(|row| row.seq).collect();
        assert!(ahead == [2] && left == [1, 3], "{left:?}");
        // The last of all is of now at the latest; a sound ledger is as it was.
        let (rows, ahead) = as_of(vec![row(1, -9), row(2, 480)], now);
        assert!(ahead == [2] && rows[1].event.occurred_at == now);
        let sound = vec![row(1, -9), row(2, -3)];
        assert_eq!(as_of(sound.clone(), now), (sound, Vec::new()));
    }
}
