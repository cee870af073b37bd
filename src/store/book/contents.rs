//! All rows of a book as they are in its tables: what is exported, and what is saved out of a damaged one.

use std::collections::BTreeMap;
use std::io::{self, Write};

use rusqlite::Connection;
use rusqlite::types::{Value, ValueRef};
use serde::ser::{Serialize, SerializeMap, Serializer};

use crate::cells::harmless;

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Integer,
    Real,
    Text,
    /// Text or nothing.
    MayLack,
}

impl Kind {
    /// Whether a value can be of this kind.
    pub(super) const fn fits(self, value: &Value) -> bool {
        match self {
            Self::Integer => matches!(value, Value::Integer(_)),
            Self::Real => matches!(value, Value::Real(_)),
            Self::Text => matches!(value, Value::Text(_)),
            Self::MayLack => matches!(value, Value::Text(_) | Value::Null),
        }
    }
}

/// A table: its name, and the columns behind `id`.
#[derive(Debug)]
pub struct Form {
    /// As it is called in the file.
    pub name: &'static str,
    pub(super) columns: &'static [(&'static str, Kind)],
}

/// All tables, those first that others belong to.
pub static FORMS: [Form; 7] = {
    use Kind::{Integer, MayLack, Real, Text};
    const fn form(name: &'static str, columns: &'static [(&'static str, Kind)]) -> Form {
        Form { name, columns }
    }
    [
        form("panels", &[("serial", Text)]),
        form(
            "positions",
            &[
                ("serial", Text),
                ("position", Text),
                ("from_at", Text),
                ("to_at", MayLack),
                ("who", Text),
            ],
        ),
        form(
            "benches",
            &[
                ("serial", Text),
                ("at", Text),
                ("passed", Integer),
                ("who", Text),
                ("note", Text),
            ],
        ),
        form(
            "currents",
            &[("bench", Integer), ("name", Text), ("current_a", Real)],
        ),
        form(
            "notes",
            &[
                ("serial", Text),
                ("at", Text),
                ("who", Text),
                ("text", Text),
            ],
        ),
        form(
            "faults",
            &[
                ("key", Text),
                ("serial", MayLack),
                ("position", MayLack),
                ("cause", Text),
                ("place", Text),
                ("text", Text),
                ("sure", Text),
                ("state", Text),
            ],
        ),
        form(
            "steps",
            &[
                ("fault", Integer),
                ("state", Text),
                ("at", Text),
                ("who", Text),
                ("note", Text),
                ("evidence", MayLack),
            ],
        ),
    ]
};

/// The rows of one table by their numbers, without these.
pub(super) type Rows = BTreeMap<i64, Vec<Value>>;

/// All rows of a book, in the order of [`FORMS`].
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Contents {
    pub(super) tables: [Rows; FORMS.len()],
}

/// Which table it is in [`FORMS`].
pub(super) fn index(name: &str) -> usize {
    FORMS.iter().position(|form| form.name == name).unwrap_or(0)
}

impl Contents {
    /// Everything, from a book that is whole.
    pub(super) fn read(book: &Connection) -> rusqlite::Result<Self> {
        let mut contents = Self::default();
        for (form, rows) in FORMS.iter().zip(&mut contents.tables) {
            read_into(book, form, rows)?;
        }
        Ok(contents)
    }

    /// How many rows a table has.
    pub fn rows(&self, table: &str) -> usize {
        self.tables[index(table)].len()
    }

    /// Writes one table as CSV (RFC 4180), with the names of its columns at the top.
    ///
    /// # Errors
    /// When it can't be written there.
    pub fn table_csv(&self, form: &Form, out: impl Write) -> io::Result<()> {
        let mut csv = csv::WriterBuilder::new()
            .terminator(csv::Terminator::CRLF)
            .from_writer(out);
        csv.write_field("id")?;
        csv.write_record(form.columns.iter().map(|(name, _)| name))?;
        for (id, row) in &self.tables[index(form.name)] {
            csv.write_field(id.to_string())?;
            csv.write_record(row.iter().map(cell))?;
        }
        csv.flush()
    }

    /// Writes the faults as CSV (RFC 4180), one line for each step of each.
    ///
    /// # Errors
    /// When it can't be written there.
    pub fn faults_csv(&self, out: impl Write) -> io::Result<()> {
        let mut csv = csv::WriterBuilder::new()
            .terminator(csv::Terminator::CRLF)
            .from_writer(out);
        let (faults, steps) = (index("faults"), index("steps"));
        csv.write_field("fault")?;
        for (name, _) in FORMS[faults].columns {
            csv.write_field(name)?;
        }
        csv.write_record(STEP_COLUMNS)?;
        let mut of: BTreeMap<i64, Vec<&[Value]>> = BTreeMap::new();
        for row in self.tables[steps].values() {
            if let [Value::Integer(fault), step @ ..] = row.as_slice() {
                of.entry(*fault).or_default().push(step);
            }
        }
        // A damaged book may have a fault without steps, or steps of a fault that is lost.
        let nothing = [
            Value::Null,
            Value::Null,
            Value::Null,
            Value::Null,
            Value::Null,
        ];
        let lost = vec![Value::Null; FORMS[faults].columns.len()];
        let ids = self.tables[faults].keys().chain(of.keys());
        let ids: std::collections::BTreeSet<i64> = ids.copied().collect();
        for id in ids {
            let fault = self.tables[faults].get(&id).unwrap_or(&lost);
            let steps = of.get(&id).cloned();
            for step in steps.unwrap_or_else(|| vec![&nothing]) {
                csv.write_field(id.to_string())?;
                csv.write_record(fault.iter().chain(step).map(cell))?;
            }
        }
        csv.flush()
    }
}

/// Those of a step beside its fault.
const STEP_COLUMNS: [&str; 5] = ["step", "step_at", "step_who", "step_note", "step_evidence"];

/// A cell of a table that is opened with a spreadsheet.
fn cell(value: &Value) -> String {
    match value {
        Value::Integer(_) | Value::Real(_) => text(value),
        _ => harmless(text(value)).into_owned(),
    }
}

fn text(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::Integer(number) => number.to_string(),
        Value::Real(number) => number.to_string(),
        Value::Text(text) => text.clone(),
        Value::Blob(bytes) => String::from_utf8_lossy(bytes).into_owned(),
    }
}

/// Reads a table from its beginning until its end, or until it can't be read further.
pub(super) fn read_into(book: &Connection, form: &Form, rows: &mut Rows) -> rusqlite::Result<()> {
    let names: Vec<_> = form.columns.iter().map(|(name, _)| *name).collect();
    // By the table itself: an index may be damaged, too.
    let statement = format!(
        "SELECT id, {} FROM {} NOT INDEXED ORDER BY id",
        names.join(", "),
        form.name
    );
    let mut statement = book.prepare(&statement)?;
    let mut found = statement.query([])?;
    let mut last = 0;
    while let Some(row) = found.next()? {
        let id = row.get(0)?;
        if id <= last {
            // A damaged tree that leads in circles.
            return Err(rusqlite::Error::InvalidQuery);
        }
        last = id;
        let values = (1..=names.len()).map(|at| Ok(owned(row.get_ref(at)?)));
        rows.insert(id, values.collect::<rusqlite::Result<_>>()?);
    }
    Ok(())
}

/// A text that is damaged keeps what is readable of it.
pub(super) fn owned(value: ValueRef<'_>) -> Value {
    match value {
        ValueRef::Null => Value::Null,
        ValueRef::Integer(number) => Value::Integer(number),
        ValueRef::Real(number) => Value::Real(number),
        ValueRef::Text(text) => Value::Text(String::from_utf8_lossy(text).into_owned()),
        ValueRef::Blob(bytes) => Value::Blob(bytes.to_vec()),
    }
}

impl Serialize for Contents {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut all = serializer.serialize_map(Some(FORMS.len()))?;
        for (form, rows) in FORMS.iter().zip(&self.tables) {
            let rows: Vec<_> = rows
                .iter()
                .map(|(id, row)| OneRow { form, id: *id, row })
                .collect();
            all.serialize_entry(form.name, &rows)?;
        }
        all.end()
    }
}

struct OneRow<'a> {
    form: &'a Form,
    id: i64,
    row: &'a [Value],
}

impl Serialize for OneRow<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut all = serializer.serialize_map(Some(self.row.len() + 1))?;
        all.serialize_entry("id", &self.id)?;
        for ((name, _), value) in self.form.columns.iter().zip(self.row) {
            match value {
                Value::Null => all.serialize_entry(name, &())?,
                Value::Integer(number) => all.serialize_entry(name, number)?,
                Value::Real(number) => all.serialize_entry(name, number)?,
                other => all.serialize_entry(name, &text(other))?,
            }
        }
        all.end()
    }
}
