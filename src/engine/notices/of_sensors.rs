//! Sensors that can't be believed, and those that measure something else than is computed.

use super::super::snapshot::{Notice, SensorState, SensorVerdict, Severity};
use super::{names, notice};

/// At most one notice of each sort, with all sensors that it is about.
pub(super) fn all(sensors: &[SensorState]) -> Vec<Notice> {
    let mut notices = Vec::new();
    let of = |wanted: SensorVerdict, word: &dyn Fn(&SensorState) -> String| -> Vec<String> {
        let found = sensors.iter().filter(|sensor| sensor.state == wanted);
        found.map(word).collect()
    };
    let name = |sensor: &SensorState| format!("{} ({})", sensor.name, sensor.place);
    let untrusted = [
        (
            "sensor_silent",
            SensorVerdict::Silent,
            "Sensors say nothing",
            "Look at their power, their radio and the broker. Without them the computed currents \
             count, and what they made stricter stays so.",
        ),
        (
            "sensor_frozen",
            SensorVerdict::Frozen,
            "Sensors say the very same while the light changes",
            "They are not believed: switch them off and on, and see that they sit where the floor \
             file says.",
        ),
        (
            "sensor_absurd",
            SensorVerdict::Absurd,
            "Sensors say what can't be",
            "They are not believed: look at `factor`, at `field` and at their wires.",
        ),
    ];
    for (code, wanted, what, help) in untrusted {
        let found = of(wanted, &name);
        if !found.is_empty() {
            let text = format!("{what}: {}. {help}", names(&found));
            notices.push(notice(code, Severity::Warning, text));
        }
    }
    let numbers = |sensor: &SensorState| {
        let unit = if sensor.quantity == "current" {
            "A"
        } else {
            "V"
        };
        let number =
            |value: Option<f64>| value.map_or("?".to_owned(), |v| format!("{v:.2} {unit}"));
        format!(
            "{} {} instead of {} ({})",
            sensor.name,
            number(sensor.measured),
            number(sensor.expected),
            sensor.place
        )
    };
    let above = of(SensorVerdict::ApartAbove, &numbers);
    if !above.is_empty() {
        let text = format!(
            "More is measured than computed: {}. The cap goes by what is measured until both agree. \
             Look for a wrong `full_ma`, something else on that wire, or calibrate.",
            names(&above)
        );
        notices.push(notice("measured_apart", Severity::Warning, text));
    }
    let below = of(SensorVerdict::ApartBelow, &numbers);
    if !below.is_empty() {
        let text = format!(
            "Less is measured than computed: {}. That changes no limit. Look for dark panels, a \
             blown fuse or a voltage that is low.",
            names(&below)
        );
        notices.push(notice("measured_apart", Severity::Warning, text));
    }
    notices
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_state_has_its_code_and_names_its_sensors() {
        let sensor = |name: &str, state| SensorState {
            name: name.into(),
            place: "supply main".into(),
            quantity: "current".into(),
            state,
            measured: Some(6.0),
            expected: Some(5.0),
            ..SensorState::default()
        };
        let told = all(&[
            sensor("a", SensorVerdict::Good),
            sensor("b", SensorVerdict::Silent),
            sensor("c", SensorVerdict::Frozen),
            sensor("d", SensorVerdict::Absurd),
            sensor("e", SensorVerdict::ApartAbove),
            sensor("f", SensorVerdict::Silent),
            sensor("g", SensorVerdict::Waiting),
        ]);
        let codes: Vec<&str> = told.iter().map(|notice| notice.code.as_str()).collect();
        let wanted = [
            "sensor_silent",
            "sensor_frozen",
            "sensor_absurd",
            "measured_apart",
        ];
        assert_eq!(codes, wanted);
        assert!(told[0].text.contains("b (supply main), f (supply main)"));
        let numbers = "e 6.00 A instead of 5.00 A (supply main)";
        assert!(told[3].text.contains(numbers), "{}", told[3].text);
    }
}
