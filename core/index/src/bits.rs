//! A set of the documents of one segment.

/// A set of numbers below a fixed size.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Bits {
    words: Vec<u64>,
    size: u32,
}

/// How many numbers stand in one machine word.
const PER_WORD: u32 = u64::BITS;

impl Bits {
    /// Makes the empty set.
    pub(crate) fn none(size: u32) -> Self {
        Self { words: vec![0; size.div_ceil(PER_WORD) as usize], size }
    }

    /// Makes the set of all numbers below `size`.
    pub(crate) fn all(size: u32) -> Self {
        Self::none(size).opposite()
    }

    /// Puts a number in.
    ///
    /// # Panics
    /// When it is not below the size.
    pub(crate) fn insert(&mut self, number: u32) {
        assert!(number < self.size, "{number} is not below {}", self.size);
        self.words[(number / PER_WORD) as usize] |= 1 << (number % PER_WORD);
    }

    /// Says that nothing is in the set.
    pub(crate) fn is_empty(&self) -> bool {
        self.words.iter().all(|word| *word == 0)
    }

    /// Keeps what is in the other set of the same size too.
    #[must_use]
    pub(crate) fn and(mut self, other: &Self) -> Self {
        self.words.iter_mut().zip(&other.words).for_each(|(word, other)| *word &= other);
        self
    }

    /// Adds what is in the other set of the same size.
    #[must_use]
    pub(crate) fn or(mut self, other: &Self) -> Self {
        self.words.iter_mut().zip(&other.words).for_each(|(word, other)| *word |= other);
        self
    }

    /// Gives the numbers that are not in the set.
    #[must_use]
    pub(crate) fn opposite(mut self) -> Self {
        self.words.iter_mut().for_each(|word| *word = !*word);
        let used_in_last = self.size % PER_WORD;
        if used_in_last != 0
            && let Some(last) = self.words.last_mut()
        {
            *last &= (1 << used_in_last) - 1;
        }
        self
    }

    /// Goes through the numbers in order.
    pub(crate) fn iter(&self) -> impl Iterator<Item = u32> + '_ {
        (0..).zip(&self.words).flat_map(|(place, word)| {
            let mut left = *word;
            std::iter::from_fn(move || {
                let lowest = left.trailing_zeros();
                left &= left.wrapping_sub(1);
                (lowest < PER_WORD).then_some(place * PER_WORD + lowest)
            })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sets_behave_as_sets() {
        for size in [0, 1, 63, 64, 65, 130] {
            let of = |divisor: u32| {
                let mut bits = Bits::none(size);
                (0..size)
                    .filter(|number| number % divisor == 0)
                    .for_each(|number| bits.insert(number));
                bits
            };
            let check = |bits: Bits, holds: &dyn Fn(u32) -> bool| {
                let expected: Vec<u32> = (0..size).filter(|number| holds(*number)).collect();
                assert_eq!(bits.iter().collect::<Vec<_>>(), expected, "size {size}");
                assert_eq!(bits.is_empty(), expected.is_empty());
            };
            check(of(3), &|number| number % 3 == 0);
            check(of(3).and(&of(2)), &|number| number % 6 == 0);
            check(of(3).or(&of(2)), &|number| number % 3 == 0 || number % 2 == 0);
            check(of(3).opposite(), &|number| number % 3 != 0);
            check(Bits::all(size), &|_| true);
            check(Bits::none(size), &|_| false);
        }
    }
}
