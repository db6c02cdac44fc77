//! Files that never change while the program runs: embedded, named by their content, cached for a year.

use axum::extract::Path;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use sha2::{Digest, Sha256};
use std::sync::OnceLock;

struct Static {
    name: &'static str,
    kind: &'static str,
    bytes: &'static [u8],
}

const CSS: &str = include_str!("../static/console.css");

const STATICS: [Static; 5] = [
    Static { name: "console.css", kind: "text/css; charset=utf-8", bytes: CSS.as_bytes() },
    Static {
        name: "console.js",
        kind: "text/javascript; charset=utf-8",
        bytes: include_bytes!("../static/console.js"),
    },
    Static {
        name: "queue.js",
        kind: "text/javascript; charset=utf-8",
        bytes: include_bytes!("../static/queue.js"),
    },
    Static {
        name: "mark.svg",
        kind: "image/svg+xml; charset=utf-8",
        bytes: include_bytes!("../static/mark.svg"),
    },
    Static { name: "atkinson.woff2", kind: "font/woff2", bytes: include_bytes!("../static/atkinson.woff2") },
];

/// The address part of a file: its name after a short hash of all files, so that a new program is a new address.
pub(crate) fn path(name: &str) -> String {
    format!("/static/{}/{name}", version())
}

pub(crate) fn version() -> &'static str {
    static VERSION: OnceLock<String> = OnceLock::new();
    VERSION.get_or_init(|| {
        let mut hasher = Sha256::new();
        STATICS.iter().for_each(|file| hasher.update(file.bytes));
        hasher.finalize().iter().take(6).map(|byte| format!("{byte:02x}")).collect()
    })
}

/// Serves a file. Anyone may have these: they hold nothing of the yard.
pub(crate) async fn serve(Path((_version, name)): Path<(String, String)>) -> Response {
    let Some(file) = STATICS.iter().find(|file| file.name == name) else {
        return StatusCode::NOT_FOUND.into_response();
    };
    let headers =
        [(header::CONTENT_TYPE, file.kind), (header::CACHE_CONTROL, "public, max-age=31536000, immutable")];
    (headers, file.bytes).into_response()
}
