//! How the page looks: a sheet of workshop paper, dark ink or light, that prints as it stands.

use axum::http::header;
use axum::response::IntoResponse;

/// Serves the style.
pub(crate) async fn style() -> impl IntoResponse {
    ([(header::CONTENT_TYPE, "text/css; charset=utf-8")], STYLE)
}

const STYLE: &str = "\
:root { color-scheme: light dark; }
body { font: 1rem/1.5 ui-serif, Georgia, serif; max-width: 52rem; margin: 1rem auto; padding: 0 1rem; }
header { display: flex; flex-wrap: wrap; gap: .5rem 1.5rem; align-items: baseline; border-bottom: 2px solid; padding-bottom: .5rem; }
header a { color: inherit; }
form { flex: 1 1 18rem; display: flex; gap: .5rem; }
input { flex: 1; font: inherit; padding: .3rem; min-width: 0; }
button { font: inherit; padding: .3rem .8rem; }
pre { white-space: pre-wrap; overflow-wrap: anywhere; font-size: .9rem; }
pre.caret { white-space: pre; overflow-x: auto; }
table { border-collapse: collapse; }
td, th { padding: .15rem .8rem .15rem 0; text-align: left; vertical-align: top; }
td.n { text-align: right; font-variant-numeric: tabular-nums; }
li { margin-bottom: .6rem; }
.fault { border-left: .4rem double; padding-left: .5rem; }
mark { background: none; color: inherit; font-weight: bold; text-decoration: underline; }
@media print { form { display: none; } }
";
