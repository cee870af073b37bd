//! The text of a floor file, and how it is called.

use std::fs;
use std::io::Read;
use std::path::Path;

use super::{Fault, Faults, Floor, LeadsBack, defaults, parse_beside};

/// The text of a floor file, as it was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FloorFile {
    /// How its faults call it: its path as it was given.
    pub name: String,
    /// Its text.
    pub text: String,
}

impl FloorFile {
    /// Reads the text at `path`.
    ///
    /// # Errors
    /// One fault without a place when it can't be read, is too long, or is no text.
    pub fn read(path: &Path) -> Result<Self, Faults> {
        let name = path.display().to_string();
        let unread = |why: String| {
            let help =
                "a floor file is a TOML text; check the path, and that it may be read".to_owned();
            let fault = Fault {
                code: "unreadable",
                message: why,
                at: None,
                labels: Vec::new(),
                help,
            };
            Faults::new(&name, "", vec![fault])
        };
        let mut bytes = Vec::new();
        let file =
            fs::File::open(path).map_err(|why| unread(format!("{name} can't be opened: {why}")))?;
        file.take(defaults::MOST_BYTES + 1)
            .read_to_end(&mut bytes)
            .map_err(|why| unread(format!("{name} can't be read: {why}")))?;
        if bytes.len() as u64 > defaults::MOST_BYTES {
            return Err(unread(format!(
                "{name} has more than {} bytes",
                defaults::MOST_BYTES
            )));
        }
        let text = String::from_utf8(bytes)
            .map_err(|why| unread(format!("{name} is no UTF-8 text: {}", why.utf8_error())))?;
        Ok(Self { name, text })
    }

    /// Its name without its directory, for who may look at the floor but not at this machine.
    pub fn own_name(&self) -> String {
        own_name(&self.name)
    }

    /// The floor that the text describes, on a machine where frames to some addresses would come
    /// back to litfloor.
    ///
    /// # Errors
    /// All faults of the text at once, with one for each node whose address `leads_back`.
    pub fn floor(&self, leads_back: &LeadsBack<'_>) -> Result<Floor, Faults> {
        parse_beside(&self.name, &self.text, leads_back)
    }
}

/// The name of the file at a path, without its directory.
pub(super) fn own_name(path: &str) -> String {
    let name = Path::new(path).file_name();
    name.map_or_else(|| path.to_owned(), |name| name.to_string_lossy().into())
}
