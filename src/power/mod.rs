//! From levels to amperes, and the cap that keeps every limit.
//!
//! - [`tree`]: panels, feeds, supplies and circuits with what each may carry;
//! - [`draw`]: levels to current, and levels times a scale;
//! - [`held`]: what a node may still be showing although something newer was sent;
//! - [`scale`]: the factor of every element of the tree, lowered at once, let up smoothly;
//! - `level`: only the panels that ask for most are dimmed, all to one level;
//! - [`peak`]: what may be carried above a limit for a short time, as an account;
//! - [`slew`]: how fast the draw may rise;
//! - [`pixel_limit`]: no pixel draws more than its kind may;
//! - [`cap`]: the [`Limiter`](cap::Limiter) that puts these together and alone can make a
//!   [`CappedFrame`](cap::CappedFrame);
//! - [`copper`]: what conductors resist;
//! - [`network`]: the voltage at every pixel, and the current that it really draws;
//! - [`plan`]: what a floor needs and draws, and what is out of bounds, before anything is bought;
//! - [`record`], [`tally`], [`series`]: what is kept of all that over time;
//! - [`moment`]: how times are written;
//! - [`alarm`]: what lasts too long or comes too near.
//!
//! What the cap promises: **the sum, over all universes, of the most that each may be drawing at any
//! element of the tree never passes that element's limit**, where "may be drawing" covers every
//! frame that could still be on show if datagrams were lost or late within the floor file's
//! `[delivery]`.

pub mod alarm;
pub mod cap;
pub mod copper;
pub mod draw;
mod frame;
pub mod held;
mod level;
pub mod meter;
pub mod moment;
pub mod near;
pub mod network;
pub mod peak;
pub mod pixel_limit;
pub mod plan;
mod queue;
pub mod record;
mod ring;
mod room;
pub mod scale;
pub mod series;
mod share;
pub mod slew;
pub mod tally;
pub mod tree;
