//! Whole jobs on the simulated bench: suggest, cut, read, suggest again, until it says stop.
//!
//! The blank's truth is hidden from the plugin, which sees nothing but the records that a builder would have written.

use std::fmt::Write as _;

use taperbook_testkit::beam::Clamp;
use taperbook_testkit::bench::{Bench, Instruments};
use taperbook_testkit::piece::Piece;
use taperbook_testkit::rng::Rng;
use taperbook_testkit::style::Style;
use taperbook_testkit::truth::{Spread, Truth};
use taperbook_units::{Length, Mass};

use crate::shop::Shop;

/// How a shop works.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Setting {
    /// Past builds of the model.
    pub(crate) n_past: usize,
    /// One of them was read on the board, which tells how level the clamp is.
    pub(crate) board_once: bool,
    /// The clamp was levelled, and `shop.yaml` says so.
    pub(crate) levelled: bool,
    /// The builder reads whatever is asked for; else nothing but lengths and powers.
    pub(crate) reads_all: bool,
    /// How far length may be off its aim.
    pub(crate) length: Length,
    /// How far power may be off its aim, as a part.
    pub(crate) power: f64,
    /// One power reading in twenty is wrong by 15 %.
    pub(crate) slips: bool,
}

/// How a job went.
#[derive(Debug, Clone, Default)]
pub(crate) struct Job {
    pub(crate) n_cuts: usize,
    /// Readings that were asked for, those after each cut not counted.
    pub(crate) n_asked: usize,
    /// It came to a stop by itself.
    pub(crate) ended: bool,
    /// By its true numbers it ended inside all limits.
    pub(crate) inside: bool,
    /// By its true numbers no further cut brings it inside.
    pub(crate) over_cut: bool,
    /// True power less aim, as a part.
    pub(crate) power_miss: f64,
    /// How many standard deviations the true power is above what was expected last.
    pub(crate) z: f64,
    /// The record as it was at the end, for a test that fails.
    pub(crate) record: String,
}

const HELD_AT: Length = Length::from_inches(9.0);

/// Does one job; the same seed does the same job.
pub(crate) fn job(setting: Setting, seed: u64) -> Job {
    let mut rng = Rng::new(seed);
    let styles = [Style::Light, Style::Medium, Style::Stout, Style::LongCarbon];
    let style = styles[rng.below(styles.len())];
    let model = Truth::random(&mut rng, style);
    let mut clamp = Clamp::random(&mut rng);
    let mut errors = "";
    if setting.levelled {
        clamp.raised *= 0.2;
        errors = "errors: { tilt: 0.1 deg }\n";
    }
    let slip_chance = if setting.slips { 0.05 } else { 0.0 };
    let instruments = Instruments { slip_chance, ..Instruments::default() };
    let mut bench = Bench::new(clamp, instruments, Rng::new(rng.bits()));
    let mut shop = Shop::default();
    shop.put("shop.yaml", &format!("name: simulated\nunits: millimetres\nheld_at: 9 in\n{errors}"));
    let sibling = |rng: &mut Rng| Piece::uncut(model.sibling(rng, &Spread::default()));
    shop.put("blanks/model.md", &card(&mut bench, &sibling(&mut rng), style));
    for past_idx in 0..setting.n_past {
        let piece = sibling(&mut rng);
        let with_board = setting.board_once && past_idx == 0;
        let text = past_build(&mut bench, piece, &mut rng, with_board);
        shop.put(&format!("builds/past-{past_idx:02}.md"), &text);
    }
    work(setting, &mut shop, &mut bench, sibling(&mut rng), &mut rng)
}

/// Works on a piece until the plugin says stop, or the builder can't go on.
fn work(
    setting: Setting,
    shop: &mut Shop,
    bench: &mut Bench,
    mut piece: Piece,
    rng: &mut Rng,
) -> Job {
    const MOST_TURNS: usize = 40;
    // The customer has held a rod that this blank can become.
    let wanted = piece.after(
        Length::from_mm(rng.between(15.0, 60.0).round()),
        Length::from_mm(rng.between(0.0, 90.0).round()),
    );
    let aim_length = Length::from_mm(wanted.length().mm().round());
    let aim_power = Mass::from_g(wanted.power(HELD_AT).expect("it can be read").g().round());
    let lengths = [aim_length - setting.length, aim_length + setting.length];
    let powers = [aim_power * (1.0 - setting.power), aim_power * (1.0 + setting.power)];
    let mut text = format!(
        "---\nkind: build\nblank: model\nheld_at: 9 in\nlimits: {{ length: {:.0} mm .. {:.0} mm, power: {:.1} g .. {:.1} g }}\n\
         aim: {{ length: {:.0} mm, power: {:.0} g }}\nbench:\n",
        lengths[0].mm(),
        lengths[1].mm(),
        powers[0].g(),
        powers[1].g(),
        aim_length.mm(),
        aim_power.g()
    );
    let first = readings(bench, &piece, true);
    text.push_str(&first);
    let mut job = Job::default();
    for _ in 0..MOST_TURNS {
        shop.put("builds/now.md", &format!("{text}---\n"));
        let advice = shop.suggest("builds/now");
        let known =
            advice.expected.get(taperbook_record::Measure::Power).and_then(|power| power.known());
        if let Some((value, _, high)) = known {
            let sd = (high / value).ln() / 1.645;
            let then = advice.next_cut.map_or(piece.clone(), |cut| {
                piece.after(Length::from_mm(cut.tip_mm), Length::from_mm(cut.butt_mm))
            });
            job.z = (then.power(HELD_AT).expect("it can be read").kg() / value).ln() / sd;
        }
        if let Some(cut) = advice.next_cut {
            let [tip, butt] = [cut.tip_mm, cut.butt_mm].map(Length::from_mm);
            bench.cut(&mut piece, tip, butt);
            let ends: Vec<String> = [("tip", tip), ("butt", butt)]
                .into_iter()
                .filter(|(_, cut)| Length::default() < *cut)
                .map(|(end, cut)| format!("{end}: {:.1} mm", cut.mm()))
                .collect();
            let _ = writeln!(text, "  - cut: {{ {} }}", ends.join(", "));
            text.push_str(&readings(bench, &piece, false));
            job.n_cuts += 1;
            continue;
        }
        if advice.why_stop.is_some() {
            job.ended = true;
            break;
        }
        let what = advice.measure_next.expect("it says what to measure, or why to stop");
        if what.starts_with("power") {
            let _ = writeln!(text, "  - read: {{ power: {:.1} g }}", power(bench, &piece));
        } else if setting.reads_all {
            let _ = writeln!(text, "  - read: {{ {} }}", asked(bench, &piece, &what));
        } else {
            // He has nothing but a weight and a tape, and leaves it there.
            break;
        }
        job.n_asked += 1;
    }
    judge(&mut job, &piece, lengths, powers, aim_power);
    job.record = text;
    job
}

fn judge(job: &mut Job, piece: &Piece, lengths: [Length; 2], powers: [Mass; 2], aim_power: Mass) {
    let inside = |piece: &Piece| {
        let (length, power) = (piece.length(), piece.power(HELD_AT).expect("it can be read"));
        lengths[0] <= length && length <= lengths[1] && powers[0] <= power && power <= powers[1]
    };
    job.inside = inside(piece);
    let steps = || (0..=24).map(|step| Length::from_mm(5.0 * f64::from(step)));
    let can_be_mended = steps().any(|tip| steps().any(|butt| inside(&piece.after(tip, butt))));
    job.over_cut = !job.inside && !can_be_mended;
    job.power_miss = piece.power(HELD_AT).expect("it can be read") / aim_power - 1.0;
}

/// A blank card, measured on one piece of the model as a builder does: nine diameters and the wall at both ends.
fn card(bench: &mut Bench, piece: &Piece, style: Style) -> String {
    let length = piece.length();
    let mut text = format!(
        "---\nkind: blank\nlength: {:.0} mm\nmaterial: {}\ncalipers:\n",
        bench.read_length(piece).mm(),
        style.material()
    );
    for place_idx in 0..=8 {
        let place = length * (f64::from(place_idx) / 8.0);
        let od = bench.read_od(piece, place).mm();
        let wall = if place_idx % 8 == 0 {
            format!(", wall: {:.2} mm", bench.read_wall(piece, place).mm())
        } else {
            String::new()
        };
        let _ = writeln!(text, "  - {{ at: {:.0} mm, od: {od:.2} mm{wall} }}", place.mm().floor());
    }
    text + "---\n"
}

/// A build that was finished: cut at the tip, then at the butt, and read in between.
fn past_build(bench: &mut Bench, mut piece: Piece, rng: &mut Rng, with_board: bool) -> String {
    let mut text = "---\nkind: build\nblank: model\nheld_at: 9 in\nbench:\n".to_owned();
    text.push_str(&readings(bench, &piece, true));
    if with_board {
        let _ = writeln!(text, "  - read: {{ {} }}", board(bench, &piece));
    }
    for end in ["tip", "butt"] {
        let cut = Length::from_mm(rng.between(20.0, 60.0).round());
        let (tip, butt) =
            if end == "tip" { (cut, Length::default()) } else { (Length::default(), cut) };
        bench.cut(&mut piece, tip, butt);
        let _ = writeln!(text, "  - cut: {{ {end}: {:.0} mm }}", cut.mm());
        text.push_str(&readings(bench, &piece, false));
    }
    let rating = 2 + rng.below(4);
    let _ = writeln!(text, "verdict: keep\nrating: {rating}\n---");
    text
}

fn readings(bench: &mut Bench, piece: &Piece, first: bool) -> String {
    let mut text = format!(
        "  - read: {{ length: {:.0} mm, power: {:.1} g",
        bench.read_length(piece).mm(),
        power(bench, piece)
    );
    if first {
        let _ = write!(text, ", tip_od: {:.2} mm", bench.read_tip_od(piece).mm());
        let _ = write!(text, ", weight: {:.1} g", bench.read_weight(piece).g());
    }
    text + " }\n"
}

fn power(bench: &mut Bench, piece: &Piece) -> f64 {
    bench.read_power(piece, HELD_AT).expect("it can be read").g()
}

/// Takes the reading that was asked for.
fn asked(bench: &mut Bench, piece: &Piece, what: &str) -> String {
    let can = "it can be read";
    if what.starts_with("tip angle") {
        format!("tip_angle: {:.0} deg", bench.read_tip_angle(piece, HELD_AT).expect(can).deg())
    } else if what.starts_with("frequency") {
        format!("frequency: {:.2} Hz", bench.read_frequency(piece, HELD_AT).expect(can).hz())
    } else if what.starts_with("weight") {
        format!("weight: {:.1} g", bench.read_weight(piece).g())
    } else if what.starts_with("balance") {
        format!("balance: {:.0} mm", bench.read_balance(piece).mm())
    } else if what.starts_with("tip diameter") {
        format!("tip_od: {:.2} mm", bench.read_tip_od(piece).mm())
    } else if what.starts_with("butt diameter") {
        format!("butt_od: {:.2} mm", bench.read_butt_od(piece).mm())
    } else if what.starts_with("board points") {
        board(bench, piece)
    } else {
        panic!("nobody can read this: {what}")
    }
}

/// Five places along the blank under half, once and one and a half times its power.
fn board(bench: &mut Bench, piece: &Piece) -> String {
    let power = Mass::from_g(power(bench, piece).round());
    let free = piece.length() - HELD_AT;
    let loads = [0.5, 1.0, 1.5].map(|times| {
        let load = Mass::from_g((power.g() * times).round());
        let outward: Vec<Length> = (1..=5).map(|part| free * (0.16 * f64::from(part))).collect();
        let points = bench.read_board(piece, HELD_AT, load, &outward).expect("it can be read");
        let points: Vec<String> =
            points.iter().map(|(x, y)| format!("[{:.0} mm, {:.0} mm]", x.mm(), y.mm())).collect();
        format!("{{ load: {:.0} g, points: [{}] }}", load.g(), points.join(", "))
    });
    format!("board: [{}]", loads.join(", "))
}
