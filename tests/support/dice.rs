//! Numbers that look random, the same for the same seed.

/// M. E. O'Neill's PCG XSH RR 64/32 (2014).
#[derive(Debug, Clone)]
pub(crate) struct Dice {
    state: u64,
    spare: Option<f64>,
}

impl Dice {
    pub(crate) fn new(seed: u64) -> Self {
        let mut dice = Self {
            state: seed.wrapping_mul(0x5851_f42d_4c95_7f2d) ^ 0x1405_7b7e_f767_814f,
            spare: None,
        };
        for _ in 0..4 {
            dice.bits();
        }
        dice
    }

    fn bits(&mut self) -> u32 {
        let old = self.state;
        self.state = old
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        let mixed = u32::try_from((((old >> 18) ^ old) >> 27) & 0xffff_ffff).unwrap();
        mixed.rotate_right(u32::try_from(old >> 59).unwrap())
    }

    pub(crate) fn bits64(&mut self) -> u64 {
        u64::from(self.bits()) << 32 | u64::from(self.bits())
    }

    /// Above 0, and 1 at most.
    pub(crate) fn even(&mut self) -> f64 {
        (f64::from(self.bits()) + 1.0) / 4_294_967_296.0
    }

    pub(crate) fn below(&mut self, end: usize) -> usize {
        usize::try_from(self.bits()).unwrap() % end
    }

    /// Gaussian (Box and Muller, 1958).
    pub(crate) fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        let radius = (-2.0 * self.even().ln()).sqrt();
        let turn = self.even() * std::f64::consts::TAU;
        self.spare = Some(radius * turn.sin());
        radius * turn.cos()
    }

    /// A number from 0 to 1 that belongs to this one: the finalizer of splitmix64 (Steele, Lea, Flood 2014).
    pub(crate) fn hash(of: u64) -> f64 {
        let mut z = of.wrapping_add(0x9e37_79b9_7f4a_7c15);
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
        f64::from(u32::try_from(z >> 32).unwrap()) / f64::from(u32::MAX)
    }
}
