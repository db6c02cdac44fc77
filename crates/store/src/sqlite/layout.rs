//! Tables of the ledger.

/// Marks the file as ours: "brin" in ASCII.
pub(super) const APPLICATION_ID: i64 = 0x6272_696e;

/// Steps from one layout to the next, forward only, never edited once released.
pub(super) const MIGRATIONS: &[&str] = &[
    // 1: the ledger.
    "create table event (
        seq integer primary key,
        id text not null unique,
        kind text not null,
        version integer not null,
        occurred_at text not null,
        recorded_at text not null,
        author text not null,
        device text not null,
        body text not null,
        previous blob not null,
        hash blob not null
     ) strict;
     create trigger event_is_never_changed before update on event
        begin select raise(abort, 'the ledger is append-only'); end;
     create trigger event_is_never_deleted before delete on event
        begin select raise(abort, 'the ledger is append-only'); end;",
];
