//! Owns the estimator of faults: brings it what is known and what people say, on a thread that may
//! take its time, and tells what it makes of that.

use std::sync::Arc;

use tokio::sync::{mpsc, watch};
use tokio::task::spawn_blocking;

use super::book;
use super::show::Word;
use crate::engine::command::Command;
use crate::engine::showing::Said;
use crate::engine::snapshot::{NodeState, SensorState, SensorVerdict, State};
use crate::engine::survey::By;
use crate::engine::survey::state::SurveyOutcome;
use crate::engine::switches::Presses;
use crate::health::estimate::{Estimator, NotTaken};
use crate::health::evidence::Says;
use crate::health::facts::{Facts, NodeFact, SensorFact, SwitchFact, UniverseFact};
use crate::health::snapshot::{EvidenceKind, Health};
use crate::health::switches::{RULES, SwitchFinding, Switches};
use crate::net::clock::Clock;
use crate::units::Time;
use crate::web::{FaultEnds, FloorView, HealthOrder, HealthWish, Source};

/// So often what is known is looked at, without a survey or anybody's word.
const EVERY_S: f64 = 1.0;

/// Something new.
enum News {
    /// A state of the floor.
    State(Arc<State>, Arc<Presses>),
    /// A survey has ended.
    Survey(Arc<SurveyOutcome>),
    /// The show says something.
    Show(Said),
    /// Somebody says something.
    Wish(HealthOrder),
}

/// What is heard besides states, surveys and wishes.
pub(super) struct Ear {
    pub(super) presses: watch::Receiver<Arc<Presses>>,
    /// What the show says.
    pub(super) show: mpsc::Receiver<Said>,
    /// Where what people say goes that changes what the show may go by.
    pub(super) words: mpsc::Sender<Word>,
}

/// Follows the floor until it ends.
pub(super) async fn follow(source: Source, mut ends: FaultEnds, ear: Ear, clock: Clock) {
    let Ear {
        presses,
        mut show,
        words,
    } = ear;
    let mut states = source.state.clone();
    let mut outcomes = source.survey.outcome.clone();
    let mut written = book::versions(&source);
    let mut mine = Mine::default();
    let mut looked: Option<Time> = None;
    let mut version = 0_u32;
    loop {
        let news = tokio::select! {
            changed = states.changed() => {
                if changed.is_err() {
                    return;
                }
                let now = clock.now();
                let newest = Arc::clone(&states.borrow_and_update());
                if looked.is_some_and(|at| now.s_since(at) < EVERY_S) {
                    continue;
                }
                looked = Some(now);
                let presses = Arc::clone(&presses.borrow());
                News::State(newest, presses)
            }
            changed = outcomes.changed() => {
                if changed.is_err() {
                    return;
                }
                News::Survey(Arc::clone(&outcomes.borrow_and_update()))
            }
            Ok(()) = written.changed() => {
                version = version.wrapping_add(1);
                let _ = source.command(Command::HealthVersion(version)).await;
                continue;
            }
            Some(said) = show.recv() => News::Show(said),
            wish = ends.wished.recv() => {
                let Some(wish) = wish else { return };
                News::Wish(wish)
            }
        };
        let view = Arc::clone(&source.floor.borrow());
        let now = clock.now();
        let before = std::mem::take(&mut mine);
        let thought = spawn_blocking(move || {
            let mut mine = before;
            let mut estimator = current(mine.estimator.take(), &view);
            let (answered, word) = hear(&mut estimator, &mut mine.switches, news, now);
            let health = Arc::new(estimator.health(now));
            mine.estimator = Some(estimator);
            if let Some((answer, done)) = answered {
                // Who asked may have gone away since.
                let _ = answer.send(done.map(|()| Arc::clone(&health)));
            }
            (mine, health, word)
        });
        match thought.await {
            Ok((after, health, word)) => {
                mine = after;
                if let Some(word) = word
                    && words.try_send(word).is_err()
                {
                    tracing::debug!("the show was not told what somebody said of it");
                }
                let differs = !same(&ends.told.borrow(), &health);
                ends.told.send_replace(health);
                if differs {
                    version = version.wrapping_add(1);
                    // When its queue is full the next one tells.
                    let _ = source.command(Command::HealthVersion(version)).await;
                }
            }
            Err(error) => tracing::error!(%error, "what is dead could not be worked out"),
        }
    }
}

/// What is thought with.
struct Mine {
    estimator: Option<Estimator>,
    switches: Switches,
}

impl Default for Mine {
    fn default() -> Self {
        Self {
            estimator: None,
            switches: Switches::new(RULES),
        }
    }
}

type Answered = (
    tokio::sync::oneshot::Sender<crate::web::HealthAnswer>,
    Result<(), NotTaken>,
);

/// The estimator for the floor that is seen now.
fn current(mine: Option<Estimator>, view: &FloorView) -> Estimator {
    let revision = view.document.revision;
    let (floor, tables) = (Arc::clone(&view.floor), Arc::clone(&view.tables));
    match mine {
        Some(mine) if mine.revision() == revision => mine,
        Some(mut mine) => {
            mine.replace(floor, tables, revision);
            mine
        }
        None => Estimator::new(floor, tables, revision),
    }
}

fn hear(
    estimator: &mut Estimator,
    switches: &mut Switches,
    news: News,
    now: Time,
) -> (Option<Answered>, Option<Word>) {
    match news {
        News::State(state, presses) => {
            let revision = estimator.revision();
            // Just replaced: what they list belongs to another floor.
            if state.revision == revision && presses.revision == revision {
                switches.see(&presses.seen, now);
                let mut facts = facts(&state);
                facts.switches = switches.findings(now).into_iter().map(switch).collect();
                estimator.know(facts, now);
            }
            (None, None)
        }
        News::Survey(outcome) => {
            estimator.count_surveys(outcome.ended);
            if outcome.revision == estimator.revision() {
                let kind = match outcome.by {
                    By::Sensors => EvidenceKind::Survey,
                    By::Eyes => EvidenceKind::Eyes,
                };
                estimator.judge(kind, outcome.judged.iter().copied(), now);
            }
            (None, None)
        }
        News::Show(said) => {
            if said.revision == estimator.revision() {
                for (item, judged, at) in said.judged {
                    estimator.judge(EvidenceKind::Show, [(item, judged)], at);
                }
                estimator.hear_show(said.shortfalls, said.loose);
            }
            (None, None)
        }
        News::Wish((wish, answer)) => {
            let (done, word) = follow_wish(estimator, wish, now);
            (Some((answer, done)), word)
        }
    }
}

/// Does what somebody wishes; what that tells whoever weighs the show.
fn follow_wish(
    estimator: &mut Estimator,
    wish: HealthWish,
    now: Time,
) -> (Result<(), NotTaken>, Option<Word>) {
    match wish {
        HealthWish::Report {
            position,
            segment,
            says,
        } => {
            let done = estimator.report(&position, segment, says, now);
            let fine = done.is_ok() && says == Says::FineNow;
            let panel = estimator.panel(&position).filter(|_| fine);
            let segment = segment.and_then(|number| (number as usize).checked_sub(1));
            (
                done.map(drop),
                panel.map(|panel| Word::Fine(panel, segment)),
            )
        }
        HealthWish::Withdraw(id) => {
            let of_show = estimator.comes_from(id) == Some(EvidenceKind::Show);
            let done = estimator.withdraw(id);
            (done, of_show.then_some(Word::TakenBack))
        }
    }
}

fn facts(state: &State) -> Facts {
    let universe = |universe: &crate::engine::snapshot::UniverseState| UniverseFact {
        lost: universe.lost,
        age_s: universe.age_s,
    };
    let panels = state.panels.iter().enumerate();
    let pressed = panels.flat_map(|(at, panel)| panel.pressed.iter().map(move |one| (at, *one)));
    let mapped = state.universes.iter().filter(|universe| universe.mapped);
    Facts {
        nodes: state.nodes.iter().map(node).collect(),
        universes: mapped.map(universe).collect(),
        sensors: state.sensors.iter().map(sensor).collect(),
        pressed: pressed.collect(),
        switches: Vec::new(),
    }
}

fn switch(found: SwitchFinding) -> SwitchFact {
    SwitchFact {
        panel: found.panel as usize,
        switch: found.switch,
        cause: found.cause,
        evidence: found.evidence,
        chance: found.chance,
    }
}

fn node(node: &NodeState) -> NodeFact {
    let short = node.ports.iter().filter(|port| port.short_circuit);
    NodeFact {
        online: node.online,
        last_reply_s: node.last_reply_s,
        short_circuits: short.map(|port| port.port_address.clone()).collect(),
    }
}

fn sensor(sensor: &SensorState) -> SensorFact {
    let lost = match sensor.state {
        SensorVerdict::Silent => Some("has fallen silent"),
        SensorVerdict::Frozen => Some("says the very same while the light changes"),
        SensorVerdict::Absurd => Some("says what can't be"),
        _ => None,
    };
    let apart = sensor.state == SensorVerdict::ApartBelow && sensor.quantity == "current";
    let lacks_a = sensor
        .expected
        .zip(sensor.measured)
        .map(|(expected, measured)| expected - measured);
    SensorFact {
        lost,
        lacks_a: lacks_a.filter(|lacks| apart && *lacks > 0.0),
        age_s: sensor.age_s,
    }
}

/// Whether people see the same, ages left aside.
fn same(one: &Health, other: &Health) -> bool {
    let bare = |health: &Health| {
        let mut bare = health.clone();
        bare.uptime_s = 0.0;
        for fault in &mut bare.faults {
            fault.chance = (fault.chance * 100.0).round();
            for row in &mut fault.evidence {
                row.age_s = 0.0;
                if !row.can_withdraw {
                    row.text.clear();
                }
            }
            if fault.cause == crate::health::snapshot::Cause::NodeSilent {
                fault.place.clear();
            }
        }
        for segment in bare.panels.iter_mut().flat_map(|panel| &mut panel.segments) {
            segment.age_s = None;
            segment.doubt = (segment.doubt * 100.0).round();
        }
        bare
    };
    bare(one) == bare(other)
}
