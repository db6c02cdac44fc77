//! Every route of the console, in one place, with what it asks of the visitor.

use std::sync::Arc;
use std::time::Instant;

use axum::extract::{DefaultBodyLimit, Request, State};
use axum::http::{HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::{self, Next};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{MethodFilter, MethodRouter, any, get, on};
use axum::{Extension, Router};
use message::message;

use crate::access::{Act, Caller, LARGEST_FORM, authorise, identify};
use crate::error::PageError;
use crate::page_frame::Visitor;
use crate::pages;
use crate::plain_refusal::refuse_plainly;
use crate::signing::sign;
use crate::state::App;
use crate::statics;
use crate::ways::Ways;

macro_rules! routes {
    ($($method:ident $path:literal : $act:ident $(in $turn:ident)? => $handler:path;)*) => {
        /// Method, path and act of every route that is authorised; the tests go through all of them.
        pub const AUTHORISED: &[(&str, &str, Act)] = &[$((stringify!($method), $path, Act::$act)),*];

        /// Every route of the table, with who may come in by it.
        fn authorised(app: &Arc<App>) -> Router<Arc<App>> {
            let mut router = Router::new();
            $(
                let route = on(MethodFilter::$method, $handler);
                $(let route = $turn(app, route);)?
                router = router.route($path, permitted(app, Act::$act, route));
            )*
            router
        }
    };
}

// Method, path: act (and that it waits for its turn) => handler. Nothing else says who may do what.
routes! {
    GET "/": View => pages::today::show;
    GET "/storm": View => pages::storm::show;
    GET "/tanks": View => pages::tanks::show;
    POST "/tanks/dip": Record => pages::tanks::dip;
    POST "/tanks/set-book": Record => pages::tanks::set_book;
    GET "/run": View => pages::run::show;
    POST "/run": Record => pages::run::answer;
    POST "/run/end": Record => pages::run::end;
    GET "/run/sheet": View => pages::run::sheet;
    GET "/run/batch": View => pages::run::book::show;
    POST "/run/batch": Record => pages::run::book::record;
    GET "/bench": View => pages::bench::sample::show;
    POST "/bench": Record => pages::bench::sample::record;
    GET "/bench/trim": View => pages::bench::trim::show;
    POST "/bench/trim": Record => pages::bench::trim::record_panel_check;
    POST "/bench/trim/set": Record => pages::bench::trim::set;
    GET "/bench/instruments": View => pages::bench::instruments::show;
    POST "/bench/instruments/check": Record => pages::bench::instruments::check;
    POST "/bench/due": Record => pages::bench::instruments::seen;
    POST "/bench/change": Record => pages::bench::instruments::change;
    GET "/bench/lab": View => pages::bench::lab::show;
    POST "/bench/lab": Record => pages::bench::lab::record;
    GET "/bench/record": View => pages::bench::record::show;
    GET "/put-right": View => pages::put_right::show;
    POST "/put-right": Record => pages::put_right::record;
    GET "/put-right/blend": View => pages::blend::show;
    GET "/jar-test": View => pages::jar_test::show;
    POST "/jar-test": Record => pages::jar_test::record;
    GET "/load": View => pages::load::show;
    POST "/load": Record => pages::load::record;
    GET "/load/return": View => pages::load::show_return;
    POST "/load/return": Record => pages::load::record_return;
    GET "/load/issue": View => pages::load::show_issue;
    POST "/load/issue": Record => pages::load::record_issue;
    GET "/load/applied": View => pages::load::show_applied;
    POST "/load/applied": Record => pages::load::record_applied;
    POST "/load/import": Record in turn => pages::load::import_applied;
    GET "/load/other": View => pages::load::show_other;
    POST "/load/other": Record => pages::load::record_other;
    GET "/ticket": View => pages::load::ticket::show;
    GET "/books": View in turn => pages::books::season::season;
    GET "/books/file": View in turn => pages::books::season::file;
    GET "/books/storms": View in turn => pages::books::season::storms;
    POST "/books/storms": Record in turn => pages::books::season::name_storm;
    GET "/books/close": View in turn => pages::books::close::show;
    POST "/books/close": Close in turn => pages::books::close::close;
    GET "/books/lots": View in turn => pages::books::lots::show;
    GET "/books/bills": View in turn => pages::books::bills::show;
    GET "/night": View => pages::books::night::show;
    GET "/roads": View in turn => pages::roads::show;
    POST "/roads": Record in turn => pages::roads::record;
    GET "/salt": View in turn => pages::salt::show;
    POST "/salt": Record in turn => pages::salt::deliver;
    POST "/salt/buckets": Record in turn => pages::salt::count;
    POST "/salt/survey": Record in turn => pages::salt::survey;
    GET "/meters": View in turn => pages::meters::show;
    POST "/meters": Record in turn => pages::meters::total;
    POST "/meters/check": Record in turn => pages::meters::check;
    GET "/due": View => pages::due::show;
    POST "/due": Record => pages::due::done;
    GET "/sprayers": View in turn => pages::sprayers::show;
    POST "/sprayers": Record in turn => pages::sprayers::caught;
    POST "/sprayers/spreader": Record in turn => pages::sprayers::dropped;
    GET "/sprayers/card": View in turn => pages::sprayers::card;
    GET "/ledger": View => pages::ledger::show;
    POST "/ledger/note": Record => pages::ledger::note;
    POST "/ledger/void": TakeBack => pages::ledger::void;
    POST "/units": SetDevice => pages::device::units;
    POST "/language": SetDevice => pages::device::language;
    POST "/clock": SetDevice => pages::device::clock;
    POST "/keys": SetDevice => pages::device::keys;
    GET "/setup": View => pages::setup::show;
    GET "/look": View => pages::style::show;
    GET "/live": View => pages::live::show;
    GET "/plant": View => pages::practice::show;
    POST "/plant": Record => pages::practice::act;
    GET "/trainer": View => pages::trainer::show;
    POST "/trainer/begin": Train => pages::trainer::begin;
    POST "/trainer/drive": Train => pages::trainer::drive;
    GET "/trainer/debrief": View => pages::trainer::debrief::debrief;
    GET "/first": Enter => pages::sign_in::show_first;
    POST "/first": Enter => pages::sign_in::make_first;
    GET "/sign-in": Enter => pages::sign_in::show_sign_in;
    POST "/sign-in": Enter => pages::sign_in::sign_in;
    POST "/sign-out": Enter => pages::sign_in::sign_out;
    POST "/sign-over": Enter => crate::signing::over;
    GET "/password": View => pages::sign_in::show_password;
    POST "/password": View => pages::sign_in::choose_password;
    GET "/enrol": Enter => pages::sign_in::show_enrol;
    POST "/enrol": Enter => pages::sign_in::enrol;
    GET "/trust": Enter => pages::trust::show;
    GET "/trust/authority.crt": Enter => pages::trust::certificate;
    GET "/offline": View => pages::offline::show;
    GET "/offline/clock": Enter => pages::offline::clock;
    POST "/offline/shift": Enter => pages::offline::shift;
    POST "/offline/send": Enter => pages::offline::send;
    GET "/worker.js": Enter => pages::offline::worker;
    GET "/manifest.webmanifest": Enter => pages::offline::manifest;
    GET "/alerts": View => pages::alerts::show;
    POST "/alerts": Record => pages::alerts::seen;
    GET "/backup": Manage => pages::backup::show;
    POST "/backup": Manage => pages::backup::now;
    GET "/waiting": View => pages::offline::waiting;
    POST "/waiting": Settle => pages::offline::settle;
    GET "/people": Manage => pages::people::show;
    POST "/people": Manage => pages::people::add;
    POST "/people/change": Manage => pages::people::change;
    POST "/people/code": Manage => pages::people::give_code;
    POST "/people/revoke": Manage => pages::people::revoke;
}

/// Open to anyone, without a page of their own: they hold nothing of the yard.
const OPEN: [&str; 2] = ["/static/", "/health"];

/// What a request asks for; none where there is no such route, or one that decides by itself.
fn act_of(method: &Method, path: &str) -> Option<Act> {
    if OPEN.iter().any(|open| path.starts_with(open)) {
        return Some(Act::Enter);
    }
    let found = AUTHORISED.iter().find(|(known, at, _)| method == *known && *at == path);
    found.map(|(.., act)| *act)
}

/// A route by which only those come in who may do its act.
fn permitted(app: &Arc<App>, act: Act, route: MethodRouter<Arc<App>>) -> MethodRouter<Arc<App>> {
    let app = Arc::clone(app);
    route.route_layer(middleware::from_fn(move |request: Request, next: Next| {
        let app = Arc::clone(&app);
        async move {
            let (mut parts, body) = request.into_parts();
            let role = Caller::of(&parts, &app).role;
            if authorise(role, act).is_err() {
                return PageError::refused(&Visitor::of(&parts, &app)).into_response();
            }
            parts.extensions.insert(act);
            next.run(Request::from_parts(parts, body)).await
        }
    }))
}

/// A route that waits for its turn: it sums over the whole ledger.
fn turn(app: &Arc<App>, route: MethodRouter<Arc<App>>) -> MethodRouter<Arc<App>> {
    route.route_layer(middleware::from_fn_with_state(Arc::clone(app), one_at_a_time))
}

/// The console as a service.
pub fn router(app: Arc<App>) -> Router {
    let (base, is_secure) = (app.base_path.clone(), app.is_secure);
    let hosts = Arc::clone(&app);
    let pages = authorised(&app)
        // The trainee's own console authorises every request by itself.
        .route("/practice", any(pages::trainer::hand_over))
        .route("/practice/", any(pages::trainer::hand_over))
        .route("/practice/{*rest}", any(pages::trainer::hand_over))
        // Open to anyone: they hold nothing of the yard.
        .route("/static/{version}/{name}", get(statics::serve))
        .route("/health", get(async || "ok"))
        .fallback(pages::device::missing)
        .method_not_allowed_fallback(pages::device::back_to_page)
        .with_state(app);
    let pages = if base.is_empty() {
        pages
    } else {
        // A nested router answers its root without a slash at the end; people and links ask with one.
        let root =
            Router::new().route(&format!("{base}/"), permitted(&hosts, Act::View, get(pages::today::show)));
        let root = root.with_state(Arc::clone(&hosts));
        Router::new().nest(&base, pages).merge(root)
    };
    pages
        .layer(middleware::from_fn_with_state(Arc::clone(&hosts), sign))
        .layer(middleware::from_fn_with_state(Arc::clone(&hosts), identify))
        .layer(Extension(Ways { act_of, router }))
        .layer(middleware::from_fn_with_state(hosts, known_host))
        .layer(DefaultBodyLimit::max(LARGEST_FORM))
        .layer(middleware::from_fn(same_origin))
        .layer(middleware::from_fn_with_state(is_secure, headers))
}

/// What is shown without encryption: how a device comes to trust the console. Everything else is sent there.
pub fn trust_router(app: Arc<App>, port: u16) -> Router {
    let hosts = Arc::clone(&app);
    Router::new()
        .route("/", get(pages::trust::show_plain))
        .route("/trust/authority.crt", get(pages::trust::certificate))
        .route("/static/{version}/{name}", get(statics::serve))
        .fallback(async || Redirect::to("/"))
        .with_state(app)
        .layer(Extension(pages::trust::SecurePort(port)))
        .layer(middleware::from_fn_with_state(hosts, known_host))
        .layer(middleware::from_fn_with_state(false, headers))
}

/// Answers only to an address, to localhost, or to a name it was given: a page of some other name that points here
/// must not reach the yard through a browser on this machine.
async fn known_host(State(app): State<Arc<App>>, request: Request, next: Next) -> Response {
    let host = request.headers().get(header::HOST).and_then(|value| value.to_str().ok());
    let named = |host: &str| {
        let name = host
            .rsplit_once(':')
            .filter(|(_, port)| port.parse::<u16>().is_ok())
            .map_or(host, |(name, _)| name);
        let address = name.trim_start_matches('[').trim_end_matches(']');
        name.eq_ignore_ascii_case("localhost")
            || address.parse::<std::net::IpAddr>().is_ok()
            || app.hosts.iter().any(|known| known.eq_ignore_ascii_case(name))
    };
    if host.is_some_and(|host| !named(host)) {
        let why = message!("console.refused.other-name");
        return refuse_plainly(request.headers(), StatusCode::MISDIRECTED_REQUEST, &why);
    }
    next.run(request).await
}

/// A form may only come from our own pages: a browser names the page's origin, and it must be the host asked.
async fn same_origin(request: Request, next: Next) -> Response {
    if request.method() == Method::POST {
        let text = |name: HeaderName| request.headers().get(name).and_then(|value| value.to_str().ok());
        let host = text(header::HOST).unwrap_or("");
        let origin = text(header::ORIGIN).map(|o| o.rsplit_once("//").map_or(o, |(_, host)| host));
        // A browser says so itself, too: none of ours sends a form from elsewhere.
        let is_elsewhere = text(HeaderName::from_static("sec-fetch-site"))
            .is_some_and(|site| !matches!(site, "same-origin" | "none"));
        if is_elsewhere || origin.is_some_and(|origin| origin != host) {
            let why = message!("console.refused.other-site");
            return refuse_plainly(request.headers(), StatusCode::FORBIDDEN, &why);
        }
    }
    next.run(request).await
}

/// Pages that sum over the whole ledger take turns, away from the hands that serve the others.
async fn one_at_a_time(State(app): State<Arc<App>>, request: Request, next: Next) -> Response {
    // A closed semaphore is the only error, and nobody closes it.
    let turn = Arc::clone(&app.summing).acquire_owned().await;
    let headers = request.headers().clone();
    let hands = tokio::runtime::Handle::current();
    let summed = tokio::task::spawn_blocking(move || {
        let answer = hands.block_on(next.run(request));
        drop(turn);
        answer
    });
    // As a panic of any page's: the visitor is told that it broke, and the console goes on.
    summed.await.unwrap_or_else(|error| {
        let why = message!("console.fault", what = error.to_string());
        refuse_plainly(&headers, StatusCode::INTERNAL_SERVER_ERROR, &why)
    })
}

/// Headers of every answer: nothing from outside, nothing inline, and how long it took.
async fn headers(State(is_secure): State<bool>, request: Request, next: Next) -> Response {
    let begun = Instant::now();
    let mut response = next.run(request).await;
    let took = format!("app;dur={:.2}", begun.elapsed().as_secs_f64() * 1000.0);
    let headers = response.headers_mut();
    let fixed = [
        (
            "content-security-policy",
            "default-src 'none'; style-src 'self'; script-src 'self'; font-src 'self'; img-src 'self'; connect-src 'self'; worker-src 'self'; \
             manifest-src 'self'; \
             form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
        ),
        ("x-content-type-options", "nosniff"),
        ("referrer-policy", "same-origin"),
        ("cross-origin-opener-policy", "same-origin"),
    ];
    for (name, value) in fixed {
        headers.insert(HeaderName::from_static(name), HeaderValue::from_static(value));
    }
    if is_secure {
        // A year: the least that RFC 6797's common lists and OWASP ASVS 5.0 (3.4.1) ask for.
        headers.insert(header::STRICT_TRANSPORT_SECURITY, HeaderValue::from_static("max-age=31536000"));
    }
    if !headers.contains_key(header::CACHE_CONTROL) {
        headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    }
    if let Ok(value) = HeaderValue::from_str(&took) {
        headers.insert(HeaderName::from_static("server-timing"), value);
    }
    response
}
