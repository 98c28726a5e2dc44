//! Answers as drawings and as pages to print: plain data in, the text of an SVG or of a page of HTML out.
//!
//! It reads no record, asks nothing and writes no file; whoever wants the drawing puts the text where it belongs.
//! A drawing has a title and a description for those who can't see it, tells things apart by shape and not by colour
//! alone, and is legible on light and on dark.
//!
//! ```
//! use taperbook_plugin::{Cut, Number, ReachAdvice, ReachPoint, ReachRow, State};
//! use taperbook_units::Units;
//!
//! let point = |tip_mm, butt_mm, power: f64| ReachPoint {
//!     cut: Cut { tip_mm, butt_mm },
//!     power_g: Number::Known { value: power, low: 0.95 * power, high: 1.05 * power },
//!     inside: false,
//!     chance_inside_limits: None,
//!     expected: State::new([]),
//! };
//! let advice = ReachAdvice {
//!     record: "blanks/heron-704".to_owned(),
//!     held_at_mm: 228.6,
//!     present: point(0.0, 0.0, 212.0),
//!     rows: vec![
//!         ReachRow { length_mm: 2184.4, points: vec![point(0.0, 0.0, 212.0)] },
//!         ReachRow { length_mm: 2133.6, points: vec![point(0.0, 50.8, 207.0), point(50.8, 0.0, 233.0)] },
//!     ],
//!     length_allowed: (None, None),
//!     power_allowed: (None, None),
//!     has_limits: false,
//!     aim: (None, None),
//!     words: Vec::new(),
//! };
//! let svg = taperbook_draw::reach(&advice, Units::Inches);
//! assert!(taperbook_draw::is_ours(svg.as_bytes()));
//! assert!(svg.contains("<title") && svg.contains("heron-704"));
//! ```

mod bar;
mod bend;
mod blank;
mod fittings;
mod guides;
mod handover;
mod inline;
mod number;
mod page;
mod power_length;
mod reach;
mod scale;
mod sheet;
mod svg;
mod tested;

pub use bar::{Bar, bar};
pub use bend::bend;
pub use blank::{blank, blank_on};
pub use fittings::{how, how_far};
pub use guides::{guides, guides_on};
pub use handover::{handover, handover_around, handover_body};
pub use inline::{inline, style};
pub use page::{Frame, Heading, PaperSize, paper_style};
pub use power_length::{Dot, power_length};
pub use reach::reach;
pub use scale::Paper;
pub use sheet::{beside_clamp, beside_joint, sheet, sheet_around, sheet_body};
pub use svg::is_ours;
pub use tested::{dressed, tested};
