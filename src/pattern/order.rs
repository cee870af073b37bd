//! What someone wants to see.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::floor::model::Colour;

/// The shortest step of what steps by itself. A flash takes two steps, so this is two flashes a
/// second; three are the most that WCAG 2.2, success criterion 2.3.1, allows.
pub const LEAST_STEP_MS: u32 = 250;

/// The longest step.
pub const MOST_STEP_MS: u32 = 60_000;

/// How long a pattern lasts if nobody says, and at most, in seconds.
const USUAL_S: u32 = 300;

/// Half of full: bright enough to be seen in a hall, and not in the eyes of whoever kneels there.
const USUAL_LEVEL: u8 = 128;

/// What lights up. Covered panels that it does not light are black.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum TestPattern {
    /// Everything.
    All,
    /// One panel alone.
    Panel {
        /// Column letter and row number.
        #[schema(example = "C4")]
        position: String,
    },
    /// One panel alone, its first pixel, a stretch after it and its rest each in a colour of its
    /// own: how it lies, where it begins and how its colours are ordered shows in one look.
    Mark {
        /// Column letter and row number.
        #[schema(example = "C4")]
        position: String,
    },
    /// One segment of a panel alone.
    Segment {
        /// Column letter and row number.
        #[schema(example = "C4")]
        position: String,
        /// Counted from 1 in wiring order.
        segment: u32,
    },
    /// One pixel alone. Of 16-bit levels only the coarse half.
    Pixel {
        /// Column letter and row number.
        #[schema(example = "C4")]
        position: String,
        /// Counted from 1 in wiring order.
        pixel: u32,
    },
    /// One panel after the other, in wiring order.
    Walk {
        /// Along this run, counted from 0 as in `/api/v1/floor`; along all of them if left out.
        #[serde(default)]
        run: Option<u32>,
        /// How it goes on.
        #[serde(default)]
        pace: Pace,
    },
    /// A whole run.
    Run {
        /// Counted from 0 as in `/api/v1/floor`.
        run: u32,
    },
    /// Every pixel with a slot in this universe.
    Universe {
        /// `net:sub-net:universe`, as the console sends it.
        #[schema(example = "0:1:2")]
        port_address: String,
    },
    /// Everything that hangs on a node.
    Node {
        /// Its name in the file.
        node: String,
    },
    /// A row of the grid.
    Row {
        /// Counted from 1.
        row: u16,
    },
    /// A column of the grid.
    Column {
        /// Its letter.
        #[schema(example = "C")]
        column: String,
    },
    /// Each colour that the covered panels have, alone, one after the other.
    Colours {
        /// How it goes on.
        #[serde(default)]
        pace: Pace,
    },
    /// Every panel's own label: drawn where the pixels suffice, else spelled letter by letter,
    /// else blinked: the column, then the row, a long flash for ten and a short one for one.
    Labels,
    /// The first segment of every covered panel, then the second, and so on: a panel that goes
    /// dark at a step has a bad joint before that segment.
    Joints {
        /// How it goes on.
        #[serde(default)]
        pace: Pace,
    },
}

impl TestPattern {
    /// Its `kind`.
    pub const fn kind(&self) -> &'static str {
        match self {
            Self::All => "all",
            Self::Panel { .. } => "panel",
            Self::Mark { .. } => "mark",
            Self::Segment { .. } => "segment",
            Self::Pixel { .. } => "pixel",
            Self::Walk { .. } => "walk",
            Self::Run { .. } => "run",
            Self::Universe { .. } => "universe",
            Self::Node { .. } => "node",
            Self::Row { .. } => "row",
            Self::Column { .. } => "column",
            Self::Colours { .. } => "colours",
            Self::Labels => "labels",
            Self::Joints { .. } => "joints",
        }
    }

    /// How it goes on, if it has steps.
    pub const fn pace(&self) -> Option<Pace> {
        match self {
            Self::Walk { pace, .. } | Self::Colours { pace } | Self::Joints { pace } => Some(*pace),
            _ => None,
        }
    }
}

/// How a pattern with steps goes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Pace {
    /// By itself, each step this long: 250 to 60,000 milliseconds.
    StepMs(u32),
    /// It stays at this step, counted from 0, until someone steps it.
    Held(u32),
}

impl Default for Pace {
    fn default() -> Self {
        Self::StepMs(1_000)
    }
}

/// Which panels a pattern takes from the console.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Cover {
    /// All.
    #[default]
    All,
    /// These positions; the others go on showing the console's picture.
    Panels(Vec<String>),
}

/// The colour of what is lit. A pixel that has none of a colour's parts lights all that it has.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Light {
    /// White of its own where a pixel has it, else red, green and blue together.
    #[default]
    White,
    /// Red.
    Red,
    /// Green.
    Green,
    /// Blue.
    Blue,
    /// Red and green.
    Yellow,
    /// Green and blue.
    Cyan,
    /// Red and blue.
    Magenta,
}

impl Light {
    /// The parts that a pixel with the colours `has` lights.
    pub fn parts(self, has: &[Colour]) -> Vec<Colour> {
        use Colour::{Blue, Green, Red, White};
        let wanted: &[Colour] = match self {
            Self::White if has.contains(&White) => &[White],
            Self::White => &[Red, Green, Blue],
            Self::Red => &[Red],
            Self::Green => &[Green],
            Self::Blue => &[Blue],
            Self::Yellow => &[Red, Green],
            Self::Cyan => &[Green, Blue],
            Self::Magenta => &[Red, Blue],
        };
        let parts: Vec<Colour> = has.iter().copied().filter(|c| wanted.contains(c)).collect();
        if parts.is_empty() {
            has.to_vec()
        } else {
            parts
        }
    }

    /// For people.
    pub const fn name(self) -> &'static str {
        match self {
            Self::White => "white",
            Self::Red => "red",
            Self::Green => "green",
            Self::Blue => "blue",
            Self::Yellow => "yellow",
            Self::Cyan => "cyan",
            Self::Magenta => "magenta",
        }
    }
}

/// An order to show a pattern.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Start {
    /// What lights up.
    pub pattern: TestPattern,
    /// Which panels it takes from the console; all if left out.
    #[serde(default)]
    pub cover: Cover,
    /// Level of what is lit, 0 to 255; 128 if left out.
    #[serde(default = "usual_level")]
    pub level: u8,
    /// Colour of what is lit; white if left out.
    #[serde(default)]
    pub colour: Light,
    /// Seconds after which it ends by itself, 1 to 3,600; 300 if left out.
    #[serde(default = "usual_s")]
    #[schema(minimum = 1, maximum = 3600)]
    pub lasts_s: u32,
    /// Whose going away ends it. Not for the one who asks to say: whoever passes the order on
    /// knows who that is.
    #[serde(skip)]
    pub owner: Option<u64>,
}

impl Start {
    /// An order with everything but the pattern left out.
    pub const fn new(pattern: TestPattern) -> Self {
        Self {
            pattern,
            cover: Cover::All,
            level: USUAL_LEVEL,
            colour: Light::White,
            lasts_s: USUAL_S,
            owner: None,
        }
    }
}

const fn usual_level() -> u8 {
    USUAL_LEVEL
}

const fn usual_s() -> u32 {
    USUAL_S
}

#[cfg(test)]
mod tests {
    use super::*;

    use serde_json::json;

    #[test]
    fn an_order_is_read_from_json() {
        let order: Start = serde_json::from_value(json!({
            "pattern": {"kind": "walk", "run": 2, "pace": {"held": 3}},
            "cover": {"panels": ["C4", "D4"]}, "level": 200, "colour": "magenta", "lasts_s": 60
        }))
        .unwrap();
        assert_eq!(
            order,
            Start {
                cover: Cover::Panels(vec!["C4".into(), "D4".into()]),
                level: 200,
                colour: Light::Magenta,
                lasts_s: 60,
                ..Start::new(TestPattern::Walk {
                    run: Some(2),
                    pace: Pace::Held(3)
                })
            }
        );
        let segment: TestPattern =
            serde_json::from_value(json!({"kind": "segment", "position": "C4", "segment": 3}))
                .unwrap();
        let position = "C4".to_owned();
        let expected = TestPattern::Segment {
            position,
            segment: 3,
        };
        assert_eq!(segment, expected);
        let short: Start = serde_json::from_value(json!({"pattern": {"kind": "labels"}})).unwrap();
        assert_eq!(short, Start::new(TestPattern::Labels));
        let walk: TestPattern = serde_json::from_value(json!({"kind": "walk"})).unwrap();
        let pace = Pace::StepMs(1_000);
        assert_eq!(walk, TestPattern::Walk { run: None, pace });
        // Whoever asks can't speak for another.
        for wrong in [
            json!({"pattern": {"kind": "all"}, "owner": 7}),
            json!({"pattern": {"kind": "run"}}),
            json!({"pattern": {"kind": "row", "row": 1, "column": "A"}}),
            json!({"pattern": {"kind": "all"}, "level": 256}),
        ] {
            assert!(
                serde_json::from_value::<Start>(wrong.clone()).is_err(),
                "{wrong}"
            );
        }
    }

    #[test]
    fn white_is_a_colour_of_its_own_where_a_pixel_has_it() {
        use Colour::{Blue, Green, Red, White};
        assert_eq!(Light::White.parts(&Colour::ALL), [White]);
        assert_eq!(Light::White.parts(&[Green, Red, Blue]), [Green, Red, Blue]);
        assert_eq!(Light::Cyan.parts(&[Green, Red, Blue]), [Green, Blue]);
        assert_eq!(Light::Red.parts(&[White]), [White], "or it stayed dark");
    }
}
