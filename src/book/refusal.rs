//! Why something was not written into the book, for whoever stands there and wants to go on.

use super::rows::FaultState;

/// Why it was not done. Then nothing of it was: the book is as before.
#[derive(Debug, thiserror::Error)]
pub enum NotDone {
    /// Something that must be said is empty.
    #[error("{0} is missing")]
    Missing(&'static str),
    /// A name with a line break or the like.
    #[error("{0} has a character that can't be printed")]
    NotPlain(&'static str),
    /// Too much.
    #[error("{what} is longer than {most} characters")]
    TooLong {
        /// Of what.
        what: &'static str,
        /// So many it may have.
        most: usize,
    },
    /// Somebody calls themselves as the daemon does.
    #[error("“litfloor” is how the daemon signs: give the name of who does it")]
    NotThatName,
    /// A current that can't be.
    #[error("the signature has a current that can't be: {0}")]
    NoCurrent(String),
    /// There is no such fault.
    #[error("the book has no fault {0}")]
    NoSuchFault(i64),
    /// Neither serial nor position.
    #[error("say which panel, by its serial or by where it lies")]
    Nowhere,
    /// A fault can't go there from where it is.
    #[error("fault {id} is {}: it can't become {} from there; look at the page again, somebody else may have been quicker", spoken(*.from), spoken(*.to))]
    NotFromThere {
        /// Which.
        id: i64,
        /// What it is.
        from: FaultState,
        /// What it can't become.
        to: FaultState,
    },
    /// A person says that something is proved.
    #[error("only a survey proves a repair: say that it is repaired, then run one")]
    OnlyBySurvey,
    /// Another row of the same fault is open.
    #[error("the same fault was found again and is open as {open}: go on there")]
    OpenAgain {
        /// The number of that row.
        open: i64,
    },
    /// The disk is full.
    #[error(
        "not written, the disk is full: make room where the book lies, then do it again; what was written before is kept"
    )]
    Full,
    /// The file can't be written.
    #[error(
        "not written, the book can't be written to ({0}): look at the rights and the disk where it lies, then do it again; what was written before is kept"
    )]
    ReadOnly(String),
    /// Another program holds the file.
    #[error(
        "not written, another program holds the book: close what has it open, then do it again"
    )]
    Held,
    /// The file is broken.
    #[error(
        "the book is damaged ({0}): stop litfloor, keep the file, and run “litfloor book recover”"
    )]
    Damaged(String),
    /// Anything else.
    #[error("the book could not be used ({0}); what was written before is kept")]
    Other(String),
}

impl NotDone {
    /// A stable word for programs.
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Missing(_) => "missing",
            Self::NotPlain(_) => "not_plain",
            Self::TooLong { .. } => "too_long",
            Self::NotThatName => "not_that_name",
            Self::NoCurrent(_) => "no_current",
            Self::NoSuchFault(_) => "no_such_fault",
            Self::Nowhere => "no_panel",
            Self::NotFromThere { .. } => "not_from_there",
            Self::OnlyBySurvey => "only_by_survey",
            Self::OpenAgain { .. } => "open_again",
            Self::Full => "disk_full",
            Self::ReadOnly(_) => "read_only",
            Self::Held => "book_held",
            Self::Damaged(_) => "book_damaged",
            Self::Other(_) => "book_failed",
        }
    }

    /// Whether the machine is at fault and not what was asked.
    pub const fn of_machine(&self) -> bool {
        matches!(
            self,
            Self::Full | Self::ReadOnly(_) | Self::Held | Self::Damaged(_) | Self::Other(_)
        )
    }
}

/// A state as people say it.
fn spoken(state: FaultState) -> String {
    state.word().replace('_', " ")
}
