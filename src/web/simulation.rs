//! `/api/v1/simulation`: joints, segments and nodes of a simulated floor are broken and mended, so that
//! finding them can be tried. A real floor has no such path.

use std::fmt::Debug;

use axum::Json;
use axum::extract::State as Extract;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Shared;
use super::operator::extract::{Operator, Refusals, Told};
use super::problem::{Problem, problem};

/// What is simulated: whoever puts the program together implements it.
pub trait Simulation: Debug + Send + Sync {
    /// What is broken now, in the floor's order.
    fn broken(&self) -> Vec<BrokenJoint>;

    /// What this floor's build lets break.
    fn possible(&self) -> Vec<JointFault>;

    /// Breaks or mends a joint.
    ///
    /// # Errors
    /// When the floor can't break so there, with the reason, for people.
    fn change(&self, wish: &BreakJoint) -> Result<(), CantBreak>;
}

/// Why something can't break.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CantBreak {
    /// There is no such panel, joint or segment; with the reason, for people.
    NoSuchJoint(String),
    /// It is there, but does not break like that; with the reason, for people.
    NotLikeThat(String),
}

/// What can be wrong with a simulated joint, or with what lies behind it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum JointFault {
    /// The supply side is open: what lies behind has no power, unless it is fed from elsewhere.
    SupplyOpen,
    /// The supply side has resistance: what lies behind is dim.
    SupplyResistive,
    /// The data side is open: everything behind it in the run is dark.
    DataOpen,
    /// The data side has just opened: everything behind it in the run holds its last picture while
    /// it has power.
    DataFrozen,
    /// The wire of one colour is open; only analogue strip has one.
    ColourOpen,
    /// What brings power to the panel, from its fuse or from the panel before, is open; segment 1.
    LinkOpen,
    /// The supply side opens now and then while someone stands on a switch of the panel.
    Loose,
    /// The segment itself draws half of its current and gives half of its light.
    Weak,
    /// The segment itself is half lit whatever it is sent.
    Stuck,
    /// The node of the panel loses its power: it is silent and dark for some seconds, and then begins
    /// anew; segment 1.
    NodeRestarts,
    /// Nothing: it is mended.
    None,
}

impl JointFault {
    /// All that can be asked for.
    pub const ALL: [Self; 11] = [
        Self::SupplyOpen,
        Self::SupplyResistive,
        Self::DataOpen,
        Self::DataFrozen,
        Self::ColourOpen,
        Self::LinkOpen,
        Self::Loose,
        Self::Weak,
        Self::Stuck,
        Self::NodeRestarts,
        Self::None,
    ];
}

/// Something to break or to mend.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BreakJoint {
    /// The panel.
    #[schema(example = "C4")]
    pub position: String,
    /// The joint before this segment, or the segment itself, counted from 1 in wiring order. Strip that
    /// is fed from its end has one more joint, behind its last segment.
    #[schema(minimum = 1)]
    pub segment: u32,
    /// What is wrong with it from now on.
    pub fault: JointFault,
    /// Of `colour_open`: `red`, `green`, `blue` or `white`; the panel's first if left out.
    pub colour: Option<String>,
}

/// Something that is broken.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct BrokenJoint {
    /// The panel.
    #[schema(example = "C4")]
    pub position: String,
    /// The joint before this segment, or the segment itself, counted from 1.
    pub segment: u32,
    /// What is wrong with it.
    pub fault: JointFault,
    /// Of `colour_open`: which.
    #[schema(required)]
    pub colour: Option<String>,
    /// Whether it is so at this moment: a loose joint may be closed. A node that has begun anew is no longer
    /// listed.
    pub acts: bool,
}

/// What is broken on the simulated floor.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(super) struct SimulationState {
    /// In the floor's order.
    pub broken: Vec<BrokenJoint>,
    /// What can be asked for on this floor.
    pub possible: Vec<JointFault>,
}

fn now(simulation: &dyn Simulation) -> Response {
    let state = SimulationState {
        broken: simulation.broken(),
        possible: simulation.possible(),
    };
    Json(state).into_response()
}

fn real() -> Response {
    let text = "this floor is real: only the floor of `litfloor demo` can be broken here";
    problem(StatusCode::NOT_FOUND, "not_simulated", text)
}

/// What is broken on a simulated floor.
#[utoipa::path(
    get,
    path = "/api/v1/simulation",
    tag = "simulation",
    responses(
        (status = 200, description = "What is broken", body = SimulationState),
        (status = 404, description = "This floor is real", body = Problem)
    )
)]
pub(super) async fn simulation(Extract(shared): Extract<Shared>) -> Response {
    let simulation = shared.source.simulation.as_deref();
    simulation.map_or_else(real, now)
}

/// Breaks a joint, a segment or a node of a simulated floor, or mends it. Whatever was wrong there
/// before is mended.
#[utoipa::path(
    post,
    path = "/api/v1/simulation",
    tag = "simulation",
    request_body = BreakJoint,
    security(("session" = [])),
    responses(
        (status = 200, description = "What is broken from now on", body = SimulationState),
        (status = 404, description = "This floor is real", body = Problem),
        (status = 422, description = "The floor has no such joint, or it can't break like that", body = Problem),
        Refusals
    )
)]
pub(super) async fn break_joint(
    Extract(shared): Extract<Shared>,
    _: Operator,
    Told(wish): Told<BreakJoint>,
) -> Response {
    let Some(simulation) = shared.source.simulation.as_deref() else {
        return real();
    };
    match simulation.change(&wish) {
        Ok(()) => now(simulation),
        Err(CantBreak::NoSuchJoint(why)) => {
            problem(StatusCode::UNPROCESSABLE_ENTITY, "no_such_joint", why)
        }
        Err(CantBreak::NotLikeThat(why)) => {
            problem(StatusCode::UNPROCESSABLE_ENTITY, "not_like_that", why)
        }
    }
}

#[cfg(test)]
mod tests;
