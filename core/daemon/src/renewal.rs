//! When a daemon begins anew: after so much work that most of what it holds is free memory between what stays.

/// What is known of that.
#[derive(Debug)]
pub(crate) struct Renewal {
    /// This program took over from one that had worked so much.
    is_renewed: bool,
    /// How many records were read or examined many at a time, since this program began.
    n_records: usize,
    /// So often it is waited for the index to be merged.
    n_waits: usize,
    is_off: bool,
}

/// It is worth it after no fewer records than these…
const FEWEST: usize = 512;
/// …and for each so many that the shop has.
const SHARE: usize = 4;
/// At every rest it is looked whether the index is merged, which takes seconds in a large shop.
const MOST_WAITS: usize = 40;

impl Renewal {
    pub(crate) fn new(is_renewed: bool) -> Self {
        Self { is_renewed, n_records: 0, n_waits: 0, is_off: false }
    }

    /// So many records were read or examined at a time, in a first look or later.
    pub(crate) fn worked(&mut self, n_records: usize, is_first: bool) {
        if n_records < FEWEST {
            return;
        }
        // Where what was done is not kept, as on a full disk, it would be done again and again.
        self.is_off |= is_first && self.is_renewed;
        self.n_records += n_records;
        self.n_waits = MOST_WAITS;
    }

    /// Whether to begin anew, in a shop of so many records, now that nothing is left to do.
    pub(crate) fn is_due(&mut self, records: usize, is_merged: bool) -> bool {
        if !self.is_worth_it(records) {
            self.n_waits = 0;
            return false;
        }
        self.n_waits = self.n_waits.saturating_sub(1);
        is_merged || self.n_waits == 0
    }

    /// Whether to look again soon.
    pub(crate) fn waits(&self) -> bool {
        0 < self.n_waits
    }

    fn is_worth_it(&self, records: usize) -> bool {
        !self.is_off && FEWEST <= self.n_records && records <= SHARE * self.n_records
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_worth_it_after_a_part_of_the_shop() {
        let mut renewal = Renewal::new(false);
        renewal.worked(FEWEST - 1, true);
        assert!(!renewal.is_due(600, true) && !renewal.waits());
        renewal.worked(FEWEST, false);
        assert!(!renewal.is_due(SHARE * FEWEST + 1, true) && !renewal.waits());
        assert!(renewal.is_due(SHARE * FEWEST, true));
    }

    #[test]
    fn it_waits_for_the_index_but_not_for_ever() {
        let mut renewal = Renewal::new(false);
        renewal.worked(1000, true);
        for _ in 1..MOST_WAITS {
            assert!(!renewal.is_due(1000, false) && renewal.waits());
        }
        assert!(renewal.is_due(1000, false) && !renewal.waits());
        assert!(renewal.is_due(1000, false), "asked for again at every rest until it is done");
    }

    #[test]
    fn it_never_goes_round_in_circles() {
        let mut renewal = Renewal::new(true);
        renewal.worked(1000, true);
        assert!(!renewal.is_due(1000, true) && !renewal.waits(), "nothing of before was kept");
        let mut renewal = Renewal::new(true);
        renewal.worked(3, true);
        renewal.worked(1000, false);
        assert!(renewal.is_due(1000, true));
    }
}
