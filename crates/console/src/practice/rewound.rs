//! Telemetry of the practice plant: in memory, and it can be gone back in.

use std::sync::{Arc, Mutex};

use jiff::Timestamp;
use store::StoreError;
use store::telemetry::{Channel, Column, Sample, Telemetry, TelemetryFile};

use crate::practice::hold;

/// What the practice plant showed, in memory; it can be gone back in, which a yard's own cannot.
pub(super) struct Rewound {
    kept: Mutex<Arc<TelemetryFile>>,
    names: Mutex<Vec<String>>,
}

impl Rewound {
    pub(super) fn new() -> Result<Self, StoreError> {
        let kept = Mutex::new(Arc::new(TelemetryFile::in_memory()?));
        Ok(Self { kept, names: Mutex::new(Vec::new()) })
    }

    fn now(&self) -> Arc<TelemetryFile> {
        Arc::clone(&hold(&self.kept))
    }

    /// Keeps what was shown before a time only.
    pub(super) fn forget_from(&self, at: Timestamp) -> Result<(), StoreError> {
        let mut kept = hold(&self.kept);
        let fresh = TelemetryFile::in_memory()?;
        for name in hold(&self.names).iter() {
            // Asked for in the same order, a channel has the same number.
            let channel = fresh.channel(name)?;
            fresh.take(&kept.samples(channel, Timestamp::UNIX_EPOCH, at)?);
        }
        fresh.save()?;
        *kept = Arc::new(fresh);
        Ok(())
    }
}

impl Telemetry for Rewound {
    fn damage(&self) -> Option<message::Message> {
        self.now().damage()
    }

    fn copy(&self, to: &std::path::Path) -> Result<(), StoreError> {
        self.now().copy(to)
    }

    fn channel(&self, name: &str) -> Result<Channel, StoreError> {
        let channel = self.now().channel(name)?;
        let mut names = hold(&self.names);
        if !names.iter().any(|known| known == name) {
            names.push(name.to_string());
        }
        Ok(channel)
    }

    fn take(&self, samples: &[Sample]) {
        self.now().take(samples);
    }

    fn save(&self) -> Result<(), StoreError> {
        self.now().save()
    }

    fn window(
        &self,
        channel: Channel,
        from: Timestamp,
        to: Timestamp,
        columns: usize,
    ) -> Result<Vec<Column>, StoreError> {
        self.now().window(channel, from, to, columns)
    }

    fn samples(&self, channel: Channel, from: Timestamp, to: Timestamp) -> Result<Vec<Sample>, StoreError> {
        self.now().samples(channel, from, to)
    }

    fn forget_before(&self, before: Timestamp) -> Result<u64, StoreError> {
        self.now().forget_before(before)
    }
}
