//! What people look at: the faults that are known, shaped as the API shows them.

use serde::Serialize;
use utoipa::ToSchema;

/// All that is known of what is dead.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct Health {
    /// Revision of the floor that it belongs to.
    pub revision: u32,
    /// Seconds since the daemon started.
    pub uptime_s: f64,
    /// How many surveys had ended that this reckons with.
    pub surveys: u32,
    /// What is wrong, in the order in which one would walk the floor.
    pub faults: Vec<FoundFault>,
    /// Every panel, in the floor's order.
    pub panels: Vec<PanelHealth>,
}

/// What kind of fault it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// A joint of the supply is open.
    SupplyOpen,
    /// A joint of the supply has resistance: what lies behind it is dim.
    SupplyResistive,
    /// A joint of the data wire is open.
    DataOpen,
    /// A wire of one colour is open.
    ColourOpen,
    /// A segment is dead by itself.
    SegmentDead,
    /// A segment draws less than it should.
    SegmentWeak,
    /// A segment draws current whatever it is told.
    SegmentStuck,
    /// A panel draws less than it should, and which of its segments do can't be told.
    PanelShort,
    /// A joint opens under feet.
    Loose,
    /// A feed carries nothing: a blown fuse or an open cable.
    FeedOpen,
    /// A node does not answer.
    NodeSilent,
    /// A node has begun anew.
    NodeRestarted,
    /// A port is reported short-circuited or inactive.
    PortFault,
    /// A universe does not arrive.
    SignalLost,
    /// A sensor can't be believed.
    SensorLost,
    /// Less current than computed at a sensor, and what lacks can't be told.
    CurrentShort,
    /// A switch stays pressed.
    SwitchStuck,
    /// A switch was never pressed, though its neighbours were.
    SwitchDead,
    /// A switch chatters.
    SwitchChatters,
    /// Somebody says so, and nothing measured explains it.
    Reported,
}

/// How sure a verdict is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Sureness {
    /// Nothing else explains the evidence: at least 999 in 1,000.
    Certain,
    /// At least 9 in 10.
    Likely,
    /// One of several explanations.
    Possible,
}

/// A verdict: a cause, its place, why, and how sure.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FoundFault {
    /// The same as long as it is the same fault.
    #[schema(example = "C4/2-3/supply_open")]
    pub key: String,
    /// What it is.
    pub cause: Cause,
    /// Where to go, for people.
    #[schema(example = "C4, joint between segments 2 and 3, supply side")]
    pub place: String,
    /// What it does, for people.
    #[schema(example = "Segments 3 to 6 are dark.")]
    pub effect: String,
    /// The panel to walk to; nothing for a node or a sensor.
    #[schema(required)]
    pub position: Option<String>,
    /// Its serial, if the floor file knows it.
    #[schema(required)]
    pub serial: Option<String>,
    /// Segments of that panel that it takes out, counted from 1.
    pub segments: Vec<u32>,
    /// Panels behind it that it takes out as well.
    pub behind: Vec<String>,
    /// How sure it is.
    pub sure: Sureness,
    /// The same as a probability, 0 to 1.
    pub chance: f64,
    /// How sure it is that something is broken at this place, be it this or another thing there: 0 to 1.
    pub here: f64,
    /// What else would explain the evidence, the likeliest first.
    pub alternatives: Vec<String>,
    /// Keys that other faults at the same place have: it may turn out to be one of them.
    pub same_place: Vec<String>,
    /// Why.
    pub evidence: Vec<EvidenceRow>,
    /// Uptime at which it was first seen.
    pub since_s: f64,
}

impl FoundFault {
    /// Whether one knows where to go, though not what it is: of what would explain the evidence at least
    /// 9 in 10 lies at one place.
    pub fn is_known_by_place(&self) -> bool {
        self.sure == Sureness::Possible && self.here >= 0.9
    }
}

/// Where a piece of evidence comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum EvidenceKind {
    /// Polls and their answers.
    Node,
    /// Frames that arrive.
    Signal,
    /// A sensor beside what is computed.
    Sensor,
    /// A survey by sensors.
    Survey,
    /// A survey by a person's eyes.
    Eyes,
    /// What the show and the sensors say.
    Show,
    /// Switches under panels.
    Switch,
    /// What somebody said of a panel.
    Report,
}

/// One piece of evidence.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct EvidenceRow {
    /// By which it can be withdrawn.
    pub id: u64,
    /// Where it comes from.
    pub kind: EvidenceKind,
    /// For people.
    pub text: String,
    /// Seconds since it was seen last.
    pub age_s: f64,
    /// Whether a person may withdraw it; what is measured comes again by itself.
    pub can_withdraw: bool,
}

/// How a segment is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SegmentCondition {
    /// Nothing can be said of it.
    #[default]
    Unknown,
    /// It draws what it should.
    Good,
    /// It draws less than it should.
    Weak,
    /// It draws nothing.
    Dead,
    /// It draws current whatever it is told.
    Stuck,
}

impl SegmentCondition {
    /// How bad it is, for the worst of several: higher is worse.
    pub const fn badness(self) -> u8 {
        match self {
            Self::Unknown => 0,
            Self::Good => 1,
            Self::Weak => 2,
            Self::Stuck => 3,
            Self::Dead => 4,
        }
    }
}

/// One segment, as all evidence together tells.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct SegmentHealth {
    /// How it is.
    pub condition: SegmentCondition,
    /// Share of its current that it draws; nothing if that is not known.
    #[schema(required)]
    pub share: Option<f64>,
    /// Probability that the condition is wrong; 1 if nothing is known.
    pub doubt: f64,
    /// Colours that are out, on analogue strip.
    pub colours_out: Vec<String>,
    /// Seconds since anything told of it; nothing if nothing ever did.
    #[schema(required)]
    pub age_s: Option<f64>,
}

/// One panel.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct PanelHealth {
    /// Where it lies.
    #[schema(example = "C4")]
    pub position: String,
    /// Its segments, in wiring order.
    pub segments: Vec<SegmentHealth>,
    /// Keys of the faults that touch it.
    pub faults: Vec<String>,
    /// Switches that are pressed now, counted from 1.
    pub pressed: Vec<u32>,
}
