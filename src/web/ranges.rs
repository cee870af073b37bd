//! The recorded history as the API shows it.

use serde::Serialize;
use utoipa::ToSchema;

use crate::power::moment;
use crate::power::record::{Element, Kind, Sum};
use crate::power::series::{Line, Recording, Series};
use crate::power::tally::Energy;

/// Rounded to thousandths.
fn milli(value: f64) -> f64 {
    (value * 1e3).round() / 1e3
}

/// Rounded to millionths.
fn micro(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

/// How the recording goes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(super) struct RecordingState {
    /// Whether it is kept in a file; if not, it ends with the process.
    pub in_file: bool,
    /// Why it can't be kept now as it should, for people.
    #[schema(required)]
    pub trouble: Option<String>,
    /// Rows that could not be kept since the start.
    pub lost_rows: u64,
}

impl From<Recording> for RecordingState {
    fn from(recording: Recording) -> Self {
        let Recording {
            in_file,
            trouble,
            lost_rows,
        } = recording;
        Self {
            in_file,
            trouble,
            lost_rows,
        }
    }
}

/// What one element drew in some time.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(super) struct TotalState {
    /// Seconds that are known.
    pub seconds: f64,
    /// The most amperes drawn.
    pub peak_a: f64,
    /// The most amperes asked for.
    pub peak_asked_a: f64,
    /// Amperes drawn on average; nothing when no time is known.
    #[schema(required)]
    pub mean_a: Option<f64>,
    /// Ampere-hours drawn: mains amperes of the floor and of a circuit, output amperes of a supply
    /// and of a feed.
    pub amp_hours: f64,
    /// Kilowatt-hours that the mains gave for it.
    pub kwh: f64,
    /// Seconds that the cap dimmed it.
    pub capped_s: f64,
    /// Seconds that the picture asked for more than its limit.
    pub over_s: f64,
}

impl From<&Sum> for TotalState {
    fn from(sum: &Sum) -> Self {
        Self {
            seconds: milli(sum.s),
            peak_a: milli(sum.draw_max_a),
            peak_asked_a: milli(sum.asked_max_a),
            mean_a: sum.draw_a().map(milli),
            amp_hours: micro(sum.amp_hours()),
            kwh: micro(sum.kwh()),
            capped_s: milli(sum.capped_s),
            over_s: milli(sum.over_s),
        }
    }
}

/// The totals of one element since the start.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(super) struct ElementTotal {
    /// What it is.
    pub kind: Kind,
    /// Its name in the floor file; empty for the floor.
    pub name: String,
    /// When it drew most.
    #[schema(example = "2026-06-20T21:14:03Z")]
    pub peak_at: String,
    /// The totals.
    pub total: TotalState,
}

/// The totals of all elements since litfloor was started.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(super) struct EnergyState {
    /// When it was started.
    #[schema(example = "2026-06-20T18:00:00Z")]
    pub since: String,
    /// Uptime until which is reckoned.
    pub until_s: f64,
    /// From the mains down, by name. What the floor file names no more keeps what it had.
    pub elements: Vec<ElementTotal>,
    /// How the recording goes.
    pub recording: RecordingState,
}

impl EnergyState {
    /// Shows `energy`.
    #[expect(clippy::cast_possible_truncation, reason = "an uptime")]
    pub(super) fn new(energy: &Energy, recording: Recording) -> Self {
        let elements = energy.rows.iter().map(|row| ElementTotal {
            kind: row.element.kind,
            name: row.element.name.clone(),
            peak_at: moment::iso(energy.since + row.total.peak_at_s as i64),
            total: (&row.total.sum).into(),
        });
        Self {
            since: moment::iso(energy.since),
            until_s: milli(energy.until_s),
            elements: elements.collect(),
            recording: recording.into(),
        }
    }
}

/// A range of the recorded history. Every list has one value for each bucket, and nothing where
/// nothing was recorded.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(super) struct RangeHistory {
    /// The second at which the first bucket begins, since 1970.
    pub from_s: i64,
    /// Seconds from one bucket to the next.
    pub bucket_s: i64,
    /// Seconds of the rows that the buckets are made of: 1 or 60.
    pub row_s: i64,
    /// How many buckets there are.
    pub count: u32,
    /// One for each element that has something in the range.
    pub elements: Vec<ElementHistory>,
    /// How the recording goes.
    pub recording: RecordingState,
}

/// One element in a range.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(super) struct ElementHistory {
    /// What it is.
    pub kind: Kind,
    /// Its name in the floor file; empty for the floor.
    pub name: String,
    /// Mean of the amperes asked for.
    pub asked_mean_a: Vec<Option<f64>>,
    /// The most amperes asked for.
    pub asked_max_a: Vec<Option<f64>>,
    /// The fewest amperes drawn.
    pub draw_min_a: Vec<Option<f64>>,
    /// Mean of the amperes drawn.
    pub draw_mean_a: Vec<Option<f64>>,
    /// The most amperes drawn.
    pub draw_max_a: Vec<Option<f64>>,
    /// The limit; nothing where there is none.
    pub limit_a: Vec<Option<f64>>,
    /// The least factor of the cap.
    pub scale_min: Vec<Option<f64>>,
    /// Mean of the watts that the mains gave for it.
    pub mains_mean_w: Vec<Option<f64>>,
    /// The whole range.
    pub total: TotalState,
}

impl ElementHistory {
    fn new(line: &Line) -> Self {
        let each = |value: &dyn Fn(&Sum) -> Option<f64>| {
            let values = line.buckets.iter();
            values
                .map(|sum| sum.as_ref().and_then(value).map(milli))
                .collect()
        };
        let Element { kind, name } = line.element.clone();
        Self {
            kind,
            name,
            asked_mean_a: each(&Sum::asked_a),
            asked_max_a: each(&|sum| Some(sum.asked_max_a)),
            draw_min_a: each(&|sum| Some(sum.draw_min_a)),
            draw_mean_a: each(&Sum::draw_a),
            draw_max_a: each(&|sum| Some(sum.draw_max_a)),
            limit_a: each(&|sum| sum.limit_a),
            scale_min: each(&|sum| Some(sum.scale_min)),
            mains_mean_w: each(&Sum::mains_w),
            total: (&line.total()).into(),
        }
    }
}

impl RangeHistory {
    /// Shows `series`.
    pub(super) fn new(series: &Series, recording: Recording) -> Self {
        Self {
            from_s: series.from,
            bucket_s: series.bucket_s,
            row_s: series.row_s,
            count: u32::try_from(series.count).unwrap_or(u32::MAX),
            elements: series.lines.iter().map(ElementHistory::new).collect(),
            recording: recording.into(),
        }
    }
}
