//! Which guide of the drawer stands at which place.
//!
//! From the tip inward the smallest ring is taken as long as it serves; over the butt half rings grow by a size a guide when they
//! stand underneath, so that the coils of a reel run into them (common practice, no source). Where the line would touch the
//! blank, the guide at the inner end of that way is replaced by the next higher one, until none is left.

use taperbook_mechanics::guides::Side;
use taperbook_mechanics::guides::ways;
use taperbook_units::Length;

use super::Laid;
use crate::drawer::{GuideSize, Sized};

/// The line keeps at least so far from the blank: its own thickness and a little.
const LEAST_CLEARANCE: Length = Length::from_mm(0.5);
/// Rings of a tip-top where none is known, and of a guide where the drawers hold none.
const USUAL_RING: Length = Length::from_mm(6.0);
const USUAL_HEIGHT: Length = Length::from_mm(8.0);

/// A guide at its place.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Guide {
    pub(crate) from_tip: Length,
    pub(crate) size: GuideSize,
}

/// The tip-top and all guides, the tip-top first.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Choice {
    pub(crate) guides: Vec<Guide>,
    least_clearance: Length,
}

impl Choice {
    /// Says whether the line touches the blank anywhere.
    pub(crate) fn touches(&self) -> bool {
        self.least_clearance < LEAST_CLEARANCE
    }
}

/// Chooses a guide of the drawer, which is sorted by height, for each place.
pub(crate) fn choose(
    laid: &Laid,
    tip_top: Option<&Sized>,
    places: &[Length],
    drawer: &[GuideSize],
) -> Choice {
    let mut stock = Stock { drawer, taken: vec![0; drawer.len()] };
    // The place in the drawer of each guide; `None` where the drawers hold none.
    let mut chosen: Vec<Option<usize>> =
        wanted(laid.side, places.len(), drawer.len()).map(|from| stock.take(from)).collect();
    loop {
        let guides = guides(tip_top, places, &chosen, drawer);
        let rings: Vec<_> =
            guides.iter().map(|guide| laid.ring(guide.from_tip, guide.size.height)).collect();
        let ways = ways(laid.bent, laid.tube, laid.held_at, &rings, laid.side);
        let clearances = || ways.iter().map(|way| way.clearance).enumerate();
        let nearest = clearances()
            .filter(|(_, clearance)| *clearance < LEAST_CLEARANCE)
            // A way lies between two guides; the inner one is higher as a rule, so it is raised first.
            .find_map(|(way, _)| {
                [way, way.wrapping_sub(1)].into_iter().find_map(|guide| {
                    let now = (*chosen.get(guide)?)?;
                    let next = stock.higher(now)?;
                    Some((guide, now, next))
                })
            });
        let Some((guide, now, next)) = nearest else {
            let least =
                clearances().map(|(_, clearance)| clearance.m()).fold(f64::INFINITY, f64::min);
            return Choice { guides, least_clearance: Length::from_m(least) };
        };
        stock.exchange(now, next);
        chosen[guide] = Some(next);
    }
}

/// From which size on each guide is wanted, from the tip inward.
fn wanted(side: Side, n_guides: usize, n_sizes: usize) -> impl Iterator<Item = usize> {
    let from_half = move |guide: usize| (guide + 1).saturating_sub(n_guides.div_ceil(2));
    (0..n_guides).map(move |guide| match side {
        Side::Below => from_half(guide).min(n_sizes.saturating_sub(1)),
        Side::Above => 0,
    })
}

fn guides(
    tip_top: Option<&Sized>,
    places: &[Length],
    chosen: &[Option<usize>],
    drawer: &[GuideSize],
) -> Vec<Guide> {
    let ring = tip_top.and_then(|sized| sized.ring).unwrap_or(USUAL_RING);
    let tip_top = Guide {
        from_tip: Length::default(),
        size: GuideSize {
            fitting: tip_top.map(|sized| sized.fitting.clone()),
            size: tip_top.map(|sized| sized.size.clone()),
            ring: tip_top.and_then(|sized| sized.ring),
            height: ring / 2.0,
            height_is_stated: false,
            weight: tip_top.and_then(|sized| sized.adds_weight),
            count: None,
        },
    };
    let at = |(place, chosen): (&Length, &Option<usize>)| Guide {
        from_tip: *place,
        size: match chosen {
            Some(size) => drawer[*size].clone(),
            None => GuideSize {
                fitting: None,
                size: None,
                ring: None,
                height: USUAL_HEIGHT,
                height_is_stated: false,
                weight: None,
                count: None,
            },
        },
    };
    std::iter::once(tip_top).chain(places.iter().zip(chosen).map(at)).collect()
}

/// What is left of the drawer while guides are chosen.
struct Stock<'a> {
    drawer: &'a [GuideSize],
    taken: Vec<u32>,
}

impl Stock<'_> {
    fn is_left(&self, size: usize) -> bool {
        self.drawer[size].count.is_none_or(|count| self.taken[size] < count)
    }

    /// Takes this size, or the next one of which there is any left: a larger one first.
    fn take(&mut self, from: usize) -> Option<usize> {
        let larger = from..self.drawer.len();
        let size = larger.chain((0..from).rev()).find(|size| self.is_left(*size))?;
        self.taken[size] += 1;
        Some(size)
    }

    fn higher(&self, than: usize) -> Option<usize> {
        let height = self.drawer[than].height;
        let larger = than + 1..self.drawer.len();
        larger.into_iter().find(|size| height < self.drawer[*size].height && self.is_left(*size))
    }

    fn exchange(&mut self, back: usize, out: usize) {
        self.taken[back] -= 1;
        self.taken[out] += 1;
    }
}
