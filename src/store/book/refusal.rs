//! Why `SQLite` did not write something.

use rusqlite::ErrorCode;

pub use crate::book::refusal::NotDone;
use crate::store::file::said;

impl From<rusqlite::Error> for NotDone {
    fn from(error: rusqlite::Error) -> Self {
        let why = said(&error);
        match error.sqlite_error_code() {
            Some(ErrorCode::DiskFull) => Self::Full,
            Some(
                ErrorCode::ReadOnly
                | ErrorCode::CannotOpen
                | ErrorCode::PermissionDenied
                | ErrorCode::SystemIoFailure,
            ) => Self::ReadOnly(why),
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Held,
            Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => Self::Damaged(why),
            _ => Self::Other(why),
        }
    }
}
