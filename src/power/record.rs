//! What is kept of the power tree over time: readings, and their sums between moments.
//!
//! A [`Reading`] holds at one moment. Between two readings every value is taken to run straight
//! from the one to the other (the trapezoidal rule), so a sum goes by the time that passed and not
//! by how many readings there were.

use std::fmt;
use std::str::FromStr;
use std::sync::Arc;

use serde::Serialize;
use utoipa::ToSchema;

/// A factor nearer to one than this is no dimming that anyone sees.
pub const DIMMED_BELOW: f64 = 0.995;

/// Sums in amperes of exact draws: a part in a million is rounding.
pub const ROUNDING: f64 = 1.000_001;

/// Two readings further apart than this say nothing of the time between them.
pub const LONGEST_GAP_S: f64 = 5.0;

/// What an element is.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// The whole floor: the sum of its circuits, in mains amperes.
    #[default]
    Floor,
    /// A mains circuit, in mains amperes.
    Circuit,
    /// A supply, in output amperes.
    Supply,
    /// A feed, in output amperes.
    Feed,
}

impl Kind {
    /// From the mains down.
    pub const ALL: [Self; 4] = [Self::Floor, Self::Circuit, Self::Supply, Self::Feed];

    /// Its word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Floor => "floor",
            Self::Circuit => "circuit",
            Self::Supply => "supply",
            Self::Feed => "feed",
        }
    }
}

/// One element, by its name in the floor file: a file that is read again keeps it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Element {
    /// What it is.
    pub kind: Kind,
    /// Its name in the file; empty for the floor, so that it may be renamed.
    pub name: String,
}

impl fmt::Display for Element {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.kind {
            Kind::Floor => f.write_str("floor"),
            kind => write!(f, "{}:{}", kind.word(), self.name),
        }
    }
}

impl FromStr for Element {
    type Err = &'static str;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let (word, name) = text.split_once(':').unwrap_or((text, ""));
        let kind = Kind::ALL.into_iter().find(|kind| kind.word() == word);
        match kind {
            Some(kind) if (kind == Kind::Floor) == name.is_empty() => Ok(Self {
                kind,
                name: name.to_owned(),
            }),
            _ => Err("floor, circuit:NAME, supply:NAME or feed:NAME"),
        }
    }
}

/// What one element does at one moment.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Reading {
    /// Computed draw of the picture as asked, in amperes.
    pub asked_a: f64,
    /// Computed draw as sent, in amperes.
    pub draw_a: f64,
    /// What must not be passed, in amperes; nothing where there is no limit.
    pub limit_a: Option<f64>,
    /// Whether the picture asks for more than a limit that is not in these amperes: that of the
    /// whole floor, in volt-amperes.
    pub over_other: bool,
    /// The cap's factor; 1 when it does not dim.
    pub scale: f64,
    /// Real power that the mains give for it, in watts.
    pub mains_w: f64,
}

impl Reading {
    /// Whether the cap dims it.
    pub fn capped(&self) -> bool {
        self.scale < DIMMED_BELOW
    }

    /// Whether the picture asks for more than the limit.
    pub fn over(&self) -> bool {
        let own = self.limit_a;
        self.over_other || own.is_some_and(|limit_a| self.asked_a > limit_a * ROUNDING)
    }
}

/// The readings of all elements at one moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Readings {
    /// Seconds since the daemon started.
    pub at_s: f64,
    /// Whose they are; the same list as long as the floor's names are the same.
    pub elements: Arc<[Element]>,
    /// One for each.
    pub readings: Vec<Reading>,
}

/// What one element did in some time. Two of them add up by [`merge`](Self::merge).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sum {
    /// Seconds that it covers.
    pub s: f64,
    /// Ampere-seconds asked for.
    pub asked_as: f64,
    /// The most amperes asked for.
    pub asked_max_a: f64,
    /// Ampere-seconds drawn.
    pub draw_as: f64,
    /// The fewest amperes drawn.
    pub draw_min_a: f64,
    /// The most amperes drawn.
    pub draw_max_a: f64,
    /// The limit at its end.
    pub limit_a: Option<f64>,
    /// The least factor.
    pub scale_min: f64,
    /// Watt-seconds from the mains.
    pub mains_ws: f64,
    /// Seconds that the cap dimmed it.
    pub capped_s: f64,
    /// Seconds that the picture asked for more than the limit.
    pub over_s: f64,
}

impl Default for Sum {
    fn default() -> Self {
        Self {
            s: 0.0,
            asked_as: 0.0,
            asked_max_a: 0.0,
            draw_as: 0.0,
            draw_min_a: f64::INFINITY,
            draw_max_a: 0.0,
            limit_a: None,
            scale_min: 1.0,
            mains_ws: 0.0,
            capped_s: 0.0,
            over_s: 0.0,
        }
    }
}

impl Sum {
    /// What happened in the `s` seconds between two readings.
    pub fn between(s: f64, before: &Reading, now: &Reading) -> Self {
        let area = |a: f64, b: f64| s * f64::midpoint(a, b);
        let share = |a: bool, b: bool| area(f64::from(u8::from(a)), f64::from(u8::from(b)));
        Self {
            s,
            asked_as: area(before.asked_a, now.asked_a),
            asked_max_a: before.asked_a.max(now.asked_a),
            draw_as: area(before.draw_a, now.draw_a),
            draw_min_a: before.draw_a.min(now.draw_a),
            draw_max_a: before.draw_a.max(now.draw_a),
            limit_a: now.limit_a,
            scale_min: before.scale.min(now.scale),
            mains_ws: area(before.mains_w, now.mains_w),
            capped_s: share(before.capped(), now.capped()),
            over_s: share(before.over(), now.over()),
        }
    }

    /// Adds what happened later.
    pub fn merge(&mut self, later: &Self) {
        self.s += later.s;
        self.asked_as += later.asked_as;
        self.asked_max_a = self.asked_max_a.max(later.asked_max_a);
        self.draw_as += later.draw_as;
        self.draw_min_a = self.draw_min_a.min(later.draw_min_a);
        self.draw_max_a = self.draw_max_a.max(later.draw_max_a);
        self.limit_a = later.limit_a.or(self.limit_a);
        self.scale_min = self.scale_min.min(later.scale_min);
        self.mains_ws += later.mains_ws;
        self.capped_s += later.capped_s;
        self.over_s += later.over_s;
    }

    /// An amount by the second as its mean; nothing when no time is covered.
    fn mean(&self, amount: f64) -> Option<f64> {
        (self.s > 0.0).then(|| amount / self.s)
    }

    /// Amperes asked for on average; nothing when no time is covered.
    pub fn asked_a(&self) -> Option<f64> {
        self.mean(self.asked_as)
    }

    /// Amperes drawn on average; nothing when no time is covered.
    pub fn draw_a(&self) -> Option<f64> {
        self.mean(self.draw_as)
    }

    /// Watts from the mains on average; nothing when no time is covered.
    pub fn mains_w(&self) -> Option<f64> {
        self.mean(self.mains_ws)
    }

    /// Ampere-hours drawn.
    pub fn amp_hours(&self) -> f64 {
        self.draw_as / 3_600.0
    }

    /// Kilowatt-hours from the mains.
    pub fn kwh(&self) -> f64 {
        self.mains_ws / 3.6e6
    }
}

/// What all elements did between two moments.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Seconds that it covers.
    pub s: f64,
    /// When it ended, in seconds since the daemon started.
    pub at_s: f64,
    /// Whose they are.
    pub elements: Arc<[Element]>,
    /// One for each; nothing for an element that is new.
    pub sums: Vec<Option<Sum>>,
}

/// Makes steps of readings that come one after the other.
#[derive(Debug, Clone, Default)]
pub struct Stepper {
    last: Option<Readings>,
}

impl Stepper {
    /// Takes the next readings. Nothing comes of the first ones, of some that are no later, and of
    /// some that come more than [`LONGEST_GAP_S`] later: nobody knows what was in between.
    pub fn take(&mut self, now: Readings) -> Option<Step> {
        let last = self.last.replace(now.clone())?;
        let s = now.at_s - last.at_s;
        if s <= 0.0 || s > LONGEST_GAP_S {
            return None;
        }
        let same = Arc::ptr_eq(&last.elements, &now.elements);
        let pairs = now.elements.iter().zip(&now.readings).enumerate();
        let sums = pairs.map(|(at, (element, reading))| {
            let at = if same {
                Some(at)
            } else {
                last.elements.iter().position(|known| known == element)
            };
            at.map(|at| Sum::between(s, &last.readings[at], reading))
        });
        Some(Step {
            s,
            at_s: now.at_s,
            sums: sums.collect(),
            elements: now.elements,
        })
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn reading(draw_a: f64) -> Reading {
        Reading {
            asked_a: 2.0 * draw_a,
            draw_a,
            limit_a: Some(10.0),
            scale: 0.5,
            mains_w: 12.0 * draw_a,
            ..Reading::default()
        }
    }

    fn close(a: f64, b: f64) -> bool {
        (a - b).abs() <= 1e-9 * (1.0 + a.abs().max(b.abs()))
    }

    #[test]
    fn an_element_is_written_and_read_back() {
        for text in ["floor", "circuit:mains", "supply:S 1", "feed:a:b"] {
            assert_eq!(text.parse::<Element>().unwrap().to_string(), text);
        }
        for text in ["", "floor:x", "feed", "feed:", "panel:A1"] {
            assert!(text.parse::<Element>().is_err(), "{text}");
        }
    }

    #[test]
    fn one_hour_of_ten_amperes_is_ten_ampere_hours() {
        // By the definitions of the ampere-hour and the kilowatt-hour: 230 W for an hour.
        let steady = Reading {
            mains_w: 230.0,
            ..reading(10.0)
        };
        let mut sum = Sum::default();
        for _ in 0..3_600 {
            sum.merge(&Sum::between(1.0, &steady, &steady));
        }
        assert!(
            close(sum.amp_hours(), 10.0) && close(sum.kwh(), 0.23),
            "{sum:?}"
        );
        // 20 A asked against a limit of 10 A, and dimmed all the time.
        assert!(close(sum.over_s, 3_600.0) && close(sum.capped_s, 3_600.0));
    }

    #[test]
    fn a_gap_and_a_new_element_are_not_made_up() {
        let mut stepper = Stepper::default();
        let floor: Arc<[Element]> = Arc::new(["feed:a".parse().unwrap()]);
        let other: Arc<[Element]> =
            Arc::new(["feed:b".parse().unwrap(), "feed:a".parse().unwrap()]);
        let at = |at_s: f64, elements: &Arc<[Element]>| Readings {
            at_s,
            elements: Arc::clone(elements),
            readings: vec![reading(at_s); elements.len()],
        };
        assert_eq!(stepper.take(at(1.0, &floor)), None);
        assert_eq!(stepper.take(at(1.0, &floor)), None);
        assert_eq!(stepper.take(at(7.0, &floor)), None);
        let step = stepper.take(at(8.0, &other)).unwrap();
        assert_eq!(step.sums[0], None);
        assert!(close(step.sums[1].unwrap().draw_as, 7.5));
    }

    proptest! {
        /// However a time is cut, the whole is the same, and a mean lies between the extremes.
        #[test]
        fn sums_add_up_however_they_are_cut(
            values in prop::collection::vec((0.01..4.0_f64, 0.0..50.0_f64), 3..40),
            cut in 1_usize..39,
        ) {
            let sums: Vec<Sum> = values
                .windows(2)
                .map(|pair| Sum::between(pair[1].0, &reading(pair[0].1), &reading(pair[1].1)))
                .collect();
            let all = |sums: &[Sum]| {
                let mut whole = Sum::default();
                for sum in sums {
                    whole.merge(sum);
                }
                whole
            };
            let whole = all(&sums);
            let (first, second) = sums.split_at(cut.min(sums.len()));
            let mut joined = all(first);
            joined.merge(&all(second));
            prop_assert!(close(whole.draw_as, joined.draw_as));
            prop_assert!(close(whole.mains_ws, joined.mains_ws));
            prop_assert!(close(whole.s, joined.s));
            prop_assert_eq!(whole.draw_max_a.to_bits(), joined.draw_max_a.to_bits());
            let mean = whole.draw_a().unwrap();
            prop_assert!(mean <= whole.draw_max_a + 1e-9 && mean >= whole.draw_min_a - 1e-9);
            prop_assert!(whole.capped_s <= whole.s + 1e-9 && whole.over_s <= whole.s + 1e-9);
        }
    }
}
