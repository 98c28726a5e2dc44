//! The bench of a build walked through, and the bridge from records to mechanics.
//!
//! Plugins never see each other; what they share about a piece comes from here:
//! [`walk`] turns the ordered list of readings and cuts into states of the piece,
//! [`piece`] fits the mechanics to all that is known of it, the shop's other builds of the model included,
//! and [`limits`] says how surely a state keeps what the customer allows.
//! Nothing here reads a file or a clock, and nothing here judges: flags and advice are the plugins' part.
//!
//! ```
//! use taperbook_units::Length;
//!
//! let text = "---
//! kind: build
//! blank: heron-704
//! bench:
//!   - read: { length: 80 in }
//!   - cut: { tip: 2 in }
//!   - cut: { butt: 1 in }
//! ---
//! ";
//! let record = taperbook_record::read("builds/ilse.md", text.as_bytes()).record;
//! let walk = taperbook_bench::walk(record.build().expect("it is a build"), None);
//! assert_eq!(walk.present().length.map(|length| length.inches().round()), Some(77.0));
//! assert_eq!(walk.present().off.tip, Length::from_inches(2.0));
//! ```

mod card;
mod gap;
pub mod limits;
mod model;
mod offcut;
mod piece;
mod readings;
mod setup;
mod state;
#[cfg(test)]
mod tests;
mod trusted;
mod walk;

pub use card::{errors_of, fit_card, overlap_of};
pub use gap::{LengthGap, length_gaps};
pub use model::{Model, PastPiece, before_it_came, boards_from_readings, came_on, lasting, model};
pub use piece::{Estimates, Fitted, NOTHING_LEFT, Piece, piece};
pub use readings::{Taken, fit_readings};
pub use setup::setup_of;
pub use state::{missing_state, state_of, to_mechanics};
pub use walk::{Cuts, PieceState, Settlement, Walk, walk};
