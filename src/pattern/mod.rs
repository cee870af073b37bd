//! Test patterns: what a floor shows, as a function of the milliseconds since it began, to find
//! out what is wired where.
//!
//! [`Start`] says what is wanted; [`Show::new`] looks up what it names on a floor, or says why
//! not. [`Show::lit`] gives the pixels that are lit at a moment, [`Show::paint`] writes them into
//! the slots of a universe that leaves, and [`Show::next_change_ms`] says when the picture changes
//! next. Nothing here knows of limits: what is painted is asked for, and capped like any picture.
//!
//! People stand on what this lights. What steps by itself steps no faster than every
//! [`LEAST_STEP_MS`], and labels are blinked in steps of [`blink::SLOT_MS`], so no place and no
//! floor as a whole flashes more than three times in any second (WCAG 2.2, success criterion
//! 2.3.1, the general flash threshold).

pub mod blink;
mod choose;
mod font;
mod label;
mod mark;
mod order;
mod paint;
mod refused;
mod scenes;
mod show;
#[cfg(test)]
mod tests;
pub mod woven;

pub use order::{Cover, LEAST_STEP_MS, Light, MOST_STEP_MS, Pace, Start, TestPattern};
pub use paint::Lit;
pub use refused::Refused;
pub use show::Show;
pub use woven::Woven;
