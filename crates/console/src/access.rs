//! Who asks, and what they may do, worked out once a request. The table in `routes.rs` says which act each route is; no
//! request that is not allowed reaches a handler.
//!
//! Where nobody is enrolled, a visitor at the machine itself may do everything and one from elsewhere may look: that is
//! the demo, and a console before its first supervisor is made. After that, only who signed in or sits at an enrolled
//! device sees anything.

use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;

use axum::extract::{ConnectInfo, Request, State};
use axum::http::request::Parts;
use axum::http::{HeaderMap, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};
use cookie::{Cookie, SameSite};
use jiff::Timestamp;
use message::{Tell, message};
use percent_encoding::{AsciiSet, NON_ALPHANUMERIC, utf8_percent_encode};

use crate::people::Who;
use crate::plain_refusal::refuse_plainly;
use crate::state::App;
use crate::ways::Ways;
pub use site::people::Role;

/// Largest form, bytes: a form here is a handful of short fields.
pub(crate) const LARGEST_FORM: usize = 64 * 1024;

/// An act that a route performs, and that a role allows or not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Act {
    /// Sign in, or see pages that hold nothing of the yard.
    Enter,
    /// See the pages.
    View,
    /// Record an event.
    Record,
    /// Void an event.
    TakeBack,
    /// Change how this device shows things.
    SetDevice,
    /// Drive the practice plant.
    Train,
    /// Close a month's books.
    Close,
    /// Decide on an entry that waits.
    Settle,
    /// Add and remove people and devices.
    Manage,
}

impl Act {
    /// Every act, in the order of declaration.
    pub const ALL: [Act; 9] = [
        Act::Enter,
        Act::View,
        Act::Record,
        Act::TakeBack,
        Act::SetDevice,
        Act::Train,
        Act::Close,
        Act::Settle,
        Act::Manage,
    ];

    /// Whether it is a person's own act, signed with a PIN on a shared device.
    pub(crate) fn is_signed(self) -> bool {
        !matches!(self, Act::Enter | Act::View | Act::SetDevice)
    }
}

/// The role does not allow the act.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Refused;

/// The role of a visitor by where the request comes from, while nobody is enrolled.
pub fn role_at(peer: IpAddr) -> Role {
    if peer.to_canonical().is_loopback() { Role::Supervisor } else { Role::Viewer }
}

/// Whether a role may do an act.
///
/// # Errors
/// [`Refused`] when the role may not.
pub fn authorise(role: Role, act: Act) -> Result<(), Refused> {
    let least = match act {
        Act::Enter | Act::View | Act::SetDevice => Role::Viewer,
        Act::Record | Act::TakeBack => Role::Operator,
        Act::Train => Role::Trainer,
        Act::Close | Act::Settle | Act::Manage => Role::Supervisor,
    };
    if role >= least { Ok(()) } else { Err(Refused) }
}

/// Bytes of an address that need not be told apart within a query.
const PLAIN: &AsciiSet = &NON_ALPHANUMERIC.remove(b'-').remove(b'.').remove(b'_').remove(b'/');
/// Headers that show a request came through a proxy.
const FORWARDING: [&str; 4] = ["forwarded", "x-forwarded-for", "x-real-ip", "via"];
/// What a console keeps on a device, as a cookie that only it reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kept {
    /// Token of a session that was begun with a password.
    Session,
    /// Token of an enrolled device.
    Device,
    /// Token that says whose PIN is valid for the shift.
    Shift,
    /// Name that the last entry was made under.
    Name,
    /// Unit system of its pages.
    Units,
    /// Language of its pages.
    Language,
    /// Whether its clock goes to twelve or to twenty-four.
    Clock,
    /// Whether its pages show large number keys, or its own come up.
    Keys,
}

impl Kept {
    /// Its name: over https one that no other host and no page below a path can set (RFC 6265bis, `__Host-`); and one
    /// of this yard's: another yard's console on the same host, whatever its port, has others.
    fn name(self, app: &App) -> String {
        let host = if app.is_secure { "__Host-" } else { "" };
        let what = match self {
            Kept::Session => "session",
            Kept::Device => "device",
            Kept::Shift => "shift",
            Kept::Name => "name",
            // A wish is no secret, and holds for the practice plant's pages too.
            Kept::Units => return format!("{host}units"),
            Kept::Language => return format!("{host}language"),
            Kept::Clock => return format!("{host}clock"),
            Kept::Keys => return format!("{host}keys"),
        };
        format!("{host}brine-{what}-{}", app.cookie_mark)
    }

    /// What is kept, as a request shows it.
    pub(crate) fn read<'h>(self, app: &App, headers: &'h HeaderMap) -> Option<&'h str> {
        kept_as(headers, &self.name(app))
    }

    /// The header that keeps a value for so many seconds; none ends it. Who follows a link here is still
    /// known; what only forms need is sent with nothing that comes from elsewhere.
    pub(crate) fn put(self, app: &App, value: &str, seconds: i64) -> String {
        let is_known_after_a_link = matches!(self, Kept::Session | Kept::Device);
        // Such a name takes the whole host.
        let path = if app.is_secure || app.base_path.is_empty() { "/" } else { &app.base_path };
        Cookie::build((self.name(app), value))
            .path(path)
            .max_age(cookie::time::Duration::seconds(seconds))
            .http_only(true)
            .same_site(if is_known_after_a_link { SameSite::Lax } else { SameSite::Strict })
            .secure(app.is_secure)
            .to_string()
    }
}

/// Who asks, and what that allows.
#[derive(Debug, Clone)]
pub(crate) struct Caller {
    pub(crate) role: Role,
    pub(crate) who: Who,
    /// Signature on this act; none when it was not signed with a PIN.
    pub(crate) signed: Option<Signed>,
}

/// A signature on one act.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Signed {
    /// When the act was done, where that was earlier: on a device without network.
    pub(crate) at: Option<Timestamp>,
}

impl Caller {
    /// The one who asks by these parts of a request: as it was worked out once, else by where it comes from.
    pub(crate) fn of(parts: &Parts, app: &App) -> Self {
        parts.extensions.get::<Self>().cloned().unwrap_or_else(|| {
            let peer = parts.extensions.get::<ConnectInfo<SocketAddr>>().map(|ConnectInfo(peer)| peer.ip());
            Self::by_place(app, peer, &parts.headers)
        })
    }

    /// By where the request comes from alone.
    pub(crate) fn by_place(app: &App, peer: Option<IpAddr>, headers: &HeaderMap) -> Self {
        // Behind a proxy everybody seems to be at this machine: who came through one may only look. Without a known
        // peer, as in a test that names none, too.
        let came_through = app.is_behind_proxy || FORWARDING.iter().any(|name| headers.contains_key(*name));
        let role = peer.filter(|_| !came_through).map_or(Role::Viewer, role_at);
        Self { role, who: Who::Nobody, signed: None }
    }

    /// What the ledger calls the device.
    pub(crate) fn device(&self) -> &str {
        match &self.who {
            Who::Device(device) => &device.name,
            Who::Person(_) | Who::Nobody => "console",
        }
    }
}

/// The value of a request's cookie.
fn kept_as<'h>(headers: &'h HeaderMap, name: &str) -> Option<&'h str> {
    headers
        .get_all(header::COOKIE)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(Cookie::split_parse)
        .filter_map(Result::ok)
        .find(|cookie| cookie.name() == name)
        .and_then(|cookie| cookie.value_raw())
}

/// The path of a request below the base path.
pub(crate) fn path_below<'p>(app: &App, path: &'p str) -> &'p str {
    match path.strip_prefix(app.base_path.as_str()) {
        Some("") => "/",
        Some(rest) => rest,
        None => path,
    }
}

/// Works out who asks, and refuses an unknown visitor where one must be known.
pub(crate) async fn identify(State(app): State<Arc<App>>, mut request: Request, next: Next) -> Response {
    // The yard's own console, which handed a request of the practice plant over, has done this.
    if request.extensions().get::<Caller>().is_some() {
        return next.run(request).await;
    }
    let peer = request.extensions().get::<ConnectInfo<SocketAddr>>().map(|ConnectInfo(peer)| peer.ip());
    let caller = match caller(&app, request.headers(), peer) {
        Ok(caller) => caller,
        Err(error) => {
            let status = StatusCode::INTERNAL_SERVER_ERROR;
            return refuse_plainly(request.headers(), status, &error.message());
        }
    };
    let path = path_below(&app, request.uri().path());
    let act = request.extensions().get::<Ways>().and_then(|ways| (ways.act_of)(request.method(), path));
    let is_open = act == Some(Act::Enter);
    if let (Some(way_in), false) = (caller.1, is_open) {
        let to = app.url(way_in);
        if request.method() != Method::GET {
            let refusal = refuse_plainly(
                request.headers(),
                StatusCode::UNAUTHORIZED,
                &message!("console.refused.sign-in"),
            );
            return ([(header::LOCATION, to)], refusal).into_response();
        }
        let asked = request.uri().path_and_query().map_or("/", |path| path.as_str());
        let back = utf8_percent_encode(asked, PLAIN);
        return Redirect::to(&format!("{to}?back={back}")).into_response();
    }
    request.extensions_mut().insert(caller.0);
    next.run(request).await
}

/// Who asks, or the page to go to first when that is not enough.
fn caller(
    app: &App,
    headers: &HeaderMap,
    peer: Option<IpAddr>,
) -> Result<(Caller, Option<&'static str>), store::StoreError> {
    let by_place = Caller::by_place(app, peer, headers);
    let Some(people) = &app.people else { return Ok((by_place, None)) };
    if !people.is_set_up()? {
        // From elsewhere, the first supervisor is made with the code that the machine prints.
        let way_in = (by_place.role < Role::Supervisor).then_some("/first");
        return Ok((by_place, way_in));
    }
    let now = app.clock.now();
    let who = people.who(Kept::Session.read(app, headers), Kept::Device.read(app, headers), now)?;
    let (role, way_in) = match &who {
        Who::Person(person) => (person.role, None),
        // Every act of a shared device is signed by a person.
        Who::Device(_) => (Role::Viewer, None),
        Who::Nobody => (Role::Viewer, Some("/sign-in")),
    };
    Ok((Caller { role, who, signed: None }, way_in))
}
