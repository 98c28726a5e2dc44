//! The bench of a build, item by item, as states of the piece.

use taperbook_record::{Action, Build, Reading, Spanned};
use taperbook_units::Length;

/// What is off each end of the uncut blank.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Cuts {
    /// Off the tip.
    pub tip: Length,
    /// Off the butt.
    pub butt: Length,
}

impl Cuts {
    /// Both ends together.
    pub fn total(self) -> Length {
        self.tip + self.butt
    }

    /// Adds further cuts.
    #[must_use]
    pub fn plus(self, tip: Length, butt: Length) -> Self {
        Self { tip: self.tip + tip, butt: self.butt + butt }
    }
}

/// The piece between two cuts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PieceState {
    /// The item of the bench that made this state; `None` for the uncut blank.
    pub item: Option<usize>,
    /// The sum of the cuts as they were logged.
    pub logged: Cuts,
    /// What is really off, as far as length readings tell: the mechanics uses this.
    pub off: Cuts,
    /// Length of the bare blank; a length that was read wins over the sum of cuts.
    pub length: Option<Length>,
    /// Set when the length was read in this very state.
    pub length_was_read: bool,
}

/// An end that the builder has decided is finished.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Settlement {
    /// Why the tip is finished.
    pub tip: Option<String>,
    /// Why the butt is finished.
    pub butt: Option<String>,
}

/// A build's bench as states of the piece.
#[derive(Debug, Clone, PartialEq)]
pub struct Walk {
    /// The uncut blank, then one state after each cut.
    pub states: Vec<PieceState>,
    /// For each item of the bench, the state in which it was done; a cut counts to the state it made.
    pub state_of_item: Vec<usize>,
    /// What is planned to come off from the present state and was not cut yet: the item of the plan, and the rest of it.
    /// An end that was settled after the plan is no longer planned.
    pub planned: Option<(usize, Cuts)>,
    /// Ends that are finished.
    pub settled: Settlement,
    /// The first cut of which an amount could not be read: from there on nobody knows what is off.
    pub unread_cut: Option<usize>,
}

impl Walk {
    /// How many of the cuts that lead to so much off are made and not followed by a tape: a cut of both ends counts twice.
    pub(crate) fn n_cuts_unmeasured(&self, off: Cuts) -> usize {
        let made = |state: &&PieceState| state.off.tip <= off.tip && state.off.butt <= off.butt;
        let states: Vec<&PieceState> = self.states.iter().take_while(made).collect();
        let measured = states.iter().rposition(|state| state.length_was_read).unwrap_or(0);
        let none = Length::default();
        let ends = |pair: &[&PieceState]| {
            let (before, after) = (pair[0].logged, pair[1].logged);
            usize::from(none < after.tip - before.tip)
                + usize::from(none < after.butt - before.butt)
        };
        states[measured.min(states.len())..].windows(2).map(ends).sum()
    }
}

/// How far lengths may be apart before it is worth a word: 3 mm (design, rules of records) and what arithmetic rounds.
pub(crate) const WORTH_A_WORD: Length = Length::from_mm(3.0 + 1e-6);

/// How far a blank may be from its maker's word before the cuts are doubted: two standard deviations of it, and less
/// than an inch, which is what a cut logged twice most often is.
pub(crate) const MAKERS_WORD: Length = Length::from_mm(20.0);

/// Walks through a build's bench; `card_length` is what the blank card states.
///
/// Where a length was read after cuts, the difference to what the cuts give is laid on the cuts since the length was
/// last known: a cut that was logged twice then counts once, and any other difference is shared in proportion.
/// A maker's length is no measurement: as long as it is near, the difference to it is laid on the uncut length instead.
pub fn walk(build: &Build, card_length: Option<Length>) -> Walk {
    let uncut = uncut_length(build).or(card_length).or_else(|| length_from_first_reading(build));
    let mut states = vec![PieceState {
        item: None,
        logged: Cuts::default(),
        off: Cuts::default(),
        length: uncut,
        length_was_read: uncut_length(build).is_some(),
    }];
    let mut state_of_item = Vec::with_capacity(build.bench.len());
    let mut planned: Option<(usize, Cuts)> = None;
    let mut settled = Settlement::default();
    let mut unread_cut = None;
    // The states of which the length is known otherwise than from cuts, in order.
    let mut known = vec![0];

    for (item_idx, item) in build.bench.iter().enumerate() {
        let present = states[states.len() - 1];
        match &item.action {
            Action::Cut(cut) => {
                let tip = cut.tip.as_ref().map(|tip| tip.value).unwrap_or_default();
                let butt = cut.butt.as_ref().map(|butt| butt.value).unwrap_or_default();
                states.push(PieceState {
                    item: Some(item_idx),
                    logged: present.logged.plus(tip, butt),
                    off: present.off.plus(tip, butt),
                    length: present
                        .length
                        .filter(|_| !cut.unread)
                        .map(|length| length - tip - butt),
                    length_was_read: false,
                });
                planned = planned.filter(|_| !cut.unread).and_then(|plan| without(plan, tip, butt));
                if cut.unread {
                    unread_cut = unread_cut.or(Some(item_idx));
                    known.clear();
                }
            }
            Action::Plan(plan) => {
                let tip = plan.tip.as_ref().map(|tip| tip.value).unwrap_or_default();
                let butt = plan.butt.as_ref().map(|butt| butt.value).unwrap_or_default();
                planned = Some((item_idx, Cuts { tip, butt }));
            }
            Action::Settled(ends) => {
                let why = |end: &Option<Spanned<String>>| end.as_ref().map(|why| why.value.clone());
                let of_end = |settled: bool, planned: Length| {
                    if settled { planned } else { Length::default() }
                };
                planned = planned.and_then(|plan| {
                    let tip = of_end(ends.tip.is_some(), plan.1.tip);
                    let butt = of_end(ends.butt.is_some(), plan.1.butt);
                    without(plan, tip, butt)
                });
                settled.tip = why(&ends.tip).or(settled.tip);
                settled.butt = why(&ends.butt).or(settled.butt);
            }
            Action::Read(reading) => {
                if let Some(length) = bare_length(reading) {
                    let last = states.len() - 1;
                    // A second reading of one state replaces the first.
                    known.retain(|state_idx| *state_idx < last);
                    take_length(&mut states, known.last().copied(), length);
                    known.push(last);
                }
            }
            Action::Pull(_) | Action::Feel(_) | Action::Unread => {}
        }
        state_of_item.push(states.len() - 1);
    }
    Walk { states, state_of_item, planned, settled, unread_cut }
}

impl Walk {
    /// The piece as it now is.
    pub fn present(&self) -> &PieceState {
        // The uncut blank is always there.
        &self.states[self.states.len() - 1]
    }

    /// The uncut blank.
    pub fn uncut(&self) -> &PieceState {
        &self.states[0]
    }
}

/// The length that a reading gives of the bare blank; guides and fittings make another length of it.
pub(crate) fn bare_length(reading: &Reading) -> Option<Length> {
    reading.length.as_ref().filter(|_| !reading.dressed).map(|length| length.value)
}

/// The length read before the first cut; the last one, when it was read again.
fn uncut_length(build: &Build) -> Option<Length> {
    let before_cuts = build.bench.iter().take_while(|item| !matches!(item.action, Action::Cut(_)));
    let lengths = before_cuts.filter_map(|item| match &item.action {
        Action::Read(reading) => bare_length(reading),
        _ => None,
    });
    lengths.last()
}

/// Without a card or an early reading, the first length read plus what was cut before it.
fn length_from_first_reading(build: &Build) -> Option<Length> {
    let mut off = Length::default();
    for item in &build.bench {
        match &item.action {
            Action::Cut(cut) if cut.unread => return None,
            Action::Cut(cut) => {
                off = off + cut.tip.as_ref().map(|tip| tip.value).unwrap_or_default();
                off = off + cut.butt.as_ref().map(|butt| butt.value).unwrap_or_default();
            }
            Action::Read(reading) => {
                if let Some(length) = bare_length(reading) {
                    return Some(length + off);
                }
            }
            _ => {}
        }
    }
    None
}

/// Takes a length that was read in the last state; `base_idx` is the state before it whose length is known.
fn take_length(states: &mut [PieceState], base_idx: Option<usize>, read: Length) {
    if let Some(base_idx) = base_idx {
        let (base, last) = (states[base_idx], states[states.len() - 1]);
        let logged = last.logged.total() - base.logged.total();
        if let Some(from) = base.length
            && Length::default() < logged
        {
            let gap = read - (from - logged);
            if base.item.is_none() && !base.length_was_read && gap.abs() <= MAKERS_WORD {
                for state in states.iter_mut() {
                    state.length = state.length.map(|length| length + gap);
                }
            } else {
                lay_on_cuts(&mut states[base_idx..], from, read);
            }
        }
    }
    if let Some(last) = states.last_mut() {
        last.length = Some(read);
        last.length_was_read = true;
    }
}

/// Makes the cuts after the first of these states add up to the length that was read at the last; none makes a blank
/// longer.
fn lay_on_cuts(states: &mut [PieceState], from: Length, read: Length) {
    let mut cuts: Vec<Cuts> = states
        .windows(2)
        .map(|pair| Cuts {
            tip: pair[1].logged.tip - pair[0].logged.tip,
            butt: pair[1].logged.butt - pair[0].logged.butt,
        })
        .collect();
    let sum = |cuts: &[Cuts]| cuts.iter().fold(Length::default(), |sum, cut| sum + cut.total());
    let gap = read - (from - sum(&cuts));
    if WORTH_A_WORD < gap {
        leave_out_repeated(&mut cuts, gap);
    }
    let sum = sum(&cuts);
    let factor = if Length::default() < sum { ((from - read) / sum).max(0.0) } else { 0.0 };
    for (state_idx, cut) in cuts.into_iter().enumerate() {
        let off = states[state_idx].off.plus(cut.tip * factor, cut.butt * factor);
        states[state_idx + 1].off = off;
        states[state_idx + 1].length = Some(from - (off.total() - states[0].off.total()));
    }
}

/// Leaves out the second of two equal cuts when that closes the gap.
fn leave_out_repeated(cuts: &mut [Cuts], gap: Length) {
    let closes =
        |length: Length| Length::default() < length && (gap - length).abs() <= WORTH_A_WORD;
    let same = |a: Length, b: Length| (a - b).abs() <= Length::from_mm(0.5);
    for cut_idx in 1..cuts.len() {
        let (before, cut) = (&cuts[..cut_idx], cuts[cut_idx]);
        let tip_again = before.iter().any(|other| same(other.tip, cut.tip));
        let butt_again = before.iter().any(|other| same(other.butt, cut.butt));
        let both_again =
            before.iter().any(|other| same(other.tip, cut.tip) && same(other.butt, cut.butt));
        if both_again && closes(cut.total()) {
            cuts[cut_idx] = Cuts::default();
            return;
        }
        if tip_again && closes(cut.tip) {
            cuts[cut_idx].tip = Length::default();
            return;
        }
        if butt_again && closes(cut.butt) {
            cuts[cut_idx].butt = Length::default();
            return;
        }
    }
}

/// What is left of a plan after a cut; nothing when it is used up.
fn without((item, plan): (usize, Cuts), tip: Length, butt: Length) -> Option<(usize, Cuts)> {
    let left = |planned: Length, cut: Length| Length::from_m((planned - cut).m().max(0.0));
    let rest = Cuts { tip: left(plan.tip, tip), butt: left(plan.butt, butt) };
    // Less than half a millimetre is the saw's business.
    (0.5e-3 < rest.total().m()).then_some((item, rest))
}
