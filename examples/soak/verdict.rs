//! What came of it.

use std::fmt;

use super::stage::{Sample, Seen, Stage};

/// What issue and README promise: bytes an hour.
const GROWS_BY: f64 = 1_048_576.0;

pub(crate) struct Verdict {
    seen: Seen,
    notes: u64,
    /// Bytes an hour.
    growth: Option<f64>,
}

pub(crate) fn of(stage: Stage) -> Verdict {
    let notes = stage.notes_in_book();
    let mut seen = stage.seen;
    seen.sent.add(&stage.sent);
    Verdict {
        growth: growth(&seen.samples),
        seen,
        notes,
    }
}

/// The median of all slopes between two samples (Theil, 1950; Sen, 1968), in bytes an hour: one odd sample
/// does not move it.
fn growth(samples: &[Sample]) -> Option<f64> {
    #[expect(clippy::cast_precision_loss, reason = "memory is far below 2^53 bytes")]
    let slope = |(one, other): (&Sample, &Sample)| {
        (other.memory as f64 - one.memory as f64) / (other.s - one.s) * 3_600.0
    };
    let pairs = samples.iter().enumerate();
    let pairs = pairs.flat_map(|(at, one)| samples[at + 1..].iter().map(move |other| (one, other)));
    let mut slopes: Vec<f64> = pairs.map(slope).collect();
    slopes.sort_by(f64::total_cmp);
    slopes.get(slopes.len() / 2).copied()
}

impl Verdict {
    pub(crate) fn holds(&self) -> bool {
        self.seen.amiss.is_empty()
            && self.seen.over == 0
            && self.notes == self.seen.noted
            && self.growth.is_some_and(|growth| growth <= GROWS_BY)
            && !self.leaks()
    }

    /// Whether the last moments of quiet had more descriptors than the first.
    fn leaks(&self) -> bool {
        let of = |sample: Option<&Sample>| sample.map_or(0, |sample| sample.descriptors);
        of(self.seen.samples.last()) > of(self.seen.samples.first())
    }
}

impl fmt::Display for Verdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let seen = &self.seen;
        writeln!(f, "faults made:")?;
        for (name, count) in &seen.faults {
            writeln!(f, "  {count:5}  {name}")?;
        }
        writeln!(
            f,
            "datagrams sent, by the outcome that they were sent for: {}",
            seen.sent
        )?;
        writeln!(
            f,
            "  {} in all; of frames to nodes {} came, {} of them were lost on purpose",
            seen.sent.sum(),
            seen.frames_at_nodes,
            seen.lost_at_nodes
        )?;
        writeln!(
            f,
            "limits: {} looks, {} over; the highest {:.4} of its limit ({})",
            seen.checks, seen.over, seen.highest.0, seen.highest.1
        )?;
        writeln!(f, "moments of quiet: {}", seen.pictures)?;
        writeln!(
            f,
            "notes acknowledged {}, in the book {}",
            seen.noted, self.notes
        )?;
        let mut recovered = seen.recovered_ms.clone();
        recovered.sort_unstable();
        writeln!(
            f,
            "from the start after kill -9 to the first frame, in ms: {recovered:?}"
        )?;
        #[expect(clippy::cast_precision_loss, reason = "for people")]
        let mib = |bytes: u64| bytes as f64 / GROWS_BY;
        // About ten of them, and the last.
        let step = seen.samples.len().div_ceil(10).max(1);
        let some = seen.samples.iter().step_by(step);
        for sample in some.chain(seen.samples.last()) {
            writeln!(
                f,
                "after {:.0} s: {:.2} MiB of its own, {} descriptors",
                sample.s,
                mib(sample.memory),
                sample.descriptors
            )?;
        }
        match self.growth {
            Some(growth) => writeln!(
                f,
                "growth of memory: {:.2} MiB an hour ({} samples)",
                growth / GROWS_BY,
                seen.samples.len()
            )?,
            None => writeln!(f, "too short to tell whether memory grows")?,
        }
        if self.leaks() {
            writeln!(f, "open at first: {}", seen.open_at_first.join(", "))?;
            writeln!(f, "open at last: {}", seen.open_at_last.join(", "))?;
        }
        for amiss in &seen.amiss {
            writeln!(f, "AMISS: {amiss}")?;
        }
        write!(
            f,
            "{}",
            if self.holds() {
                "all held"
            } else {
                "NOT ALL HELD"
            }
        )
    }
}
