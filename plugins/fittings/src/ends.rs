//! How far each end may be cut before nothing of the drawer goes on, and how far it must be until something does.

use taperbook_bench::Piece;
use taperbook_mechanics::Tube;
use taperbook_record::End;
use taperbook_units::Length;

use crate::drawer::Sized;
use crate::fit::Room;

/// What must stay of a blank: less can't be held and bent.
const LEAST_FREE: Length = Length::from_mm(100.0);
/// Places along an end at which the drawer is tried; what is found is then narrowed to a hundredth of a millimetre.
const STEP: Length = Length::from_mm(1.0);
const MOST_STEPS: u32 = 4000;

/// How far one end may be cut, from a state on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Reach {
    /// So much may come off and something still goes on; beyond it nothing does. Zero when nothing ever goes on, `None` when
    /// something does however much comes off.
    pub(crate) left: Option<Length>,
    /// So much must come off until something goes on; `None` when nothing ever does.
    pub(crate) until: Option<Length>,
}

/// Finds how far one end of a tube may be cut; `None` without a drawer.
///
/// The drawer is sorted by bore. `held_at` is where it is held, which a cut of the tip can't pass.
pub(crate) fn reach(
    tube: &Tube,
    drawer: &[Sized],
    room: &Room,
    end: End,
    held_at: Option<Length>,
) -> Option<Reach> {
    if drawer.is_empty() {
        return None;
    }
    let goes_on = |cut: Length| {
        let od = od_after(tube, end, cut);
        room.takes_one_of(drawer, od)
    };
    let most = match end {
        End::Tip => tube.length() - held_at.unwrap_or_default() - LEAST_FREE,
        // Nobody takes half of a blank off its butt to make a ferrule fit.
        End::Butt => tube.length() / 2.0,
    };
    let places = (0..MOST_STEPS).map(|n| STEP * f64::from(n));
    let places: Vec<Length> = places.take_while(|cut| *cut <= most).collect();
    let first = places.iter().position(|cut| goes_on(*cut));
    let last = places.iter().rposition(|cut| goes_on(*cut));
    let (Some(first), Some(last)) = (first, last) else {
        return Some(Reach { left: Some(Length::default()), until: None });
    };
    let until = match first {
        0 => Length::default(),
        _ => edge(&goes_on, places[first], places[first - 1]),
    };
    let left = places.get(last + 1).map(|outside| edge(&goes_on, places[last], *outside));
    Some(Reach { left, until: Some(until) })
}

/// The diameter at an end after so much came off it.
pub(crate) fn od_after(tube: &Tube, end: End, cut: Length) -> Length {
    match end {
        End::Tip => tube.od_at(tube.length() - cut),
        End::Butt => tube.od_at(cut),
    }
}

/// The last place at which something goes on between one where it does and one where it does not.
fn edge(goes_on: &impl Fn(Length) -> bool, inside: Length, outside: Length) -> Length {
    let (mut inside, mut outside) = (inside, outside);
    while Length::from_mm(0.01) < (outside - inside).abs() {
        let middle = (inside + outside) / 2.0;
        if goes_on(middle) { inside = middle } else { outside = middle }
    }
    inside
}

/// The most likely tube of a piece with so much off in all.
pub(crate) fn tube_of(piece: &Piece, off: taperbook_bench::Cuts) -> Result<Tube, String> {
    let fitted = piece.fitted.as_ref().map_err(Clone::clone)?;
    fitted.posterior.tube().trimmed(off.tip, off.butt).map_err(|error| error.to_string())
}
