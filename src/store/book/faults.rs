//! Faults and their steps.

use std::time::SystemTime;

use rusqlite::types::{FromSql, FromSqlError, FromSqlResult, ToSql, ToSqlOutput, ValueRef};
use rusqlite::{Connection, OptionalExtension, Row, named_params, params};

use super::entry::{self, ByHand, DAEMON, Found, Step, stamp};
use super::panels;
use super::refusal::NotDone;
use super::rows::{FaultRow, FaultState, StepRow};

impl ToSql for FaultState {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(self.word().into())
    }
}

impl FromSql for FaultState {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        Self::of(value.as_str()?).ok_or(FromSqlError::InvalidType)
    }
}

/// The columns of a fault, and those of a step.
pub(super) const FAULT: &str = "id, key, serial, position, cause, place, text, sure, state";
pub(super) const STEP: &str = "fault, state, at, who, note, evidence";

/// A fault without its steps.
pub(super) fn fault_of(row: &Row<'_>) -> rusqlite::Result<FaultRow> {
    let state: FaultState = row.get("state")?;
    Ok(FaultRow {
        id: row.get("id")?,
        key: row.get("key")?,
        serial: row.get("serial")?,
        position: row.get("position")?,
        cause: row.get("cause")?,
        place: row.get("place")?,
        text: row.get("text")?,
        sure: row.get("sure")?,
        state,
        found_at: String::new(),
        steps: Vec::new(),
        open: state.open(),
    })
}

/// A step, and of which fault.
pub(super) fn step_of(row: &Row<'_>) -> rusqlite::Result<(i64, StepRow)> {
    let step = StepRow {
        state: row.get("state")?,
        at: row.get("at")?,
        who: row.get("who")?,
        note: row.get("note")?,
        evidence: row.get("evidence")?,
    };
    Ok((row.get("fault")?, step))
}

/// All faults, or those of one panel, in the order in which they were found.
pub(super) fn all(book: &Connection, serial: Option<&str>) -> rusqlite::Result<Vec<FaultRow>> {
    let chosen = "(:serial IS NULL OR serial = :serial)";
    let faults = format!("SELECT {FAULT} FROM faults WHERE {chosen} ORDER BY id");
    let steps = format!(
        "SELECT {STEP} FROM steps
         WHERE fault IN (SELECT id FROM faults WHERE {chosen}) ORDER BY fault, id"
    );
    let mut faults = book.prepare_cached(&faults)?;
    let faults = faults.query_map(named_params! {":serial": serial}, fault_of)?;
    let faults = faults.collect::<rusqlite::Result<Vec<_>>>()?;
    let mut steps = book.prepare_cached(&steps)?;
    let steps = steps.query_map(named_params! {":serial": serial}, step_of)?;
    Ok(joined(faults, steps.collect::<rusqlite::Result<Vec<_>>>()?))
}

/// Gives each fault its steps. Both are in the order of the faults' numbers.
pub(super) fn joined(mut faults: Vec<FaultRow>, steps: Vec<(i64, StepRow)>) -> Vec<FaultRow> {
    let mut steps = steps.into_iter().peekable();
    for fault in &mut faults {
        while let Some((_, step)) = steps.next_if(|(of, _)| *of <= fault.id) {
            fault.steps.push(step);
        }
        if let Some(first) = fault.steps.first() {
            fault.found_at.clone_from(&first.at);
        }
    }
    faults
}

/// One fault.
pub(super) fn one(book: &Connection, id: i64) -> Result<FaultRow, NotDone> {
    let fault = format!("SELECT {FAULT} FROM faults WHERE id = ?");
    let fault = book.prepare_cached(&fault)?.query_row([id], fault_of);
    let fault = fault.optional()?.ok_or(NotDone::NoSuchFault(id))?;
    let steps = format!("SELECT {STEP} FROM steps WHERE fault = ? ORDER BY id");
    let mut steps = book.prepare_cached(&steps)?;
    let steps = steps
        .query_map([id], step_of)?
        .collect::<rusqlite::Result<Vec<_>>>()?;
    let joined = joined(vec![fault], steps).pop();
    joined.ok_or(NotDone::NoSuchFault(id))
}

/// The fault of a key that is open, if one is.
pub(super) fn open_of(book: &Connection, key: &str) -> rusqlite::Result<Option<i64>> {
    let open = "SELECT id FROM faults
                WHERE key = ? AND state IN ('found', 'being_repaired', 'repaired')";
    let mut open = book.prepare_cached(open)?;
    open.query_row([key.trim()], |row| row.get(0)).optional()
}

/// Whether a fault is open that is this one, or may be: see [`Found::may_be`].
pub(super) fn is_known(book: &Connection, found: &Found) -> Result<bool, NotDone> {
    if open_of(book, &found.key)?.is_some() {
        return Ok(true);
    }
    for key in &found.same_place {
        if let Some(id) = open_of(book, key)?
            && found.may_be(&one(book, id)?.sure)
        {
            return Ok(true);
        }
    }
    Ok(false)
}

/// Writes what the daemon found, unless the same is open.
pub(super) fn found(
    book: &Connection,
    found: &Found,
    at: SystemTime,
) -> Result<Option<FaultRow>, NotDone> {
    let key = entry::name("the key of the fault", &found.key)?;
    if is_known(book, found)? {
        return Ok(None);
    }
    let (serial, position) = whereabouts(book, found.serial.as_deref(), found.position.as_deref())?;
    let evidence = match &found.evidence {
        Some(evidence) => Some(entry::text("the evidence", evidence)?),
        None => None,
    };
    let id = insert(
        book,
        key,
        &FaultRow {
            id: 0,
            key: String::new(),
            serial,
            position,
            cause: entry::name("the cause", &found.cause)?.to_owned(),
            place: entry::said("the place", &found.place)?,
            text: entry::text("what it does", &found.text)?,
            sure: entry::name("how sure it is", &found.sure)?.to_owned(),
            state: FaultState::Found,
            found_at: String::new(),
            steps: Vec::new(),
            open: true,
        },
    )?;
    walk(
        book,
        id,
        FaultState::Found,
        DAEMON,
        "",
        evidence.as_deref(),
        at,
    )?;
    one(book, id).map(Some)
}

/// Writes what somebody saw.
pub(super) fn by_hand(
    book: &Connection,
    seen: &ByHand,
    at: SystemTime,
) -> Result<FaultRow, NotDone> {
    let who = entry::person(&seen.who)?;
    let (serial, position) = whereabouts(book, seen.serial.as_deref(), seen.position.as_deref())?;
    let place = position.clone().or_else(|| serial.clone());
    // Its key has its number, which no other fault has or will have.
    let next = "SELECT coalesce((SELECT seq FROM sqlite_sequence WHERE name = 'faults'), 0) + 1";
    let next: i64 = book.prepare_cached(next)?.query_row([], |row| row.get(0))?;
    let id = insert(
        book,
        &format!("hand/{next}"),
        &FaultRow {
            id: 0,
            key: String::new(),
            serial,
            position,
            cause: "reported".to_owned(),
            place: place.ok_or(NotDone::Nowhere)?,
            text: entry::said("what is wrong", &seen.text)?,
            sure: "certain".to_owned(),
            state: FaultState::Found,
            found_at: String::new(),
            steps: Vec::new(),
            open: true,
        },
    )?;
    walk(book, id, FaultState::Found, who, "", None, at)?;
    one(book, id)
}

/// The serial and the position of a panel of which one may not be said: the book knows what lies where.
fn whereabouts(
    book: &Connection,
    serial: Option<&str>,
    position: Option<&str>,
) -> Result<(Option<String>, Option<String>), NotDone> {
    let serial = entry::perhaps("the serial", serial)?;
    let position = entry::perhaps("the position", position)?;
    let lies = |column: &str, by: &str, value: Option<&str>| {
        let wanted = format!("SELECT {column} FROM positions WHERE {by} = ? AND to_at IS NULL");
        book.prepare_cached(&wanted)?
            .query_row([value], |row| row.get::<_, String>(0))
            .optional()
    };
    let known = (
        match serial {
            Some(serial) => Some(serial.to_owned()),
            None => lies("serial", "position", position)?,
        },
        match position {
            Some(position) => Some(position.to_owned()),
            None => lies("position", "serial", serial)?,
        },
    );
    if let Some(serial) = &known.0 {
        panels::know(book, serial)?;
    }
    Ok(known)
}

fn insert(book: &Connection, key: &str, fault: &FaultRow) -> rusqlite::Result<i64> {
    let statement = "INSERT INTO faults (key, serial, position, cause, place, text, sure, state)
                     VALUES (?, ?, ?, ?, ?, ?, ?, ?)";
    book.prepare_cached(statement)?.insert(params![
        key,
        fault.serial,
        fault.position,
        fault.cause,
        fault.place,
        fault.text,
        fault.sure,
        fault.state
    ])
}

/// A step by a person.
pub(super) fn step(
    book: &Connection,
    id: i64,
    step: &Step,
    at: SystemTime,
) -> Result<FaultRow, NotDone> {
    let who = entry::person(&step.who)?;
    let note = entry::text("the note", &step.note)?;
    if step.state == FaultState::Proved {
        return Err(NotDone::OnlyBySurvey);
    }
    go(book, id, step.state)?;
    walk(book, id, step.state, who, &note, None, at)?;
    one(book, id)
}

/// A step by the daemon, for which it has evidence.
pub(super) fn by_daemon(
    book: &Connection,
    id: i64,
    state: FaultState,
    evidence: &str,
    at: SystemTime,
) -> Result<FaultRow, NotDone> {
    let evidence = entry::said("the evidence", evidence)?;
    go(book, id, state)?;
    walk(book, id, state, DAEMON, "", Some(&evidence), at)?;
    one(book, id)
}

/// Changes the state of a fault, if that may be.
fn go(book: &Connection, id: i64, to: FaultState) -> Result<(), NotDone> {
    let fault = one(book, id)?;
    if !fault.state.may_become(to) {
        let from = fault.state;
        return Err(NotDone::NotFromThere { id, from, to });
    }
    if let Some(open) = open_of(book, &fault.key)?.filter(|open| *open != id && to.open()) {
        return Err(NotDone::OpenAgain { open });
    }
    let statement = "UPDATE faults SET state = ? WHERE id = ?";
    book.prepare_cached(statement)?.execute(params![to, id])?;
    Ok(())
}

fn walk(
    book: &Connection,
    id: i64,
    state: FaultState,
    who: &str,
    note: &str,
    evidence: Option<&str>,
    at: SystemTime,
) -> rusqlite::Result<()> {
    let statement = "INSERT INTO steps (fault, state, at, who, note, evidence)
                     VALUES (?, ?, ?, ?, ?, ?)";
    let values = params![id, state, stamp(at), who, note, evidence];
    book.prepare_cached(statement)?.execute(values)?;
    Ok(())
}
