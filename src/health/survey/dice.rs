//! Numbers that look random, the same for the same seed.

/// Steele, Lea and Flood's `SplitMix64` (2014).
#[derive(Debug, Clone)]
pub(super) struct Dice(u64);

impl Dice {
    pub(super) fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number below `end`; its bias is below one in 2³² for what is shuffled here.
    fn below(&mut self, end: usize) -> usize {
        let wide = (u128::from(self.bits()) * end as u128) >> 64;
        usize::try_from(wide).unwrap_or(0)
    }

    /// Puts things into a random order (Fisher and Yates).
    pub(super) fn shuffle<T>(&mut self, things: &mut [T]) {
        for at in (1..things.len()).rev() {
            things.swap(at, self.below(at + 1));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sequence_is_the_published_one() {
        // The first three numbers for seed 1234567, as printed with the reference code in C.
        let mut dice = Dice::new(1_234_567);
        let first: Vec<u64> = (0..3).map(|_| dice.bits()).collect();
        assert_eq!(
            first,
            [
                6_457_827_717_110_365_317,
                3_203_168_211_198_807_973,
                9_817_491_932_198_370_423
            ]
        );
    }

    #[test]
    fn a_shuffle_keeps_everything() {
        let mut things: Vec<usize> = (0..100).collect();
        Dice::new(3).shuffle(&mut things);
        assert_ne!(things, (0..100).collect::<Vec<_>>());
        things.sort_unstable();
        assert_eq!(things, (0..100).collect::<Vec<_>>());
    }
}
