//! The corrected floor file of a walk.

use std::path::Path;
use std::sync::Arc;

use serde::Serialize;
use utoipa::ToSchema;

use super::super::Shared;
use super::{Underway, Why, think, why};

/// A corrected floor file, for review. Nothing is written, and the floor stays as it is.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[schema(as = CorrectedFile)]
pub(super) struct File {
    /// Name of the file that it corrects, without its directory.
    #[schema(example = "floor.toml")]
    name: String,
    /// The whole file.
    pub(super) text: String,
    /// What changed, as a unified diff.
    diff: String,
}

impl File {
    /// A name for it that any system takes.
    pub(super) fn own_name(&self) -> String {
        let stem = Path::new(&self.name).file_stem();
        let stem = stem.map_or_else(|| "floor".into(), |stem| stem.to_string_lossy());
        let plain = |c: char| c.is_ascii_alphanumeric() || "-_.".contains(c);
        let stem: String = (stem.chars())
            .map(|c| if plain(c) { c } else { '_' })
            .collect();
        format!("{stem}-corrected.toml")
    }
}

/// What the walk says of the file of its floor. It is made once, off the threads that serve, and by
/// one of them at a time: anybody may ask for it, and as often as they like.
pub(super) async fn file(shared: &Shared) -> Result<File, Why> {
    let walk = shared.stepping.walk().ok_or(Why::NoWalk)?;
    if let Some(made) = walk.found.corrected.get() {
        return made.clone();
    }
    let correcting = Arc::clone(&shared.stepping.correcting).acquire_owned();
    let turn = correcting.await.map_err(|error| why::failed(&error))?;
    think(move || {
        let made = walk.found.corrected.get_or_init(|| correct(&walk)).clone();
        drop(turn);
        made
    })
    .await
}

fn correct(underway: &Arc<Underway>) -> Result<File, Why> {
    let file = &underway.view.file;
    let name = file.own_name();
    let corrected = underway.found.walk.corrected(&name, &file.text)?;
    if corrected.diff.is_empty() {
        return Err(Why::NothingFound);
    }
    Ok(File {
        name,
        text: corrected.text,
        diff: corrected.diff,
    })
}
