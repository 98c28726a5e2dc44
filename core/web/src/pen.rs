//! The pen: who may write.
//!
//! The daemon prints a path with a secret in it, new at every start. A browser that opens it is given the secret as a
//! cookie, which no script sees and no other site's page makes it send. A request that writes needs it; one that reads
//! does not.

use std::io;

use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};

use crate::site::Site;

/// A secret of 128 random bits, in letters and figures.
#[derive(Clone)]
pub(crate) struct Pen {
    secret: String,
    /// Cookies of this machine are not kept apart by port, so the name does it.
    cookie: String,
}

impl Pen {
    /// # Errors
    /// When the system gives no random bytes.
    pub(crate) fn new(port: u16) -> io::Result<Self> {
        let mut bytes = [0_u8; 16];
        getrandom::fill(&mut bytes).map_err(|error| io::Error::other(error.to_string()))?;
        let secret = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
        Ok(Self::of(port, secret))
    }

    /// The pen of this secret.
    pub(crate) fn of(port: u16, secret: String) -> Self {
        Self { secret, cookie: format!("pen-{port}") }
    }

    pub(crate) fn secret(&self) -> &str {
        &self.secret
    }

    pub(crate) fn path(&self) -> String {
        format!("/pen/{}", self.secret)
    }

    /// Says whether the browser was given the pen.
    pub(crate) fn is_held(&self, headers: &HeaderMap) -> bool {
        cookie(headers, &self.cookie).is_some_and(|value| self.is(value))
    }

    /// Compares in the same time wherever the first difference is.
    fn is(&self, value: &str) -> bool {
        let (ours, theirs) = (self.secret.as_bytes(), value.as_bytes());
        let differs = ours.iter().zip(theirs).fold(0, |differs, (a, b)| differs | (a ^ b));
        ours.len() == theirs.len() && differs == 0
    }
}

/// Gives the pen to a browser that knows the secret.
pub(crate) async fn take(State(site): State<Site>, Path(secret): Path<String>) -> Response {
    if !site.pen.is(&secret) {
        let words = "this pen is not ours: take the address that the daemon printed at its start\n";
        return (StatusCode::FORBIDDEN, words).into_response();
    }
    let cookie = format!(
        "{}={}; Path=/; HttpOnly; SameSite=Strict; Max-Age=2592000",
        site.pen.cookie, site.pen.secret
    );
    ([(header::SET_COOKIE, cookie)], Redirect::to("/")).into_response()
}

/// The value of a cookie.
pub(crate) fn cookie<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    let all = headers.get_all(header::COOKIE).iter().filter_map(|value| value.to_str().ok());
    all.flat_map(|value| value.split(';'))
        .filter_map(|pair| pair.trim().split_once('='))
        .find_map(|(key, value)| (key == name).then_some(value))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_whole_secret_is_the_pen() {
        let pen = Pen::new(4000).unwrap();
        assert_eq!(pen.secret.len(), 32);
        assert_ne!(pen.secret, Pen::new(4000).unwrap().secret);
        let held = |value: &str| {
            let mut headers = HeaderMap::new();
            headers.insert(header::COOKIE, value.parse().unwrap());
            pen.is_held(&headers)
        };
        assert!(held(&format!("units=mm; pen-4000={}", pen.secret)));
        for value in ["", &pen.secret[1..], "pen-4000"] {
            assert!(!held(&format!("pen-4000={value}")), "{value}");
        }
        assert!(!held(&format!("pen-4001={}", pen.secret)));
        assert!(!pen.is_held(&HeaderMap::new()));
    }
}
