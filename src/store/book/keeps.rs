//! The book for those who know nothing of files: what is written now has the wall clock's moment.

use std::time::{Duration, SystemTime, UNIX_EPOCH};

use super::Book;
use crate::book::{
    BenchEntry, ByHand, FaultRow, Keeps, NotDone, PanelPage, PanelRow, PlacedRow, SignedRow, Step,
};
use crate::store::clock;

/// Now, by the wall clock.
pub fn now() -> SystemTime {
    UNIX_EPOCH + Duration::from_millis(u64::try_from(clock::unix_ms()).unwrap_or(0))
}

impl Keeps for Book {
    fn version(&self) -> u64 {
        Self::version(self)
    }

    fn faults(&self) -> Result<Vec<FaultRow>, NotDone> {
        Self::faults(self)
    }

    fn by_hand(&self, seen: &ByHand) -> Result<FaultRow, NotDone> {
        Self::by_hand(self, seen, now())
    }

    fn step(&self, id: i64, step: &Step) -> Result<FaultRow, NotDone> {
        Self::step(self, id, step, now())
    }

    fn panels(&self) -> Result<Vec<PanelRow>, NotDone> {
        Self::panels(self)
    }

    fn panel(&self, serial: &str) -> Result<Option<PanelPage>, NotDone> {
        Self::panel(self, serial)
    }

    fn note(&self, serial: &str, text: &str, who: &str) -> Result<(), NotDone> {
        Self::note(self, serial, text, who, now())
    }

    fn bench(&self, serial: &str, test: &BenchEntry) -> Result<(), NotDone> {
        Self::bench(self, serial, test, now())
    }

    fn place(&self, serial: &str, position: &str, who: &str) -> Result<PlacedRow, NotDone> {
        Self::place(self, serial, position, who, now())
    }

    fn unplace(&self, position: &str) -> Result<bool, NotDone> {
        Self::unplace(self, position, now())
    }

    fn placed(&self) -> Result<Vec<PlacedRow>, NotDone> {
        Self::placed(self)
    }

    fn signatures(&self, serial: &str) -> Result<Vec<SignedRow>, NotDone> {
        Self::signatures(self, serial)
    }

    fn json(&self) -> Result<String, NotDone> {
        let all = self.export()?;
        serde_json::to_string_pretty(&all).map_err(|error| NotDone::Other(error.to_string()))
    }

    fn csv(&self) -> Result<String, NotDone> {
        let failed = |error: &dyn std::fmt::Display| NotDone::Other(error.to_string());
        let mut out = Vec::new();
        let all = self.export()?;
        all.faults_csv(&mut out).map_err(|error| failed(&error))?;
        String::from_utf8(out).map_err(|error| failed(&error))
    }
}
