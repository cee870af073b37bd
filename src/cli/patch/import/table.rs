//! A spreadsheet's table as it comes: separator, header, and rows by the number they have there.

use std::collections::HashMap;

use crate::cells::as_it_was;

/// What a column can say.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Column {
    Position,
    Universe,
    Slot,
    /// Universe and slot in one, or one of the two.
    Address,
    Node,
    Port,
    Serial,
    Turn,
    Mirrored,
    Packing,
}

/// Each with the names by which it is found, the surest first; in small letters, with one `_` for
/// whatever else stands between words.
const NAMES: [(Column, &[&str]); 10] = [
    (
        Column::Position,
        &["position", "panel", "pos", "place", "location", "field"],
    ),
    (
        Column::Universe,
        &[
            "universe",
            "start_universe",
            "first_universe",
            "port_address",
            "art_net_universe",
            "artnet_universe",
            "univ",
            "uni",
        ],
    ),
    (
        Column::Slot,
        &[
            "slot",
            "channel",
            "start_slot",
            "start_channel",
            "first_slot",
            "first_channel",
            "dmx_slot",
            "dmx_channel",
            "chan",
            "ch",
        ],
    ),
    (
        Column::Address,
        &[
            "start_address",
            "address",
            "dmx_address",
            "patch",
            "start",
            "dmx",
        ],
    ),
    (Column::Node, &["node", "controller", "node_name"]),
    (Column::Port, &["port", "output", "node_port"]),
    (
        Column::Serial,
        &["serial", "serial_number", "serial_no", "label"],
    ),
    (
        Column::Turn,
        &["turn", "turn_deg", "rotation", "rotated", "angle", "turned"],
    ),
    (Column::Mirrored, &["mirrored", "mirror", "flipped"]),
    (Column::Packing, &["packing"]),
];

/// The table.
#[derive(Debug)]
pub(super) struct Table {
    columns: HashMap<Column, usize>,
    /// Titles of columns that nobody reads.
    pub(super) unused: Vec<String>,
    pub(super) rows: Vec<Row>,
}

/// One row that is not empty.
#[derive(Debug)]
pub(super) struct Row {
    /// As the spreadsheet counts: the header is row 1.
    pub(super) number: usize,
    cells: Vec<String>,
}

impl Table {
    /// Reads it.
    ///
    /// # Errors
    /// Says what to save it as, or which columns are missing and what they may be called.
    pub(super) fn read(bytes: &[u8]) -> Result<Self, String> {
        if bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]) {
            return Err("the sheet is UTF-16: save it as CSV in UTF-8".to_owned());
        }
        let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
        // Names that are in an older encoding than UTF-8 are not what is looked for.
        let mut text = String::from_utf8_lossy(bytes)
            .replace("\r\n", "\n")
            .replace('\r', "\n");
        text.push('\n');
        let mut table = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(separator(&text))
            .from_reader(text.as_bytes());
        let mut rows = Vec::new();
        let mut record = csv::StringRecord::new();
        // A field that holds line breaks is one row of the spreadsheet and several of the text.
        let mut folded = 0;
        while table
            .read_record(&mut record)
            .map_err(|why| format!("the sheet is no CSV: {why}"))?
        {
            // Empty lines are rows, too; they are passed before a record, so its end is counted.
            folded += record
                .iter()
                .map(|cell| cell.matches('\n').count())
                .sum::<usize>();
            let behind = usize::try_from(table.position().line()).unwrap_or(usize::MAX);
            let number = behind.saturating_sub(1 + folded);
            let cells: Vec<String> = (record.iter())
                .map(|cell| as_it_was(cell.trim()).to_owned())
                .collect();
            if cells.iter().any(|cell| !cell.is_empty()) {
                rows.push(Row { number, cells });
            }
        }
        if rows
            .first()
            .is_some_and(|row| row.cells[0].starts_with("sep="))
        {
            rows.remove(0);
        }
        if rows.is_empty() {
            return Err("the sheet is empty".to_owned());
        }
        let header = rows.remove(0);
        let columns = found(&header.cells);
        let used = |at: &usize| columns.values().any(|column| column == at);
        let titles = header.cells.iter().enumerate();
        let unused = titles.filter(|(at, title)| !used(at) && !title.is_empty());
        let unused = unused.map(|(_, title)| title.clone()).collect();
        let table = Self {
            columns,
            unused,
            rows,
        };
        table.complete(&header)?;
        Ok(table)
    }

    fn complete(&self, header: &Row) -> Result<(), String> {
        let has = |column| self.columns.contains_key(&column);
        let mut missing = Vec::new();
        if !has(Column::Position) {
            missing.push("the panel's position (position, panel)");
        }
        if !has(Column::Universe) && !has(Column::Address) {
            missing.push("the universe (universe, or address for both as in 0:0:3/121)");
        }
        if !has(Column::Slot) && !has(Column::Address) {
            missing.push("the first slot (slot, channel, start)");
        }
        if missing.is_empty() {
            return Ok(());
        }
        Err(format!(
            "row {}: no column is called by {}; the columns are: {}",
            header.number,
            missing.join(", nor by "),
            header.cells.join(", ")
        ))
    }

    /// Whether there is such a column.
    pub(super) fn has(&self, column: Column) -> bool {
        self.columns.contains_key(&column)
    }

    /// What stands in a row's cell; nothing where it is empty or there is no such column.
    pub(super) fn cell<'r>(&self, row: &'r Row, column: Column) -> Option<&'r str> {
        let cell = row.cells.get(*self.columns.get(&column)?)?;
        (!cell.is_empty()).then_some(cell.as_str())
    }
}

/// Which cell of the header says what.
fn found(header: &[String]) -> HashMap<Column, usize> {
    let titles: Vec<String> = header.iter().map(|title| plain(title)).collect();
    let place = |names: &[&str]| {
        let mut places = names
            .iter()
            .filter_map(|name| titles.iter().position(|title| title == name));
        places.next()
    };
    NAMES
        .iter()
        .filter_map(|(column, names)| Some((*column, place(names)?)))
        .collect()
}

/// `Start Address (DMX)` → `start_address_dmx`.
fn plain(title: &str) -> String {
    let lower = title.to_lowercase();
    let words = lower.split(|c: char| !c.is_alphanumeric());
    let words: Vec<&str> = words.filter(|word| !word.is_empty()).collect();
    words.join("_")
}

/// What stands most often in the first line outside quotes: comma, semicolon or tab.
fn separator(text: &str) -> u8 {
    let mut lines = text.lines().filter(|line| !line.trim().is_empty());
    let first = lines.next().unwrap_or_default();
    if let Some(named) = first
        .strip_prefix("sep=")
        .and_then(|rest| rest.bytes().next())
    {
        return named;
    }
    let mut counts = [(b',', 0), (b';', 0), (b'\t', 0)];
    let mut quoted = false;
    for byte in first.bytes() {
        quoted ^= byte == b'"';
        for (separator, count) in &mut counts {
            *count += usize::from(!quoted && byte == *separator);
        }
    }
    // The first of those that stand equally often.
    let most = counts.iter().map(|(_, count)| *count).max();
    let best = counts.iter().find(|(_, count)| Some(*count) == most);
    best.map_or(b',', |(separator, _)| *separator)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cells(text: &str) -> Vec<(usize, String, String)> {
        let table = Table::read(text.as_bytes()).unwrap();
        let cell = |row: &Row, column| table.cell(row, column).unwrap_or("-").to_owned();
        let rows = table.rows.iter();
        rows.map(|row| {
            (
                row.number,
                cell(row, Column::Position),
                cell(row, Column::Slot),
            )
        })
        .collect()
    }

    #[test]
    fn separators_quotes_marks_and_line_ends_are_taken_as_they_come() {
        let expected = [
            (2, "A1".to_owned(), "1".to_owned()),
            (4, "B1".to_owned(), "121".to_owned()),
        ];
        for text in [
            "Panel,Universe,Slot\nA1,1,1\n\nB1,1,121\n",
            "\u{feff}Panel;Universe;Slot\r\nA1;1;1\r\n;;\r\nB1;1;121\r\n",
            "\"Panel\"\t\"Universe\"\t\"Start channel\"\nA1\t1\t\"1\"\n\nB1\t1\t 121 \n",
            "Slot,\"Panel; or tile\",Position,Universe\n1,x,A1,1\n\n121,x,B1,1",
        ] {
            assert_eq!(cells(text), expected, "{text}");
        }
    }

    #[test]
    fn rows_are_numbered_as_the_spreadsheet_does() {
        let text = "panel,universe,slot,note\nA1,1,1,\"two\nlines\"\nB1,1,2,\nC1,1,3,\n";
        let numbers: Vec<usize> = cells(text).into_iter().map(|(number, ..)| number).collect();
        assert_eq!(numbers, [2, 3, 4]);
    }

    #[test]
    fn missing_columns_are_named_all_at_once() {
        let told = |text: &str| Table::read(text.as_bytes()).unwrap_err();
        let why = told("Tile no,Colour\n1,red\n");
        for part in ["row 1", "position", "universe", "slot", "Tile no, Colour"] {
            assert!(why.contains(part), "{part} in {why}");
        }
        assert!(told("").contains("empty"));
        assert!(Table::read(b"\xFF\xFEa").unwrap_err().contains("UTF-8"));
    }
}
