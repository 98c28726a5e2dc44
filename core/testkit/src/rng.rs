//! A small deterministic source of random numbers, so that a seed means the same blanks on every machine and in every year.
//!
//! This is not for secrets and not the fastest there is; it is here so that no change of a random-number crate can change a committed file.

/// A xoshiro256++ generator, seeded through SplitMix64.
///
/// Source: D. Blackman and S. Vigna, "Scrambled linear pseudorandom number generators", ACM Trans. Math. Softw. 47 (2021); the authors place the reference code in the public domain.
#[derive(Debug, Clone)]
pub struct Rng {
    state: [u64; 4],
}

impl Rng {
    /// Makes a generator from a seed; equal seeds give equal sequences.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        let mut mix = seed;
        Self { state: std::array::from_fn(|_| split_mix(&mut mix)) }
    }

    /// Makes a generator from a seed and a name, so that one build's numbers don't depend on how many builds came before it.
    #[must_use]
    pub fn named(seed: u64, name: &str) -> Self {
        // FNV-1a, 64 bit (Fowler, Noll, Vo; IETF RFC 9923): any stable hash would do here.
        let hash = name.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
        });
        Self::new(seed ^ hash)
    }

    /// Gives the next 64 random bits.
    pub fn bits(&mut self) -> u64 {
        let [a, b, c, d] = self.state;
        let out = a.wrapping_add(d).rotate_left(23).wrapping_add(a);
        let (c, d) = (c ^ a, d ^ b);
        self.state = [a ^ d, b ^ c, c ^ (b << 17), d.rotate_left(45)];
        out
    }

    /// Gives a number in `0 ≤ x < 1`, evenly spread.
    pub fn unit(&mut self) -> f64 {
        // The upper 53 bits fill the mantissa of an `f64` exactly.
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Gives a number in `low ≤ x < high`, evenly spread.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Gives a whole number in `0 ≤ n < count`, or 0 when `count` is 0.
    pub fn below(&mut self, count: usize) -> usize {
        let wide = u128::from(self.bits()) * count as u128;
        usize::try_from(wide >> 64).unwrap_or(0)
    }

    /// Is true with the given probability.
    pub fn chance(&mut self, probability: f64) -> bool {
        self.unit() < probability
    }

    /// Gives a standard normal deviate, by Marsaglia's polar method (SIAM Review 6, 1964).
    pub fn normal(&mut self) -> f64 {
        loop {
            let (x, y) = (self.between(-1.0, 1.0), self.between(-1.0, 1.0));
            let square = x * x + y * y;
            if 0.0 < square && square < 1.0 {
                return x * (-2.0 * square.ln() / square).sqrt();
            }
        }
    }

    /// Gives a rank in `0 ≤ n < count` whose chance falls as one over the rank (Zipf's law with exponent 1), or 0 when `count` is 0.
    pub fn zipf(&mut self, count: usize) -> usize {
        // The density of `e^(u ln(n + 1))` is proportional to one over its value: the continuous form of Zipf's law.
        let rank = ((count as f64 + 1.0).ln() * self.unit()).exp() - 1.0;
        crate::hand::whole(rank.floor()).min(count.saturating_sub(1))
    }

    /// Picks one of a list.
    ///
    /// # Panics
    /// When the list is empty: the lists are constants of this crate.
    pub fn pick<'a, T>(&mut self, list: &'a [T]) -> &'a T {
        &list[self.below(list.len())]
    }
}

fn split_mix(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut z = *state;
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// SplitMix64 from seed 1234567: the sequence that the reference implementation gives, as published on Rosetta Code, "Pseudo-random numbers/Splitmix64" (from memory).
    #[test]
    fn split_mix_gives_the_published_sequence() {
        let mut state = 1_234_567;
        let found: Vec<u64> = (0..5).map(|_| split_mix(&mut state)).collect();
        assert_eq!(
            found,
            [
                6_457_827_717_110_365_317,
                3_203_168_211_198_807_973,
                9_817_491_932_198_370_423,
                4_593_380_528_125_082_431,
                16_408_922_859_458_223_821
            ]
        );
    }

    /// xoshiro256++ from state 1, 2, 3, 4: the first two outputs, worked from the published recurrence by hand.
    #[test]
    fn xoshiro_follows_the_published_recurrence() {
        let mut rng = Rng { state: [1, 2, 3, 4] };
        // rotl(1 + 4, 23) + 1 = 5 × 2^23 + 1.
        assert_eq!(rng.bits(), 41_943_041);
        // The state is then 7, 0, 262146, 211106232532992; rotl(7 + 211106232532992, 23) + 7.
        assert_eq!(rng.state, [7, 0, 262_146, 211_106_232_532_992]);
        assert_eq!(rng.bits(), 58_720_359);
    }

    #[test]
    fn deviates_have_the_moments_they_claim() {
        let mut rng = Rng::new(1);
        let n = 100_000_u32;
        let (mut sum, mut square, mut fourth) = (0.0, 0.0, 0.0);
        for _ in 0..n {
            let x = rng.normal();
            sum += x;
            square += x * x;
            fourth += x.powi(4);
        }
        let n = f64::from(n);
        // Standard errors: mean 0.0032, variance 0.0045, fourth moment 0.031; four of each are allowed.
        assert!((sum / n).abs() < 0.013, "mean {}", sum / n);
        assert!((square / n - 1.0).abs() < 0.018, "variance {}", square / n);
        assert!((fourth / n - 3.0).abs() < 0.125, "fourth moment {}", fourth / n);
    }

    #[test]
    fn whole_numbers_fill_their_range_and_ranks_fall_off() {
        let mut rng = Rng::new(2);
        let mut counts = [0_u32; 10];
        for _ in 0..10_000 {
            counts[rng.below(10)] += 1;
        }
        // Each count is binomial with mean 1000 and standard deviation 30.
        assert!(counts.iter().all(|count| (880..1120).contains(count)), "{counts:?}");
        assert_eq!(rng.below(0), 0);

        let mut ranks = [0_u32; 100];
        for _ in 0..100_000 {
            ranks[rng.zipf(100)] += 1;
        }
        // Rank 0 has ln 2 / ln 101 = 15.0 % and rank 99 has ln(101/100) / ln 101 = 0.22 %.
        assert!((14_000..16_000).contains(&ranks[0]), "{}", ranks[0]);
        assert!((150..290).contains(&ranks[99]), "{}", ranks[99]);
    }

    #[test]
    fn a_name_separates_sequences() {
        let mut one = Rng::named(7, "heron");
        let mut same = Rng::named(7, "heron");
        let mut other = Rng::named(7, "wren");
        let first = one.bits();
        assert_eq!(first, same.bits());
        assert_ne!(first, other.bits());
    }
}
