//! The corrected floor file, for review.

use serde::Serialize;
use utoipa::ToSchema;

use super::walk::Walk;
use crate::floor::{self, Unamended};

/// A floor file that says what was found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct Corrected {
    /// The whole file; sound, or it would not be here.
    pub text: String,
    /// What changed, as a unified diff; empty if nothing did.
    pub diff: String,
}

impl Walk {
    /// Corrects the text of the floor file that the walk began with. `name` is how the diff calls
    /// it.
    ///
    /// # Errors
    /// Says what stands in the way: the text says another floor, or what was found can't be said
    /// in a floor file, for two runs would share slots.
    pub fn corrected(&self, name: &str, text: &str) -> Result<Corrected, Unamended> {
        let amended = floor::amend(text, self.plan(), self.found())?;
        let diff = floor::difference(name, "corrected", (text, &amended));
        Ok(Corrected {
            text: amended,
            diff,
        })
    }
}
