//! Every route of the console, in one place, with what it asks of the visitor.

use std::sync::Arc;
use std::time::Instant;

use axum::extract::{DefaultBodyLimit, Request, State};
use axum::http::{HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::{self, Next};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{any, get, post};
use axum::{Extension, Router};

use crate::access::{Act, identify};
use crate::pages;
use crate::signing::sign;
use crate::state::App;
use crate::statics;

/// Largest form, bytes: a form here is a handful of short fields.
pub(crate) const LARGEST_FORM: usize = 64 * 1024;

/// Method, path and act of every route that is authorised; the tests go through all of them.
pub const AUTHORISED: &[(&str, &str, Act)] = &[
    ("GET", "/", Act::Look),
    ("GET", "/storm", Act::Look),
    ("GET", "/tanks", Act::Look),
    ("POST", "/tanks/dip", Act::Record),
    ("POST", "/tanks/set-book", Act::Record),
    ("GET", "/run", Act::Look),
    ("POST", "/run", Act::Record),
    ("POST", "/run/end", Act::Record),
    ("GET", "/run/sheet", Act::Look),
    ("GET", "/run/batch", Act::Look),
    ("POST", "/run/batch", Act::Record),
    ("GET", "/bench", Act::Look),
    ("POST", "/bench", Act::Record),
    ("GET", "/bench/trim", Act::Look),
    ("POST", "/bench/trim", Act::Record),
    ("POST", "/bench/trim/set", Act::Record),
    ("GET", "/bench/instruments", Act::Look),
    ("POST", "/bench/instruments/check", Act::Record),
    ("POST", "/bench/due", Act::Record),
    ("POST", "/bench/change", Act::Record),
    ("GET", "/bench/lab", Act::Look),
    ("POST", "/bench/lab", Act::Record),
    ("GET", "/bench/record", Act::Look),
    ("GET", "/put-right", Act::Look),
    ("POST", "/put-right", Act::Record),
    ("GET", "/put-right/blend", Act::Look),
    ("GET", "/jar-test", Act::Look),
    ("POST", "/jar-test", Act::Record),
    ("GET", "/load", Act::Look),
    ("POST", "/load", Act::Record),
    ("GET", "/load/return", Act::Look),
    ("POST", "/load/return", Act::Record),
    ("GET", "/load/issue", Act::Look),
    ("POST", "/load/issue", Act::Record),
    ("GET", "/load/applied", Act::Look),
    ("POST", "/load/applied", Act::Record),
    ("POST", "/load/import", Act::Record),
    ("GET", "/load/other", Act::Look),
    ("POST", "/load/other", Act::Record),
    ("GET", "/ticket", Act::Look),
    ("GET", "/books", Act::Look),
    ("GET", "/books/file", Act::Look),
    ("GET", "/books/storms", Act::Look),
    ("POST", "/books/storms", Act::Record),
    ("GET", "/books/close", Act::Look),
    ("POST", "/books/close", Act::Close),
    ("GET", "/books/lots", Act::Look),
    ("GET", "/books/bills", Act::Look),
    ("GET", "/night", Act::Look),
    ("GET", "/salt", Act::Look),
    ("POST", "/salt", Act::Record),
    ("POST", "/salt/buckets", Act::Record),
    ("POST", "/salt/survey", Act::Record),
    ("GET", "/meters", Act::Look),
    ("POST", "/meters", Act::Record),
    ("POST", "/meters/check", Act::Record),
    ("GET", "/due", Act::Look),
    ("POST", "/due", Act::Record),
    ("GET", "/sprayers", Act::Look),
    ("POST", "/sprayers", Act::Record),
    ("POST", "/sprayers/spreader", Act::Record),
    ("GET", "/sprayers/card", Act::Look),
    ("GET", "/ledger", Act::Look),
    ("POST", "/ledger/note", Act::Record),
    ("POST", "/ledger/void", Act::TakeBack),
    ("POST", "/units", Act::SetDevice),
    ("POST", "/language", Act::SetDevice),
    ("GET", "/look", Act::Look),
    ("GET", "/live", Act::Look),
    ("GET", "/plant", Act::Look),
    ("POST", "/plant", Act::Record),
    ("GET", "/trainer", Act::Look),
    ("POST", "/trainer/begin", Act::Train),
    ("POST", "/trainer/drive", Act::Train),
    ("GET", "/trainer/debrief", Act::Look),
    ("GET", "/first", Act::Enter),
    ("POST", "/first", Act::Enter),
    ("GET", "/sign-in", Act::Enter),
    ("POST", "/sign-in", Act::Enter),
    ("POST", "/sign-out", Act::Enter),
    ("POST", "/sign-over", Act::Enter),
    ("GET", "/password", Act::Look),
    ("POST", "/password", Act::Look),
    ("GET", "/enrol", Act::Enter),
    ("POST", "/enrol", Act::Enter),
    ("GET", "/trust", Act::Enter),
    ("GET", "/trust/authority.crt", Act::Enter),
    ("GET", "/offline", Act::Look),
    ("GET", "/offline/clock", Act::Enter),
    ("POST", "/offline/shift", Act::Enter),
    ("POST", "/offline/send", Act::Enter),
    ("GET", "/worker.js", Act::Enter),
    ("GET", "/manifest.webmanifest", Act::Enter),
    ("GET", "/alerts", Act::Look),
    ("POST", "/alerts", Act::Record),
    ("GET", "/backup", Act::Manage),
    ("POST", "/backup", Act::Manage),
    ("GET", "/waiting", Act::Look),
    ("POST", "/waiting", Act::Settle),
    ("GET", "/people", Act::Manage),
    ("POST", "/people", Act::Manage),
    ("POST", "/people/change", Act::Manage),
    ("POST", "/people/code", Act::Manage),
    ("POST", "/people/revoke", Act::Manage),
];

/// Open to anyone, without a page of their own: they hold nothing of the yard.
const OPEN: [&str; 2] = ["/static/", "/health"];

/// What a request asks for; none where there is no such route, or one that decides by itself.
pub(crate) fn act_of(method: &Method, path: &str) -> Option<Act> {
    if OPEN.iter().any(|open| path.starts_with(open)) {
        return Some(Act::Enter);
    }
    let found = AUTHORISED.iter().find(|(known, at, _)| method == *known && *at == path);
    found.map(|(.., act)| *act)
}

/// The console as a service.
pub fn router(app: Arc<App>) -> Router {
    let (base, is_secure) = (app.base_path.clone(), app.is_secure);
    let hosts = Arc::clone(&app);
    let sums = Router::new()
        .route("/books", get(pages::books::season::season))
        .route("/books/file", get(pages::books::season::file))
        .route("/books/storms", get(pages::books::season::storms).post(pages::books::season::name_storm))
        .route("/books/close", get(pages::books::close::show).post(pages::books::close::close))
        .route("/books/lots", get(pages::books::lots::show))
        .route("/books/bills", get(pages::books::bills::show))
        .route("/salt", get(pages::salt::show).post(pages::salt::deliver))
        .route("/salt/buckets", post(pages::salt::count))
        .route("/salt/survey", post(pages::salt::survey))
        .route("/meters", get(pages::meters::show).post(pages::meters::total))
        .route("/meters/check", post(pages::meters::check))
        .route("/sprayers", get(pages::sprayers::show).post(pages::sprayers::caught))
        .route("/sprayers/spreader", post(pages::sprayers::dropped))
        .route("/sprayers/card", get(pages::sprayers::card))
        .route("/load/import", post(pages::load::import_applied))
        .route_layer(middleware::from_fn_with_state(Arc::clone(&app), one_at_a_time));
    let pages = Router::new()
        .merge(sums)
        .route("/", get(pages::today::show))
        .route("/storm", get(pages::storm::show))
        .route("/tanks", get(pages::tanks::show))
        .route("/tanks/dip", post(pages::tanks::dip))
        .route("/tanks/set-book", post(pages::tanks::set_book))
        .route("/jar-test", get(pages::jar_test::show).post(pages::jar_test::record))
        .route("/run", get(pages::run::show).post(pages::run::answer))
        .route("/run/end", post(pages::run::end))
        .route("/run/sheet", get(pages::run::sheet))
        .route("/run/batch", get(pages::run::book::show).post(pages::run::book::record))
        .route("/bench", get(pages::bench::sample::show).post(pages::bench::sample::record))
        .route("/bench/trim", get(pages::bench::trim::show).post(pages::bench::trim::look))
        .route("/bench/trim/set", post(pages::bench::trim::set))
        .route("/bench/instruments", get(pages::bench::instruments::show))
        .route("/bench/instruments/check", post(pages::bench::instruments::check))
        .route("/bench/due", post(pages::bench::instruments::seen))
        .route("/bench/change", post(pages::bench::instruments::change))
        .route("/bench/lab", get(pages::bench::lab::show).post(pages::bench::lab::record))
        .route("/bench/record", get(pages::bench::record::show))
        .route("/put-right", get(pages::put_right::show).post(pages::put_right::record))
        .route("/put-right/blend", get(pages::blend::show))
        .route("/load", get(pages::load::show).post(pages::load::record))
        .route("/load/return", get(pages::load::show_return).post(pages::load::record_return))
        .route("/load/issue", get(pages::load::show_issue).post(pages::load::record_issue))
        .route("/load/applied", get(pages::load::show_applied).post(pages::load::record_applied))
        .route("/load/other", get(pages::load::show_other).post(pages::load::record_other))
        .route("/ticket", get(pages::load::ticket::show))
        .route("/night", get(pages::books::night::show))
        .route("/due", get(pages::due::show).post(pages::due::done))
        .route("/ledger", get(pages::ledger::show))
        .route("/ledger/note", post(pages::ledger::note))
        .route("/ledger/void", post(pages::ledger::void))
        .route("/units", post(pages::device::units))
        .route("/language", post(pages::device::language))
        .route("/look", get(pages::look::show))
        .route("/live", get(pages::live::show))
        .route("/plant", get(pages::practice::show).post(pages::practice::act))
        .route("/trainer", get(pages::trainer::show))
        .route("/trainer/begin", post(pages::trainer::begin))
        .route("/trainer/drive", post(pages::trainer::drive))
        .route("/trainer/debrief", get(pages::trainer::debrief))
        .route("/first", get(pages::people::show_first).post(pages::people::make_first))
        .route("/sign-in", get(pages::people::show_sign_in).post(pages::people::sign_in))
        .route("/sign-out", post(pages::people::sign_out))
        .route("/sign-over", post(crate::signing::over))
        .route("/password", get(pages::people::show_password).post(pages::people::choose_password))
        .route("/enrol", get(pages::people::show_enrol).post(pages::people::enrol))
        .route("/trust", get(pages::trust::show))
        .route("/trust/authority.crt", get(pages::trust::certificate))
        .route("/offline", get(pages::offline::show))
        .route("/offline/clock", get(pages::offline::clock))
        .route("/offline/shift", post(pages::offline::shift))
        .route("/offline/send", post(pages::offline::send))
        .route("/worker.js", get(pages::offline::worker))
        .route("/manifest.webmanifest", get(pages::offline::manifest))
        .route("/alerts", get(pages::alerts::show).post(pages::alerts::seen))
        .route("/backup", get(pages::backup::show).post(pages::backup::now))
        .route("/waiting", get(pages::offline::waiting).post(pages::offline::settle))
        .route("/people", get(pages::people::show).post(pages::people::add))
        .route("/people/change", post(pages::people::change))
        .route("/people/code", post(pages::people::give_code))
        .route("/people/revoke", post(pages::people::revoke))
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
            Router::new().route(&format!("{base}/"), get(pages::today::show)).with_state(Arc::clone(&hosts));
        Router::new().nest(&base, pages).merge(root)
    };
    pages
        .layer(middleware::from_fn_with_state(Arc::clone(&hosts), sign))
        .layer(middleware::from_fn_with_state(Arc::clone(&hosts), identify))
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
        let text = "this console is asked by a name it does not know; accepted: its address, localhost, or a --host name";
        return (StatusCode::MISDIRECTED_REQUEST, text).into_response();
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
            return (StatusCode::FORBIDDEN, "this form came from another site").into_response();
        }
    }
    next.run(request).await
}

/// Pages that sum over the whole ledger take turns, away from the hands that serve the others.
async fn one_at_a_time(State(app): State<Arc<App>>, request: Request, next: Next) -> Response {
    // A closed semaphore is the only error, and nobody closes it.
    let turn = Arc::clone(&app.summing).acquire_owned().await;
    let hands = tokio::runtime::Handle::current();
    let summed = tokio::task::spawn_blocking(move || {
        let answer = hands.block_on(next.run(request));
        drop(turn);
        answer
    });
    // As a panic of any page's: the visitor is told that it broke, and the console goes on.
    summed
        .await
        .unwrap_or_else(|error| (StatusCode::INTERNAL_SERVER_ERROR, error.to_string()).into_response())
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
