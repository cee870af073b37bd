//! `/api/v1/simulation`: joints of a simulated floor are broken and mended, so that finding them can
//! be tried. A real floor has no such path.

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

    /// Breaks or mends a joint.
    ///
    /// # Errors
    /// When the floor has no such joint, with the reason, for people.
    fn change(&self, wish: &BreakJoint) -> Result<(), String>;
}

/// What can be wrong with a simulated joint.
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
    /// The wire of one colour is open.
    ColourOpen,
    /// The supply side opens now and then while someone stands on a switch of the panel.
    Loose,
    /// Nothing: it is mended.
    None,
}

impl JointFault {
    /// All that can be asked for.
    pub const ALL: [Self; 7] = [
        Self::SupplyOpen,
        Self::SupplyResistive,
        Self::DataOpen,
        Self::DataFrozen,
        Self::ColourOpen,
        Self::Loose,
        Self::None,
    ];
}

/// A joint to break or to mend.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BreakJoint {
    /// The panel.
    #[schema(example = "C4")]
    pub position: String,
    /// The joint before this segment, counted from 1 in wiring order. Strip that is fed from its end
    /// has one more, behind its last segment.
    #[schema(minimum = 1)]
    pub segment: u32,
    /// What is wrong with it from now on.
    pub fault: JointFault,
    /// Of `colour_open`: `red`, `green`, `blue` or `white`; the panel's first if left out.
    pub colour: Option<String>,
}

/// A joint that is broken.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct BrokenJoint {
    /// The panel.
    #[schema(example = "C4")]
    pub position: String,
    /// The joint before this segment, counted from 1.
    pub segment: u32,
    /// What is wrong with it.
    pub fault: JointFault,
    /// Of `colour_open`: which.
    #[schema(required)]
    pub colour: Option<String>,
    /// Whether it is so at this moment: a loose joint may be closed.
    pub acts: bool,
}

/// What is broken on the simulated floor.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(super) struct SimulationState {
    /// In the floor's order.
    pub broken: Vec<BrokenJoint>,
    /// What can be asked for.
    pub possible: Vec<JointFault>,
}

fn now(simulation: &dyn Simulation) -> Response {
    let state = SimulationState {
        broken: simulation.broken(),
        possible: JointFault::ALL.to_vec(),
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

/// Breaks a joint of a simulated floor, or mends it. Whatever was wrong with it before is mended.
#[utoipa::path(
    post,
    path = "/api/v1/simulation",
    tag = "simulation",
    request_body = BreakJoint,
    security(("session" = [])),
    responses(
        (status = 200, description = "What is broken from now on", body = SimulationState),
        (status = 404, description = "This floor is real", body = Problem),
        (status = 422, description = "The floor has no such joint", body = Problem),
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
        Err(why) => problem(StatusCode::UNPROCESSABLE_ENTITY, "no_such_joint", why),
    }
}

#[cfg(test)]
mod tests;
