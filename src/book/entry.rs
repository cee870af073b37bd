//! What is written into the book, and what it must be like.

use super::refusal::NotDone;
use super::rows::{FaultState, Signature};
use crate::health::snapshot::{FoundFault, Sureness};

/// Who writes what nobody typed. People can't call themselves so.
pub const DAEMON: &str = "litfloor";

/// The most characters of a serial, a position, a name and the like.
const LONGEST_NAME: usize = 200;

/// The most characters of a note or another text.
const LONGEST_TEXT: usize = 4_000;

/// Currents of a signature are below this, in amperes: more is a mistake.
const MOST_A: f64 = 10_000.0;

/// The most currents of one signature.
const MOST_CURRENTS: usize = 64;

/// A fault that the daemon found.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Found {
    /// The same as long as it is the same fault.
    pub key: String,
    /// The panel's. Without one the book says who lies at the position.
    pub serial: Option<String>,
    /// Where it is, if it is of a panel. Without one the book says where the panel lies.
    pub position: Option<String>,
    /// What it is, in a word.
    pub cause: String,
    /// Where to go, for people.
    pub place: String,
    /// What it does, for people.
    pub text: String,
    /// How sure, in a word.
    pub sure: String,
    /// Why.
    pub evidence: Option<String>,
    /// Keys of other faults at the same place.
    pub same_place: Vec<String>,
}

/// How sure one is of what is known by its place at most.
const POSSIBLE: &str = "possible";

impl Found {
    /// Whether another fault at the same place, so sure when it was written, may be this one: one of both
    /// was known by its place at most.
    pub fn may_be(&self, sure: &str) -> bool {
        self.sure == POSSIBLE || sure == POSSIBLE
    }
}

impl From<&FoundFault> for Found {
    fn from(fault: &FoundFault) -> Self {
        let why = fault.evidence.iter().map(|row| row.text.as_str());
        let why = why.collect::<Vec<_>>().join(" ");
        let mut text = fault.effect.clone();
        if fault.sure == Sureness::Possible && !fault.alternatives.is_empty() {
            let others = fault.alternatives.join("; ");
            text = format!("{text} What it is can't be told apart yet; or it is: {others}.");
        }
        Self {
            key: fault.key.clone(),
            serial: fault.serial.clone(),
            position: fault.position.clone(),
            cause: word(&fault.cause),
            place: fault.place.clone(),
            text,
            sure: word(&fault.sure),
            evidence: (!why.is_empty()).then(|| why.chars().take(LONGEST_TEXT).collect()),
            same_place: fault.same_place.clone(),
        }
    }
}

/// The word that JSON has for it.
fn word(value: &impl serde::Serialize) -> String {
    let value = serde_json::to_value(value).ok();
    let word = value.as_ref().and_then(|value| value.as_str());
    word.unwrap_or("unknown").to_owned()
}

/// A fault that somebody saw; of a panel by its serial, or by where it lies.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ByHand {
    /// The panel's. Without one the book says who lies at the position.
    pub serial: Option<String>,
    /// Where it is. Without one the book says where the panel lies.
    pub position: Option<String>,
    /// What they saw.
    pub text: String,
    /// Who.
    pub who: String,
}

/// A step of a fault, by a person.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// What it becomes.
    pub state: FaultState,
    /// Who says so.
    pub who: String,
    /// What they say of it; may be empty.
    pub note: String,
}

/// A test on the bench.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct BenchEntry {
    /// Whether the panel was good.
    pub passed: bool,
    /// Who tested it.
    pub who: String,
    /// What they say of it; may be empty.
    pub note: String,
    /// What it drew, if a sensor was there.
    pub signature: Option<Signature>,
}

/// A name without blanks around it.
pub(crate) fn name<'a>(what: &'static str, text: &'a str) -> Result<&'a str, NotDone> {
    let text = text.trim();
    if text.is_empty() {
        return Err(NotDone::Missing(what));
    }
    if text.chars().any(char::is_control) {
        return Err(NotDone::NotPlain(what));
    }
    within(what, text, LONGEST_NAME)
}

/// The same of one that may be missing; one that is empty is.
pub(crate) fn perhaps<'a>(
    what: &'static str,
    text: Option<&'a str>,
) -> Result<Option<&'a str>, NotDone> {
    let text = text.map(str::trim).filter(|text| !text.is_empty());
    text.map(|text| name(what, text)).transpose()
}

/// The name of a person.
pub(crate) fn person(who: &str) -> Result<&str, NotDone> {
    let who = name("the name of who does it", who)?;
    if who.eq_ignore_ascii_case(DAEMON) {
        return Err(NotDone::NotThatName);
    }
    Ok(who)
}

/// A text of one line or more, without blanks around it; may be empty. What no text holds is left out.
pub(crate) fn text(what: &'static str, text: &str) -> Result<String, NotDone> {
    let kept = |c: &char| !c.is_control() || matches!(c, '\n' | '\t');
    let plain: String = text.trim().chars().filter(kept).collect();
    within(what, &plain, LONGEST_TEXT)?;
    Ok(plain)
}

/// The same of one that must say something.
pub(crate) fn said(what: &'static str, it: &str) -> Result<String, NotDone> {
    let plain = text(what, it)?;
    if plain.is_empty() {
        return Err(NotDone::Missing(what));
    }
    Ok(plain)
}

fn within<'a>(what: &'static str, text: &'a str, most: usize) -> Result<&'a str, NotDone> {
    if text.chars().count() > most {
        return Err(NotDone::TooLong { what, most });
    }
    Ok(text)
}

/// A signature whose currents can be; one without any is none.
pub(crate) fn currents(signature: Option<&Signature>) -> Result<Option<&Signature>, NotDone> {
    let Some(signature) = signature.filter(|signature| !signature.is_empty()) else {
        return Ok(None);
    };
    if signature.len() > MOST_CURRENTS {
        return Err(NotDone::NoCurrent(format!(
            "more than {MOST_CURRENTS} currents"
        )));
    }
    for (key, current) in signature {
        if name("the name of a current", key)? != key {
            return Err(NotDone::NotPlain("the name of a current"));
        }
        // Below nothing by what a sensor errs; NaN is in no range.
        if !(-MOST_A..=MOST_A).contains(current) {
            return Err(NotDone::NoCurrent(format!("{key} = {current}")));
        }
    }
    Ok(Some(signature))
}
