//! One value of a parsed TOML table, taken as what it should be.

use std::ops::RangeInclusive;

use toml::Spanned;
use toml::de::DeValue;

use super::fault::{Fault, Span};
use super::near::nearest;
use super::sink::{At, Sink, quoted};

/// Which numbers are right.
#[derive(Debug, Clone, Copy)]
pub(super) enum Numbers {
    /// From the one to the other.
    Within(f64, f64),
    /// More than 0, at most this.
    UpTo(f64),
}

/// The value of one key, or one element of a list.
#[derive(Debug)]
pub(super) struct Entry<'s> {
    pub(super) sink: &'s Sink,
    pub(super) value: &'s Spanned<DeValue<'s>>,
    pub(super) called: String,
    pub(super) example: &'static str,
}

impl<'s> Entry<'s> {
    /// Where the value is written.
    pub(super) fn span(&self) -> Span {
        self.value.span()
    }

    /// Adds a fault.
    pub(super) fn fault(&self, fault: Fault) {
        self.sink.add(fault);
    }

    fn at<T>(&self, value: T) -> At<T> {
        At {
            value,
            span: self.span(),
        }
    }

    pub(super) fn wrong_type(&self, wanted: &str) {
        let is = match self.value.get_ref() {
            DeValue::String(_) => "a text",
            DeValue::Integer(_) => "a whole number",
            DeValue::Float(_) => "a number with a point",
            DeValue::Boolean(_) => "true or false",
            DeValue::Datetime(_) => "a date or time",
            DeValue::Array(_) => "a list",
            DeValue::Table(_) => "a table",
        };
        let message = format!("{} must be {wanted}, but it is {is}", self.called);
        self.sink
            .add(Fault::new("wrong-type", &self.span(), message, self.like()));
    }

    fn like(&self) -> String {
        format!("write it like `{}`", self.example)
    }

    fn out_of_range(&self, range: &str) {
        let message = format!("{} is out of range", self.called);
        let help = format!("it must be {range}");
        self.sink
            .add(Fault::new("out-of-range", &self.span(), message, help));
    }

    /// A text, not empty.
    pub(super) fn text(&self) -> Option<At<String>> {
        if let DeValue::String(text) = self.value.get_ref() {
            return Some(self.at(text.to_string()));
        }
        self.wrong_type("a text in quotes");
        None
    }

    /// A text that serves as a name.
    pub(super) fn name(&self) -> Option<At<String>> {
        let text = self.text()?;
        self.name_is_sound(&text.value, &text.span).then_some(text)
    }

    pub(super) fn name_is_sound(&self, text: &str, span: &Span) -> bool {
        let length = text.chars().count();
        let sound = (1..=64).contains(&length) && !text.chars().any(char::is_control);
        if !sound {
            let message = format!("{} is not a name that can be shown", self.called);
            let help = "a name has 1 to 64 characters and no control characters";
            self.sink.add(Fault::new("bad-name", span, message, help));
        }
        sound
    }

    /// A text that `read` takes; what it takes is said by its error.
    pub(super) fn parsed<T, E: std::fmt::Display>(
        &self,
        code: &'static str,
        read: impl FnOnce(&str) -> Result<T, E>,
    ) -> Option<At<T>> {
        let text = self.text()?;
        match read(&text.value) {
            Ok(value) => Some(self.at(value)),
            Err(wanted) => {
                let message = format!("{} can't be {}", self.called, quoted(&text.value));
                self.sink
                    .add(Fault::new(code, &text.span, message, wanted.to_string()));
                None
            }
        }
    }

    /// One of a few words.
    pub(super) fn word<T: Copy>(&self, choices: &[(&'static str, T)]) -> Option<At<T>> {
        let text = self.text()?;
        if let Some((_, value)) = choices.iter().find(|(word, _)| *word == text.value) {
            return Some(self.at(*value));
        }
        let words = || choices.iter().map(|(word, _)| *word);
        let all = words().map(quoted).collect::<Vec<_>>().join(" or ");
        let help = match nearest(&text.value, words()) {
            Some(near) => format!("did you mean {}? It must be {all}", quoted(near)),
            None => format!("it must be {all}"),
        };
        let message = format!("{} can't be {}", self.called, quoted(&text.value));
        self.sink
            .add(Fault::new("unknown-word", &text.span, message, help));
        None
    }

    /// A whole number in a range.
    pub(super) fn whole<T: TryFrom<i64>>(&self, range: &RangeInclusive<i64>) -> Option<At<T>> {
        let DeValue::Integer(number) = self.value.get_ref() else {
            self.wrong_type("a whole number");
            return None;
        };
        let number = i64::from_str_radix(number.as_str(), number.radix()).ok();
        let number = number
            .filter(|n| range.contains(n))
            .and_then(|n| T::try_from(n).ok());
        if number.is_none() {
            self.out_of_range(&format!(
                "a whole number from {} to {}",
                range.start(),
                range.end()
            ));
        }
        number.map(|number| self.at(number))
    }

    /// A number, with or without a point.
    pub(super) fn number(&self, range: Numbers) -> Option<At<f64>> {
        #[expect(
            clippy::cast_precision_loss,
            reason = "the ranges are far smaller than 2^53"
        )]
        let number = match self.value.get_ref() {
            DeValue::Integer(n) => {
                i64::from_str_radix(n.as_str(), n.radix()).map_or(f64::INFINITY, |n| n as f64)
            }
            DeValue::Float(n) => n.as_str().parse().unwrap_or(f64::NAN),
            _ => {
                self.wrong_type("a number");
                return None;
            }
        };
        let (sound, wanted) = match range {
            Numbers::Within(low, high) => (
                (low..=high).contains(&number),
                format!("from {low} to {high}"),
            ),
            Numbers::UpTo(high) => (
                number > 0.0 && number <= high,
                format!("more than 0 and at most {high}"),
            ),
        };
        if sound {
            return Some(self.at(number));
        }
        self.out_of_range(&wanted);
        None
    }

    /// `true` or `false`.
    pub(super) fn flag(&self) -> Option<bool> {
        let flag = self.value.get_ref().as_bool();
        if flag.is_none() {
            self.wrong_type("true or false, without quotes");
        }
        flag
    }

    /// The elements of a list.
    pub(super) fn list(&self) -> Option<Vec<Entry<'s>>> {
        let DeValue::Array(items) = self.value.get_ref() else {
            self.wrong_type("a list in brackets");
            return None;
        };
        let element = |(i, value)| Entry {
            sink: self.sink,
            value,
            called: format!("element {} in {}", i + 1, self.called),
            example: self.example,
        };
        Some(items.iter().enumerate().map(element).collect())
    }

    /// Two numbers in a list.
    pub(super) fn pair(&self, range: Numbers) -> Option<At<[f64; 2]>> {
        let items = self.list()?;
        let [first, second] = items.as_slice() else {
            let message = format!(
                "{} must be two numbers, but there are {}",
                self.called,
                items.len()
            );
            let mut help = self.like();
            if items.len() > 2 {
                help += "; decimals have a point, not a comma";
            }
            self.sink
                .add(Fault::new("wrong-count", &self.span(), message, help));
            return None;
        };
        let (first, second) = (first.number(range), second.number(range));
        Some(self.at([first?.value, second?.value]))
    }

    /// Whether it is a list.
    pub(super) fn is_list(&self) -> bool {
        matches!(self.value.get_ref(), DeValue::Array(_))
    }

    /// Whether it is a table.
    pub(super) fn is_table(&self) -> bool {
        matches!(self.value.get_ref(), DeValue::Table(_))
    }
}
