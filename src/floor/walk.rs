//! Walks a parsed TOML table by its schema.

use toml::de::{DeTable, DeValue};

use super::entry::Entry;
use super::fault::{Fault, Span};
use super::near::nearest;
use super::schema::Section;
use super::sink::{At, Sink, quoted};

/// A table whose keys are known.
#[derive(Debug)]
pub(super) struct Keys<'s> {
    sink: &'s Sink,
    table: &'s DeTable<'s>,
    /// How it is called in messages: `[grid]`.
    pub(super) called: String,
    /// Its header.
    pub(super) span: Span,
    section: &'static Section,
}

impl<'s> Keys<'s> {
    /// Opens a table; keys that the section does not know are faults.
    pub(super) fn open(
        sink: &'s Sink,
        table: &'s DeTable<'s>,
        span: Span,
        called: String,
        section: &'static Section,
    ) -> Self {
        for (key, _) in table {
            let word: &str = key.get_ref();
            if section.keys.iter().any(|(name, _)| *name == word) {
                continue;
            }
            if sink.is_full() {
                break;
            }
            let names = || section.keys.iter().map(|(name, _)| *name);
            let all = names().collect::<Vec<_>>().join(", ");
            let help = nearest(word, names()).map_or_else(
                || format!("keys of {called}: {all}"),
                |near| format!("did you mean `{near}`? Keys of {called}: {all}"),
            );
            let message = format!("{called} has no key {}", quoted(word));
            sink.add(Fault::new("unknown-key", &key.span(), message, help));
        }
        Self {
            sink,
            table,
            called,
            span,
            section,
        }
    }

    /// The key if it is there.
    pub(super) fn get(&self, key: &str) -> Option<Entry<'s>> {
        let value = self.table.get(key)?;
        let example = self.section.example(key);
        Some(Entry {
            sink: self.sink,
            value,
            called: format!("`{key}` of {}", self.called),
            example,
        })
    }

    /// The key; its absence is a fault.
    pub(super) fn need(&self, key: &str) -> Option<Entry<'s>> {
        let found = self.get(key);
        if found.is_none() {
            let message = format!("{} needs `{key}`", self.called);
            let help = format!("add it, for example `{}`", self.section.example(key));
            self.sink
                .add(Fault::new("missing-key", &self.span, message, help));
        }
        found
    }

    /// How a key is written.
    pub(super) fn example(&self, key: &str) -> &'static str {
        self.section.example(key)
    }

    /// Adds a fault.
    pub(super) fn fault(&self, fault: Fault) {
        self.sink.add(fault);
    }

    /// The sub-tables under `key` (`[pixel.strip12]`), each with its name, in the file's order.
    pub(super) fn named(
        &self,
        key: &str,
        section: &'static Section,
    ) -> Vec<(At<String>, Keys<'s>)> {
        let Some(entry) = self.get(key) else {
            return Vec::new();
        };
        let DeValue::Table(table) = entry.value.get_ref() else {
            entry.wrong_type(&format!("one table for each kind, written [{key}.NAME]"));
            return Vec::new();
        };
        let mut found = Vec::new();
        for (name, value) in table {
            let text = name.get_ref().to_string();
            let called = format!("[{key}.{}]", text.escape_debug());
            let example = self.section.example(key);
            let entry = Entry {
                sink: self.sink,
                value,
                called,
                example,
            };
            entry.name_is_sound(&text, &name.span());
            if let Some(mut keys) = entry.table(section) {
                // Points at the name also when the whole kind is written in one line.
                keys.span = name.span();
                found.push((
                    At {
                        value: text,
                        span: name.span(),
                    },
                    keys,
                ));
            }
        }
        found.sort_by_key(|(name, _)| name.span.start);
        found
    }

    /// The elements of an array of tables (`[[node]]`).
    pub(super) fn array(&self, key: &str, section: &'static Section) -> Vec<Keys<'s>> {
        let Some(entry) = self.get(key) else {
            return Vec::new();
        };
        let DeValue::Array(items) = entry.value.get_ref() else {
            entry.wrong_type(&format!("a list of tables, each written [[{key}]]"));
            return Vec::new();
        };
        let example = self.section.example(key);
        let items = items.iter().enumerate().filter_map(|(i, value)| {
            let name = value
                .get_ref()
                .get("name")
                .and_then(|name| name.as_ref().as_str());
            let called = match name {
                Some(name) => format!("[[{key}]] {}", quoted(name)),
                None => format!("[[{key}]] number {}", i + 1),
            };
            Entry {
                sink: self.sink,
                value,
                called,
                example,
            }
            .table(section)
        });
        items.collect()
    }
}

impl<'s> Entry<'s> {
    /// A table within, called by a name of its own.
    pub(super) fn table_called(&self, section: &'static Section, called: &str) -> Option<Keys<'s>> {
        Entry {
            called: called.to_owned(),
            ..*self
        }
        .table(section)
    }

    /// A table within.
    pub(super) fn table(&self, section: &'static Section) -> Option<Keys<'s>> {
        let DeValue::Table(table) = self.value.get_ref() else {
            self.wrong_type("a table");
            return None;
        };
        Some(Keys::open(
            self.sink,
            table,
            self.span(),
            self.called.clone(),
            section,
        ))
    }
}
