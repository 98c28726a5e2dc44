//! A blank card and the shop's errors as the mechanics wants them.

use taperbook_mechanics::fit::{Caliper, Card, Errors, Fibre, Joint, Prior};
use taperbook_record::{Action, Blank, Build, Material, Shop, TipKind};
use taperbook_units::Length;

use crate::Walk;
use crate::setup::{gives, levels};

/// Makes the mechanics' card of a blank card and one piece's bench.
///
/// Diameters that were read on the piece itself come with those of the card; with too few of either, the tip and butt
/// diameters of the uncut piece stand in. `None` when no length is known.
pub fn fit_card(
    card: Option<&Blank>,
    build: Option<(&Build, &Walk)>,
    errors: &Errors,
) -> Option<Card> {
    let stated = card.and_then(|card| card.length.as_ref()).map(|length| length.value);
    let length = build.and_then(|(_, walk)| walk.uncut().length).or(stated)?;
    let mut calipers: Vec<Caliper> = card
        .iter()
        .flat_map(|card| &card.calipers)
        .map(|caliper| Caliper {
            at: caliper.at,
            od: caliper.od,
            wall: caliper.wall,
            own: build.is_none(),
        })
        .collect();
    if let Some((build, walk)) = build {
        let own: Vec<Caliper> = own_calipers(build, walk).collect();
        take_own(&mut calipers, own);
    }
    end_at(&mut calipers, length);
    if calipers.len() < 2
        && let Some((build, _)) = build
    {
        take_own(&mut calipers, end_diameters(build, length));
    }
    calipers.sort_by(|a, b| a.at.m().total_cmp(&b.at.m()));
    Some(Card {
        length,
        length_sd: build.and_then(|(_, walk)| length_sd(walk, errors)),
        calipers,
        modulus: card.and_then(|card| card.modulus.as_ref()).map(|modulus| modulus.value),
        density: card.and_then(|card| card.density.as_ref()).map(|density| density.value),
        fibre: match card.and_then(|card| card.material.as_ref()).map(|material| material.value) {
            Some(Material::Carbon) => Fibre::Carbon,
            Some(Material::Glass) => Fibre::Glass,
            Some(Material::Blend) => Fibre::Blend,
            None => Fibre::Unknown,
        },
        solid_tip: card
            .and_then(|card| card.tip.as_ref())
            .is_some_and(|tip| tip.value == TipKind::Solid),
        joints: card.iter().flat_map(|card| &card.joints).map(joint).collect(),
    })
}

/// What would be believed of a card if what it states of modulus and density were no more than a guess; `None` where it states neither.
pub(crate) fn doubting(card: &Card, errors: &Errors) -> Option<Prior> {
    let states = card.modulus.is_some() || card.density.is_some();
    let errors = Errors {
        stated_modulus: GUESSED_MODULUS,
        stated_density: GUESSED_DENSITY,
        stated_residual: errors.residual,
        ..errors.clone()
    };
    states.then(|| Prior::from_card(card, &errors).ok())?
}

/// How far off a modulus and a density are that somebody guessed, as parts of them: common practice, no source.
const GUESSED_MODULUS: f64 = 0.4;
const GUESSED_DENSITY: f64 = 0.1;

/// How sure a piece's uncut length is: as sure as the tape where it was read, before or after its cuts.
fn length_sd(walk: &Walk, errors: &Errors) -> Option<Length> {
    walk.states.iter().any(|state| state.length_was_read).then_some(errors.length)
}

/// How far two pieces go into each other where the card doesn't say: common practice, no source.
const USUAL_OVERLAP: Length = Length::from_mm(60.0);

/// Gives how far two pieces go into each other: as the card says, or as is usual.
pub fn overlap_of(joint: &taperbook_record::Joint) -> Length {
    joint.overlap.unwrap_or(USUAL_OVERLAP)
}

fn joint(joint: &taperbook_record::Joint) -> Joint {
    Joint { at: joint.at, overlap: overlap_of(joint) }
}

/// Takes diameters of the piece in place of the card's at the same places; a wall that only the card knows stays.
pub(crate) fn take_own(calipers: &mut Vec<Caliper>, own: Vec<Caliper>) {
    for mut caliper in own {
        if let Some(same) =
            calipers.iter().position(|other| (other.at - caliper.at).abs() < SAME_PLACE)
        {
            let replaced = calipers.swap_remove(same);
            caliper.wall = caliper.wall.or(replaced.wall);
        }
        calipers.push(caliper);
    }
}

/// How far beyond the tip a caliper may lie, as a part of the length: a piece is often a little shorter than its card,
/// and the mechanics takes the diameter at its tip from the straight line to the caliper beyond.
const BEYOND: f64 = 0.03;

/// Ends a card's calipers where a shorter piece ends.
///
/// Where a caliper further beyond stood is no longer on the piece, but the straight line to it from the one before is, up to its tip.
fn end_at(calipers: &mut Vec<Caliper>, length: Length) {
    calipers.sort_by(|a, b| a.at.m().total_cmp(&b.at.m()));
    let n_on_it = calipers.partition_point(|caliper| caliper.at <= length);
    let n_kept = calipers.partition_point(|caliper| caliper.at <= length * (1.0 + BEYOND));
    let tip = (calipers[..n_on_it].last().zip(calipers.get(n_on_it)))
        .filter(|_| n_kept == n_on_it)
        .map(|(last, beyond)| {
            let part = (length - last.at) / (beyond.at - last.at);
            let walls = calipers[..n_on_it].iter().rev().find_map(|one| Some((one.at, one.wall?)));
            let wall = walls.zip(beyond.wall).map(|((at, wall), there)| {
                wall + (there - wall) * ((length - at) / (beyond.at - at))
            });
            Caliper { at: length, od: last.od + (beyond.od - last.od) * part, wall, own: false }
        });
    calipers.truncate(n_kept);
    // A diameter at the very tip needs no other.
    let is_told = calipers.last().is_some_and(|last| length - last.at < SAME_PLACE);
    calipers.extend(tip.filter(|_| !is_told));
}

/// Nearer together than this, two diameters are of one place.
const SAME_PLACE: Length = Length::from_mm(1.0);

/// Gives the standard deviations that the shop states, and the usual ones for the rest, with the tilts of its boards.
pub fn errors_of(shop: &Shop) -> Errors {
    let usual = Errors::default();
    let stated = &shop.errors;
    let at_tip = stated.caliper_at_tip.or(stated.caliper.map(|caliper| caliper * 2.0));
    let by_instrument = stated.tip_angle_by_instrument.unwrap_or(usual.tip_angle_by_instrument);
    let by_eye = stated.tip_angle.unwrap_or(usual.tip_angle);
    Errors {
        caliper_od: stated.caliper.unwrap_or(usual.caliper_od),
        caliper_tip_od: at_tip.unwrap_or(usual.caliper_tip_od),
        wall: stated.wall.unwrap_or(usual.wall),
        length: stated.length.unwrap_or(usual.length),
        stated_length: stated.stated_length.unwrap_or(usual.stated_length),
        saw: stated.saw.unwrap_or(usual.saw),
        scale: stated.scale.unwrap_or(usual.scale),
        balance: stated.balance.unwrap_or(usual.balance),
        board_drop: stated.board_drop.unwrap_or(usual.board_drop),
        reclamp: stated.reclamp.unwrap_or(usual.reclamp),
        tip_angle: by_eye,
        // An instrument is no worse than the eye.
        tip_angle_by_instrument: if by_eye < by_instrument { by_eye } else { by_instrument },
        pull: stated.pull.unwrap_or(usual.pull),
        frequency: stated.frequency.unwrap_or(usual.frequency),
        tilt: stated.tilt.unwrap_or(usual.tilt),
        levels: levels(shop),
        gives: gives(shop),
        ..usual
    }
}

/// Diameters that were read along this piece, from its uncut butt.
fn own_calipers<'a>(build: &'a Build, walk: &'a Walk) -> impl Iterator<Item = Caliper> + 'a {
    let n_known = walk.unread_cut.unwrap_or(build.bench.len());
    build.bench.iter().enumerate().take(n_known).flat_map(move |(item_idx, item)| {
        let butt_off = walk.states[walk.state_of_item[item_idx]].off.butt;
        let calipers = match &item.action {
            Action::Read(reading) if !reading.dressed => reading.calipers.as_slice(),
            _ => &[],
        };
        calipers.iter().map(move |caliper| Caliper {
            at: caliper.at + butt_off,
            od: caliper.od,
            wall: caliper.wall,
            own: true,
        })
    })
}

/// The diameters of both ends, where they were read on the uncut piece.
fn end_diameters(build: &Build, length: Length) -> Vec<Caliper> {
    let mut ends = Vec::new();
    for item in &build.bench {
        match &item.action {
            Action::Cut(_) => break,
            Action::Read(reading) => {
                if let Some(od) = &reading.butt_od {
                    ends.push(Caliper {
                        at: Length::default(),
                        od: od.value,
                        wall: None,
                        own: true,
                    });
                }
                if let Some(od) = &reading.tip_od {
                    ends.push(Caliper { at: length, od: od.value, wall: None, own: true });
                }
            }
            _ => {}
        }
    }
    ends
}
