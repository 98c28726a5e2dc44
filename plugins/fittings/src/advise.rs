//! Which fittings go on a blank as it is and as it would be.

use taperbook_bench::{Cuts, Piece, limits, piece};
use taperbook_mechanics::Tube;
use taperbook_plugin::{Cut, Ends, Fit, FitHow, FittingsAdvice, FittingsAt, Number, View};
use taperbook_record::{End, Measure, Shop};
use taperbook_units::Length;

use crate::drawer::{Drawers, Sized};
use crate::ends::{Reach, reach, tube_of};
use crate::fit::{Diameter, Room, fit};

/// So many of a drawer are told, those that come nearest.
const N_TOLD: usize = 4;

/// Answers which fittings go on in some states.
///
/// # Errors
/// When the record is no blank or build, or its diameters are not known; says why.
pub(crate) fn fittings(
    view: &View,
    id: &str,
    states: &[(String, Cut)],
) -> Result<FittingsAdvice, String> {
    let piece = piece(view, id).ok_or_else(|| {
        format!("`{id}` is neither a build nor a blank card: nothing can be fitted to it")
    })?;
    let shop = view.shop();
    let drawers = Drawers::of(view);
    let told = states.iter().map(|(name, cut)| at(&piece, &shop, &drawers, name, *cut));
    let states: Vec<FittingsAt> = told.collect::<Result<_, _>>()?;
    let mut words = words(&shop, &drawers);
    if states.iter().any(names_sanding) {
        words.push(SANDING.to_owned());
    }
    Ok(FittingsAdvice { record: id.to_owned(), states, words })
}

/// Why sanding is no way out, and what it takes to do it all the same.
const SANDING: &str = "sanding takes the outer fibres, which carry most of a bend, so a blank that is sanded to fit breaks there first; where it must be: a fitted particulate respirator, eye protection, gloves, the dust caught wet and never swept dry; follow the maker's data sheet and local rules";

fn names_sanding(at: &FittingsAt) -> bool {
    let all = [&at.tip_tops, &at.butt_ferrules, &at.reel_seats];
    all.into_iter().flatten().any(|fit| fit.sanding.is_some())
}

fn at(
    piece: &Piece,
    shop: &Shop,
    drawers: &Drawers,
    name: &str,
    cut: Cut,
) -> Result<FittingsAt, String> {
    let (tip, butt) = (Length::from_mm(cut.tip_mm), Length::from_mm(cut.butt_mm));
    let off = piece.walk.present().off.plus(tip, butt);
    let tube = tube_of(piece, off)?;
    let (tip_room, butt_room, seat_room) =
        (Room::at_tip(shop), Room::at_butt(shop), Room::at_seat(shop));
    let [tip_od, butt_od] = [Measure::TipOd, Measure::ButtOd].map(|end| diameter(piece, off, end));
    let (tip_od, butt_od) = (tip_od?, butt_od?);
    let ends = [
        reach(&tube, &drawers.tip_tops, &tip_room, End::Tip, piece.held_at),
        reach(&tube, &drawers.butt_ferrules, &butt_room, End::Butt, piece.held_at),
    ];
    let [left_tip, left_butt] =
        ends.map(|end| end.and_then(|reach: Reach| reach.left).map(Length::mm));
    let [until_tip, until_butt] = ends.map(|end| end.and_then(|r| r.until).map(Length::mm));
    let at_tip = |sized: &Sized| fit(sized, tip_od, &tip_room, &tube, tube.length());
    let at_butt = |sized: &Sized, room: &Room| {
        let mut fit = fit(sized, butt_od, room, &tube, Length::default());
        fit.sits_at_mm = sits_at(&tube, room.thickest(sized.bore)).map(Length::mm);
        fit
    };
    let butt_ferrules = drawers.butt_ferrules.iter().map(|sized| at_butt(sized, &butt_room));
    let reel_seats = drawers.reel_seats.iter().map(|sized| at_butt(sized, &seat_room));
    Ok(FittingsAt {
        state: name.to_owned(),
        cut,
        tip_od_mm: number(tip_od),
        butt_od_mm: number(butt_od),
        tip_tops: nearest(drawers.tip_tops.iter().map(at_tip), &tip_room),
        butt_ferrules: nearest(butt_ferrules, &butt_room),
        reel_seats: nearest(reel_seats, &seat_room),
        left: Ends { tip_mm: left_tip, butt_mm: left_butt },
        until: Ends { tip_mm: until_tip, butt_mm: until_butt },
    })
}

/// The diameter of an end, with what is unsure of it.
fn diameter(piece: &Piece, off: Cuts, end: Measure) -> Result<Diameter, String> {
    // Diameters are the same wherever it is held.
    let outcome = piece.outcome(off, piece.held_at.unwrap_or_default())?;
    let value = piece.value(end, off, Length::default());
    let value = value.ok_or("the diameters of this blank can't be worked out")?;
    Ok(Diameter {
        value: Length::from_m(value),
        sd: Length::from_m(limits::deviation(&outcome, end)),
    })
}

fn number(od: Diameter) -> Number {
    let spread = limits::inverse_normal(0.95) * od.sd.mm();
    let value = od.value.mm();
    Number::Known { value, low: value - spread, high: value + spread }
}

/// How far from the butt a bore comes to rest when it is slid on from the tip: where the blank first is as thick as it
/// can take. Nought when it goes over the butt itself, `None` when it goes nowhere.
fn sits_at(tube: &Tube, thickest: Length) -> Option<Length> {
    const STEP: Length = Length::from_mm(0.5);
    let places = (0..8000_u32).map(|n| STEP * f64::from(n));
    let mut places = places.take_while(|at| *at <= tube.length());
    places.find(|at| tube.od_at(*at) <= thickest)
}

/// The sizes that come nearest: those that go on by the least to do, the nearest to the middle of the room first.
fn nearest(fits: impl Iterator<Item = Fit>, room: &Room) -> Vec<Fit> {
    let middle = (room.least.mm() + room.most.mm()) / 2.0;
    let mut fits: Vec<(u8, f64, Fit)> = fits
        .map(|fit| {
            let off = fit.clearance_mm.value().map_or(f64::INFINITY, |c| (c - middle).abs());
            (rank(fit.how), off, fit)
        })
        .collect();
    fits.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    fits.into_iter().map(|(_, _, fit)| fit).take(N_TOLD).collect()
}

fn rank(how: FitHow) -> u8 {
    match how {
        FitHow::Direct => 0,
        FitHow::Thread => 1,
        FitHow::Arbor => 2,
        FitHow::Sand => 3,
        FitHow::TooWide | FitHow::TooTight => 4,
    }
}

fn words(shop: &Shop, drawers: &Drawers) -> Vec<String> {
    let mut words = Vec::new();
    if drawers.is_empty() {
        words.push("there is no fitting in the shop: `taperbook new fitting tip-tops` makes a drawer to fill in".to_owned());
    }
    for (drawer, name) in [
        (&drawers.tip_tops, "tip-top"),
        (&drawers.butt_ferrules, "butt ferrule"),
        (&drawers.reel_seats, "reel seat"),
    ] {
        if drawer.is_empty() && !drawers.is_empty() {
            words.push(format!("no {name} is in the drawers, so nothing is said of one"));
        }
        if drawer.iter().any(|sized| !sized.was_measured) {
            words.push(format!("a {name} whose bore is only marked may be 0.1 mm off: measure it (common practice, no source)"));
        }
    }
    if shop.allowances.tip_top.is_none() || shop.allowances.butt.is_none() {
        words.push("what shop.yaml does not say of `allowances` is taken as usual: 0.05 mm .. 0.15 mm at a tip-top, 0.1 mm .. 0.3 mm at a butt (common practice, no source)".to_owned());
    }
    if !drawers.used_up.is_empty() {
        words.push(format!("none are left of {}", drawers.used_up.join(", ")));
    }
    words
}
