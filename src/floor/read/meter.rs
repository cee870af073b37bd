//! Sensors, and the broker that some of them report to.

use super::super::defaults;
use super::super::draft::{SensorDraft, SensorPlace};
use super::super::entry::Numbers;
use super::super::fault::Fault;
use super::super::model::{Mqtt, Quantity, Topic};
use super::super::walk::Keys;
use super::number_or;

/// The longest topic or field that will be taken, in characters.
const MOST_CHARACTERS: usize = 256;

/// Reads a `[[sensor]]`.
pub(super) fn sensor(keys: &Keys<'_>) -> SensorDraft {
    let topic = keys
        .get("topic")
        .and_then(|entry| entry.parsed("bad-topic", topic));
    if let (Some(field), None) = (keys.get("field"), keys.get("topic")) {
        let message = "`field` says nothing without `topic`";
        let help = "add `topic`, or take `field` out: readings over HTTP name their sensor";
        keys.fault(Fault::new("needless-key", &field.span(), message, help));
    }
    let field = keys.get("field").and_then(|entry| entry.name());
    SensorDraft {
        span: keys.span.clone(),
        name: keys.need("name").and_then(|entry| entry.name()),
        of: place(keys),
        quantity: keys
            .get("quantity")
            .and_then(|entry| entry.word(&Quantity::ALL))
            .map_or(Quantity::default(), |quantity| quantity.value),
        tolerance_percent: number_or(
            keys,
            "tolerance_percent",
            Numbers::Within(0.5, 50.0),
            defaults::TOLERANCE_PERCENT,
        ),
        every_s: number_or(
            keys,
            "every_s",
            Numbers::Within(0.1, 60.0),
            defaults::EVERY_S,
        ),
        topic: topic.map(|name| Topic {
            name: name.value,
            field: field.map(|field| field.value),
        }),
        factor: number_or(keys, "factor", Numbers::UpTo(1e6), defaults::FACTOR),
    }
}

/// The one thing that a sensor sits at.
fn place(keys: &Keys<'_>) -> Option<SensorPlace> {
    let places = ["circuit", "supply", "feed", "panel"].map(|key| (key, keys.get(key)));
    let given: Vec<_> = places
        .into_iter()
        .filter_map(|(key, entry)| Some((key, entry?)))
        .collect();
    let [(key, entry)] = given.as_slice() else {
        let message = format!(
            "{} needs exactly one of `circuit`, `supply`, `feed` and `panel`",
            keys.called
        );
        let help = "say where it measures, for example `supply = \"main\"`; two places need two \
                    sensors";
        keys.fault(Fault::new("one-of-four", &keys.span, message, help));
        return None;
    };
    Some(match *key {
        "circuit" => SensorPlace::Circuit(entry.name()?),
        "supply" => SensorPlace::Supply(entry.name()?),
        "feed" => SensorPlace::Feed(entry.name()?),
        _ => SensorPlace::Panel(entry.parsed("bad-position", str::parse)?),
    })
}

/// Reads `[mqtt]`.
pub(super) fn mqtt(keys: &Keys<'_>) -> Option<Mqtt> {
    let broker = keys
        .need("broker")
        .and_then(|entry| entry.parsed("bad-broker", broker));
    let alarms = keys
        .get("alarms")
        .and_then(|entry| entry.parsed("bad-topic", topic));
    let (host, port) = broker?.value;
    Some(Mqtt {
        host,
        port,
        alarms: alarms.map(|topic| topic.value),
    })
}

/// A topic that can be published to: no wildcards (MQTT 3.1.1, 4.7.1).
fn topic(text: &str) -> Result<String, &'static str> {
    let length = text.chars().count();
    let sound = (1..=MOST_CHARACTERS).contains(&length)
        && !text.chars().any(|c| c.is_control() || "#+".contains(c));
    sound.then(|| text.to_owned()).ok_or(
        "a topic has 1 to 256 characters, none of them `#` or `+`, for example floor/power/main",
    )
}

/// `HOST` or `HOST:PORT`; an IPv6 address stands in brackets.
fn broker(text: &str) -> Result<(String, u16), &'static str> {
    let wanted = "a broker is an address or a name, with a port if it is not 1883, for example \
                  192.168.10.5:1883";
    let end = text.rfind(']').map_or(0, |at| at + 1);
    let (host, port) = match text[end..].rfind(':') {
        None => (text, defaults::MQTT_PORT),
        Some(at) => {
            let (host, port) = text.split_at(end + at);
            (host, port[1..].parse().map_err(|_| wanted)?)
        }
    };
    let host = match host.strip_prefix('[') {
        Some(inner) => inner.strip_suffix(']').ok_or(wanted)?,
        None if host.contains(':') => return Err(wanted),
        None => host,
    };
    let sound = (1..=255).contains(&host.len())
        && host
            .chars()
            .all(|c| c.is_ascii_alphanumeric() || ".-_:".contains(c));
    if sound && port > 0 {
        Ok((host.to_owned(), port))
    } else {
        Err(wanted)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn brokers_are_read() {
        let is = |host: &str, port| Ok((host.to_owned(), port));
        assert_eq!(broker("10.0.0.5"), is("10.0.0.5", 1883));
        assert_eq!(broker("broker.local:1884"), is("broker.local", 1884));
        assert_eq!(broker("[fe80::1]:1883"), is("fe80::1", 1883));
        assert_eq!(broker("[fe80::1]"), is("fe80::1", 1883));
        for wrong in [
            "", ":1883", "h:", "h:0", "h:65536", "a b", "fe80::1", "u@h", "x://h", "[h",
        ] {
            assert!(broker(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn topics_have_no_wildcards() {
        assert_eq!(topic("a/b c/ü"), Ok("a/b c/ü".to_owned()));
        for wrong in ["", "a/#", "+/a", "a\0", &"x".repeat(257)] {
            assert!(topic(wrong).is_err(), "{wrong}");
        }
    }
}
