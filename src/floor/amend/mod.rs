//! Writes into the text of a floor file what was found to be otherwise: only what changes is
//! touched, so that comments, order and short forms stay.

mod difference;
mod kinds;
mod lists;
mod runs;
#[cfg(test)]
mod tests;

use toml_edit::{DocumentMut, Item, TableLike, Value};

use super::model::{Floor, Panel};
pub use difference::difference;

/// A file that could not be amended; what was found has to be written down by hand.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the floor file could not be amended: {0}")]
pub struct Unamended(String);

/// The text of a floor file that says `found`, made of the one that says `plan`. Only how runs
/// are wired may differ: their panels, first slots and serials, how panels lie, of which kind they
/// are, and the order of the slots of a kind; and there may be further kinds at the end, named
/// after the one that they were made of and their order.
///
/// # Errors
/// Says what stands in the way. What would not be sound as a floor file is told with its faults.
pub fn amend(text: &str, plan: &Floor, found: &Floor) -> Result<String, Unamended> {
    let mut document: DocumentMut = text
        .parse()
        .map_err(|why: toml_edit::TomlError| Unamended(why.message().to_owned()))?;
    runs::amend(&mut document, plan, found)?;
    kinds::amend(&mut document, plan, found)?;
    let amended = ended_like(text, document.to_string());
    let read = super::parse("the corrected file", &amended)
        .map_err(|faults| Unamended(faults.render(false)))?;
    if says(&read, found) {
        Ok(amended)
    } else {
        let text = "what was written does not read as what was found";
        Err(Unamended(text.to_owned()))
    }
}

/// What `toml_edit` wrote, with the ends of lines that the text had: those of Windows, none behind the last
/// line, the mark that some editors put before the first. Otherwise every line would be another.
fn ended_like(text: &str, written: String) -> String {
    const MARK: char = '\u{feff}';
    let mut lines = written;
    if text.contains("\r\n") && !text.replace("\r\n", "").contains('\n') {
        lines = lines.replace("\r\n", "\n").replace('\n', "\r\n");
    }
    if !text.ends_with('\n') {
        lines.truncate(lines.trim_end_matches(['\r', '\n']).len());
    }
    if text.starts_with(MARK) && !lines.starts_with(MARK) {
        lines.insert(0, MARK);
    }
    lines
}

/// Whether a floor is wired and laid like another.
fn says(read: &Floor, found: &Floor) -> bool {
    let panel = |of: &Floor, panel: &Panel| {
        let kind = &of.panel_kinds[panel.kind];
        (
            (panel.position, panel.turn_deg, panel.mirrored, panel.lead),
            (panel.serial.clone(), panel.run, kind.name.clone()),
            of.pixel_kinds[kind.pixel_kind].slots.clone(),
        )
    };
    let panels = |of: &Floor| of.panels.iter().map(|it| panel(of, it)).collect::<Vec<_>>();
    read.runs == found.runs && panels(read) == panels(found)
}

/// Writes a value in the place of another, with its comments.
fn set(table: &mut dyn TableLike, key: &str, mut value: Value) {
    match table.get_mut(key).and_then(Item::as_value_mut) {
        Some(old) => {
            *value.decor_mut() = old.decor().clone();
            *old = value;
        }
        None => {
            table.insert(key, Item::Value(value));
        }
    }
}
