//! What every request passes: the host that it names, and the headers that every answer carries.

use std::net::SocketAddr;

use axum::extract::{Request, State};
use axum::http::{HeaderValue, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

/// Refuses a request that names another host than the loopback, and hardens every answer.
pub(crate) async fn guard(
    State(address): State<SocketAddr>,
    request: Request,
    next: Next,
) -> Response {
    let host = request.headers().get(header::HOST).and_then(|host| host.to_str().ok());
    let port = address.port();
    let ours = [format!("127.0.0.1:{port}"), format!("localhost:{port}")];
    let mut response = match host {
        Some(host) if ours.iter().any(|name| name == host) => next.run(request).await,
        _ => (StatusCode::MISDIRECTED_REQUEST, "this page is served to this machine alone\n")
            .into_response(),
    };
    let headers = response.headers_mut();
    for (name, value) in [
        (
            header::CONTENT_SECURITY_POLICY,
            "default-src 'none'; style-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
        ),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
        (header::CACHE_CONTROL, "no-store"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    response
}
