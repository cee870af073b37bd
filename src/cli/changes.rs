//! What changes in the night and is no alarm, written to the log once when it begins and once when it ends:
//! the signal, nodes, and who of two litfloors leads. The next morning the log says from when to when.

use std::collections::{BTreeMap, VecDeque};
use std::sync::Arc;

use tokio::sync::watch;

use super::networks::named;
use crate::engine::snapshot::{NodeState, SignalState, StandbyDuty, StandbyState, State};

/// A node that answers for the first time within so long of the start is no change.
const STARTS_WITHIN_S: f64 = 15.0;

/// So many changes of one thing are told within `WINDOW_S`; one that goes to and fro must not fill the log.
const MOST: usize = 6;
const WINDOW_S: f64 = 600.0;

/// A change of one thing.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Change {
    /// Which thing, for people: the same word each time.
    of: String,
    to: To,
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum To {
    /// A node of this name is silent.
    Silent(String),
    /// It answers again.
    Back(String),
    /// Something else, as it is told.
    Other(String),
}

/// What has changed, one line each.
#[cfg(test)]
fn told(before: &State, now: &State) -> Vec<String> {
    lines(changes(before, now))
}

/// One line for each; nodes that fall silent together, as behind a switch, share one.
fn lines(changes: Vec<Change>) -> Vec<String> {
    let (mut silent, mut back, mut lines) = (Vec::new(), Vec::new(), Vec::new());
    for change in changes {
        match change.to {
            To::Silent(name) => silent.push(name),
            To::Back(name) => back.push(name),
            To::Other(text) => lines.push(text),
        }
    }
    match silent.as_slice() {
        [] => {}
        [name] => lines.push(format!("node {name}: no longer answers polls")),
        all => lines.push(format!("nodes {}: no longer answer polls", named(all))),
    }
    match back.as_slice() {
        [] => {}
        [name] => lines.push(format!("node {name}: answers polls again")),
        all => lines.push(format!("nodes {}: answer polls again", named(all))),
    }
    lines
}

fn changes(before: &State, now: &State) -> Vec<Change> {
    let mut changes = Vec::new();
    let other = |of: &str, text| Change {
        of: of.to_owned(),
        to: To::Other(text),
    };
    if before.signal != now.signal {
        changes.push(other("the signal", of_signal(before.signal, now)));
    }
    if let (Some(before), Some(now)) = (&before.standby, &now.standby) {
        changes.extend(of_lead(before, now).map(|text| other("the lead", text)));
        changes.extend(of_other(before, now).map(|text| other("the other litfloor", text)));
    }
    let known: BTreeMap<&str, &NodeState> = before
        .nodes
        .iter()
        .map(|node| (node.address.as_str(), node))
        .collect();
    for node in &now.nodes {
        // Those of a floor file that was read again just now are new.
        let Some(before) = known.get(node.address.as_str()) else {
            continue;
        };
        let (name, first) = (node.name.clone(), before.last_reply_s.is_none());
        let to = match (before.online, node.online) {
            (true, false) => To::Silent(name),
            (false, true) if !first => To::Back(name),
            (false, true) if now.uptime_s > STARTS_WITHIN_S => {
                To::Other(format!("node {name}: answers polls for the first time"))
            }
            _ => continue,
        };
        changes.push(Change {
            of: format!("node {}", node.name),
            to,
        });
    }
    changes
}

fn of_signal(before: SignalState, now: &State) -> String {
    match (before, now.signal) {
        (_, SignalState::Lost) => "the signal is lost: no universe of the floor arrives".to_owned(),
        (_, SignalState::Waiting) => {
            "no signal has come yet for the floor that was read again".to_owned()
        }
        (_, SignalState::Partial) => {
            let universes = now.universes.iter().filter(|universe| universe.mapped);
            let missing: Vec<String> = universes
                .filter(|universe| universe.lost || universe.age_s.is_none())
                .map(|universe| universe.port_address.clone())
                .collect();
            format!(
                "a part of the signal is missing: {} do not arrive",
                named(&missing)
            )
        }
        (SignalState::Waiting, SignalState::Live) => "the signal is there".to_owned(),
        (_, SignalState::Live) => "the signal is there again, all of it".to_owned(),
    }
}

/// Who leads.
fn of_lead(before: &StandbyState, now: &StandbyState) -> Option<String> {
    let peer = &now.peer;
    if before.duty == now.duty {
        return None;
    }
    Some(match now.duty {
        StandbyDuty::Leads => {
            let why = match now.peer_duty {
                None => "has not been heard",
                Some(StandbyDuty::Ended) => "was told to end",
                // It led when it was heard last, however short ago that was: silence is why.
                Some(StandbyDuty::Leads) => "is not heard any more",
                Some(_) if now.is_heard() => "leaves it to this one",
                Some(_) => "is not heard any more",
            };
            format!("this litfloor leads now: the one at {peer} {why}")
        }
        StandbyDuty::StandsBy if before.duty == StandbyDuty::Leads => {
            format!("this litfloor gave the lead back to the one at {peer}, and stands by")
        }
        StandbyDuty::StandsBy => format!("this litfloor stands by: the one at {peer} leads"),
        StandbyDuty::Listens => format!(
            "this litfloor sends nothing and listens whether the one at {peer} leads: it was held up itself"
        ),
        // Its end is told by what ends it.
        StandbyDuty::Ended => return None,
    })
}

/// How the other one is, apart from who leads.
fn of_other(before: &StandbyState, now: &StandbyState) -> Option<String> {
    let peer = &now.peer;
    match (before.deaf, now.deaf) {
        (false, true) => {
            return Some(format!(
                "the litfloor at {peer} answers polls, but its beats can't be read: key or [standby] differ"
            ));
        }
        (true, false) if now.is_heard() => {
            return Some(format!(
                "the beats of the litfloor at {peer} can be read again"
            ));
        }
        (true, false) => {
            return Some(format!(
                "the litfloor at {peer}, whose beats could not be read, does not answer polls either"
            ));
        }
        _ => {}
    }
    // While the other one leads, its silence is told by who leads then.
    if (before.duty, now.duty) != (StandbyDuty::Leads, StandbyDuty::Leads) {
        return None;
    }
    match (before.is_heard(), now.is_heard()) {
        (true, false) => Some(format!(
            "nobody stands by any more: the litfloor at {peer} is not heard"
        )),
        (false, true) => Some(format!("the litfloor at {peer} is there")),
        _ => None,
    }
}

/// Keeps what goes to and fro from filling the log.
#[derive(Debug, Default)]
struct Restraint(BTreeMap<String, Told>);

/// What was told of one thing.
#[derive(Debug, Default)]
struct Told {
    /// When, in uptime: the latest.
    at_s: VecDeque<f64>,
    /// The last change, if it was not told, and when it was.
    untold: Option<(Change, f64)>,
}

impl Restraint {
    /// The lines that are to be logged of these changes and of those that were held back.
    fn lines(&mut self, changes: Vec<Change>, now_s: f64) -> Vec<String> {
        let (mut tell, mut more) = (Vec::new(), Vec::new());
        for change in changes {
            let told = self.0.entry(change.of.clone()).or_default();
            told.at_s.retain(|at_s| now_s - at_s < WINDOW_S);
            if told.untold.is_none() && told.at_s.len() < MOST {
                told.at_s.push_back(now_s);
                tell.push(change);
                continue;
            }
            if told.untold.is_none() {
                more.push(format!(
                    "{} changes again and again: no more is said of it until it has been the same for \
                     {WINDOW_S:.0} s",
                    change.of
                ));
            }
            told.untold = Some((change, now_s));
        }
        for told in self.0.values_mut() {
            let rests = |(_, at_s): &mut (Change, f64)| now_s - *at_s >= WINDOW_S;
            if let Some((change, at_s)) = told.untold.take_if(rests) {
                told.at_s.clear();
                let ago_s = now_s - at_s;
                let said = lines(vec![change]).into_iter();
                more.extend(said.map(|text| format!("for {ago_s:.0} s now: {text}")));
            }
        }
        let mut all = lines(tell);
        all.extend(more);
        all
    }
}

/// Follows every state until there are no more. The first one says how things are, and is no change.
pub(super) async fn follow(mut states: watch::Receiver<Arc<State>>) {
    let mut restraint = Restraint::default();
    let mut before = Arc::clone(&states.borrow_and_update());
    while states.changed().await.is_ok() {
        let now = Arc::clone(&states.borrow_and_update());
        for line in restraint.lines(changes(&before, &now), now.uptime_s) {
            tracing::warn!("{line}");
        }
        before = now;
    }
}

#[cfg(test)]
mod tests;
