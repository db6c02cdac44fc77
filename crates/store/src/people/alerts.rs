//! Active alerts: who was notified and who acknowledged them.

use jiff::{SignedDuration, Timestamp};
use rusqlite::{TransactionBehavior, params};

use super::PeopleFile;
use super::rows::{all, at, maybe_at};
use crate::StoreError;

/// An active alert, or one that has just cleared, and what is known of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AlertRow {
    /// Kind and subject of the alert, such as `freeze:2`.
    pub key: String,
    /// When it first became active. A short clearing does not change it: see [`PeopleFile::keep_alerts`].
    pub since: Timestamp,
    /// When each way of notifying (such as mail) was last used for it.
    pub told: Vec<(String, Timestamp)>,
    /// When someone acknowledged it; none while no one has, or once it has become worse since.
    pub seen_at: Option<Timestamp>,
    /// Name of the person who acknowledged it; none when `seen_at` is none.
    pub seen_by: Option<String>,
    /// When it cleared; none while it is active. The row is deleted once it has stayed cleared for a while.
    pub gone_at: Option<Timestamp>,
}

impl AlertRow {
    /// When the alert last went out by one way.
    pub fn told_by(&self, way: &str) -> Option<Timestamp> {
        self.told.iter().find(|(known, _)| known == way).map(|(_, at)| *at)
    }

    /// When the alert last went out by any way.
    pub fn told_at(&self) -> Option<Timestamp> {
        self.told.iter().map(|(_, at)| *at).max()
    }
}

/// An alert that is active now, as the program has just worked it out.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// Kind and subject of the alert, such as `freeze:2`.
    pub key: String,
    /// How bad it is, in the unit of its kind; more is worse.
    pub grade: f64,
    /// Rise of `grade` since it was acknowledged that makes it count as new again.
    pub step: f64,
}

impl PeopleFile {
    /// Active alerts, and those that have cleared for less than the hold-off, oldest first.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn alerts(&self) -> Result<Vec<AlertRow>, StoreError> {
        self.with(|connection| {
            let words = all(connection, "select * from alert_word", |row| {
                Ok((row.get::<_, String>("key")?, row.get::<_, String>("way")?, at(row, "told_at")?))
            })?;
            all(connection, "select * from alert order by since, key", |row| {
                let key: String = row.get("key")?;
                let of_it = words.iter().filter(|(known, ..)| *known == key);
                Ok(AlertRow {
                    told: of_it.map(|(_, way, at)| (way.clone(), *at)).collect(),
                    key,
                    since: at(row, "since")?,
                    seen_at: maybe_at(row, "seen_at")?,
                    seen_by: row.get("seen_by")?,
                    gone_at: maybe_at(row, "gone_at")?,
                })
            })
        })
    }

    /// Replaces the active alerts with these. An alert that is missing here counts as cleared, and is deleted once it
    /// has stayed so for `hold_off`: one that comes and goes remains one alert. One that has become worse by its step
    /// since it was acknowledged loses its acknowledgment.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn keep_alerts(
        &self,
        standing: &[Standing],
        hold_off: SignedDuration,
        now: Timestamp,
    ) -> Result<(), StoreError> {
        self.with(|connection| {
            let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let before: Vec<(String, Option<Timestamp>)> = all(&transaction, "select * from alert", |row| {
                Ok((row.get("key")?, maybe_at(row, "gone_at")?))
            })?;
            for (key, gone_at) in before.iter().filter(|(key, _)| !standing.iter().any(|one| one.key == *key))
            {
                match gone_at {
                    Some(gone) if hold_off <= now.duration_since(*gone) => {
                        transaction.execute("delete from alert where key = ?1", [key])?;
                    }
                    Some(_) => {}
                    None => {
                        let gone = params![key, now.to_string()];
                        transaction.execute("update alert set gone_at = ?2 where key = ?1", gone)?;
                    }
                }
            }
            for one in standing {
                transaction.execute(
                    "insert into alert (key, since, grade) values (?1, ?2, ?3)
                     on conflict (key) do update set grade = ?3, gone_at = null",
                    params![one.key, now.to_string(), one.grade],
                )?;
                let is_worse = transaction.execute(
                    "update alert set seen_at = null, seen_by = null, seen_grade = null
                     where key = ?1 and seen_at is not null and ?2 >= coalesce(seen_grade, 0) + ?3",
                    params![one.key, one.grade, one.step],
                )?;
                if is_worse == 1 {
                    transaction.execute("delete from alert_word where key = ?1", [&one.key])?;
                }
            }
            transaction.commit()
        })
    }

    /// Saves that alerts went out by a way.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn alerts_told(&self, keys: &[String], way: &str, now: Timestamp) -> Result<(), StoreError> {
        for key in keys {
            self.put(
                "insert into alert_word (key, way, told_at) select key, ?2, ?3 from alert where key = ?1
                 on conflict (key, way) do update set told_at = ?3",
                params![key, way, now.to_string()],
            )?;
        }
        Ok(())
    }

    /// Saves who acknowledged an alert; false when there is no such alert.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn alert_seen(&self, key: &str, by: &str, now: Timestamp) -> Result<bool, StoreError> {
        self.with(|connection| {
            connection
                .prepare_cached(
                    "update alert set seen_at = coalesce(seen_at, ?2), seen_by = coalesce(seen_by, ?3),
                     seen_grade = coalesce(seen_grade, grade) where key = ?1",
                )?
                .execute(params![key, now.to_string(), by])
                .map(|changed| changed == 1)
        })
    }
}
