//! Tables of the people's file.

/// Marks the file as ours: "brip" in ASCII.
pub(super) const APPLICATION_ID: i64 = 0x6272_6970;

/// Steps from one layout to the next, forward only, never edited once released.
pub(super) const MIGRATIONS: &[&str] = &["create table person (
        id text primary key, name text not null unique collate nocase, role text not null, password text, pin text,
        is_active integer not null, made_at text not null
     ) strict;
     create table device (
        id text primary key, name text not null unique collate nocase, token blob not null unique,
        enrolled_at text not null, enrolled_by text not null, revoked_at text
     ) strict;
     create table session (
        token blob primary key, person text not null references person (id), begun_at text not null,
        seen_at text not null
     ) strict;
     create table code (token blob primary key, kind text not null, by text not null, until text not null) strict;
     create table offline_key (
        id text primary key, person text not null references person (id),
        device text not null references device (id), public blob not null, made_at text not null, until text not null
     ) strict;
     create table held (
        id text primary key, device text, person text, author text not null, path text not null, form text not null,
        counter integer, occurred_at text not null, received_at text not null, why text not null, detail text not null,
        settled_at text, settled_by text, outcome text
     ) strict;
     create table received (
        id text primary key, key text, counter integer, received_at text not null, outcome text not null
     ) strict;
     create unique index received_count on received (key, counter) where key is not null;
     create table alert (
        key text primary key, since text not null, told_at text, seen_at text, seen_by text
     ) strict;
     create table act (at text not null, by text not null, what text not null) strict;
     create trigger act_is_never_changed before update on act begin select raise(abort, 'kept for ever'); end;
     create trigger act_is_never_deleted before delete on act begin select raise(abort, 'kept for ever'); end;",
    "alter table alert add column grade real not null default 0;
     alter table alert add column seen_grade real;
     alter table alert add column gone_at text;",
    // 3: what is remembered of other files.
    "create table remembered (key text primary key, value text not null) strict;
     create table try (place text not null, who text not null, wrong integer not null, last text not null,
        primary key (place, who)) strict;",
    // 4: word of an alert, by each way of its own.
    "create table alert_word (
        key text not null, way text not null, told_at text not null, primary key (key, way)
     ) strict;
     insert into alert_word select key, 'mail', told_at from alert where told_at is not null;
     insert into alert_word select key, 'webhook', told_at from alert where told_at is not null;
     alter table alert drop column told_at;
     create trigger alert_word_goes_with_its_alert after delete on alert
        begin delete from alert_word where key = old.key; end;"];
