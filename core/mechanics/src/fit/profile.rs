//! From the calipers of a card to the stations of a tube: order, ends, and walls that nobody measured.

use taperbook_units::Length;

use super::card::{Caliper, Card, Fibre};
use super::prior::FitError;
use crate::tube::{Station, TubeError};

/// The measured shape of a blank.
#[derive(Debug, Clone)]
pub(crate) struct Profile {
    /// From butt to tip.
    pub(crate) stations: Vec<Station>,
    /// Where calipers were, in m.
    pub(crate) measured_at: Vec<f64>,
    /// The walls that were measured, and where, in m.
    pub(crate) walls: Vec<(f64, f64)>,
    /// Where a spliced solid tip begins, in m.
    pub(crate) splice: Option<f64>,
    /// Whether the calipers nearest to the butt and to the tip were put to this very piece.
    pub(crate) ends_are_own: [bool; 2],
    /// For each station whether two pieces overlap from there to the next.
    pub(crate) jointed: Vec<bool>,
    /// For each station what part of it is another piece's: how much of what this piece is larger by than its card says is felt there.
    pub(crate) of_another: Vec<f64>,
}

/// How long a spliced solid tip is taken to be, in m, but not more than a quarter of the blank: 30 to 45 cm is usual
/// (common practice, no source), and a card doesn't say.
const SOLID_TIP: f64 = 0.37;
/// Over what length the wall goes from a tube's to a solid tip's, in m.
const SPLICE: f64 = 0.01;

/// Calipers may lie beyond the end by this part of the length: a piece is a little shorter than its card says.
const BEYOND: f64 = 0.03;
/// A straight line carried on to an end never takes a diameter or wall below this part of the nearest one measured.
const LEAST_PART: f64 = 0.25;
/// Two calipers nearer than this, in m, are at one place.
const SAME_PLACE: f64 = 1e-6;

impl Profile {
    pub(crate) fn new(card: &Card) -> Result<Self, FitError> {
        let length = card.length.m();
        if !(1e-3..=1e3).contains(&length) {
            return Err(FitError::NoLength(card.length));
        }
        let mut calipers = card.calipers.clone();
        for caliper in &calipers {
            check(caliper, card.length)?;
        }
        calipers.sort_by(|a, b| a.at.m().total_cmp(&b.at.m()));
        if let Some(pair) = calipers.windows(2).find(|pair| near(pair[0].at, pair[1].at)) {
            return Err(FitError::SamePlace(pair[1].at));
        }
        let ([first, _, ..], [.., last]) = (&calipers[..], &calipers[..]) else {
            return Err(FitError::TooFewDiameters(calipers.len()));
        };
        let ends_are_own = [first.own, last.own];
        let mut ends = Vec::new();
        if !near(first.at, Length::from_m(0.0)) {
            let at = Length::from_m(0.0);
            ends.push(carried_on(far_enough(calipers[1..].iter(), first, at), first, at));
        }
        if last.at < card.length && !near(last.at, card.length) {
            let inner = far_enough(calipers.iter().rev().skip(1), last, card.length);
            ends.push(carried_on(inner, last, card.length));
        }
        let tip_wall_is_known = last.wall.is_some();
        let measured_at = calipers.iter().map(|caliper| caliper.at.m()).collect();
        let measured = calipers.clone();
        let walls: Vec<_> = (calipers.iter())
            .filter_map(|caliper| Some((caliper.at.m(), caliper.wall?.m())))
            .collect();
        calipers.extend(ends);
        calipers.sort_by(|a, b| a.at.m().total_cmp(&b.at.m()));
        let stations: Vec<_> = (calipers.iter())
            .map(|caliper| Station {
                at: caliper.at,
                od: caliper.od,
                wall: caliper.wall.unwrap_or_else(|| supposed_wall(caliper, &calipers, card.fibre)),
            })
            .collect();
        let mut stations = cut_to(stations, card.length);
        let splice = card.solid_tip.then(|| length - SOLID_TIP.min(0.25 * length));
        if let Some(splice) = splice {
            splice_tip(&mut stations, splice, tip_wall_is_known);
        }
        let overlaps: Vec<[f64; 2]> = (card.joints.iter())
            .map(|joint| {
                let (at, half) = (joint.at.m(), 0.5 * joint.overlap.m());
                [(at - half).max(0.0), (at + half).min(length)]
            })
            .filter(|[from, to]| SAME_PLACE < to - from)
            .collect();
        for at in overlaps.as_flattened() {
            add_station(&mut stations, *at);
        }
        let is_jointed = |at: f64| {
            overlaps.iter().any(|[from, to]| *from - SAME_PLACE <= at && at < *to - SAME_PLACE)
        };
        let jointed = stations.iter().map(|station| is_jointed(station.at.m())).collect();
        let of_another = stations.iter().map(|station| of_another(&measured, station.at)).collect();
        Ok(Self { stations, measured_at, walls, splice, ends_are_own, jointed, of_another })
    }
}

/// What part of the diameter at a place was measured on another piece; all of it counts as such where no caliper, or every one, is of
/// this very piece, since then there is nothing between them to differ.
fn of_another(calipers: &[Caliper], at: Length) -> f64 {
    let n_own = calipers.iter().filter(|caliper| caliper.own).count();
    if n_own == 0 || n_own == calipers.len() {
        return 1.0;
    }
    let part = |caliper: &Caliper| if caliper.own { 0.0 } else { 1.0 };
    let next = calipers.partition_point(|caliper| caliper.at < at);
    match (next.checked_sub(1).and_then(|before| calipers.get(before)), calipers.get(next)) {
        (Some(a), Some(b)) => part(a) + (part(b) - part(a)) * ((at - a.at) / (b.at - a.at)),
        (Some(one), None) | (None, Some(one)) => part(one),
        (None, None) => 1.0,
    }
}

fn near(a: Length, b: Length) -> bool {
    (a - b).abs().m() < SAME_PLACE
}

fn check(caliper: &Caliper, length: Length) -> Result<(), FitError> {
    let Caliper { at, od, wall, .. } = *caliper;
    if !(0.0 <= at.m() && at.m() <= length.m() * (1.0 + BEYOND)) {
        return Err(FitError::OffTheBlank { at, length });
    }
    if !(0.0 < od.m() && od.m() <= 1.0) {
        return Err(TubeError::NoDiameter { at, od }.into());
    }
    match wall {
        Some(wall) if !(0.0 < wall.m() && wall.m() <= 0.5 * od.m() * (1.0 + 1e-12)) => {
            Err(TubeError::BadWall { at, wall, od }.into())
        }
        _ => Ok(()),
    }
}

/// The caliper through which, and through the nearest one `b`, a line is carried on to an end: the next that is no nearer to `b`
/// than the end is, or what a caliper is off by would grow on the way.
fn far_enough<'a>(
    inward: impl Iterator<Item = &'a Caliper>,
    b: &'a Caliper,
    end: Length,
) -> &'a Caliper {
    let enough = (end - b.at).abs() * 0.999;
    let mut furthest = b;
    for caliper in inward {
        furthest = caliper;
        if enough <= (caliper.at - b.at).abs() {
            break;
        }
    }
    furthest
}

/// The section where a straight line through two calipers meets an end; `b` is the nearer.
fn carried_on(a: &Caliper, b: &Caliper, at: Length) -> Caliper {
    let steps = (at - b.at) / (b.at - a.at);
    let line = |a: Length, b: Length| {
        let carried = b + (b - a) * steps;
        if LEAST_PART * b.m() < carried.m() { carried } else { b * LEAST_PART }
    };
    let od = line(a.od, b.od);
    let wall = match (a.wall, b.wall) {
        (Some(a), Some(b)) => Some(Length::from_m(line(a, b).m().min(0.5 * od.m()))),
        _ => None,
    };
    Caliper { at, od, wall, own: b.own }
}

/// What a wall is taken to be where nobody measured it.
///
/// The usual wall for the diameter, times what the measured walls are of the usual: in a straight line between them and
/// constant beyond. Never more than half of the diameter.
fn supposed_wall(caliper: &Caliper, calipers: &[Caliper], fibre: Fibre) -> Length {
    let known = |other: &&Caliper| other.wall.is_some();
    let ratio = |other: &Caliper| {
        let wall = other.wall.map_or(0.0, Length::m);
        (other.at, wall / usual_wall(other.od, fibre).m())
    };
    let before = calipers.iter().filter(known).rfind(|other| other.at < caliper.at).map(ratio);
    let after = calipers.iter().filter(known).find(|other| caliper.at < other.at).map(ratio);
    let times = match (before, after) {
        (Some((a, at_a)), Some((b, at_b))) => at_a + (at_b - at_a) * ((caliper.at - a) / (b - a)),
        (Some((_, one)), None) | (None, Some((_, one))) => one,
        (None, None) => 1.0,
    };
    let wall = usual_wall(caliper.od, fibre) * times;
    Length::from_m(wall.m().min(0.45 * caliper.od.m()))
}

/// The usual wall of a blank for its diameter: common practice, no source.
fn usual_wall(od: Length, fibre: Fibre) -> Length {
    let (least_mm, part) = match fibre {
        Fibre::Carbon => (0.3, 0.06),
        Fibre::Glass => (0.4, 0.09),
        Fibre::Blend | Fibre::Unknown => (0.35, 0.075),
    };
    let wall = Length::from_mm(least_mm) + od * part;
    Length::from_m(wall.m().min(0.4 * od.m()))
}

/// Stations up to the length, the last one on it.
fn cut_to(stations: Vec<Station>, length: Length) -> Vec<Station> {
    let mut kept: Vec<Station> = Vec::with_capacity(stations.len());
    for station in stations {
        match kept.last() {
            Some(&before) if length < station.at => {
                if !near(before.at, length) {
                    let part = (length - before.at) / (station.at - before.at);
                    let od = before.od + (station.od - before.od) * part;
                    let wall = before.wall + (station.wall - before.wall) * part;
                    kept.push(Station { at: length, od, wall });
                }
                break;
            }
            _ => kept.push(station),
        }
    }
    // Calipers within a thousandth of a millimetre of an end are on it.
    if let Some(first) = kept.first_mut() {
        first.at = Length::from_m(0.0);
    }
    if let Some(last) = kept.last_mut() {
        last.at = length;
    }
    kept
}

/// Puts a station where a solid tip begins, and makes solid what lies beyond unless its wall was measured.
fn splice_tip(stations: &mut Vec<Station>, splice: f64, wall_is_known: bool) {
    for at in [splice, splice + SPLICE.min(0.5 * splice)] {
        add_station(stations, at);
    }
    if !wall_is_known {
        let solid = stations.iter_mut().filter(|station| splice + SAME_PLACE < station.at.m());
        solid.for_each(|station| station.wall = station.od * 0.5);
    }
}

/// Puts a station at a place, unless there is one.
fn add_station(stations: &mut Vec<Station>, at: f64) {
    let next = stations.partition_point(|station| station.at.m() < at);
    if let Some([a, b]) = stations.get(next.saturating_sub(1)..=next)
        && SAME_PLACE < (at - a.at.m()).min(b.at.m() - at)
    {
        let part = (at - a.at.m()) / (b.at.m() - a.at.m());
        let (od, wall) = (a.od + (b.od - a.od) * part, a.wall + (b.wall - a.wall) * part);
        stations.insert(next, Station { at: Length::from_m(at), od, wall });
    }
}
