//! Alerts that stand, who has been told and who has seen them.

use jiff::{SignedDuration, Timestamp};
use rusqlite::{TransactionBehavior, params};

use super::PeopleFile;
use super::rows::{all, at, maybe_at};
use crate::StoreError;

/// An alert that stands, and what is known of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AlertRow {
    /// What it is of, such as `freeze:2`.
    pub key: String,
    /// Since when.
    pub since: Timestamp,
    /// When word of it went out last, by each way.
    pub told: Vec<(String, Timestamp)>,
    /// When somebody said to have seen it.
    pub seen_at: Option<Timestamp>,
    /// Who.
    pub seen_by: Option<String>,
    /// Since when it does not stand any more; it is let go of once that has lasted.
    pub gone_at: Option<Timestamp>,
}

impl AlertRow {
    /// When word of it went out last by a way.
    pub fn told_by(&self, way: &str) -> Option<Timestamp> {
        self.told.iter().find(|(known, _)| known == way).map(|(_, at)| *at)
    }

    /// When word of it went out last, by whatever way.
    pub fn told_at(&self) -> Option<Timestamp> {
        self.told.iter().map(|(_, at)| *at).max()
    }
}

/// An alert as it stands now.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// What it is of.
    pub key: String,
    /// How bad it is, more being worse, in the unit of its kind.
    pub grade: f64,
    /// Worse by so much than when somebody saw it, it is told again.
    pub step: f64,
}

impl PeopleFile {
    /// The alerts that stand.
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

    /// Keeps these alerts: new ones rise; those gone are let go of once they have been gone for `hold_off`, so that
    /// what comes and goes is one alert; those that have become worse by their step since somebody saw them are as not
    /// seen.
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

    /// Remembers that word of alerts went out by a way.
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

    /// Remembers who has seen an alert; false when there is none such.
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
