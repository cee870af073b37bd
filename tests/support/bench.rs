//! A limiter on its own, on a made-up clock.

use std::sync::Arc;

use litfloor::floor::tables::Tables;
use litfloor::power::cap::Limiter;
use litfloor::units::Time;

pub struct Bench {
    pub tables: Arc<Tables>,
    pub limiter: Limiter,
    pub arrived: Vec<u8>,
    pub now: Time,
}

impl Bench {
    /// A limiter for the floor of a file's text, nothing asked yet.
    pub fn new(text: &str) -> Self {
        let floor = litfloor::floor::parse("made-up.toml", text)
            .unwrap_or_else(|faults| panic!("{}\n{text}", faults.render(false)));
        let tables = Arc::new(Tables::compile(&floor));
        let now = Time::from_ms(0);
        Self {
            limiter: Limiter::new(&floor, Arc::clone(&tables), now),
            arrived: vec![0; tables.universes.len() * 512],
            tables,
            now,
        }
    }

    /// All outgoing universes.
    pub fn outs(&self) -> std::ops::Range<u32> {
        0..u32::try_from(self.tables.outputs.len()).unwrap()
    }
}
