//! What every request passes: the host that it names, the page that it comes from, and the headers of every answer.

use std::net::SocketAddr;
use std::time::Duration;

use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use tokio::time::timeout;

/// An answer must have begun this long after the request; a question waits 30 s for the index at most.
pub(crate) const LONGEST: Duration = Duration::from_secs(40);

/// Nothing runs, loads or is framed but what this page itself serves.
const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; img-src 'self'; \
                      form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// Refuses a request that names another host than the loopback or comes from another page, and hardens every answer.
pub(crate) async fn guard(
    State(address): State<SocketAddr>,
    request: Request,
    next: Next,
) -> Response {
    let mut response = match refused(address.port(), &request) {
        Some((status, why)) => (status, format!("{why}\n")).into_response(),
        None => timeout(LONGEST, next.run(request)).await.unwrap_or_else(|_elapsed| {
            (StatusCode::SERVICE_UNAVAILABLE, "there was no answer in time; ask again\n")
                .into_response()
        }),
    };
    let headers = response.headers_mut();
    for (name, value) in [
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::X_FRAME_OPTIONS, "DENY"),
        // A browser that may not say where a form comes from says `Origin: null`, and could never write.
        (header::REFERRER_POLICY, "same-origin"),
        (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
        (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
        (header::CACHE_CONTROL, "no-store"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    response
}

fn refused(port: u16, request: &Request) -> Option<(StatusCode, &'static str)> {
    let headers = request.headers();
    let ours = [format!("127.0.0.1:{port}"), format!("localhost:{port}")];
    let host = one(headers, &header::HOST);
    let Some(host) = host.filter(|host| ours.iter().any(|name| name == host)) else {
        return Some((
            StatusCode::MISDIRECTED_REQUEST,
            "this page is served to this machine alone, under its own address",
        ));
    };
    // A name in the request line counts before that of the header.
    if request.uri().authority().is_some_and(|authority| authority.as_str() != host) {
        return Some((StatusCode::MISDIRECTED_REQUEST, "the request names two hosts"));
    }
    match *request.method() {
        Method::GET | Method::HEAD => None,
        Method::POST if !is_from_here(headers, host) => {
            Some((StatusCode::FORBIDDEN, "only this page itself may write"))
        }
        Method::POST => None,
        _ => Some((StatusCode::METHOD_NOT_ALLOWED, "this page is read, and written by its forms")),
    }
}

/// Says whether a request comes from a form or the script of this page: a browser always says where one that writes is from.
fn is_from_here(headers: &HeaderMap, host: &str) -> bool {
    let origin = format!("http://{host}");
    let is_same_site = match headers.get("sec-fetch-site") {
        Some(site) => site == "same-origin",
        None => true,
    };
    is_same_site && one(headers, &header::ORIGIN) == Some(&*origin)
}

/// The value of a header that comes exactly once.
fn one<'a>(headers: &'a HeaderMap, name: &HeaderName) -> Option<&'a str> {
    let mut values = headers.get_all(name).iter();
    let value = values.next()?;
    values.next().is_none().then_some(value)?.to_str().ok()
}
