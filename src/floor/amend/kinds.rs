//! Kinds of pixel and panel: other orders of slots, kinds of their own, and where which lies.

use toml_edit::{Array, DocumentMut, Item, TableLike, Value};

use super::super::model::{Floor, PanelKind, PixelKind};
use super::{Unamended, lists, set};

/// Writes what differs between the kinds of `plan` and those of `found`.
pub(super) fn amend(
    document: &mut DocumentMut,
    plan: &Floor,
    found: &Floor,
) -> Result<(), Unamended> {
    for (at, kind) in found.pixel_kinds.iter().enumerate() {
        let order = kind.wire_order();
        match plan.pixel_kinds.get(at) {
            Some(was) if was.wire_order() == order => {}
            Some(_) => {
                let table = table(document, "pixel", &kind.name)?;
                set(table, "slots", order.into());
            }
            None => {
                let base = pixel_base(plan, kind)?;
                let table = copy(document, "pixel", base, &kind.name)?;
                set(table, "slots", order.into());
            }
        }
    }
    for kind in found.panel_kinds.iter().skip(plan.panel_kinds.len()) {
        let base = panel_base(plan, found, kind)?;
        let table = copy(document, "panel", base, &kind.name)?;
        set(
            table,
            "pixel",
            found.pixel_kinds[kind.pixel_kind].name.as_str().into(),
        );
        table.remove("at");
    }
    places(document, plan, found)
}

/// Panels that lie where another kind was planned.
fn places(document: &mut DocumentMut, plan: &Floor, found: &Floor) -> Result<(), Unamended> {
    let usual = document.get("grid").and_then(|grid| grid.get("panel"));
    let usual = usual.and_then(Item::as_str).unwrap_or_default().to_owned();
    let pairs = || {
        let pairs = plan.panels.iter().zip(&found.panels);
        pairs.filter(|(was, is)| was.kind != is.kind)
    };
    // First what comes, then what goes, so that no list is empty in between.
    for (_, is) in pairs() {
        let name = &found.panel_kinds[is.kind].name;
        if *name == usual {
            continue;
        }
        let position: Value = is.position.to_string().into();
        let table = table(document, "panel", name)?;
        if let Some(at) = table.get_mut("at").and_then(Item::as_array_mut) {
            at.push(position);
        } else {
            let mut at = Array::new();
            at.push(position);
            table.insert("at", Item::Value(Value::Array(at)));
        }
    }
    for (was, is) in pairs() {
        let table = table(document, "panel", &plan.panel_kinds[was.kind].name)?;
        if let Some(at) = table.get_mut("at").and_then(Item::as_array_mut) {
            lists::take_out(at, is.position);
            if at.is_empty() {
                table.remove("at");
            }
        }
    }
    Ok(())
}

fn table<'d>(
    document: &'d mut DocumentMut,
    of: &str,
    name: &str,
) -> Result<&'d mut dyn TableLike, Unamended> {
    let kinds = document.get_mut(of).and_then(Item::as_table_like_mut);
    let kind = kinds.and_then(|kinds| kinds.get_mut(name));
    kind.and_then(Item::as_table_like_mut)
        .ok_or_else(|| Unamended(format!("the file has no [{of}.{name}]")))
}

/// A kind like another, right behind it, without its comments.
fn copy<'d>(
    document: &'d mut DocumentMut,
    of: &str,
    base: &str,
    name: &str,
) -> Result<&'d mut dyn TableLike, Unamended> {
    let missing = || Unamended(format!("the file has no [{of}.{base}]"));
    let kinds = document.get_mut(of).and_then(Item::as_table_like_mut);
    let kinds = kinds.ok_or_else(missing)?;
    let mut item = kinds.get(base).ok_or_else(missing)?.clone();
    if let Some(table) = item.as_table_mut() {
        table.decor_mut().set_prefix("\n");
    }
    if let Some(table) = item.as_table_like_mut() {
        for (_, value) in table.iter_mut() {
            if let Some(value) = value.as_value_mut() {
                value.decor_mut().set_suffix("");
            }
        }
    }
    kinds.insert(name, item);
    table(document, of, name)
}

/// The kind that another was made of: the same but for its order, which its name ends in.
fn pixel_base<'f>(plan: &'f Floor, kind: &PixelKind) -> Result<&'f str, Unamended> {
    base(
        &kind.name,
        &kind.wire_order(),
        plan.pixel_kinds.iter().map(|k| k.name.as_str()),
    )
}

fn panel_base<'f>(plan: &'f Floor, found: &Floor, kind: &PanelKind) -> Result<&'f str, Unamended> {
    let order = found.pixel_kinds[kind.pixel_kind].wire_order();
    base(
        &kind.name,
        &order,
        plan.panel_kinds.iter().map(|k| k.name.as_str()),
    )
}

fn base<'f>(
    name: &str,
    order: &str,
    mut all: impl Iterator<Item = &'f str>,
) -> Result<&'f str, Unamended> {
    let stem = name
        .strip_suffix(order)
        .and_then(|stem| stem.strip_suffix('-'));
    let found = stem.and_then(|stem| {
        all.find(|known| *known == stem || (stem.chars().count() == 54 && known.starts_with(stem)))
    });
    found.ok_or_else(|| Unamended(format!("no kind is like \"{name}\"")))
}
