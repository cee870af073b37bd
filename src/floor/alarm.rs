//! When an alarm is raised, and whom it is told.

use std::fmt;

/// When an alarm is raised, and whom it is told.
#[derive(Debug, Clone, PartialEq)]
pub struct AlarmSettings {
    /// A draw of so many per cent of a limit is near.
    pub near_percent: f64,
    /// A cap that dims for so many seconds does so for long.
    pub capping_s: f64,
    /// Where alarms are posted to.
    pub webhook: Option<Webhook>,
}

/// Where alarms are posted to: an `http://` address.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Webhook(String);

impl Webhook {
    /// Reads an address.
    ///
    /// # Errors
    /// What it must be instead.
    pub fn read(text: &str) -> Result<Self, &'static str> {
        if text.starts_with("https://") {
            return Err(
                "litfloor speaks plain http here, without encryption: give an address that \
                        begins with http://, on a network that you trust",
            );
        }
        let Some(rest) = text.strip_prefix("http://") else {
            return Err("it must be an address like http://10.0.0.9:8000/alarms");
        };
        let host = rest.split(['/', '?', '#']).next().unwrap_or_default();
        let sound = text.len() <= 2_000
            && !host.is_empty()
            && !host.starts_with(':')
            && !host.contains('@')
            && text.chars().all(|c| c.is_ascii_graphic());
        if sound {
            Ok(Self(text.to_owned()))
        } else {
            Err(
                "it must be an address like http://10.0.0.9:8000/alarms, without blanks, user or \
                 password",
            )
        }
    }

    /// The whole address.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Its host and port: what may be shown and logged, for the rest may hold a secret.
    pub fn host(&self) -> &str {
        let rest = self.0.strip_prefix("http://").unwrap_or(&self.0);
        rest.split(['/', '?', '#']).next().unwrap_or_default()
    }
}

impl fmt::Display for Webhook {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "http://{}", self.host())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_plain_http_is_taken_and_its_path_is_kept_private() {
        let good = Webhook::read("http://10.0.0.9:8000/alarms?key=abc").unwrap();
        assert_eq!(good.as_str(), "http://10.0.0.9:8000/alarms?key=abc");
        assert_eq!(good.to_string(), "http://10.0.0.9:8000");
        for text in [
            "",
            "10.0.0.9",
            "ftp://a/",
            "http://",
            "http:///x",
            "http://:80/",
            "http://a b/",
            "http://me:secret@a/",
            "http://ä/",
        ] {
            assert!(Webhook::read(text).is_err(), "{text}");
        }
        assert!(
            Webhook::read("https://a/")
                .unwrap_err()
                .contains("plain http")
        );
    }
}
