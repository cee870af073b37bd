//! Runs: their first slot, their panels and serials, and runs that are written as one.

use std::ops::Range;

use toml_edit::{Array, ArrayOfTables, DocumentMut, Item, Table, Value};

use super::super::model::Floor;
use super::super::short::Lying;
use super::lists;
use super::{Unamended, set};
use crate::wire::PortAddress;

/// Writes what differs between the runs of `plan` and those of `found`.
pub(super) fn amend(
    document: &mut DocumentMut,
    plan: &Floor,
    found: &Floor,
) -> Result<(), Unamended> {
    let tables = document
        .get_mut("run")
        .and_then(Item::as_array_of_tables_mut)
        .ok_or_else(|| Unamended("the runs are not written as [[run]]".to_owned()))?;
    let mut out = ArrayOfTables::new();
    let mut first = 0;
    for table in tables.iter() {
        let panels =
            array(table, "panels").map_or(0, |list| list.iter().map(lists::panels_of).sum());
        let each = split(table).map_or(panels, |(each, _)| each).max(1);
        let runs = first..(first + panels.div_ceil(each)).min(plan.runs.len());
        first = runs.end;
        let changed = Changed { plan, found, runs };
        for table in changed.tables(table.clone())? {
            out.push(table);
        }
    }
    *tables = out;
    Ok(())
}

/// The runs of one table of the file.
struct Changed<'f> {
    plan: &'f Floor,
    found: &'f Floor,
    runs: Range<usize>,
}

impl Changed<'_> {
    fn tables(&self, mut table: Table) -> Result<Vec<Table>, Unamended> {
        let groups = self.groups();
        let cuts: Vec<usize> = groups
            .iter()
            .map(|group| self.places(self.runs.start..group.start))
            .skip(1)
            .collect();
        let lying = (self.lying(self.plan), self.lying(self.found));
        if let Some(list) = array_mut(&mut table, "panels") {
            let both = (lying.0.as_slice(), lying.1.as_slice());
            lists::rewrite(list, both, &cuts, lists::panels_of, lists::lines);
        }
        let serials = (self.serials(self.plan), self.serials(self.found));
        if let Some(list) = array_mut(&mut table, "serials") {
            let both = (serials.0.as_slice(), serials.1.as_slice());
            lists::rewrite(list, both, &cuts, lists::serials_of, lists::serials);
        } else if serials.1.iter().all(|serial| !serial.is_empty()) {
            let list: Array = lists::serials(&serials.1).into_iter().collect();
            table.insert("serials", Item::Value(list.into()));
        }
        if groups.len() < 2 {
            self.slot(&mut table, &self.runs);
            return Ok(vec![table]);
        }
        let parts = groups.iter().map(|group| self.part(&table, group));
        parts.collect()
    }

    /// Neighbours that begin at the same slot can stay one.
    fn groups(&self) -> Vec<Range<usize>> {
        let slot = |run: usize| self.found.runs[run].slot;
        let mut groups: Vec<Range<usize>> = Vec::new();
        for run in self.runs.clone() {
            match groups.last_mut() {
                Some(last) if slot(last.start) == slot(run) => last.end = run + 1,
                _ => groups.push(run..run + 1),
            }
        }
        groups
    }

    fn places(&self, runs: Range<usize>) -> usize {
        runs.map(|run| self.plan.runs[run].panels.len()).sum()
    }

    fn slot(&self, table: &mut Table, runs: &Range<usize>) {
        let slot = |floor: &Floor| floor.runs.get(runs.start).map(|run| run.slot);
        if let (Some(was), Some(is)) = (slot(self.plan), slot(self.found))
            && was != is
        {
            set(table, "slot", i64::from(is).into());
        }
    }

    /// One group of runs, out of the table that they were written in.
    fn part(&self, whole: &Table, group: &Range<usize>) -> Result<Table, Unamended> {
        let mut table = whole.clone();
        let before = group.start - self.runs.start;
        let places = self.places(self.runs.start..group.start);
        let places = places..places + self.places(group.clone());
        let last = group.end == self.runs.end;
        if let Some(list) = array_mut(&mut table, "panels") {
            keep(list, &places, last, lists::panels_of);
        }
        if let Some(list) = array_mut(&mut table, "serials") {
            keep(list, &places, last, lists::serials_of);
        }
        if group.len() == 1 {
            table.remove("split");
        }
        if before > 0 {
            table.decor_mut().set_prefix("\n");
            let steps = i64::try_from(before).unwrap_or(i64::MAX);
            if let Some(port) = table.get("port").and_then(Item::as_integer) {
                set(&mut table, "port", (port + steps).into());
            }
            let start: PortAddress = self.plan.runs[group.start].start;
            set(&mut table, "start", start.to_string().into());
            go_on(&mut table)?;
        }
        self.slot(&mut table, group);
        Ok(table)
    }

    fn lying(&self, of: &Floor) -> Vec<Lying> {
        let panels = self.runs.clone().flat_map(|run| &of.runs[run].panels);
        let lying = panels.map(|&panel| Lying {
            at: of.panels[panel].position,
            turn_deg: of.panels[panel].turn_deg,
            mirrored: of.panels[panel].mirrored,
        });
        lying.collect()
    }

    fn serials(&self, of: &Floor) -> Vec<String> {
        let panels = self.runs.clone().flat_map(|run| &of.runs[run].panels);
        panels
            .map(|&panel| of.panels[panel].serial.clone())
            .collect()
    }
}

/// Lets the source of a run go on after the one before.
fn go_on(table: &mut Table) -> Result<(), Unamended> {
    let Some(source) = table.get_mut("source") else {
        return Ok(());
    };
    if source.is_str() {
        set(table, "source", "next".into());
        return Ok(());
    }
    let of = source.as_table_like_mut();
    let of = of.ok_or_else(|| Unamended("`source` is no table".to_owned()))?;
    set(of, "start", "next".into());
    of.remove("slot");
    Ok(())
}

/// Keeps the elements of some places, and what is passed right before them. Blanks and comments
/// at the two ends of the list stay with the first and the last part.
fn keep(list: &mut Array, places: &Range<usize>, last: bool, count: impl Fn(&Value) -> usize) {
    let mut from = 0;
    let mut kept = Vec::new();
    for element in list.iter() {
        // What is passed has no place of its own: it belongs to the panel after it.
        if places.contains(&from) {
            kept.push(element.clone());
        }
        from += count(element);
    }
    if let Some(first) = kept.first_mut().filter(|_| places.start > 0) {
        first.decor_mut().set_prefix("");
    }
    lists::replace(list, kept);
    if !last {
        list.set_trailing("");
        list.set_trailing_comma(false);
    }
}

/// Panels and universes of each run, where one table writes several.
fn split(table: &Table) -> Option<(usize, usize)> {
    let split = table.get("split")?.as_table_like()?;
    let number = |key| {
        let number = split.get(key).and_then(Item::as_integer)?;
        usize::try_from(number).ok()
    };
    Some((number("panels")?, number("universes")?))
}

fn array<'t>(table: &'t Table, key: &str) -> Option<&'t Array> {
    table.get(key).and_then(Item::as_array)
}

fn array_mut<'t>(table: &'t mut Table, key: &str) -> Option<&'t mut Array> {
    table.get_mut(key).and_then(Item::as_array_mut)
}
