//! Why a pattern can't be shown.

/// Names that a text lists before it says "and more".
const MOST_NAMES: usize = 8;

/// An order that can't be followed, in words that say what can.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{text}")]
pub struct Refused {
    /// A stable word for it.
    pub code: &'static str,
    /// For people.
    pub text: String,
}

impl Refused {
    /// `code` is a stable word, `text` for people.
    pub fn new(code: &'static str, text: impl Into<String>) -> Self {
        let text = text.into();
        Self { code, text }
    }
}

/// The first few of `all`, and how many more there are.
pub(super) fn some<T: ToString>(all: impl IntoIterator<Item = T>) -> String {
    let mut all = all.into_iter();
    let first: Vec<String> = all
        .by_ref()
        .take(MOST_NAMES)
        .map(|n| n.to_string())
        .collect();
    let first = first.join(", ");
    match all.count() {
        0 => first,
        more => format!("{first} and {more} more"),
    }
}
