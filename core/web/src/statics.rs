//! The style and the script of the page, which are its own.

use axum::http::header;
use axum::response::IntoResponse;

/// Serves the style, with that of the drawings.
pub(crate) async fn style() -> impl IntoResponse {
    let style = format!("{}\n{}", taperbook_draw::style(), include_str!("style.css"));
    ([(header::CONTENT_TYPE, "text/css; charset=utf-8")], style)
}

/// Serves the script.
pub(crate) async fn script() -> impl IntoResponse {
    ([(header::CONTENT_TYPE, "text/javascript; charset=utf-8")], include_str!("page.js"))
}
