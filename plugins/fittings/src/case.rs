//! What a flag looks at: a build that is not done, its tube now and as planned, and the drawers.

use std::sync::Arc;

use taperbook_bench::{Cuts, Piece, piece};
use taperbook_mechanics::Tube;
use taperbook_plugin::View;
use taperbook_record::{Build, Record, Shop, Span, Verdict};
use taperbook_units::{Length, Units};

use crate::drawer::Drawers;
use crate::ends::tube_of;

/// A build on its way.
pub(crate) struct Case<'a> {
    pub(crate) build: &'a Build,
    pub(crate) piece: Arc<Piece>,
    pub(crate) shop: Arc<Shop>,
    pub(crate) units: Units,
    pub(crate) drawers: Arc<Drawers>,
    /// As it now is.
    pub(crate) now: Tube,
    /// As the plan would leave it, with the cuts of the plan.
    pub(crate) planned: Option<(Tube, Cuts)>,
}

impl<'a> Case<'a> {
    /// Looks at a record; `None` when it is no build, is done, or its diameters are not known.
    pub(crate) fn new(record: &'a Record, view: &View) -> Option<Self> {
        let build = record.build()?;
        let is_done = |verdict: Verdict| matches!(verdict, Verdict::Keep | Verdict::Scrap);
        if build.verdict.as_ref().is_some_and(|verdict| is_done(verdict.value)) {
            return None;
        }
        let piece = piece(view, &record.id)?;
        let drawers = Drawers::of(view);
        if drawers.is_empty() {
            return None;
        }
        let off = piece.walk.present().off;
        let now = tube_of(&piece, off).ok()?;
        let planned = piece.walk.planned.and_then(|(_, rest)| {
            Some((tube_of(&piece, off.plus(rest.tip, rest.butt)).ok()?, rest))
        });
        let shop = view.shop();
        let units = shop.units();
        Some(Self { build, piece, shop, units, drawers, now, planned })
    }

    /// Where the plan stands, else the last item of the bench, else the top of the file.
    pub(crate) fn span(&self, of_plan: bool) -> Span {
        let plan = self.piece.walk.planned.filter(|_| of_plan).map(|(item, _)| item);
        let item = plan.and_then(|item| self.build.bench.get(item)).or(self.build.bench.last());
        item.map_or(0..0, |item| item.span.clone())
    }

    /// Prints how far an end should be cut further; rounded up, so that it is enough.
    pub(crate) fn at_least(&self, cut: Length) -> String {
        self.units.cut(match self.units {
            Units::Inches => Length::from_inches((cut.inches() * 16.0 - 1e-6).ceil() / 16.0),
            Units::Millimetres => Length::from_mm((cut.mm() - 1e-6).ceil()),
        })
    }
}
