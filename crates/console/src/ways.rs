//! What the parts below the routes may ask of them, without knowing them: the routes put it to every request.

use std::sync::Arc;

use axum::Router;
use axum::http::Method;

use crate::access::Act;
use crate::state::App;

/// The routes, as a request brings them along.
#[derive(Clone, Copy)]
pub(crate) struct Ways {
    /// What a request of a method and path asks for; none where there is no such route, or one that decides by itself.
    pub(crate) act_of: fn(&Method, &str) -> Option<Act>,
    /// The console of another app: the practice plant's, or the same for an entry that a device kept.
    pub(crate) router: fn(Arc<App>) -> Router,
}
