//! What can be read of a book, written to a new file. Rows that others belong to are made anew where they
//! are lost, so that nothing that is left has to go.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use std::time::SystemTime;

use rusqlite::types::Value;
use rusqlite::{Connection, params_from_iter};

use super::contents::{Contents, FORMS, index};
use super::entry::{DAEMON, stamp};
use super::open::{self, BookPlace, Flaw, NotOpened};
use super::salvage::{Count, Looked, look};

/// A book that was written anew.
#[derive(Debug)]
pub struct Recovered {
    /// What of the old one is in it, and what isn't.
    pub counts: Vec<Count>,
    /// Faults of which only steps were left.
    pub nameless: usize,
    /// Faults that had lost their steps.
    pub without_steps: usize,
    /// What was wrong with the old one; nothing if it is sound.
    pub flaw: Option<Flaw>,
}

/// Writes what can be read of a book to a new file. The old one stays as it is.
///
/// # Errors
/// When the old one can't be had or is no book, or the new one is there already or can't be written.
pub fn recover(old: &Path, new: &Path, at: SystemTime) -> Result<Recovered, NotOpened> {
    let not = |flaw| NotOpened {
        path: new.to_owned(),
        flaw,
    };
    let looked = look(old)?;
    if fs::symlink_metadata(new).is_ok() {
        return Err(not(Flaw::NotHad(
            "there is a file of that name already: choose another".to_owned(),
        )));
    }
    let mut book = open::open(&BookPlace::File(new.to_owned()))?;
    let written = (|| {
        let transaction = book.transaction()?;
        let recovered = write(&transaction, looked, &stamp(at))?;
        open::whole(&transaction)?;
        transaction.commit()?;
        Ok(recovered)
    })();
    written.map_err(|flaw| {
        // Half a book is none.
        let _ = fs::remove_file(new);
        not(flaw)
    })
}

fn write(book: &Connection, looked: Looked, at: &str) -> Result<Recovered, Flaw> {
    let Looked {
        mut contents,
        flaw,
        mut counts,
    } = looked;
    // A sound book keeps its numbers and has nothing to be mended.
    let (nameless, without_steps) = mend(&mut contents, at);
    for ((form, rows), count) in FORMS.iter().zip(&contents.tables).zip(&mut counts) {
        let names = form.columns.iter().map(|(name, _)| *name);
        let names: Vec<_> = std::iter::once("id").chain(names).collect();
        let statement = format!(
            "INSERT INTO {} ({}) VALUES (?{})",
            form.name,
            names.join(", "),
            ", ?".repeat(form.columns.len())
        );
        let mut statement = book.prepare(&statement)?;
        for (id, row) in rows {
            let number = Value::Integer(*id);
            match statement.execute(params_from_iter(std::iter::once(&number).chain(row))) {
                Ok(_) => {}
                // What the tables don't allow was damaged.
                Err(error) if refused(&error) => {
                    count.kept = count.kept.saturating_sub(1);
                    count.lost += 1;
                }
                Err(error) => return Err(error.into()),
            }
        }
    }
    Ok(Recovered {
        counts,
        nameless,
        without_steps,
        flaw,
    })
}

fn refused(error: &rusqlite::Error) -> bool {
    use rusqlite::ErrorCode::{ConstraintViolation, TypeMismatch};
    matches!(
        error.sqlite_error_code(),
        Some(ConstraintViolation | TypeMismatch)
    )
}

/// Makes rows that others belong to where these are lost, and makes each fault what its last step says.
/// Gives how many faults were made for steps, and how many steps for faults.
fn mend(contents: &mut Contents, at: &str) -> (usize, usize) {
    let [panels, faults, steps] = ["panels", "faults", "steps"].map(index);
    know_serials(contents, panels);
    let mut last: BTreeMap<i64, Value> = BTreeMap::new();
    for step in contents.tables[steps].values() {
        if let [Value::Integer(fault), state, ..] = step.as_slice() {
            last.insert(*fault, state.clone());
        }
    }
    let mut nameless = 0;
    for (id, state) in &last {
        let fault = contents.tables[faults].entry(*id).or_insert_with(|| {
            nameless += 1;
            let text = |text: &str| Value::Text(text.to_owned());
            vec![
                text(&format!("lost/{id}")),
                Value::Null,
                Value::Null,
                text("reported"),
                text("not known"),
                text("What it was is lost: the book was damaged."),
                text("possible"),
                Value::Null,
            ]
        });
        if let Some(own) = fault.last_mut() {
            own.clone_from(state);
        }
    }
    let bare = contents.tables[faults]
        .iter()
        .filter(|(id, _)| !last.contains_key(id));
    let bare: Vec<_> = bare.map(|(id, row)| (*id, row.last().cloned())).collect();
    let next = contents.tables[steps]
        .last_key_value()
        .map_or(1, |(id, _)| id + 1);
    for (number, (id, state)) in (next..).zip(&bare) {
        let step = vec![
            Value::Integer(*id),
            state.clone().unwrap_or(Value::Null),
            Value::Text(at.to_owned()),
            Value::Text(DAEMON.to_owned()),
            Value::Text("Its steps were lost: the book was damaged.".to_owned()),
            Value::Null,
        ];
        contents.tables[steps].insert(number, step);
    }
    (nameless, bare.len())
}

/// Every serial that something belongs to is that of a panel.
fn know_serials(contents: &mut Contents, panels: usize) {
    let known = contents.tables[panels]
        .values()
        .filter_map(|row| match row.first() {
            Some(Value::Text(serial)) => Some(serial.clone()),
            _ => None,
        });
    let known: BTreeSet<String> = known.collect();
    let mut missing = BTreeSet::new();
    for (form, rows) in FORMS.iter().zip(&contents.tables) {
        let Some(column) = form.columns.iter().position(|(name, _)| *name == "serial") else {
            continue;
        };
        for row in rows.values() {
            if let Some(Value::Text(serial)) = row.get(column)
                && !serial.is_empty()
                && !known.contains(serial)
            {
                missing.insert(serial.clone());
            }
        }
    }
    let rows = &mut contents.tables[panels];
    let next = rows.last_key_value().map_or(1, |(id, _)| id + 1);
    rows.extend(
        (next..)
            .zip(missing)
            .map(|(id, serial)| (id, vec![Value::Text(serial)])),
    );
}
