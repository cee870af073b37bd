//! The table: what each row says, and how far its goal is reached.

use std::fmt::Write as _;
use std::fs;
use std::io;
use std::path::Path;
use std::process::Command;
use std::time::SystemTime;

use serde_json::{Value, json};

use super::process::processors;

/// What is to be reached.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Goal {
    /// The second figure, as a share of the first, at least.
    Least(f64),
    /// The second figure, as a share of the first, at most.
    Most(f64),
    /// The second figure itself, at most.
    Within(f64),
    /// The second figure itself, at least.
    From(f64),
    /// Nothing; it is good to know.
    Known,
}

/// One figure, as often as it was taken.
#[derive(Debug, Clone)]
pub(crate) struct Row {
    pub(crate) text: String,
    pub(crate) unit: &'static str,
    pub(crate) goal: Goal,
    /// What it is held against, if anything, and litfloor's.
    pub(crate) taken: Vec<(Option<f64>, f64)>,
}

impl Row {
    /// Least, median and most of some figures.
    fn spread(mut figures: Vec<f64>) -> Option<[f64; 3]> {
        figures.sort_by(f64::total_cmp);
        let middle = figures.len() / 2;
        let median = match figures.len() {
            0 => return None,
            odd if odd % 2 == 1 => figures[middle],
            _ => f64::midpoint(figures[middle - 1], figures[middle]),
        };
        Some([figures[0], median, figures[figures.len() - 1]])
    }

    fn first(&self) -> Option<[f64; 3]> {
        Self::spread(self.taken.iter().filter_map(|(first, _)| *first).collect())
    }

    fn second(&self) -> Option<[f64; 3]> {
        Self::spread(self.taken.iter().map(|(_, second)| *second).collect())
    }

    fn ratio(&self) -> Option<[f64; 3]> {
        let ratio = |&(first, second): &(Option<f64>, f64)| Some(second / first?);
        Self::spread(self.taken.iter().filter_map(ratio).collect())
    }

    /// Whether the median reaches the goal.
    fn reached(&self) -> Option<bool> {
        match self.goal {
            Goal::Least(goal) => Some(self.ratio()?[1] >= goal),
            Goal::Most(goal) => Some(self.ratio()?[1] <= goal),
            Goal::Within(goal) => Some(self.second()?[1] <= goal),
            Goal::From(goal) => Some(self.second()?[1] >= goal),
            Goal::Known => None,
        }
    }

    fn line(&self) -> String {
        let goal = match self.goal {
            Goal::Least(goal) => format!("ratio ≥ {goal:.2}"),
            Goal::Most(goal) => format!("ratio ≤ {goal:.2}"),
            Goal::Within(goal) => format!("≤ {goal} {}", self.unit),
            Goal::From(goal) => format!("≥ {goal} {}", self.unit),
            Goal::Known => String::from("–"),
        };
        let reached = match self.reached() {
            Some(true) => "yes",
            Some(false) => "**no**",
            None => "–",
        };
        format!(
            "| {} | {} | {} | {} | {} | {goal} | {reached} |",
            self.text,
            self.unit,
            shown(self.first(), false),
            shown(self.second(), false),
            shown(self.ratio(), true),
        )
    }

    fn json(&self) -> Value {
        let (kind, goal) = match self.goal {
            Goal::Least(goal) => ("ratio_at_least", Some(goal)),
            Goal::Most(goal) => ("ratio_at_most", Some(goal)),
            Goal::Within(goal) => ("at_most", Some(goal)),
            Goal::From(goal) => ("at_least", Some(goal)),
            Goal::Known => ("none", None),
        };
        json!({
            "text": self.text,
            "unit": self.unit,
            "taken": self.taken,
            "ratio_least_median_most": self.ratio(),
            "goal": goal,
            "goal_kind": kind,
            "reached": self.reached(),
        })
    }
}

/// A median, with least and most if they are others.
fn shown(spread: Option<[f64; 3]>, ratio: bool) -> String {
    let Some([least, median, most]) = spread else {
        return String::from("–");
    };
    let one = |figure: f64| match figure.abs() {
        _ if ratio => format!("{figure:.2}"),
        large if large >= 100.0 => grouped(figure),
        small if small < 10.0 && small.fract() != 0.0 => format!("{figure:.2}"),
        _ => format!("{figure:.1}"),
    };
    if (least - most).abs() < f64::EPSILON {
        return one(median);
    }
    format!("{} ({}..{})", one(median), one(least), one(most))
}

/// A whole number with commas between its thousands.
fn grouped(figure: f64) -> String {
    let digits = format!("{figure:.0}");
    let mut text = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) && !text.ends_with('-') {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

/// Writes `wire.md` and `wire.json` into a directory, and gives what the first says.
pub(crate) fn write(rows: &[Row], about: &str, directory: &Path) -> io::Result<String> {
    let machine = machine();
    let mut text = String::from("# As fast as the wire\n\n");
    for (name, value) in &machine {
        // Writing to a text can't fail.
        let _ = writeln!(text, "- {name}: {value}");
    }
    let _ = write!(
        text,
        "\n{about}\n\n\
         | figure | unit | held against | litfloor | ratio | goal | reached |\n\
         |---|---|---|---|---|---|---|\n"
    );
    for row in rows {
        text.push_str(&row.line());
        text.push('\n');
    }
    fs::create_dir_all(directory)?;
    fs::write(directory.join("wire.md"), &text)?;
    let machine: serde_json::Map<_, _> = machine
        .into_iter()
        .map(|(name, value)| (name.to_owned(), Value::from(value)))
        .collect();
    let rows: Vec<_> = rows.iter().map(Row::json).collect();
    let whole = json!({"machine": machine, "about": about, "rows": rows});
    fs::write(directory.join("wire.json"), format!("{whole:#}\n"))?;
    Ok(text)
}

/// What it was measured on, and of what.
fn machine() -> Vec<(&'static str, String)> {
    let read = |path: &str| fs::read_to_string(path).unwrap_or_default();
    let processor = read("/proc/cpuinfo");
    let processor = processor
        .lines()
        .find_map(|line| line.strip_prefix("model name")?.split_once(": "))
        .map_or("unknown", |(_, name)| name);
    let processors = processors().len();
    let kernel = read("/proc/sys/kernel/osrelease");
    let git = |words: &[&str]| {
        let output = Command::new("git").args(words).output().ok()?;
        let text = String::from_utf8(output.stdout).ok()?;
        output.status.success().then(|| text.trim().to_owned())
    };
    let commit = git(&["rev-parse", "--short", "HEAD"]).unwrap_or_else(|| "unknown".into());
    let changed = git(&["status", "--porcelain", "--untracked-files=no"]);
    let changed = changed.is_some_and(|files| !files.is_empty());
    let changed = if changed { ", with changes" } else { "" };
    let now = humantime::format_rfc3339_seconds(SystemTime::now());
    let busy = read("/proc/loadavg");
    vec![
        ("machine", format!("{processors} × {processor}")),
        ("kernel", kernel.trim().to_owned()),
        ("date", now.to_string()),
        ("commit", format!("{commit}{changed}")),
        ("load average at the end", busy.trim().to_owned()),
    ]
}
