//! Rows out of the bare pages of a file, wherever they lie: what is left when `SQLite` itself can't
//! find its way because a head or an inner page is damaged.
//!
//! By “Database File Format”, sqlite.org/fileformat2.html: § 1.3 the head, § 1.6 pages of b-trees and
//! pages that overflow, § 2.1 records. A page that holds rows of a table says so in its first byte, and
//! which table it is of is seen by the number and kinds of the columns: those of the book all differ.
//! Pages that were freed are zeroed (`secure_delete`), so that no old copy of a row comes back.

use rusqlite::types::Value;

use super::contents::{Contents, FORMS, Kind, index};

/// `SQLite`'s own choice, for a head that is damaged.
const USUAL_PAGE: usize = 4_096;

/// The head of the file lies before the first page's own.
const HEAD: usize = 100;

/// A leaf of a table.
const LEAF: u8 = 0x0D;

/// The most bytes of one row that are believed.
const MOST_BYTES: u64 = 1 << 20;

/// What was found in the pages.
#[derive(Debug, Default)]
pub(super) struct Scanned {
    pub(super) contents: Contents,
    /// How many rows each table ever had, where that is known; in the order of the tables.
    pub(super) had: [Option<i64>; FORMS.len()],
}

/// Looks through the pages of a file.
pub(super) fn scan(file: &[u8]) -> Scanned {
    let mut scanned = Scanned::default();
    let size = page_size(file);
    for (number, page) in file.chunks(size).enumerate() {
        let head = if number == 0 { HEAD } else { 0 };
        for (id, record) in leaf(page, head, file, size) {
            take(&mut scanned, id, &record);
        }
    }
    scanned
}

/// The size of a page: a power of two from 512 to 65,536, which is written as 1.
fn page_size(file: &[u8]) -> usize {
    let said = match file.get(16..18) {
        Some([0, 1]) => 65_536,
        Some([high, low]) => usize::from(*high) << 8 | usize::from(*low),
        _ => 0,
    };
    let magic = file.starts_with(b"SQLite format 3\0");
    let sound = magic && said >= 512 && said.is_power_of_two();
    if sound { said } else { USUAL_PAGE }
}

fn take(scanned: &mut Scanned, id: i64, record: &[Value]) {
    // The numbers that `AUTOINCREMENT` counts on.
    if let [Value::Text(name), Value::Integer(seq)] = record {
        if let Some(form) = FORMS.iter().position(|form| form.name == name) {
            scanned.had[form] = Some(*seq).filter(|seq| *seq >= 0);
        }
        return;
    }
    // The number of a row stands beside it, and nothing in its place.
    let Some((Value::Null, values)) = record.split_first() else {
        return;
    };
    if id <= 0 {
        return;
    }
    for form in &FORMS {
        let as_kept = form
            .columns
            .iter()
            .zip(values)
            .map(|((_, kind), value)| match value {
                // A real number that is whole is stored as one.
                #[expect(clippy::cast_precision_loss, reason = "SQLite stores no others so")]
                Value::Integer(number) if *kind == Kind::Real => Value::Real(*number as f64),
                other => other.clone(),
            });
        let row: Vec<Value> = as_kept.collect();
        let fits = form
            .columns
            .iter()
            .zip(&row)
            .all(|((_, kind), value)| kind.fits(value));
        if form.columns.len() == values.len() && fits {
            scanned.contents.tables[index(form.name)].insert(id, row);
            return;
        }
    }
}

/// The rows of a page, if it is a leaf of a table. A cell that makes no sense is passed over.
fn leaf(page: &[u8], head: usize, file: &[u8], size: usize) -> Vec<(i64, Vec<Value>)> {
    if page.get(head) != Some(&LEAF) {
        return Vec::new();
    }
    let cells = two(page, head + 3).unwrap_or(0);
    let pointers = (0..cells).filter_map(|cell| two(page, head + 8 + 2 * cell));
    pointers
        .filter_map(|at| cell(page, at, file, size))
        .collect()
}

/// One row: its number, and its values.
fn cell(page: &[u8], at: usize, file: &[u8], size: usize) -> Option<(i64, Vec<Value>)> {
    let (length, at) = varint(page, at)?;
    let (id, at) = varint(page, at)?;
    if length > MOST_BYTES {
        return None;
    }
    let length = usize::try_from(length).ok()?;
    // § 1.6: how much of a row lies in the page itself. The book reserves no bytes at pages' ends.
    let most = size - 35;
    let payload = if length <= most {
        page.get(at..at + length)?.to_vec()
    } else {
        let least = (size - 12) * 32 / 255 - 23;
        let fitting = least + (length - least) % (size - 4);
        let here = if fitting <= most { fitting } else { least };
        let mut payload = page.get(at..at + here)?.to_vec();
        let mut next = four(page, at + here)?;
        while payload.len() < length {
            let from = next.checked_sub(1)?.checked_mul(size)?;
            let more = file.get(from..from.checked_add(size)?)?;
            let wanted = (length - payload.len()).min(size - 4);
            payload.extend_from_slice(more.get(4..4 + wanted)?);
            next = four(more, 0)?;
        }
        payload
    };
    Some((id.cast_signed(), record(&payload)?))
}

/// § 2.1: a head of types, then the values.
fn record(payload: &[u8]) -> Option<Vec<Value>> {
    let (head, mut at) = varint(payload, 0)?;
    let head = usize::try_from(head).ok()?;
    let mut body = head;
    let mut values = Vec::new();
    while at < head {
        let (kind, next) = varint(payload, at)?;
        at = next;
        let length = match kind {
            0 | 8 | 9 => 0,
            1..=4 => usize::try_from(kind).ok()?,
            5 => 6,
            6 | 7 => 8,
            10 | 11 => return None,
            longer => usize::try_from((longer - 12) / 2).ok()?,
        };
        let bytes = payload.get(body..body.checked_add(length)?)?;
        body += length;
        values.push(match kind {
            0 => Value::Null,
            1..=6 => Value::Integer(integer(bytes)),
            7 => Value::Real(f64::from_be_bytes(bytes.try_into().ok()?)),
            8 => Value::Integer(0),
            9 => Value::Integer(1),
            even if even % 2 == 0 => Value::Blob(bytes.to_vec()),
            // A text that is damaged keeps what is readable of it.
            _ => Value::Text(String::from_utf8_lossy(bytes).into_owned()),
        });
    }
    (at == head && body == payload.len()).then_some(values)
}

/// Big-endian, with a sign.
fn integer(bytes: &[u8]) -> i64 {
    let negative = bytes.first().is_some_and(|first| *first >= 0x80);
    let start = if negative { -1 } else { 0 };
    bytes
        .iter()
        .fold(start, |sum: i64, byte| sum << 8 | i64::from(*byte))
}

/// Seven bits a byte, eight in the ninth: the number, and where it ends.
fn varint(bytes: &[u8], at: usize) -> Option<(u64, usize)> {
    let mut sum = 0_u64;
    for place in 0..9 {
        let byte = *bytes.get(at + place)?;
        if place == 8 {
            return Some((sum << 8 | u64::from(byte), at + 9));
        }
        sum = sum << 7 | u64::from(byte & 0x7F);
        if byte < 0x80 {
            return Some((sum, at + place + 1));
        }
    }
    None
}

fn two(bytes: &[u8], at: usize) -> Option<usize> {
    let bytes: [u8; 2] = bytes.get(at..at + 2)?.try_into().ok()?;
    Some(usize::from(u16::from_be_bytes(bytes)))
}

fn four(bytes: &[u8], at: usize) -> Option<usize> {
    let bytes: [u8; 4] = bytes.get(at..at + 4)?.try_into().ok()?;
    usize::try_from(u32::from_be_bytes(bytes)).ok()
}
