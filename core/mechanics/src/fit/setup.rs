//! Where readings are taken: boards and clamps, and their places among the parameters of a fit.

use super::parameters::{BLANK, GIVE, Slopes, TILT};

/// The board and the clamp that a reading was taken in, by keys of the caller's choice; what is equal is taken to be the same.
///
/// Tilt belongs to the board, give to the clamp. The default is the one board and clamp of a shop that names none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Setup {
    /// The board.
    pub board: u64,
    /// The clamp.
    pub clamp: u64,
}

/// The boards and clamps of a fit, in order; after the blank's own parameters come a tilt for each board, then a give for each clamp.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Setups {
    boards: Vec<u64>,
    clamps: Vec<u64>,
}

impl Setups {
    /// Those of some setups.
    pub(crate) fn of(setups: impl Iterator<Item = Setup>) -> Self {
        let mut all = Self::default();
        setups.for_each(|setup| all.add(setup));
        all
    }

    /// Those of some keys, each sort in order and without repeats; else nothing.
    pub(crate) fn of_keys(boards: &[u64], clamps: &[u64]) -> Option<Self> {
        let in_order = |keys: &[u64]| keys.windows(2).all(|pair| pair[0] < pair[1]);
        let setups = || Self { boards: boards.to_vec(), clamps: clamps.to_vec() };
        (in_order(boards) && in_order(clamps)).then(setups)
    }

    fn add(&mut self, setup: Setup) {
        for (keys, key) in [(&mut self.boards, setup.board), (&mut self.clamps, setup.clamp)] {
            if let Err(place) = keys.binary_search(&key) {
                keys.insert(place, key);
            }
        }
    }

    /// These and others.
    pub(crate) fn with(&self, others: &Self) -> Self {
        let mut all = self.clone();
        for (keys, more) in [(&mut all.boards, &others.boards), (&mut all.clamps, &others.clamps)] {
            keys.extend(more);
            keys.sort_unstable();
            keys.dedup();
        }
        all
    }

    pub(crate) fn boards(&self) -> &[u64] {
        &self.boards
    }

    pub(crate) fn clamps(&self) -> &[u64] {
        &self.clamps
    }

    /// How many parameters a fit in these has.
    pub(crate) fn n(&self) -> usize {
        BLANK + self.boards.len() + self.clamps.len()
    }

    /// The parameter that is the tilt of a board.
    pub(crate) fn tilt(&self, board: u64) -> Option<usize> {
        self.boards.binary_search(&board).ok().map(|place| BLANK + place)
    }

    /// The parameter that is the give of a clamp.
    pub(crate) fn give(&self, clamp: u64) -> Option<usize> {
        let place = self.clamps.binary_search(&clamp).ok()?;
        Some(BLANK + self.boards.len() + place)
    }

    /// The tilt parameters, then the give parameters.
    pub(crate) fn is_tilt(&self, parameter: usize) -> bool {
        (BLANK..BLANK + self.boards.len()).contains(&parameter)
    }

    /// Where the parameters of these lie among those of others; none for a board or clamp that the others lack.
    pub(crate) fn places_in(&self, others: &Self) -> Vec<Option<usize>> {
        let boards = self.boards.iter().map(|board| others.tilt(*board));
        let clamps = self.clamps.iter().map(|clamp| others.give(*clamp));
        (0..BLANK).map(Some).chain(boards).chain(clamps).collect()
    }

    /// Spreads a number's derivatives over all parameters; `by_give` is what the give of its clamp changes by its parameter.
    pub(crate) fn spread(&self, slopes: &Slopes, setup: Setup, by_give: f64) -> Vec<f64> {
        let mut out = vec![0.0; self.n()];
        out[..BLANK].copy_from_slice(&slopes[..BLANK]);
        if let Some(tilt) = self.tilt(setup.board) {
            out[tilt] = slopes[TILT];
        }
        if let Some(give) = self.give(setup.clamp) {
            out[give] = slopes[GIVE] * by_give;
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shared_clamp_has_one_give() {
        let (long, short) = (Setup { board: 7, clamp: 2 }, Setup { board: 3, clamp: 2 });
        let setups = Setups::of([long, short, long].into_iter());
        assert_eq!(setups.n(), BLANK + 3);
        assert_eq!((setups.tilt(3), setups.tilt(7)), (Some(BLANK), Some(BLANK + 1)));
        assert_eq!((setups.give(2), setups.give(3)), (Some(BLANK + 2), None));
        let other = Setups::of([Setup { board: 5, clamp: 1 }].into_iter());
        let all = setups.with(&other);
        assert_eq!(all.n(), BLANK + 5);
        let places = setups.places_in(&all);
        let expected = [Some(BLANK), Some(BLANK + 2), Some(BLANK + 4)];
        assert_eq!(places[BLANK..], expected);
        assert_eq!(all.places_in(&setups)[BLANK + 1], None);
    }
}
