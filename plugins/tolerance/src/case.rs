//! What a flag may look at: one build, its piece, its card and its shop.

use std::cell::RefCell;
use std::sync::Arc;

use taperbook_bench::{Cuts, Estimates, Piece, Settlement, piece};
use taperbook_plugin::{Resolution, Shaped, View};
use taperbook_record::{Blank, Build, Measure, Record, Shop, Verdict};
use taperbook_units::Units;

/// A build with all that flags look at.
pub(crate) struct Case<'a> {
    pub(crate) build: &'a Build,
    /// Its bench walked through, and its mechanics.
    pub(crate) piece: Arc<Piece>,
    /// What `blank:` leads to; `None` when the build names none.
    pub(crate) blank: Option<Resolution<Shaped>>,
    pub(crate) shop: Arc<Shop>,
    pub(crate) units: Units,
    /// The numbers of the states that were asked for: many flags ask for the same.
    estimated: RefCell<Vec<(Cuts, Option<Arc<Estimates>>)>>,
}

impl<'a> Case<'a> {
    /// Looks at a record; `None` when it is no build.
    pub(crate) fn new(record: &'a Record, view: &View) -> Option<Self> {
        let build = record.build()?;
        let piece = piece(view, &record.id)?;
        let blank = build.blank.as_ref().map(|name| view.resolve_shape(&name.value));
        let shop = view.shop();
        let units = shop.units();
        Some(Self { build, piece, blank, shop, units, estimated: RefCell::default() })
    }

    /// The numbers with so much off in all; those that need holding mean nothing when nobody says where.
    pub(crate) fn estimates(&self, off: Cuts) -> Option<Arc<Estimates>> {
        let known = self.estimated.borrow();
        let kept = known.iter().find(|(of, _)| *of == off).map(|(_, kept)| kept.clone());
        drop(known);
        kept.unwrap_or_else(|| {
            let estimates = self.piece.estimates(off).ok();
            self.estimated.borrow_mut().push((off, estimates.clone()));
            estimates
        })
    }

    /// What the blank card says of all its pieces, when the build names one that is known.
    pub(crate) fn card(&self) -> Option<&Blank> {
        match &self.blank {
            Some(Resolution::Found(card)) => Some(&card.shape),
            _ => None,
        }
    }

    /// The number of the present state.
    pub(crate) fn present(&self) -> usize {
        self.piece.walk.states.len() - 1
    }

    /// The item of the next planned cut and what of it is still to be made; none when the work is finished.
    pub(crate) fn plan(&self) -> Option<(usize, Cuts)> {
        self.piece.walk.planned.filter(|_| self.finished().is_none())
    }

    /// Why the work is finished; `None` while it goes on.
    pub(crate) fn finished(&self) -> Option<&'static str> {
        let verdict = self.build.verdict.as_ref().map(|verdict| verdict.value);
        let Settlement { tip, butt } = &self.piece.walk.settled;
        match verdict {
            Some(Verdict::Keep) => Some("the verdict is `keep`"),
            Some(Verdict::Scrap) => Some("the verdict is `scrap`"),
            _ if tip.is_some() && butt.is_some() => Some("both ends are settled"),
            _ => None,
        }
    }

    /// Why no further cut will change a measure: the work is finished, or the one end that decides it is.
    pub(crate) fn fixed(&self, measure: Measure) -> Option<&'static str> {
        let Settlement { tip, butt } = &self.piece.walk.settled;
        self.finished().or(match measure {
            Measure::TipOd => tip.as_ref().map(|_| "the tip is settled"),
            Measure::ButtOd => butt.as_ref().map(|_| "the butt is settled"),
            _ => None,
        })
    }
}
