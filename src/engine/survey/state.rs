//! What people are told of a survey, shaped as the API shows it.

use std::fmt::Write;

use serde::Serialize;
use utoipa::ToSchema;

use super::order::By;
use crate::floor::Floor;
use crate::health::snapshot::SegmentCondition;
use crate::health::survey::SurveySensor;
use crate::health::{Condition, Item, Judged};

/// The survey that is under way, or what became of the last one.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct SurveyState {
    /// Whether one is under way.
    pub running: bool,
    /// Who looks, or looked last.
    #[schema(required)]
    pub by: Option<By>,
    /// Revision of the floor that `map` belongs to.
    pub revision: u32,
    /// Lights shown so far.
    pub pattern: u32,
    /// Items of which is decided how they are: segments, on analogue strip their colours.
    pub decided: u32,
    /// How many there are.
    pub items: u32,
    /// Seconds since it began.
    pub spent_s: f64,
    /// Seconds until it is through; nothing if nobody can tell yet.
    #[schema(required)]
    pub left_s: Option<f64>,
    /// Every panel, in the floor's order.
    pub map: Vec<SurveyedPanel>,
    /// How the last one ended.
    #[schema(required)]
    pub outcome: Option<SurveyResult>,
    /// What a person is asked now.
    #[schema(required)]
    pub question: Option<SurveyQuestion>,
    /// How many have ended.
    pub ended: u32,
}

/// A panel in a survey.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct SurveyedPanel {
    /// Where it lies.
    #[schema(example = "C4")]
    pub position: String,
    /// Its segments, in wiring order.
    pub segments: Vec<SurveyedSegment>,
}

/// A segment in a survey.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct SurveyedSegment {
    /// How it is.
    pub condition: SegmentCondition,
    /// Share of its current that it draws; nothing if that is not known.
    #[schema(required)]
    pub share: Option<f64>,
    /// Probability that the condition is wrong; 1 if nothing is known.
    pub doubt: f64,
    /// Colours that are out, on analogue strip.
    pub colours_out: Vec<String>,
}

/// How a survey ended.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Ended {
    /// Every item is decided.
    Decided,
    /// Its time was up before all were.
    TimeIsUp,
    /// Somebody or something stopped it.
    #[default]
    Stopped,
    /// It could not be done.
    Refused,
}

/// What came of a survey.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct SurveyResult {
    /// How it ended.
    pub ended: Ended,
    /// For people.
    pub text: String,
    /// What is dead, panel by panel.
    pub dead: Vec<FoundItem>,
    /// What draws less than it should.
    pub weak: Vec<FoundItem>,
    /// What draws current or gives light whatever it is told.
    pub stuck: Vec<FoundItem>,
    /// Items of which nothing can be said.
    pub unknown: u32,
    /// Sensors that did not take part, and why.
    pub left_out: Vec<String>,
    /// Mean square of what the readings differ by from what was found, in shares of what chance leaves: 1 if all is
    /// as computed, and never said to be less. Nothing where no sensor looked.
    #[schema(required)]
    pub misfit: Option<f64>,
    /// Whether that is so much that what was found should be looked at again: the text says why.
    pub doubtful: bool,
}

/// A segment, or one colour of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct FoundItem {
    /// Where its panel lies.
    #[schema(example = "C4")]
    pub position: String,
    /// Counted from 1, in wiring order.
    pub segment: u32,
    /// The colour on analogue strip.
    #[schema(required)]
    pub colour: Option<String>,
}

/// What a person is asked.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct SurveyQuestion {
    /// Counted from 1.
    pub number: u32,
    /// How many there are.
    pub total: u32,
    /// What should be lit.
    pub lit: Vec<LitSegment>,
    /// For people.
    pub text: String,
}

/// A segment that should be lit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct LitSegment {
    /// Where its panel lies.
    #[schema(example = "C4")]
    pub position: String,
    /// Counted from 1, in wiring order.
    pub segment: u32,
}

/// What a survey found, for who makes verdicts of it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SurveyOutcome {
    /// How many surveys have ended, this one counted.
    pub ended: u32,
    /// Revision of the floor that the items belong to.
    pub revision: u32,
    /// Who looked.
    pub by: By,
    /// Uptime at its end, in seconds.
    pub uptime_s: f64,
    /// Whether it came to its end, rather than was stopped or ran out of time.
    pub decided: bool,
    /// Whether its readings were unlike all that could be found: it proves nothing, and teaches nothing of sensors.
    pub doubtful: bool,
    /// All items that it was about; what it could not decide has its doubt.
    pub judged: Vec<(Item, Judged)>,
    /// The floor's index of each sensor that was weighed by, and what it is like.
    pub sensors: Vec<(usize, SurveySensor)>,
}

/// The map of a floor.
pub(super) fn map(floor: &Floor, items: &[Item], judged: &[Judged]) -> Vec<SurveyedPanel> {
    let mut by_panel: Vec<Vec<Vec<(&Item, &Judged)>>> = floor
        .panels
        .iter()
        .map(|panel| vec![Vec::new(); floor.panel_kinds[panel.kind].segments.len()])
        .collect();
    for (item, judged) in items.iter().zip(judged) {
        by_panel[item.panel as usize][item.segment as usize].push((item, judged));
    }
    let panels = floor.panels.iter().zip(by_panel);
    panels
        .map(|(panel, segments)| SurveyedPanel {
            position: panel.position.to_string(),
            segments: segments.iter().map(|found| segment(found)).collect(),
        })
        .collect()
}

/// What is said of a segment by what is said of its colours. One with some colours out is weak.
fn segment(found: &[(&Item, &Judged)]) -> SurveyedSegment {
    let unknown = SurveyedSegment {
        doubt: 1.0,
        ..SurveyedSegment::default()
    };
    let known = found
        .iter()
        .filter(|(_, one)| one.condition != Condition::Unknown);
    if found.is_empty() || known.clone().count() == 0 {
        return unknown;
    }
    let out = |(item, one): &&(&Item, &Judged)| {
        let out = one.condition == Condition::Dead;
        item.colour
            .filter(|_| out)
            .map(|colour| colour.name().to_owned())
    };
    let worst = known
        .clone()
        .map(|(_, one)| one.condition.word())
        .max_by_key(|word| word.badness());
    let dead = known
        .clone()
        .filter(|(_, one)| one.condition == Condition::Dead);
    let all_dead = dead.clone().count() == found.len();
    let condition = match worst.unwrap_or_default() {
        SegmentCondition::Dead if !all_dead => SegmentCondition::Weak,
        worst => worst,
    };
    let shares: Vec<f64> = known
        .clone()
        .filter_map(|(_, one)| one.condition.share())
        .collect();
    let mean = shares.iter().sum::<f64>() / crate::units::count(shares.len());
    SurveyedSegment {
        condition,
        share: (!shares.is_empty()).then_some(mean),
        doubt: found.iter().map(|(_, one)| one.doubt).fold(0.0, f64::max),
        colours_out: found.iter().filter_map(|one| out(&one)).collect(),
    }
}

/// What came of a survey, with `begin` as the first words of its text.
pub(super) fn result(
    floor: &Floor,
    items: &[Item],
    judged: &[Judged],
    ended: Ended,
    begin: &str,
    left_out: Vec<String>,
) -> SurveyResult {
    let decided = |one: &Judged| one.condition != Condition::Unknown;
    let all = || items.iter().zip(judged).filter(|(_, one)| decided(one));
    let found = |wanted: SegmentCondition| {
        let own = all().filter(|(_, one)| one.condition.word() == wanted);
        let own = own.map(|(item, _)| FoundItem {
            position: floor.panels[item.panel as usize].position.to_string(),
            segment: item.segment + 1,
            colour: item.colour.map(|colour| colour.name().to_owned()),
        });
        own.collect::<Vec<_>>()
    };
    let dead = found(SegmentCondition::Dead);
    let weak = found(SegmentCondition::Weak);
    let stuck = found(SegmentCondition::Stuck);
    let unknown = items.len() - all().count();
    let mut text = begin.to_owned();
    let many = |count: usize, one: &str| match count {
        0 => format!("no {one}"),
        1 => format!("1 {one}"),
        count => format!("{count} {one}s"),
    };
    if ended != Ended::Refused {
        let _ = write!(text, " Found {}", many(dead.len(), "dead segment"));
        if !weak.is_empty() {
            let _ = write!(text, ", {} that draw too little", weak.len());
        }
        if !stuck.is_empty() {
            let stuck = stuck.len();
            let _ = write!(text, ", {stuck} that draw current whatever they are told");
        }
        text += ".";
        if unknown > 0 {
            let all = many(items.len(), "segment");
            let _ = write!(text, " Of {unknown} of {all} nothing can be said.");
        }
    }
    SurveyResult {
        ended,
        text,
        dead,
        weak,
        stuck,
        unknown: u32::try_from(unknown).unwrap_or(u32::MAX),
        left_out,
        misfit: None,
        doubtful: false,
    }
}
