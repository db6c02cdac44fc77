//! What the plant's controllers and sensors say, over Modbus TCP and MQTT.
//!
//! [`follow`] keeps a machine's points in [`live`] fresh for as long as it runs: it connects, reads or listens, and
//! comes back by itself. **It reads only**: the protocols' clients are wrapped in private types that have no call to
//! write, clippy bans theirs (`clippy.toml`), and `tests/modbus.rs` and `tests/mqtt.rs` look at what went over the
//! wire.
//! [`practice`] is the other end: the practice plant's server, which refuses to be written to.

pub mod decode;
pub mod live;
mod modbus;
mod mqtt;
pub mod post;
pub mod practice;

use std::sync::Arc;
use std::time::Duration;

use message::{Message, message};
use site::points::Protocol;

pub use live::{Live, MachineState, Quality, Shown};

/// Time limits for connections and answers.
#[derive(Debug, Clone, Copy)]
pub struct Patience {
    /// Longest wait for a connection or an answer.
    pub answer: Duration,
    /// Wait before the first new try; each further one is twice as long.
    pub first_wait: Duration,
    /// Longest wait before a new try.
    pub longest_wait: Duration,
}

impl Default for Patience {
    fn default() -> Self {
        Self {
            answer: Duration::from_secs(3),
            first_wait: Duration::from_millis(500),
            longest_wait: Duration::from_secs(8),
        }
    }
}

/// Follows one machine, by its place, until it is dropped.
pub async fn follow(live: Arc<Live>, machine: usize, patience: Patience) {
    let Some(protocol) = live.machines().get(machine).map(|one| one.protocol.clone()) else { return };
    let mut wait = Wait::new(patience);
    loop {
        // By itself: should a client's library panic over what a peer sends, the machine is found again all the same.
        let mut tasks = tokio::task::JoinSet::new();
        let follows = Arc::clone(&live);
        match protocol {
            Protocol::Modbus { .. } => {
                tasks.spawn(async move { modbus::follow(&follows, machine, patience).await })
            }
            Protocol::Mqtt { .. } => {
                tasks.spawn(async move { mqtt::follow(&follows, machine, patience).await })
            }
        };
        if matches!(tasks.join_next().await, Some(Ok(()))) {
            return;
        }
        live.lost(machine, message!("link.not_understood"));
        wait.pass().await;
    }
}

/// What the system or a library said, in its own words, on one line.
pub(crate) fn outside(words: impl std::fmt::Display) -> Message {
    message!("link.outside", words = decode::short(&words.to_string()))
}

/// Waits longer after every failure, up to a limit, and never quite as long as another one does.
struct Wait {
    patience: Patience,
    next: Duration,
}

impl Wait {
    fn new(patience: Patience) -> Self {
        Self { patience, next: patience.first_wait }
    }

    fn start_over(&mut self) {
        self.next = self.patience.first_wait;
    }

    async fn pass(&mut self) {
        let nanos = std::time::SystemTime::now()
            .duration_since(std::time::UNIX_EPOCH)
            .map_or(0, |since| since.subsec_nanos());
        let share = 0.75 + 0.5 * f64::from(nanos % 1000) / 1000.0;
        tokio::time::sleep(self.next.mul_f64(share)).await;
        self.next = (self.next * 2).min(self.patience.longest_wait);
    }
}
