//! The fold of the ledger, kept up to date, and the ledger as a whole.

use std::sync::Arc;
use std::time::{Duration, Instant};

use accounts::WholeLedger;
use event::Recorded;
use store::StoreError;
use yard::stock::Books;

use crate::App;
use crate::state::hold;

/// Level sensors are looked at no more often: a tank takes minutes to change.
const LEVELS_EVERY: Duration = Duration::from_secs(10);

/// The whole ledger is held for the next who asks for this long.
const WHOLE_KEPT: Duration = Duration::from_secs(300);

impl App {
    /// The fold, up to date.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn books(&self) -> Result<Arc<Books>, StoreError> {
        Ok(self.with_levels(self.books_of_ledger()?))
    }

    /// The fold of the ledger alone, whatever sensors show.
    pub(super) fn books_of_ledger(&self) -> Result<Arc<Books>, StoreError> {
        self.current_books().inspect_err(|error| self.note_damage(error))
    }

    /// What an entry is worked out from: the ledger alone, so that every way in comes to the same; and for one that is
    /// recorded already, the ledger before it, so that what is sent twice is the same entry twice.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub(crate) fn books_for(&self, id: event::EventId) -> Result<Arc<Books>, StoreError> {
        let Some(seq) = self.ledger.place_of(id)? else { return self.books_of_ledger() };
        let mut events = self.ledger.events_after(0)?;
        events.retain(|recorded| recorded.seq < seq);
        Ok(Arc::new(Books::fold(&self.yard, &yard::clock::as_of(events, self.clock.now()).0)))
    }

    pub(super) fn current_books(&self) -> Result<Arc<Books>, StoreError> {
        let mut held = hold(&self.books);
        let head = self.ledger.head()?;
        let current = match held.take() {
            Some(books) if books.last_seq == head.seq => books,
            Some(books) => {
                let mut books = Arc::unwrap_or_clone(books);
                let news = self.ledger.events_after(books.last_seq)?;
                let now = self.clock.now();
                // Rows that lay ahead may be out of date by these, or not ahead any more.
                let is_sound = self.ahead().is_empty()
                    && news.iter().all(|recorded| !yard::clock::is_ahead(recorded, now));
                if is_sound && news.iter().all(|recorded| books.try_append(&self.yard, recorded)) {
                    Arc::new(books)
                } else {
                    self.fold()?
                }
            }
            None => self.fold()?,
        };
        *held = Some(Arc::clone(&current));
        Ok(current)
    }

    /// The books with what level sensors show of the tanks beside the ledger's evidence. Looked at anew once a while:
    /// each look costs a copy of the books.
    pub(super) fn with_levels(&self, books: Arc<Books>) -> Arc<Books> {
        let Some(following) = &self.following else { return books };
        if self.yard.points.iter().all(|point| point.tank.is_none()) {
            return books;
        }
        let mut held = hold(&self.levelled);
        if let Some((read_at, known)) = &*held
            && read_at.elapsed() < LEVELS_EVERY
            && known.last_seq == books.last_seq
        {
            return Arc::clone(known);
        }
        let levels = following.levels(&self.yard);
        let levelled = Arc::new(books.with_levels(&self.yard, &levels));
        *held = Some((Instant::now(), Arc::clone(&levelled)));
        levelled
    }

    /// Every row, those that lie ahead of now where they can have happened.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn events(&self) -> Result<Vec<Recorded>, StoreError> {
        let (events, ahead) = yard::clock::as_of(self.ledger.events_after(0)?, self.clock.now());
        *hold(&self.ahead) = ahead;
        Ok(events)
    }

    /// Rows that lie ahead of now, as far as they were read.
    pub(crate) fn ahead(&self) -> Vec<u64> {
        hold(&self.ahead).clone()
    }

    /// The whole ledger, read through once for all who ask until a row is added. Takes seconds on a large one, and is
    /// let go when nobody asks for a while.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn whole_ledger(&self) -> Result<Arc<WholeLedger>, StoreError> {
        let mut held = hold(&self.whole);
        let end = self.ledger.head()?.seq;
        if let Some((at, asked, whole)) = held.as_mut()
            && *at == end
        {
            *asked = Instant::now();
            return Ok(Arc::clone(whole));
        }
        // The old one goes first: two are not held at once.
        *held = None;
        let events = self.events()?;
        let holds_all = events.len() as u64 == end;
        let whole = Arc::new(WholeLedger::read(&self.yard, events));
        // Rows that lie ahead of now are read again until they do not.
        if holds_all && self.ahead().is_empty() {
            *held = Some((end, Instant::now(), Arc::clone(&whole)));
        }
        Ok(whole)
    }

    /// Lets go of the whole ledger when nobody asked for a while.
    pub(crate) fn let_go(&self) {
        let mut held = hold(&self.whole);
        if held.as_ref().is_some_and(|(_, asked, _)| asked.elapsed() > WHOLE_KEPT) {
            *held = None;
        }
    }

    pub(super) fn fold(&self) -> Result<Arc<Books>, StoreError> {
        Ok(Arc::new(Books::fold(&self.yard, &self.events()?)))
    }
}
