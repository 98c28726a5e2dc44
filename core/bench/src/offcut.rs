//! Offcuts: what came off a build is a piece of the same blank, so each tells of the other.
//!
//! An offcut that nobody has measured gets its length, diameters and walls from the build that it came from; what was measured
//! on it teaches that build's fit, at no cost: the wall that the saw has laid open, the diameters, the weight.
//! Only cuts with `keep: yes` look for offcuts, so that an offcut concerns no other build.

use std::sync::Arc;

use taperbook_mechanics::Tube;
use taperbook_mechanics::fit::{Caliper, Card, Measured, Reading, Setup};
use taperbook_plugin::View;
use taperbook_record::{
    Action, Blank, Build, Content, Cut, End, Kind, Measure, Offcut, Record, Shop,
};
use taperbook_units::{Density, Length, Pressure};

use crate::card::take_own;
use crate::{Cuts, Piece, Taken, Walk, piece};

/// Where an offcut was on the uncut blank of its build.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Place {
    /// The item of the bench that cut it off.
    item: usize,
    /// What is off the uncut blank when this piece alone is left.
    off: Cuts,
    /// Its length.
    length: Length,
}

/// A cut of one end of a bench.
struct OneCut {
    item: usize,
    kept: bool,
    place: Place,
}

/// Gives the offcuts of a build that were kept and measured, with the places that they came from.
pub(crate) fn kept(view: &View, id: &str, build: &Build, walk: &Walk) -> Offcuts {
    let keeps = |cut: &Cut| cut.keep;
    if !build.bench.iter().any(|item| matches!(&item.action, Action::Cut(cut) if keeps(cut))) {
        return Offcuts::default();
    }
    let shop = view.shop();
    let is_of = |offcut: &Offcut| {
        let from = offcut.from.as_ref().map(|from| from.value.as_str());
        from.and_then(|from| view.found(from, Kind::Build)).is_some_and(|found| found.id == id)
    };
    let all = view.all(Kind::Offcut).into_iter().filter_map(|record| {
        let Content::Offcut(offcut) = &record.content else { return None };
        let place = is_of(offcut).then(|| place_of(offcut, build, walk, &shop))??;
        Some((place, record))
    });
    Offcuts(all.collect())
}

/// Offcuts of one build.
#[derive(Debug, Default)]
pub(crate) struct Offcuts(Vec<(Place, Arc<Record>)>);

impl Offcuts {
    /// Says whether none was kept and found.
    pub(crate) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Adds what was measured along them to the card of the build that they came from.
    pub(crate) fn add_to(&self, card: &mut Card) {
        let own = self.cards().flat_map(|(place, blank)| {
            blank.calipers.iter().map(move |caliper| Caliper {
                at: caliper.at + place.off.butt,
                od: caliper.od,
                wall: caliper.wall,
                own: true,
            })
        });
        take_own(&mut card.calipers, own.collect());
        card.calipers.sort_by(|a, b| a.at.m().total_cmp(&b.at.m()));
    }

    /// What they weigh, as readings of the build with all else cut off.
    pub(crate) fn weights(&self, build: &Build) -> Vec<Taken> {
        let weight = |(place, blank): (&Place, &Blank)| {
            let weight = blank.weight.as_ref()?.value;
            Some(Taken {
                item: place.item,
                measure: Some(Measure::Weight),
                span: build.bench.get(place.item)?.span.clone(),
                reading: Reading {
                    tip_cut: place.off.tip,
                    butt_cut: place.off.butt,
                    held_at: Length::default(),
                    setup: Setup::default(),
                    measured: Measured::Weight(weight),
                    sd: None,
                },
            })
        };
        self.cards().filter_map(weight).collect()
    }

    fn cards(&self) -> impl Iterator<Item = (&Place, &Blank)> {
        self.0.iter().filter_map(|(place, record)| Some((place, record.card()?)))
    }
}

/// Gives an offcut's card with what nobody measured taken from the build that it came from.
pub(crate) fn completed(view: &View, offcut: &Offcut) -> Blank {
    let mut card = offcut.card.clone();
    if let Some(known) = from_build(view, offcut) {
        card.length = card.length.or(known.length);
        card.material = card.material.or(known.material);
        if card.calipers.len() < 2 {
            // One diameter that was measured stays beside the computed ones.
            let own = std::mem::take(&mut card.calipers);
            let apart = |computed: &taperbook_record::Caliper| {
                own.iter().all(|own| Length::from_mm(1.0) < (own.at - computed.at).abs())
            };
            card.calipers = known.calipers.into_iter().filter(apart).chain(own.clone()).collect();
            card.calipers.sort_by(|a, b| a.at.m().total_cmp(&b.at.m()));
        }
        if card.modulus.is_none() && card.weight.is_none() {
            (card.modulus, card.density) = (known.modulus, card.density.or(known.density));
        }
    }
    card
}

/// How many diameters are computed along an offcut.
const N_PLACES: u32 = 4;

fn from_build(view: &View, offcut: &Offcut) -> Option<Blank> {
    let from = offcut.from.as_ref()?;
    let record = view.found(&from.value, Kind::Build)?;
    let build = record.build()?;
    let parent: Arc<Piece> = piece(view, &record.id)?;
    let place = place_of(offcut, build, &parent.walk, &view.shop())?;
    let spanned = |value| taperbook_record::Spanned { value, span: from.span.clone() };
    let mut blank = Blank { length: Some(spanned(place.length)), ..Blank::default() };
    let card = parent.card.as_deref().and_then(|card| view.record(card));
    blank.material = card.as_ref().and_then(|card| card.card()?.material.clone());
    let Ok(fitted) = &parent.fitted else { return Some(blank) };
    let tube = fitted.posterior.tube().trimmed(place.off.tip, place.off.butt).ok()?;
    let step = tube.length() / f64::from(N_PLACES);
    let at = |n: u32| {
        let at = step * f64::from(n);
        taperbook_record::Caliper {
            at,
            od: tube.od_at(at),
            wall: Some(tube.wall_at(at)),
            span: from.span.clone(),
        }
    };
    blank.calipers = (0..=N_PLACES).map(at).collect();
    (blank.modulus, blank.density) = material(&tube).map_or((None, None), |(modulus, density)| {
        (
            Some(taperbook_record::Spanned { value: modulus, span: from.span.clone() }),
            Some(taperbook_record::Spanned { value: density, span: from.span.clone() }),
        )
    });
    Some(blank)
}

/// The modulus and the density that a tube as a whole shows: the one that gives its middle its stiffness, and the one that gives
/// it its weight, by Simpson's rule over its sections.
fn material(tube: &Tube) -> Option<(Pressure, Density)> {
    let diameters = |at: Length| {
        let od = tube.od_at(at).m();
        (od, od - 2.0 * tube.wall_at(at).m())
    };
    let middle = tube.length() / 2.0;
    let (outer, inner) = diameters(middle);
    let second_moment = std::f64::consts::PI / 64.0 * (outer.powi(4) - inner.powi(4));
    let area = |at: Length| {
        let (outer, inner) = diameters(at);
        std::f64::consts::FRAC_PI_4 * (outer * outer - inner * inner)
    };
    let volume = (area(Length::default()) + 4.0 * area(middle) + area(tube.length())) / 6.0
        * tube.length().m();
    let modulus = tube.stiffness_at(middle) / second_moment;
    let density = tube.weight().kg() / volume;
    let is_sound = modulus.is_finite() && density.is_finite();
    is_sound.then(|| (Pressure::from_pa(modulus), Density::from_kg_per_m3(density)))
}

/// Finds the cut that an offcut came from: the item that it names, else the one of its end that was kept and is nearest in
/// length, the last of several.
fn place_of(offcut: &Offcut, build: &Build, walk: &Walk, shop: &Shop) -> Option<Place> {
    let end = offcut.end.as_ref()?.value;
    let named = offcut.item.as_ref().and_then(|item| usize::try_from(item.value).ok());
    let mut cuts = cuts(build, walk, shop, end);
    match named {
        Some(item) => cuts.retain(|cut| cut.item + 1 == item),
        None if cuts.iter().any(|cut| cut.kept) => cuts.retain(|cut| cut.kept),
        None => {}
    }
    let stated = offcut.card.length.as_ref().map(|length| length.value);
    let off = |cut: &OneCut| stated.map_or(0.0, |stated| (cut.place.length - stated).abs().m());
    let nearest = cuts.iter().rev().min_by(|a, b| off(a).total_cmp(&off(b)))?;
    let mut place = nearest.place;
    // The saw's dust is what a measured length is short of; it is off the side that the build kept.
    if let Some(stated) = stated {
        let missing = place.length - stated;
        match end {
            End::Tip => place.off.butt = place.off.butt + missing,
            End::Butt => place.off.tip = place.off.tip + missing,
        }
        place.length = stated;
    }
    Some(place)
}

/// The cuts of one end, each with the piece that came off, less what the saw turned to dust.
fn cuts(build: &Build, walk: &Walk, shop: &Shop, end: End) -> Vec<OneCut> {
    let Some(uncut) = walk.uncut().length else { return Vec::new() };
    let n_known = walk.unread_cut.unwrap_or(build.bench.len());
    let items = build.bench.iter().enumerate().take(n_known);
    let cut = |(item, found): (usize, &taperbook_record::Item)| {
        let Action::Cut(cut) = &found.action else { return None };
        let after_idx = *walk.state_of_item.get(item)?;
        let (before, after) =
            (walk.states.get(after_idx.checked_sub(1)?)?.off, walk.states[after_idx].off);
        let saw = cut.with.as_deref().and_then(|with| shop.saw(with));
        let kerf = saw.and_then(|saw| saw.kerf).unwrap_or_default();
        let (off, length) = match end {
            End::Tip => {
                let length = after.tip - before.tip - kerf;
                (Cuts { tip: before.tip, butt: uncut - before.tip - length }, length)
            }
            End::Butt => {
                let length = after.butt - before.butt - kerf;
                (Cuts { tip: uncut - before.butt - length, butt: before.butt }, length)
            }
        };
        let place = Place { item, off, length };
        (Length::default() < length).then_some(OneCut { item, kept: cut.keep, place })
    };
    items.filter_map(cut).collect()
}
