//! One bore beside one diameter.

use taperbook_bench::limits::{inverse_normal, normal};
use taperbook_mechanics::Tube;
use taperbook_plugin::{Fit, FitHow, Number, Sanding};
use taperbook_record::Shop;
use taperbook_units::Length;

use crate::drawer::Sized;

/// What glue wants between a bore and a blank, and what lacquer takes of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Room {
    pub(crate) least: Length,
    pub(crate) most: Length,
    pub(crate) lacquer: Length,
    /// What is wider than `most` by no more than this is taken up: by thread under the glue, else by an arbor.
    pub(crate) taken_up: Length,
}

/// What a turn or two of thread under the glue takes up: common practice, no source.
const THREAD: Length = Length::from_mm(0.25);
/// The thickest wall of an arbor at a butt ferrule, and of one of cork under a reel seat: common practice, no source.
const THICKEST_ARBOR: Length = Length::from_mm(2.0);
const THICKEST_CORK: Length = Length::from_mm(5.0);
/// Sanding that takes more of the wall than this is no way out: common practice, no source.
const MOST_OF_WALL: f64 = 0.10;

/// A rounding error of the arithmetic is no fault of the drawer.
const HAIR: Length = Length::from_mm(1e-6);

impl Room {
    /// At a tip-top: as the shop says, else 0.05 mm to 0.15 mm (common practice, no source).
    pub(crate) fn at_tip(shop: &Shop) -> Self {
        let (least, most) = shop.allowances.tip_top.unwrap_or((mm(0.05), mm(0.15)));
        Self { least, most, lacquer: lacquer(shop), taken_up: THREAD }
    }

    /// At a butt ferrule: as the shop says, else 0.1 mm to 0.3 mm (common practice, no source).
    pub(crate) fn at_butt(shop: &Shop) -> Self {
        let (least, most) = shop.allowances.butt.unwrap_or((mm(0.1), mm(0.3)));
        Self { least, most, lacquer: lacquer(shop), taken_up: THICKEST_ARBOR * 2.0 }
    }

    /// At a reel seat: as at a butt ferrule, with thicker arbors.
    pub(crate) fn at_seat(shop: &Shop) -> Self {
        Self { taken_up: THICKEST_CORK * 2.0, ..Self::at_butt(shop) }
    }

    /// The clearance that a bore leaves.
    pub(crate) fn clearance(&self, bore: Length, od: Length) -> Length {
        bore - od - self.lacquer
    }

    /// Says whether a bore goes on a diameter directly.
    pub(crate) fn holds(&self, bore: Length, od: Length) -> bool {
        let clearance = self.clearance(bore, od).m();
        (self.least - HAIR).m() <= clearance && clearance <= (self.most + HAIR).m()
    }

    /// Says whether a bore goes on a diameter directly, with thread or on an arbor.
    pub(crate) fn takes(&self, bore: Length, od: Length) -> bool {
        let clearance = self.clearance(bore, od).m();
        let most = self.most + self.taken_up + HAIR;
        (self.least - HAIR).m() <= clearance && clearance <= most.m()
    }

    /// Says whether any size of a drawer, which is sorted by bore, goes on a diameter.
    pub(crate) fn takes_one_of(&self, drawer: &[Sized], od: Length) -> bool {
        // The smallest that is not too tight: where it is too wide, so are all that are larger.
        let tight =
            drawer.partition_point(|sized| self.clearance(sized.bore, od) < self.least - HAIR);
        drawer.get(tight).is_some_and(|sized| self.takes(sized.bore, od))
    }

    /// The thickest blank that a bore goes over.
    pub(crate) fn thickest(&self, bore: Length) -> Length {
        bore - self.least - self.lacquer
    }
}

fn lacquer(shop: &Shop) -> Length {
    shop.allowances.lacquer.unwrap_or_default()
}

const fn mm(mm: f64) -> Length {
    Length::from_mm(mm)
}

/// A diameter and how sure it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Diameter {
    pub(crate) value: Length,
    pub(crate) sd: Length,
}

/// Holds one size beside a diameter of a tube at a place from its butt.
pub(crate) fn fit(sized: &Sized, od: Diameter, room: &Room, tube: &Tube, at: Length) -> Fit {
    let clearance = room.clearance(sized.bore, od.value);
    let sd = (od.sd.mm().powi(2) + sized.bore_sd.mm().powi(2)).sqrt();
    let spread = inverse_normal(0.95) * sd;
    let below = |end: Length| normal((end - clearance).mm() / sd);
    let sanding = (clearance < room.least && !room.holds(sized.bore, od.value))
        .then(|| sanding(tube, at, room.least - clearance))
        .flatten();
    let how = if room.holds(sized.bore, od.value) {
        FitHow::Direct
    } else if clearance < room.least {
        match sanding {
            Some(sanding) if sanding.of_wall <= MOST_OF_WALL => FitHow::Sand,
            _ => FitHow::TooTight,
        }
    } else if !room.takes(sized.bore, od.value) {
        FitHow::TooWide
    } else if clearance <= room.most + THREAD {
        FitHow::Thread
    } else {
        FitHow::Arbor
    };
    Fit {
        fitting: sized.fitting.clone(),
        size: sized.size.clone(),
        bore_mm: sized.bore.mm(),
        bore_was_measured: sized.was_measured,
        ring_mm: sized.ring.map(Length::mm),
        count: sized.count,
        how,
        clearance_mm: Number::Known {
            value: clearance.mm(),
            low: clearance.mm() - spread,
            high: clearance.mm() + spread,
        },
        chance: (0.0 < sd).then(|| (below(room.most) - below(room.least)).clamp(0.0, 1.0)),
        arbor_mm: (how == FitHow::Arbor).then(|| (clearance - room.least).mm() / 2.0),
        sanding,
        sits_at_mm: None,
        adds_length_mm: sized.adds_length.map(Length::mm),
        adds_weight_g: sized.adds_weight.map(taperbook_units::Mass::g),
    }
}

/// What taking so much off a diameter costs: the outer fibres carry most of a bend, since stiffness goes with the fourth
/// power of the diameter, EI = E π/64 (D⁴ − d⁴).
fn sanding(tube: &Tube, at: Length, off: Length) -> Option<Sanding> {
    let (od, wall) = (tube.od_at(at).m(), tube.wall_at(at).m());
    let inner = od - 2.0 * wall;
    let sanded = od - off.m();
    if wall <= 0.0 || sanded <= 0.0 {
        return None;
    }
    let fourth = |d: f64| d.powi(4);
    let of_stiffness = (fourth(od) - fourth(sanded)) / (fourth(od) - fourth(inner));
    Some(Sanding {
        off_diameter_mm: off.mm(),
        of_wall: (off.m() / 2.0 / wall).min(1.0),
        of_stiffness: of_stiffness.clamp(0.0, 1.0),
    })
}
