//! What is wrong, as a running litfloor answers.

use serde::Serialize;

use super::asked::{Answers, Fault, FloorLoad, Load, Notice, Recording, State};

/// What was lost is wrong for so long.
const LATELY_S: f64 = 60.0;

/// Faults that notices tell of as well.
const TOLD_BY_NOTICES: [&str; 3] = ["node_silent", "signal_lost", "sensor_lost"];

/// Notices that tell already that no console was heard, and why.
const WAITING_BY_NOTICES: [&str; 2] = ["unmapped_only", "standby_no_picture"];

/// What was seen.
#[derive(Debug, Serialize)]
pub(super) struct Seen {
    pub(super) version: Option<String>,
    /// Whether it was asked at the address for guests, which tells less.
    pub(super) as_guest: bool,
    pub(super) file: String,
    pub(super) revision: u32,
    pub(super) uptime_s: u64,
    pub(super) signal: String,
    /// Of mapped universes that arrive.
    pub(super) frames_per_s: f64,
    pub(super) frames_in: u64,
    pub(super) frames_out: u64,
    /// What the system threw away since the start; null where it does not tell.
    pub(super) dropped: Option<f64>,
    pub(super) floor: FloorLoad,
    /// The least factor that a panel's picture is multiplied with, over all that it hangs on; 1 where
    /// nothing is dimmed.
    pub(super) dimmed_to: f64,
    pub(super) loads: Vec<LoadRow>,
    pub(super) nodes: Nodes,
    pub(super) faults: Vec<FaultRow>,
    pub(super) recording: Recording,
    pub(super) notices: Vec<Notice>,
}

/// A circuit, a supply or a feed.
#[derive(Debug, Serialize)]
pub(super) struct LoadRow {
    pub(super) kind: &'static str,
    pub(super) name: String,
    pub(super) draw_a: f64,
    pub(super) limit_a: f64,
    pub(super) scale: f64,
}

impl LoadRow {
    /// The share of its limit that it draws.
    pub(super) fn used(&self) -> f64 {
        if self.limit_a > 0.0 {
            self.draw_a / self.limit_a
        } else {
            0.0
        }
    }
}

#[derive(Debug, Serialize)]
pub(super) struct Nodes {
    pub(super) online: usize,
    /// Their names.
    pub(super) offline: Vec<String>,
}

#[derive(Debug, Serialize)]
pub(super) struct FaultRow {
    pub(super) cause: String,
    pub(super) place: String,
    pub(super) effect: String,
    pub(super) sure: String,
    /// Whether one knows at least where to go.
    pub(super) known: bool,
}

impl Notice {
    /// Whether something does not work, or a limit can't be kept.
    pub(super) fn is_bad(&self) -> bool {
        self.severity != "info"
    }
}

/// What was seen, and what of it is wrong: the worst first.
pub(super) fn judge(answers: Answers) -> (Seen, Vec<String>) {
    let mut wrong = Vec::new();
    if let Some(why) = &answers.unhealthy {
        wrong.push(format!(
            "Frames may not be forwarded: {why}. What is told below may be old. Start litfloor again"
        ));
    }
    let bad = answers
        .state
        .notices
        .iter()
        .filter(|notice| notice.is_bad());
    wrong.extend(bad.map(|notice| notice.text.clone()));
    wrong.extend(waiting(&answers.state));
    wrong.extend(lost(&answers));
    wrong.extend(unkept(&answers.recording));
    let Answers { state, faults, .. } = &answers;
    for node in state.nodes.iter().filter(|node| !node.online) {
        let named = format!("Node {} ", node.name);
        if !wrong.iter().any(|wrong| wrong.starts_with(&named)) {
            wrong.push(format!("{named}does not answer, or has not done so yet."));
        }
    }
    let faults: Vec<FaultRow> = faults.iter().map(row).collect();
    let untold = |fault: &&FaultRow| fault.known && !TOLD_BY_NOTICES.contains(&&*fault.cause);
    wrong.extend(
        faults
            .iter()
            .filter(untold)
            .map(|fault| format!("{}: {}", fault.place, fault.effect)),
    );
    (seen(answers, faults), wrong)
}

/// That no console was heard, which is no news before the night and all of it once it has begun.
fn waiting(state: &State) -> Option<String> {
    let mut notices = state.notices.iter();
    let told = notices.any(|notice| WAITING_BY_NOTICES.contains(&&*notice.code));
    (state.signal == "waiting" && !told).then(|| {
        format!(
            "No console has been heard since the start: no frame for the floor has come. Let the console \
             send Art-Net to this litfloor, which listens at {}, or by broadcast, and look at the cable \
             between.",
            state.artnet
        )
    })
}

/// That the history of power is not kept as it should be.
fn unkept(recording: &Recording) -> Option<String> {
    let why = recording.trouble.as_ref()?;
    Some(format!(
        "The history of power is not kept as it should be: {}. `litfloor doctor` looks at the disk and \
         its rights.",
        why.trim_end_matches('.')
    ))
}

/// What was lost lately.
fn lost(answers: &Answers) -> Vec<String> {
    let mut lost = Vec::new();
    let state = &answers.state;
    let last = answers.metric("litfloor_kernel_dropped_last_uptime_seconds");
    if last.is_some_and(|last| state.uptime_s - last < LATELY_S) {
        lost.push(
            "The system threw away datagrams to the Art-Net port within the last minute: more came at \
             once than its buffer holds. `litfloor doctor` says whether buffers are small; else this \
             computer is too busy, or something floods the port."
                .to_owned(),
        );
    }
    let missing = |of: &super::asked::Universe| of.arrival.missing_frames.filter(|&n| n > 0);
    let universes = state.universes.iter().filter(|universe| universe.mapped);
    let missing: Vec<String> = universes
        .filter_map(|of| missing(of).map(|n| format!("{n} of {}", of.port_address)))
        .collect();
    if !missing.is_empty() {
        lost.push(format!(
            "Frames of the last minute did not get here, as their numbers say: {}. Look at the network \
             between console and litfloor.",
            super::super::networks::named(&missing)
        ));
    }
    let nodes = state.nodes.iter();
    let refused = nodes.filter(|node| node.last_send_error_s.is_some_and(|s| s < LATELY_S));
    let refused: Vec<String> = refused.map(|node| node.name.clone()).collect();
    if !refused.is_empty() {
        lost.push(format!(
            "Within the last minute the system refused to send frames to {}: look at this machine's \
             network, its cable first.",
            super::super::networks::named(&refused)
        ));
    }
    lost
}

fn row(fault: &Fault) -> FaultRow {
    FaultRow {
        cause: fault.cause.clone(),
        place: fault.place.clone(),
        effect: fault.effect.clone(),
        sure: fault.sure.clone(),
        // As `FoundFault::is_known_by_place` has it.
        known: fault.sure != "possible" || fault.here >= 0.9,
    }
}

fn seen(answers: Answers, faults: Vec<FaultRow>) -> Seen {
    let version = answers.version();
    let dropped = answers.metric("litfloor_kernel_dropped_datagrams_total");
    let Answers {
        recording,
        as_guest,
        ..
    } = answers;
    let State {
        revision,
        file,
        uptime_s,
        artnet: _,
        signal,
        frames_in,
        frames_out,
        universes,
        nodes,
        floor,
        circuits,
        supplies,
        feeds,
        panels,
        notices,
    } = answers.state;
    let mapped = universes.iter().filter(|universe| universe.mapped);
    let kinds = [("circuit", circuits), ("supply", supplies), ("feed", feeds)];
    let loads = kinds.into_iter().flat_map(|(kind, loads)| {
        let row = move |load: Load| LoadRow {
            kind,
            name: load.name,
            draw_a: load.draw_a,
            limit_a: load.limit_a,
            scale: load.scale,
        };
        loads.into_iter().map(row)
    });
    let offline = nodes.iter().filter(|node| !node.online);
    Seen {
        version,
        as_guest,
        file: file.name,
        revision,
        uptime_s: std::time::Duration::try_from_secs_f64(uptime_s).map_or(0, |time| time.as_secs()),
        signal,
        frames_per_s: mapped.map(|universe| universe.fps).sum(),
        frames_in,
        frames_out,
        dropped,
        floor,
        dimmed_to: panels
            .iter()
            .fold(1.0, |least, panel| panel.scale.min(least)),
        loads: loads.collect(),
        nodes: Nodes {
            online: nodes.iter().filter(|node| node.online).count(),
            offline: offline.map(|node| node.name.clone()).collect(),
        },
        faults,
        recording,
        notices,
    }
}
