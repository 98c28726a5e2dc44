//! Ready files for a new record: the keys that matter, and hints for the rest.
//!
//! What must be filled in stands empty, so that the reader asks for it; what may be left out is a comment.

use taperbook_units::Units;

use crate::{Date, Kind};

/// Writes a new record of a kind.
///
/// The name becomes the heading, the date a build's date where it is known.
/// As it comes, a blank card lacks its length, a build its blank, a fitting its part and an offcut its build,
/// and reading it says so; nothing else is wrong with it.
pub fn template(kind: Kind, name: &str, date: Option<Date>, units: Units) -> String {
    let name = name.trim().replace(['\n', '\r'], " ");
    let dated = date.map(|date| format!("date: {date}\n")).unwrap_or_default();
    let lengths = Lengths::of(units);
    match kind {
        Kind::Blank => blank(&name, &lengths),
        Kind::Build => build(&name, &dated, &lengths),
        Kind::Fitting => fitting(&name),
        Kind::Offcut => offcut(&name, &dated, &lengths),
        Kind::Shop => shop(&name, units, &lengths),
        Kind::Note => format!("# {name}\n"),
    }
}

/// Lengths of one blank, as examples.
struct Lengths {
    whole: &'static str,
    middle: &'static str,
    held_at: &'static str,
    shortest: &'static str,
    longest: &'static str,
    aim: &'static str,
    cut: &'static str,
    offcut: &'static str,
}

impl Lengths {
    fn of(units: Units) -> Self {
        match units {
            Units::Inches => Self {
                whole: "7'2\"",
                middle: "30 in",
                held_at: "9 in",
                shortest: "6'8\"",
                longest: "7'0\"",
                aim: "6'10\"",
                cut: "1 in",
                offcut: "11 in",
            },
            Units::Millimetres => Self {
                whole: "2184 mm",
                middle: "760 mm",
                held_at: "230 mm",
                shortest: "2030 mm",
                longest: "2130 mm",
                aim: "2080 mm",
                cut: "25 mm",
                offcut: "280 mm",
            },
        }
    }
}

fn blank(name: &str, lengths: &Lengths) -> String {
    let Lengths { whole, middle, held_at, .. } = lengths;
    format!(
        "---
kind: blank
length:                       # of the bare blank, ferrule closed, such as {whole}
# maker: Northfell
# pieces: 1
# stock: 2                    # how many are on the rack
# material: carbon            # carbon | glass | blend
# tip: tubular                # tubular | solid (spliced)
# weight: 46 g
# held_at: {held_at}               # where hand or clamp grips, from the butt
# calipers:                   # diameters, measured from the butt; the wall where an end shows it
#   - {{ at: 0 mm, od: 11.20 mm, wall: 1.05 mm }}
#   - {{ at: {middle}, od: 8.4 mm }}
#   - {{ at: {whole}, od: 1.75 mm }}
# joints: [{{ at: 43 in, type: ferrule, overlap: 3 in }}]
# spine: 40 deg from the label
---
# {name}
"
    )
}

fn build(name: &str, dated: &str, lengths: &Lengths) -> String {
    let Lengths { whole, held_at, shortest, longest, aim, cut, .. } = lengths;
    format!(
        "---
kind: build
blank:                        # the name of its blank card, such as heron-704
{dated}# customer: Ilse
# purpose: small spoons for sea trout from the rocks of an estuary
# held_at: {held_at}               # where hand or clamp grips, from the butt
# limits: {{ length: {shortest} .. {longest}, tip_od: .. 2.2 mm, power: 200 g .. 260 g }}
# aim: {{ length: {aim}, power: 235 g }}
# bench:
#   - read: {{ length: {whole}, tip_od: 1.75 mm, weight: 46 g, power: 212 g, tip_angle: 66 deg }}
#   - plan: {{ tip: {cut} }}
#   - cut: {{ tip: {cut}, with: rotary disc }}
#   - feel: loads early, still throws straight
#   - settled: {{ tip: \"any stiffer, and it won't throw\" }}
# verdict: keep               # keep | recut | scrap
# rating: 4                   # 1..5
---
# {name}
"
    )
}

fn fitting(name: &str) -> String {
    format!(
        "---
kind: fitting
part:                         # tip-top | butt-ferrule | reel-seat | guide
# sizes:                      # what is in the drawer: the marked size and, better, the measured bore
#   - {{ marked: 5.5/64 in, bore: 2.25 mm, ring: 6 mm, count: 4 }}
# adds: {{ length: 8 mm, weight: 0.6 g }}
---
# {name}
"
    )
}

fn offcut(name: &str, dated: &str, lengths: &Lengths) -> String {
    let Lengths { offcut, .. } = lengths;
    format!(
        "---
kind: offcut
from:                         # the build that it came from, such as ilse-heron
{dated}# end: butt                   # tip | butt
# length: {offcut}
# weight: 9 g
# calipers:
#   - {{ at: 0 mm, od: 11.20 mm, wall: 1.05 mm }}
#   - {{ at: {offcut}, od: 10.1 mm }}
---
# {name}
"
    )
}

fn shop(name: &str, units: Units, lengths: &Lengths) -> String {
    let Lengths { held_at, .. } = lengths;
    let units = match units {
        Units::Inches => "inches",
        Units::Millimetres => "millimetres",
    };
    let name = format!("'{}'", name.replace('\'', "''"));
    format!(
        "# This file marks the shop folder and holds what all its records share.
name: {name}
units: {units}                 # inches | millimetres
held_at: {held_at}                 # where hand or clamp grips, from the butt, when neither build nor card says
# boards: {{ long board: {{ clamp: vice, tilt: 0.5 deg }} }}
# clamps: {{ vice: {{ gives: 0.5 deg }} }}                # under 1 kg hung a metre out on something stiff
# errors: {{ caliper: 0.03 mm, scale: 0.5 g }}
# allowances: {{ tip_top: 0.05 mm .. 0.15 mm, butt: 0.1 mm .. 0.3 mm, lacquer: 0.05 mm }}
# saws: {{ rotary disc: {{ kerf: 0.6 mm }}, fine saw: 1 mm }}
"
    )
}
