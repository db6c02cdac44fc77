//! Turns at what is dear: hashing a secret takes 19 MiB and a good part of a second, so that two are hashed at a time,
//! few wait, and the others are told to come again. One that floods cannot take all the places.

use std::collections::HashMap;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

/// Secrets hashed at a time.
const AT_A_TIME: usize = 2;
/// Most that wait for their turn.
const MOST_WAITING: usize = 16;
/// Most of them from one place.
const MOST_OF_ONE: usize = 4;

/// Who has a turn and who waits.
#[derive(Debug, Default)]
pub(crate) struct Turns {
    state: Mutex<State>,
    freed: Condvar,
}

#[derive(Debug, Default)]
struct State {
    running: usize,
    waiting: HashMap<String, usize>,
}

/// A turn, until it is dropped.
#[derive(Debug)]
pub(crate) struct Turn<'t>(&'t Turns);

impl Turns {
    /// Waits for a turn; none where too many wait already.
    pub(crate) fn take(&self, from: &str) -> Option<Turn<'_>> {
        let mut state = self.state();
        if state.running >= AT_A_TIME {
            let all: usize = state.waiting.values().sum();
            let own = state.waiting.entry(from.to_owned()).or_default();
            if all >= MOST_WAITING || *own >= MOST_OF_ONE {
                return None;
            }
            *own += 1;
            while state.running >= AT_A_TIME {
                state = self.freed.wait(state).unwrap_or_else(PoisonError::into_inner);
            }
            if let Some(own) = state.waiting.get_mut(from) {
                *own -= 1;
            }
            state.waiting.retain(|_, own| *own > 0);
        }
        state.running += 1;
        Some(Turn(self))
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Drop for Turn<'_> {
    fn drop(&mut self) {
        self.0.state().running -= 1;
        self.0.freed.notify_one();
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::time::Duration;

    use super::{AT_A_TIME, MOST_OF_ONE, Turns};

    /// So many at once from places; how many had a turn, and the most at a time.
    fn flood(places: usize, each: usize) -> (usize, usize) {
        let turns = Arc::new(Turns::default());
        let (now, most, had) =
            (Arc::new(AtomicUsize::new(0)), Arc::new(AtomicUsize::new(0)), Arc::new(AtomicUsize::new(0)));
        let threads: Vec<_> = (0..places * each)
            .map(|n| {
                let (turns, now, most, had) =
                    (Arc::clone(&turns), Arc::clone(&now), Arc::clone(&most), Arc::clone(&had));
                std::thread::spawn(move || {
                    let Some(_turn) = turns.take(&format!("place {}", n % places)) else { return };
                    let running = now.fetch_add(1, Ordering::SeqCst) + 1;
                    most.fetch_max(running, Ordering::SeqCst);
                    std::thread::sleep(Duration::from_millis(20));
                    now.fetch_sub(1, Ordering::SeqCst);
                    had.fetch_add(1, Ordering::SeqCst);
                })
            })
            .collect();
        for thread in threads {
            let _ = thread.join();
        }
        (had.load(Ordering::SeqCst), most.load(Ordering::SeqCst))
    }

    #[test]
    fn two_at_a_time_few_wait_and_nobody_takes_all_places() {
        let (had, most) = flood(1, 150);
        assert!(most <= AT_A_TIME && had <= 150, "{had} {most}");
        let (had, most) = flood(50, 2);
        assert!(most <= AT_A_TIME && had >= AT_A_TIME + MOST_OF_ONE, "{had} {most}");
        // All is given back.
        let turns = Turns::default();
        let first = turns.take("a");
        drop(first);
        assert!(turns.take("a").is_some() && turns.state().waiting.is_empty());
    }
}
