//! The file `operator.json` of the state directory: the hash of the passphrase.

use std::fs::{self, DirBuilder, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::passphrase::Hash;

const NAME: &str = "operator.json";

/// Where the passphrase is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Keep {
    /// Only as long as the process lives.
    Memory,
    /// In a file of this directory, which is made when it is not there.
    Directory(PathBuf),
    /// Nowhere, and why: there is no place for it.
    Nowhere(String),
}

/// What the file holds.
#[derive(Serialize, Deserialize)]
struct Contents {
    /// Argon2id, in the PHC string format.
    passphrase: String,
}

impl Keep {
    /// What is kept; nothing when nothing was.
    ///
    /// # Errors
    /// When there is something that can't be read. The text says where and why.
    pub(super) fn read(&self) -> Result<Option<Hash>, String> {
        let Self::Directory(directory) = self else {
            return Ok(None);
        };
        let path = directory.join(NAME);
        let said = |why: &dyn std::fmt::Display| format!("{} can't be read: {why}", path.display());
        let text = match fs::read_to_string(&path) {
            Ok(text) => text,
            // Without a file, or with a file in the directory's place, no passphrase was kept.
            Err(error) if absent(&error) => return Ok(None),
            Err(error) => return Err(said(&error)),
        };
        let contents: Contents = serde_json::from_str(&text).map_err(|error| said(&error))?;
        match Hash::read(&contents.passphrase) {
            Some(hash) => Ok(Some(hash)),
            None => Err(said(&"it has no whole Argon2id hash")),
        }
    }

    /// Makes the directory if it must, and looks whether files can be written there.
    ///
    /// # Errors
    /// When they can't. The text says where and why.
    pub(super) fn probe(&self) -> Result<(), String> {
        let tried = match self {
            Self::Memory => return Ok(()),
            Self::Nowhere(why) => return Err(why.clone()),
            Self::Directory(directory) => directory,
        };
        let written = make(tried).and_then(|()| {
            let path = tried.join(format!("{NAME}.probe"));
            fresh(&path)?;
            fs::remove_file(path)
        });
        written.map_err(|error| unwritable(tried, &error))
    }

    /// Keeps `hash` in place of what was kept: wholly, or not at all.
    ///
    /// # Errors
    /// When it could not be written. The text says where and why.
    pub(super) fn write(&self, hash: &Hash) -> Result<(), String> {
        let directory = match self {
            Self::Memory => return Ok(()),
            Self::Nowhere(why) => return Err(why.clone()),
            Self::Directory(directory) => directory,
        };
        let contents = Contents {
            passphrase: hash.as_str().to_owned(),
        };
        let written = serde_json::to_vec_pretty(&contents).map_err(io::Error::from);
        let written = written.and_then(|text| replace(directory, NAME, &text));
        written.map_err(|error| unwritable(directory, &error))
    }

    /// Another file of the state directory; nothing if it is not there.
    ///
    /// # Errors
    /// When there is something that can't be read. The text says where and why.
    pub fn read_file(&self, name: &str) -> Result<Option<String>, String> {
        let Self::Directory(directory) = self else {
            return Ok(None);
        };
        let path = directory.join(name);
        match fs::read_to_string(&path) {
            Ok(text) => Ok(Some(text)),
            Err(error) if absent(&error) => Ok(None),
            Err(error) => Err(format!("{} can't be read: {error}", path.display())),
        }
    }

    /// Keeps another file in place of the one that was kept under this name: wholly, or not at all.
    /// Where nothing lasts longer than the process, nothing is done.
    ///
    /// # Errors
    /// When it could not be written. The text says where and why.
    pub fn write_file(&self, name: &str, text: &[u8]) -> Result<(), String> {
        match self {
            Self::Memory => Ok(()),
            Self::Nowhere(why) => Err(why.clone()),
            Self::Directory(directory) => {
                replace(directory, name, text).map_err(|error| unwritable(directory, &error))
            }
        }
    }

    /// Where it is kept, for people.
    pub(super) fn place(&self) -> String {
        match self {
            Self::Directory(directory) => directory.join(NAME).display().to_string(),
            Self::Memory | Self::Nowhere(_) => "memory, until litfloor ends".to_owned(),
        }
    }
}

fn absent(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        io::ErrorKind::NotFound | io::ErrorKind::NotADirectory
    )
}

fn unwritable(directory: &Path, error: &io::Error) -> String {
    // The system's own words for this, "File exists", sound as if all were well.
    let shown = directory.display();
    match directory.ancestors().find(|path| path.is_file()) {
        Some(file) if file == directory => format!(
            "the state directory {shown} can't be written: it is a file, and a directory is wanted. Move the \
             file away, or give a directory with --state"
        ),
        Some(file) => format!(
            "the state directory {shown} can't be written: {} is a file, and a directory is wanted. Move the \
             file away, or give another directory with --state",
            file.display()
        ),
        None => format!("the state directory {shown} can't be written: {error}"),
    }
}

fn make(directory: &Path) -> io::Result<()> {
    let mut builder = DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(directory)
}

/// A new file that only its owner can read; one that was left over there is replaced.
fn fresh(path: &Path) -> io::Result<File> {
    match fs::remove_file(path) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
        _ => {}
    }
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path)
}

fn replace(directory: &Path, name: &str, text: &[u8]) -> io::Result<()> {
    make(directory)?;
    let new = directory.join(format!("{name}.new"));
    let mut file = fresh(&new)?;
    file.write_all(text)?;
    file.write_all(b"\n")?;
    // On the disk before it takes the old one's place, or a power cut leaves an empty file.
    file.sync_all()?;
    fs::rename(&new, directory.join(name))?;
    #[cfg(unix)]
    File::open(directory)?.sync_all()?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::passphrase::Passphrase;
    use super::*;

    fn hash(text: &str) -> Hash {
        Passphrase::new(text.to_owned()).unwrap().hash().unwrap()
    }

    fn kept() -> (tempfile::TempDir, PathBuf, Keep) {
        let directory = tempfile::tempdir().unwrap();
        let path = directory.path().join("a/b");
        (directory, path.clone(), Keep::Directory(path))
    }

    #[test]
    fn what_is_written_is_read_and_replaced() {
        let (_directory, path, keep) = kept();
        assert_eq!(keep.read(), Ok(None));
        keep.probe().unwrap();
        for text in ["correct horse", "battery staple"] {
            let hash = hash(text);
            keep.write(&hash).unwrap();
            assert_eq!(keep.read(), Ok(Some(hash)));
        }
        let files: Vec<_> = fs::read_dir(path).unwrap().collect();
        assert_eq!(files.len(), 1, "{files:?}");
    }

    #[cfg(unix)]
    #[test]
    fn nobody_else_can_read_it() {
        use std::os::unix::fs::PermissionsExt;
        let (_directory, path, keep) = kept();
        keep.write(&hash("correct horse")).unwrap();
        let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode() & 0o777;
        assert_eq!(mode(&path), 0o700);
        assert_eq!(mode(&path.join(NAME)), 0o600);
        // Whatever a file left over there allowed.
        let left = path.join("operator.json.new");
        fs::write(&left, "").unwrap();
        fs::set_permissions(&left, fs::Permissions::from_mode(0o666)).unwrap();
        keep.write(&hash("correct horse")).unwrap();
        assert_eq!(mode(&path.join(NAME)), 0o600);
    }

    #[test]
    fn a_faulty_file_is_not_taken_for_none() {
        let (_directory, path, keep) = kept();
        keep.probe().unwrap();
        for text in ["", "{}", "{\"passphrase\": \"\"}", "\u{0}"] {
            fs::write(path.join(NAME), text).unwrap();
            let why = keep.read().unwrap_err();
            assert!(why.contains("operator.json can't be read"), "{why}");
        }
    }

    #[test]
    fn a_directory_that_can_not_be_is_said() {
        let (directory, _, _) = kept();
        let path = directory.path().join("taken");
        fs::write(&path, "").unwrap();
        let keep = Keep::Directory(path);
        assert_eq!(keep.read(), Ok(None));
        let why = keep.probe().unwrap_err();
        assert!(
            why.contains("taken can't be written: it is a file"),
            "{why}"
        );
        assert!(!why.contains("File exists"), "{why}");
        assert_eq!(keep.write(&hash("correct horse")), Err(why));
        let why = Keep::Directory(directory.path().join("taken/below")).probe();
        let why = why.unwrap_err();
        assert!(why.contains("taken is a file"), "{why}");
    }
}
