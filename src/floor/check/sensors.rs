//! Sensors: where each of them sits.

use super::super::draft::{Draft, SensorDraft, SensorPlace};
use super::super::fault::Fault;
use super::super::model::{Measured, Sensor};
use super::super::sink::Sink;
use super::grid::Laid;
use super::names::Links;

/// A sensor with a topic needs a broker.
pub(super) fn brokers(sink: &Sink, draft: &Draft) {
    if draft.mqtt.is_some() {
        return;
    }
    let mut with_topic = draft.sensors.iter().filter(|one| one.topic.is_some());
    if let Some(sensor) = with_topic.next() {
        let message = "a sensor has a `topic`, but the file names no broker";
        let help = "add a table [mqtt] with `broker`, or take `topic` out";
        sink.add(Fault::new("no-broker", &sensor.span, message, help));
    }
}

/// Where each of them sits; `None` where that is unknown and has been told.
pub(super) fn places(
    sink: &Sink,
    draft: &Draft,
    links: &Links,
    laid: &Laid,
) -> Vec<Option<Measured>> {
    let place = |(sensor, named): (&SensorDraft, &Option<Measured>)| {
        let Some(SensorPlace::Panel(position)) = &sensor.of else {
            return *named;
        };
        let found = laid.positions.iter().position(|at| *at == position.value);
        if found.is_none() {
            let message = format!("no panel lies at {}", position.value);
            let help = "write the position of a panel, for example `panel = \"A1\"`";
            sink.add(Fault::new("empty-position", &position.span, message, help));
        }
        found.map(Measured::Panel)
    };
    let sensors = draft.sensors.iter().zip(&links.sensor_of);
    sensors.map(place).collect()
}

/// The sensors of a draft in which nothing is wrong.
pub(super) fn build(draft: Vec<SensorDraft>, places: &[Option<Measured>]) -> Option<Vec<Sensor>> {
    let sensor = |(sensor, of): (SensorDraft, &Option<Measured>)| {
        Some(Sensor {
            name: sensor.name?.value,
            of: (*of)?,
            quantity: sensor.quantity,
            tolerance_percent: sensor.tolerance_percent,
            every_s: sensor.every_s,
            topic: sensor.topic,
            factor: sensor.factor,
        })
    };
    draft.into_iter().zip(places).map(sensor).collect()
}
