//! The stepping mode: someone walks the floor with a phone, one panel lights at a time, and what
//! they see tells where the floor is otherwise than planned.

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
