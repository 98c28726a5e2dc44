//! The question the other way round: which cut reaches a diameter or a length.

use taperbook_bench::{Cuts, Piece, limits};
use taperbook_plugin::{CaliperCost, Target};
use taperbook_record::{End, Measure};
use taperbook_units::{Length, Units};

/// A cut, with its 5 % and 95 % range where it was worked out from diameters.
pub(crate) struct Reached {
    pub(crate) cut: Cuts,
    pub(crate) range: Option<(Cuts, Cuts)>,
    /// What an error of the caliper costs there.
    pub(crate) caliper: Option<CaliperCost>,
}

impl Reached {
    fn exactly(cut: Cuts) -> Self {
        Self { cut, range: None, caliper: None }
    }
}

/// Works out the further cuts that a target asks for.
///
/// # Errors
/// When the target can't be reached by cutting; says what can.
pub(crate) fn reach(piece: &Piece, target: Target, units: Units) -> Result<Reached, String> {
    match target {
        Target::Cuts { tip, butt } => Ok(Reached::exactly(Cuts { tip, butt })),
        Target::Length { length, butt } => {
            let present = piece
                .walk
                .present()
                .length
                .ok_or("measure the length of the blank: nothing says how long it is")?;
            let tip = present - length - butt;
            if tip < Length::default() {
                return Err(format!(
                    "`{}` can't be reached: the blank is {} and {} comes off the butt",
                    units.length(length),
                    units.length(present),
                    units.cut(butt)
                ));
            }
            Ok(Reached::exactly(Cuts { tip, butt }))
        }
        Target::TipOd(od) => by_diameter(piece, od, End::Tip),
        Target::ButtOd(od) => by_diameter(piece, od, End::Butt),
    }
}

/// Finds the smallest further cut at one end that leaves a diameter there.
fn by_diameter(piece: &Piece, wanted: Length, end: End) -> Result<Reached, String> {
    let off = piece.walk.present().off;
    let present = piece.walk.present().length.ok_or("measure the length of the blank")?;
    let (measure, word) = match end {
        End::Tip => (Measure::TipOd, "tip"),
        End::Butt => (Measure::ButtOd, "butt"),
    };
    let at = |cut: Length| one_end(end, cut);
    let od = |cut: Length| {
        let all = off.plus(at(cut).tip, at(cut).butt);
        piece.value(measure, all, Length::default())
    };
    let now = od(Length::default()).ok_or_else(|| missing(piece))?;
    const N_STEPS: u32 = 400;
    let step = present / f64::from(N_STEPS);
    let passed =
        |value: f64| if now < wanted.m() { wanted.m() <= value } else { value <= wanted.m() };
    let reached =
        (1..N_STEPS).map(|n| step * f64::from(n)).find(|cut| od(*cut).is_some_and(passed));
    // A diameter is printed to a hundredth of a millimetre; nearer than half of that is there already.
    if (now - wanted.m()).abs() <= 0.005e-3 {
        return Ok(Reached::exactly(Cuts::default()));
    }
    let Some(mut outside) = reached else {
        let ends = (1..N_STEPS).filter_map(|n| od(step * f64::from(n)));
        let (low, high) = ends.fold((now, now), |(low, high), od| (low.min(od), high.max(od)));
        return Err(format!(
            "a {word} of {:.2} mm can't be reached by cutting the {word}: it is {:.2} mm now, and cutting gives {:.2} mm to {:.2} mm",
            wanted.mm(),
            now * 1e3,
            low * 1e3,
            high * 1e3
        ));
    };
    let mut inside = outside - step;
    while Length::from_mm(0.001) < outside - inside {
        let middle = (inside + outside) / 2.0;
        if od(middle).is_some_and(passed) { outside = middle } else { inside = middle }
    }
    let slope = slope(outside, &od);
    let range = slope.and_then(|slope| range(piece, off, end, outside, measure, slope));
    let caliper = slope.and_then(|slope| caliper(piece, end, slope));
    Ok(Reached { cut: at(outside), range, caliper })
}

/// How fast the diameter changes with the cut, around a place; `None` where it does not.
fn slope(cut: Length, od: &impl Fn(Length) -> Option<f64>) -> Option<f64> {
    let span = Length::from_mm(20.0);
    let before = Length::from_m((cut - span).m().max(0.0));
    let slope = (od(cut + span)? - od(before)?) / (cut + span - before).m();
    (slope != 0.0 && slope.is_finite()).then_some(slope)
}

/// How far the cut moves for one standard deviation of the caliper.
fn caliper(piece: &Piece, end: End, slope: f64) -> Option<CaliperCost> {
    let errors = piece.fitted.as_ref().ok()?.posterior.errors();
    let error = match end {
        End::Tip => errors.caliper_tip_od,
        End::Butt => errors.caliper_od,
    };
    Some(CaliperCost { error_mm: error.mm(), cut_mm: error.mm() / slope.abs() })
}

/// How far the cut may be off because the diameter is: its deviation over the taper at that place.
fn range(
    piece: &Piece,
    off: Cuts,
    end: End,
    cut: Length,
    measure: Measure,
    slope: f64,
) -> Option<(Cuts, Cuts)> {
    let further = one_end(end, cut);
    let all = off.plus(further.tip, further.butt);
    let outcome = piece.outcome(all, piece.held_at.unwrap_or_default()).ok()?;
    let spread = Length::from_m(
        limits::inverse_normal(0.95) * limits::deviation(&outcome, measure) / slope.abs(),
    );
    if !spread.m().is_finite() {
        return None;
    }
    let low = Length::from_m((cut - spread).m().max(0.0));
    Some((one_end(end, low), one_end(end, cut + spread)))
}

fn one_end(end: End, cut: Length) -> Cuts {
    match end {
        End::Tip => Cuts { tip: cut, butt: Length::default() },
        End::Butt => Cuts { tip: Length::default(), butt: cut },
    }
}

fn missing(piece: &Piece) -> String {
    match &piece.fitted {
        Err(what) => what.clone(),
        Ok(_) => "the diameters of this blank can't be worked out".to_owned(),
    }
}
