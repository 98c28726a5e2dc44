//! The shop's drawers: every size of every fitting that is left, by what it is.

use std::sync::Arc;

use taperbook_plugin::View;
use taperbook_record::{Content, Fitting, Kind, Part, Size};
use taperbook_units::{Length, Mass, tube_size};

/// How far a bore may be from what is marked on it, one standard deviation: common practice, no source.
const MARKED_SD: Length = Length::from_mm(0.05);
/// How well a bore is measured, by drill shank or pin gauge: common practice, no source.
const MEASURED_SD: Length = Length::from_mm(0.02);

/// One size that is in the drawer.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Sized {
    /// The id of the fitting's record.
    pub(crate) fitting: String,
    pub(crate) size: String,
    pub(crate) bore: Length,
    pub(crate) bore_sd: Length,
    pub(crate) was_measured: bool,
    pub(crate) ring: Option<Length>,
    pub(crate) count: Option<u32>,
    pub(crate) adds_length: Option<Length>,
    pub(crate) adds_weight: Option<Mass>,
}

/// One size of guide, or a tip-top as the line runs through it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct GuideSize {
    pub(crate) fitting: Option<String>,
    pub(crate) size: Option<String>,
    pub(crate) ring: Option<Length>,
    /// From the surface of the blank to the middle of the ring.
    pub(crate) height: Length,
    pub(crate) height_is_stated: bool,
    pub(crate) weight: Option<Mass>,
    pub(crate) count: Option<u32>,
}

/// A guide of which the drawer doesn't state the height holds its ring so far off the blank: common practice, no source.
const UNDER_RING: Length = Length::from_mm(3.0);

/// What the shop has of what goes on a tip, on a butt and between.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Drawers {
    pub(crate) tip_tops: Vec<Sized>,
    pub(crate) butt_ferrules: Vec<Sized>,
    pub(crate) reel_seats: Vec<Sized>,
    /// By height, the lowest first.
    pub(crate) guides: Vec<GuideSize>,
    /// Sizes of which none are left, in words.
    pub(crate) used_up: Vec<String>,
}

impl Drawers {
    /// Looks into all drawers, once for all who ask.
    pub(crate) fn of(view: &View) -> Arc<Self> {
        view.memo("drawers", "", Self::looked_through)
    }

    fn looked_through(view: &View) -> Self {
        let mut drawers = Self::default();
        for record in view.all(Kind::Fitting) {
            let Content::Fitting(fitting) = &record.content else { continue };
            let drawer = match fitting.part.as_ref().map(|part| part.value) {
                Some(Part::TipTop) => &mut drawers.tip_tops,
                Some(Part::ButtFerrule) => &mut drawers.butt_ferrules,
                Some(Part::ReelSeat) => &mut drawers.reel_seats,
                Some(Part::Guide) => {
                    drawers.guides.extend(guides(&record.id, fitting));
                    continue;
                }
                None => continue,
            };
            for size in &fitting.sizes {
                let Some(sized) = sized(&record.id, fitting, size) else { continue };
                match sized.count {
                    Some(0) => {
                        drawers.used_up.push(format!("{} of {}", sized.size, sized.fitting));
                    }
                    _ => drawer.push(sized),
                }
            }
        }
        for drawer in [&mut drawers.tip_tops, &mut drawers.butt_ferrules, &mut drawers.reel_seats] {
            drawer.sort_by(|a, b| a.bore.m().total_cmp(&b.bore.m()));
        }
        drawers.guides.sort_by(|a, b| a.height.m().total_cmp(&b.height.m()));
        drawers
    }

    /// Says whether there is anything in them that goes on an end.
    pub(crate) fn is_empty(&self) -> bool {
        self.tip_tops.is_empty() && self.butt_ferrules.is_empty() && self.reel_seats.is_empty()
    }
}

fn sized(id: &str, fitting: &Fitting, size: &Size) -> Option<Sized> {
    let bore = size.bore.or(size.marked)?;
    Some(Sized {
        fitting: id.to_owned(),
        size: tube_size(size.marked.unwrap_or(bore)),
        bore,
        bore_sd: if size.bore.is_some() { MEASURED_SD } else { MARKED_SD },
        was_measured: size.bore.is_some(),
        ring: size.ring,
        count: size.count,
        adds_length: fitting.adds_length.as_ref().map(|length| length.value),
        adds_weight: size.weight.or(fitting.adds_weight.as_ref().map(|weight| weight.value)),
    })
}

/// The guides of a drawer of which any are left; one without a ring and a height says nothing of how the line runs.
fn guides(id: &str, fitting: &Fitting) -> impl Iterator<Item = GuideSize> {
    let left = fitting.sizes.iter().filter(|size| size.count != Some(0));
    left.filter_map(move |size| {
        let ring = size.ring.or(size.marked);
        let height = size.height.or(ring.map(|ring| ring / 2.0 + UNDER_RING))?;
        Some(GuideSize {
            fitting: Some(id.to_owned()),
            size: size.marked.or(size.ring).map(tube_size),
            ring,
            height,
            height_is_stated: size.height.is_some(),
            weight: size.weight.or(fitting.adds_weight.as_ref().map(|weight| weight.value)),
            count: size.count,
        })
    })
}
