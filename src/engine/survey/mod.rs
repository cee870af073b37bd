//! A survey on the floor that runs: which segments are dead, by lighting them in patterns.
//!
//! Two parts that meet in orders and news only, so that a survey costs the frames next to nothing
//! and nothing at all while none runs:
//!
//! - [`run`] is the engine's part. It shows the light that it is told, as a pattern over the
//!   console's picture, and says what sensors read while that light was surely on show and what was
//!   sent meanwhile. All limits are kept as they are for any picture.
//! - [`surveyor`] thinks, beside the frames: which light next, what its readings say. [`eyes`] is the
//!   same for a person who looks.
//!
//! Whoever brings them together takes [`News`] to the surveyor and its [`Light`] back as an order.

pub mod about;
pub mod brief;
pub mod eyes;
mod feel;
pub mod items;
pub mod order;
mod question;
mod rooms;
mod run;
mod spec;
pub mod state;
mod stuck;
pub mod surveyor;

pub use brief::Brief;
pub use order::{By, Ending, Held, Light, News, SeenReading, What, Wish};
pub(super) use run::Surveys;
