//! The stepping mode: someone walks the floor with a phone, one panel lights at a time, and what
//! they see tells where the floor is otherwise than planned.
//!
//! [`Walk::question`] says what to light ([`Question::start`], an order as any other), what to ask
//! and what it may look like; [`Walk::answer`] takes one tap. [`Walk::undo`] takes one back,
//! [`Walk::kept`] and [`Walk::resume`] carry a walk over an interruption. When there is no further
//! question, [`Walk::report`] tells the difference between plan and floor, and [`Walk::corrected`]
//! writes it into the text of the floor file, for review. Nothing here reloads a floor.
//!
//! A truthful person needs one tap for each panel and two for each mistake at most; whoever
//! contradicts themselves is told so.

mod ask;
mod choice;
mod correct;
mod mistake;
mod report;
mod seen;
mod suspect;
mod walk;
mod wired;

pub use ask::{Answer, Ask, Drawing, DrawnPixel, NotAnAnswer, Progress, Question};
pub use correct::Corrected;
pub use mistake::What;
pub use report::{Difference, Report};
pub use walk::{Kept, OnlyWatched, Walk};
