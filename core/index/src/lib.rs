//! Full-text and numeric search over records.
//!
//! Records go in as [`Document`]s; a [`Searcher`] is the index at one moment and answers queries in the
//! language of `taperbook find`. The index is derived: it may be deleted at any time, and whoever opens a
//! damaged one gets [`IndexError::Unusable`] and makes a new one. Nothing here reads a record's file, works
//! out a number, or knows what a flag means; no type of the search library leaves this crate.
//!
//! ```
//! use taperbook_index::{Catalogue, Document, Index};
//! use taperbook_plugin::{Number, NumberSet, NumberSpec};
//! use taperbook_record::{Content, Record};
//! use taperbook_units::Dimension;
//!
//! let power = NumberSpec { key: "power".into(), dimension: Dimension::Mass, meaning: "what it holds".into() };
//! let mut index = Index::open(None, Catalogue { numbers: vec![power], flags: vec![] })?;
//!
//! let record = Record {
//!     id: "notes/estuary".into(),
//!     title: "Estuary".into(),
//!     content: Content::Note,
//!     conflict_copy: false,
//! };
//! index.put(&Document {
//!     record: &record,
//!     fields: &[],
//!     body: "Small spoons for sea trout.",
//!     numbers: &NumberSet::new(vec![("power".into(), Number::exact(0.221))]),
//!     flags: &[],
//!     blank: None,
//! })?;
//! let searcher = index.commit("")?;
//!
//! let query = searcher.parse("\"sea trout\" power>200g")?;
//! let found = searcher.find(&query, 20)?;
//! assert_eq!(found.total, 1);
//! assert_eq!(found.hits[0].id, "notes/estuary");
//!
//! let mistake = searcher.parse("power>200").unwrap_err();
//! assert_eq!(
//!     mistake.render("power>200"),
//!     "`200` has no unit: write `200 g` or `200 oz`\n  power>200\n        ^^^"
//! );
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # The language
//!
//! | written | finds |
//! | --- | --- |
//! | `small spoons` | all of the words, anywhere in the record |
//! | `"sea trout"`, `heron-704`, `6'10"` | these words beside each other |
//! | `spoon*` | a word that begins so; at the end of a phrase as well |
//! | `a or b` | either; binds looser than being side by side |
//! | `( )`, `-` | a group; everything but what stands right behind the minus |
//! | `power>200g`, `<` `<=` `>=` | a number, with its unit; `<` and `>` leave the value itself out |
//! | `length:6'10"` | a number that equals it within half a step of what is written |
//! | `tip_cut:1in..`, `length:6ft..7ft` | a range; the ends belong to it |
//! | `date:2025`, `date>=2025-03-14` | a date; a year or a month is all of its days |
//! | `limits.length<7'` | a range in the record: some value of it satisfies the comparison |
//! | `customer:ilse`, `purpose:"sea trout"` | words under a key |
//! | `kind:build`, `verdict:keep`, `flag:…` | one of a few words |
//! | `record:ilse-heron`, `record:builds/ilse-heron` | that record, by the name of its file or by its id |
//! | `blank:heron-704` | builds of that card when a card is called so, else words |
//! | `blank.material:carbon` | builds whose card answers so |
//!
//! What a record does not have satisfies neither a comparison nor its negation.
//! Case and accents don't matter; a word is found as it is written, without stemming.

mod bits;
mod directory;
mod document;
mod error;
mod evaluate;
mod keys;
mod lexer;
mod merging;
mod parser;
mod plan;
mod query;
mod queue;
mod resolve;
mod schema;
mod seal;
mod search;
mod searcher;
mod snippet;
mod values;
mod words;
mod writer;

pub use document::{Document, Ready};
pub use error::{IndexError, QueryError};
pub use query::Query;
pub use searcher::{Found, Hit, Searcher};
pub use writer::{Catalogue, Index};
