//! What a walk found, for people.

use serde::Serialize;
use utoipa::ToSchema;

use super::mistake::{Mistake, What};
use super::suspect::{Suspect, position};
use crate::floor::Floor;
use crate::floor::model::PixelKind;

/// Other explanations that are told.
const MOST_OTHERS: usize = 3;

/// The difference between plan and floor.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, ToSchema)]
pub struct Report {
    /// One for each mistake, in the order in which they were met.
    pub differences: Vec<Difference>,
    /// What fits the answers as well, if anything does: these can't be told apart by light.
    pub otherwise: Vec<String>,
    /// What light can't show and has to be looked at.
    pub cautions: Vec<String>,
}

/// One thing that is otherwise than planned.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct Difference {
    /// Its kind.
    pub what: What,
    /// For people.
    pub text: String,
    /// Positions that it names.
    pub positions: Vec<String>,
    /// The run that it names, counted from 0.
    pub run: Option<usize>,
    /// The answers that led to it.
    pub evidence: Vec<String>,
}

/// Words everything.
pub(super) fn of(
    plan: &Floor,
    suspects: &[Suspect],
    log: &[String],
    unexplained: &[(usize, String)],
) -> Report {
    let Some(first) = suspects.first() else {
        return Report::default();
    };
    let mut differences: Vec<Difference> = Vec::new();
    for (mistake, since) in &first.mistakes {
        let (text, panels, run) = words(plan, mistake);
        differences.push(Difference {
            what: what(plan, mistake),
            text,
            positions: panels
                .iter()
                .map(|&panel| position(plan, panel).to_string())
                .collect(),
            run,
            evidence: log.iter().skip(*since).take(1).cloned().collect(),
        });
    }
    for (panel, said) in unexplained {
        let at = position(plan, *panel).to_string();
        differences.push(Difference {
            what: What::Unexplained,
            text: format!(
                "What was answered when the slots of {at} were lit contradicts the other answers, \
                 or is something that litfloor does not know. Look at it again."
            ),
            positions: vec![at],
            run: None,
            evidence: vec![said.clone()],
        });
    }
    let others = suspects[1..].iter().map(|suspect| {
        let words_of = |(mistake, _): &(Mistake, usize)| words(plan, mistake).0;
        let all: Vec<String> = suspect.mistakes.iter().map(words_of).collect();
        all.join(" ")
    });
    Report {
        cautions: cautions(plan, &first.mistakes),
        differences,
        otherwise: others.take(MOST_OTHERS).collect(),
    }
}

fn what(plan: &Floor, mistake: &Mistake) -> What {
    match mistake {
        Mistake::Swapped { .. } => What::Swapped,
        Mistake::Turned {
            panel, mirrored, ..
        } if *mirrored != plan.panels[*panel].mirrored => What::Mirrored,
        Mistake::Turned { .. } => What::Turned,
        Mistake::Reversed { .. } => What::Reversed,
        Mistake::Shifted { .. } => What::Shifted,
        Mistake::KindColours { .. } | Mistake::PanelColours { .. } => What::Colours,
        Mistake::Dark { .. } => What::Dark,
    }
}

/// The text, the panels and the run that it names.
fn words(plan: &Floor, mistake: &Mistake) -> (String, Vec<usize>, Option<usize>) {
    let at = |panel: usize| position(plan, panel);
    match mistake {
        Mistake::Swapped { a, b } => {
            let (one, other) = (at(*a), at(*b));
            let text = format!("The panels at {one} and {other} are swapped.");
            (text, vec![*a, *b], None)
        }
        Mistake::Turned {
            panel,
            turn_deg,
            mirrored,
        } => {
            let was = &plan.panels[*panel];
            let side = |mirrored| if mirrored { "mirrored and " } else { "" };
            let text = format!(
                "The panel at {} lies {}turned by {turn_deg}°, not {}by {}°, as planned.",
                at(*panel),
                side(*mirrored),
                side(was.mirrored),
                was.turn_deg,
            );
            (text, vec![*panel], None)
        }
        Mistake::Reversed { run, turned } => {
            let half = if *turned {
                ", and its panels lie turned half round"
            } else {
                ""
            };
            let text = format!("{} is wired from its other end{half}.", called(plan, *run));
            let panels = &plan.runs[*run].panels;
            let ends = panels.first().into_iter().chain(panels.last());
            (text, ends.copied().collect(), Some(*run))
        }
        Mistake::Shifted { run, slot } => {
            let was = plan.runs[*run].slot;
            let off = i32::from(*slot) - i32::from(was);
            let text = format!(
                "{} begins at slot {slot}, not {was}: it is shifted by {off:+} slots.",
                called(plan, *run)
            );
            (text, Vec::new(), Some(*run))
        }
        Mistake::KindColours { pixel_kind, order } => {
            let kind = plan.pixel_kinds.get(*pixel_kind);
            let name = kind.map_or("", |kind| kind.name.as_str());
            let was = kind.map(PixelKind::wire_order).unwrap_or_default();
            let text =
                format!("Pixels of kind {name} have their slots in the order {order}, not {was}.");
            (text, Vec::new(), None)
        }
        Mistake::PanelColours { panel, order } => {
            let text = format!(
                "The pixels of the panel at {} alone have their slots in the order {order}.",
                at(*panel)
            );
            (text, vec![*panel], None)
        }
        Mistake::Dark { panel } => {
            let text = format!(
                "The panel at {} stays dark. Look at its data and power wires; the file is left \
                 as it is.",
                at(*panel)
            );
            (text, vec![*panel], None)
        }
    }
}

fn called(plan: &Floor, run: usize) -> String {
    let of = &plan.runs[run];
    let node = of.node.map_or("", |node| plan.nodes[node].name.as_str());
    let port = of
        .port
        .map_or_else(String::new, |port| format!(" port {port}"));
    format!("The run on {node}{port} from {}/{}", of.start, of.slot)
}

/// What light can't show.
fn cautions(plan: &Floor, mistakes: &[(Mistake, usize)]) -> Vec<String> {
    let mut found = Vec::new();
    for (mistake, _) in mistakes {
        if let Mistake::Swapped { a, b } = mistake
            && plan.panels[*a].feed != plan.panels[*b].feed
        {
            let feed = |panel: usize| &plan.feeds[plan.panels[panel].feed].name;
            found.push(format!(
                "Light does not show which fuse feeds a panel. {} and {} are swapped and belong \
                 to the feeds {} and {}: see which fuse each really hangs on, and correct \
                 `positions` of the feeds if it moved along. The limits go by them.",
                position(plan, *a),
                position(plan, *b),
                feed(*a),
                feed(*b),
            ));
        }
    }
    found
}
