//! What is wrong with a node.

use super::super::snapshot::{NodeState, Notice, Severity};
use super::{names, notice};

/// A node that has not answered since the start is named after so long.
const FIRST_ANSWER_WITHIN_S: f64 = 10.0;

/// Frames that could not be sent are told of for so long.
const SEND_ERROR_LASTS_S: f64 = 5.0;

/// All that is wrong with one of them.
pub(super) fn of_node(node: &NodeState, uptime_s: f64, notices: &mut Vec<Notice>) {
    let name = &node.name;
    match node.last_reply_s {
        Some(s) if !node.online => notices.push(notice(
            "node_silent",
            Severity::Warning,
            format!(
                "Node {name} has not answered for {s:.0} s: look at its power and network cable. \
                 What it may still be showing is kept in the sums."
            ),
        )),
        None if uptime_s > FIRST_ANSWER_WITHIN_S => notices.push(notice(
            "node_never_answered",
            Severity::Warning,
            format!(
                "Node {name} at {} has never answered a poll: check its address and cable.",
                node.address
            ),
        )),
        _ => {}
    }
    // Older errors stay in the count; a cable that was plugged in late is no news all night.
    if node
        .last_send_error_s
        .is_some_and(|s| s < SEND_ERROR_LASTS_S)
    {
        notices.push(notice(
            "send_errors",
            Severity::Warning,
            format!("Frames to node {name} can't be sent: check this machine's network."),
        ));
    }
    if !node.not_listed.is_empty() {
        notices.push(notice(
            "node_lacks_universe",
            Severity::Warning,
            format!(
                "Node {name} does not say that it outputs {}: set its ports to the floor file's.",
                names(&node.not_listed)
            ),
        ));
    }
    if let Some(port) = node.ports.iter().find(|port| port.short_circuit) {
        notices.push(notice(
            "node_short_circuit",
            Severity::Warning,
            format!(
                "Node {name} reports a short circuit at {}.",
                port.port_address
            ),
        ));
    }
}
