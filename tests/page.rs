//! The page in a real browser, of a real daemon on a real folder.

/// Attacks from another page and from a note.
mod attacks;
/// What a reader would stumble over, on every page.
mod looks;
/// Trying, writing down, following the folder, without script, on paper.
mod moves;
/// Pages to print, fittings and guides.
mod papers;

use serde_json::json;

use crate::browser::{Browser, Wishes};
use crate::workshop::{Daemon, Workshop};

/// A workshop with its daemon, and a browser; both end with it.
struct Bench {
    browser: Browser,
    workshop: Workshop,
    _daemon: Daemon,
    address: String,
    pen: String,
}

impl Bench {
    fn begin(workshop: Workshop, wishes: &Wishes) -> Option<Self> {
        let browser = Browser::begin(wishes)?;
        let (daemon, address, pen) = workshop.watch_with_page();
        Some(Self { browser, workshop, _daemon: daemon, address, pen })
    }

    fn demo() -> Option<Self> {
        Self::begin(Workshop::demo(), &Wishes::default())
    }

    #[track_caller]
    fn open(&self, path: &str) {
        self.browser.open(&format!("{}{path}", self.address));
    }

    /// Opens a page and looks for what a reader would stumble over, on screens of these widths and schemes.
    #[track_caller]
    fn check(&self, path: &str, looks: &[(u32, &str)]) {
        self.open(path);
        // What can be opened is looked at too; those of one name would close each other.
        self.browser.run(
            "for (const part of document.querySelectorAll('details')) { part.removeAttribute('name'); part.open = true; }",
        );
        self.browser.run(include_str!("page/axe/axe.min.js"));
        for (width, scheme) in looks {
            self.browser.look(*width, scheme);
            let faults = self.browser.run(include_str!("page/faults.js"));
            assert_eq!(faults, json!([]), "/{path} at {width} px, {scheme}");
        }
    }
}
