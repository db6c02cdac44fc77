//! The append-only ledger on an embedded database
