//! Numbers, words, charts and plans as a person reads them
