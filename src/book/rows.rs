//! What the book holds, shaped as the API and the export show it. Moments are RFC 3339 in UTC, to
//! the millisecond, so that they sort as text.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// How far a fault has come.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum FaultState {
    /// It was found, by the daemon or by somebody.
    Found,
    /// Somebody is at it.
    BeingRepaired,
    /// Somebody says that it is repaired.
    Repaired,
    /// A later survey found its place good. Only the daemon says so.
    Proved,
    /// It was no fault after all.
    Dismissed,
}

impl FaultState {
    /// All of them, in the order in which a fault goes through them.
    pub const ALL: [Self; 5] = [
        Self::Found,
        Self::BeingRepaired,
        Self::Repaired,
        Self::Proved,
        Self::Dismissed,
    ];

    /// As it is written in the book and in JSON.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Found => "found",
            Self::BeingRepaired => "being_repaired",
            Self::Repaired => "repaired",
            Self::Proved => "proved",
            Self::Dismissed => "dismissed",
        }
    }

    /// The state that a word stands for.
    pub fn of(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|state| state.word() == word)
    }

    /// Whether something is left to do.
    pub const fn open(self) -> bool {
        matches!(self, Self::Found | Self::BeingRepaired | Self::Repaired)
    }

    /// Whether a fault may go from here to there. Nothing is proved that nobody has worked at: a
    /// place that is good by itself, as under a loose joint, will be bad again.
    pub const fn may_become(self, next: Self) -> bool {
        match self {
            Self::Found => matches!(next, Self::BeingRepaired | Self::Repaired | Self::Dismissed),
            Self::BeingRepaired => !matches!(next, Self::BeingRepaired),
            Self::Repaired => !matches!(next, Self::Repaired),
            Self::Proved | Self::Dismissed => matches!(next, Self::Found),
        }
    }
}

/// One step of a fault.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct StepRow {
    /// What it became.
    pub state: FaultState,
    /// When, RFC 3339.
    #[schema(example = "2026-11-27T09:30:00.000Z")]
    pub at: String,
    /// Who did it; `litfloor` if the daemon did.
    #[schema(example = "Ida")]
    pub who: String,
    /// What they said; empty if nothing.
    pub note: String,
    /// What was measured, if something was.
    #[schema(required)]
    pub evidence: Option<String>,
}

/// A fault and all its steps.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct FaultRow {
    /// Its number in the book.
    pub id: i64,
    /// That of the fault which was found; of one that was written by hand, its own.
    #[schema(example = "C4/2-3/supply_open")]
    pub key: String,
    /// The panel's, if it is known.
    #[schema(required)]
    pub serial: Option<String>,
    /// Where the panel lay when the fault was found, if it is known.
    #[schema(required)]
    pub position: Option<String>,
    /// What it is: one of the causes of `/api/v1/faults`.
    #[schema(example = "supply_open")]
    pub cause: String,
    /// Where to go, for people.
    pub place: String,
    /// What it does, for people.
    pub text: String,
    /// How sure that was when it was found: `certain`, `likely` or `possible`.
    #[schema(example = "certain")]
    pub sure: String,
    /// How far it has come: the state of its last step.
    pub state: FaultState,
    /// When it was found, RFC 3339: when its first step was.
    #[schema(example = "2026-11-27T09:30:00.000Z")]
    pub found_at: String,
    /// All that was done, the oldest first.
    pub steps: Vec<StepRow>,
    /// Whether something is left to do.
    pub open: bool,
}

/// Mean currents of one panel, beyond nothing, in amperes: `dark_a`, `red_a`, …
pub type Signature = BTreeMap<String, f64>;

/// A panel on the bench.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BenchRow {
    /// When, RFC 3339.
    #[schema(example = "2026-11-27T09:30:00.000Z")]
    pub at: String,
    /// Whether it was good.
    pub passed: bool,
    /// Who tested it.
    #[schema(example = "Ida")]
    pub who: String,
    /// What they said; empty if nothing.
    pub note: String,
    /// What it drew, if a sensor was there.
    #[schema(required, value_type = Option<BTreeMap<String, f64>>)]
    pub signature: Option<Signature>,
}

/// Where a panel lay, from when to when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct PositionRow {
    /// Where.
    #[schema(example = "C4")]
    pub position: String,
    /// Since when, RFC 3339.
    #[schema(example = "2026-11-27T09:30:00.000Z")]
    pub from: String,
    /// Until when; nothing while it lies there.
    #[schema(required)]
    pub to: Option<String>,
    /// Who placed it.
    #[schema(example = "Ida")]
    pub who: String,
}

/// What somebody wrote of a panel.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct NoteRow {
    /// When, RFC 3339.
    #[schema(example = "2026-11-27T09:30:00.000Z")]
    pub at: String,
    /// Who.
    #[schema(example = "Ida")]
    pub who: String,
    /// What.
    pub text: String,
}

/// The last time a panel was on the bench.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct LastBench {
    /// When, RFC 3339.
    #[schema(example = "2026-11-27T09:30:00.000Z")]
    pub at: String,
    /// Whether it was good.
    pub passed: bool,
}

/// A panel in the list of all.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct PanelRow {
    /// Its serial.
    #[schema(example = "M017")]
    pub serial: String,
    /// Where it lies; nothing if it is not placed.
    #[schema(required)]
    pub position: Option<String>,
    /// Faults of it that are open.
    pub open_faults: u32,
    /// The last time it was on the bench, if it ever was.
    #[schema(required)]
    pub last_bench: Option<LastBench>,
}

/// All that the book holds of one panel, the oldest first in each list.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PanelPage {
    /// Its serial.
    #[schema(example = "M017")]
    pub serial: String,
    /// Where it lies; nothing if it is not placed.
    #[schema(required)]
    pub position: Option<String>,
    /// Where it lay.
    pub positions: Vec<PositionRow>,
    /// Its tests on the bench.
    pub benches: Vec<BenchRow>,
    /// Its faults.
    pub faults: Vec<FaultRow>,
    /// What was written of it.
    pub notes: Vec<NoteRow>,
}

/// What a panel drew on the bench, and whether it was good then.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SignedRow {
    /// When, RFC 3339.
    #[schema(example = "2026-11-27T09:30:00.000Z")]
    pub at: String,
    /// Whether it was good.
    pub passed: bool,
    /// What it drew.
    #[schema(value_type = BTreeMap<String, f64>)]
    pub signature: Signature,
}

/// Which panel lies where.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct PlacedRow {
    /// Where.
    #[schema(example = "C4")]
    pub position: String,
    /// Which.
    #[schema(example = "M017")]
    pub serial: String,
}
