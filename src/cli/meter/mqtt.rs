//! Sensors that report over MQTT, and warnings that are published there.
//!
//! The broker may go away and come back; frames never wait for it.

use std::collections::BTreeMap;
use std::env;
use std::sync::Arc;
use std::time::Duration;

use rumqttc::{AsyncClient, Event, MqttOptions, Packet, QoS};
use tokio::time::sleep;

use super::super::alarms::{Known, told};
use crate::engine::command::Command;
use crate::floor::Floor;
use crate::floor::model::{Mqtt, Sensor};
use crate::web::Source;

/// The environment variables that say who litfloor is at the broker.
const USER: &str = "LITFLOOR_MQTT_USER";
const PASSWORD: &str = "LITFLOOR_MQTT_PASSWORD";

/// Pause before the first try to connect again, and the longest; it doubles in between.
const FIRST_PAUSE: Duration = Duration::from_millis(500);
const LONGEST_PAUSE: Duration = Duration::from_secs(30);

/// Pings to a broker that is silent.
const KEEP_ALIVE: Duration = Duration::from_secs(15);

/// Bytes of a message, at most.
const LARGEST: usize = 64 * 1_024;

/// Whether two floors want the same of the broker.
fn same(a: &Floor, b: &Floor) -> bool {
    a.mqtt == b.mqtt && a.sensors == b.sensors
}

/// Follows the broker of the floor that runs, until the data plane ends.
pub(super) async fn follow(source: Source) {
    let mut view = source.floor.clone();
    loop {
        let floor = Arc::clone(&view.borrow_and_update().floor);
        let talk = async {
            match &floor.mqtt {
                Some(broker) => talk(broker, &floor, &source).await,
                None => std::future::pending().await,
            }
        };
        let replaced = async {
            loop {
                if view.changed().await.is_err() {
                    std::future::pending::<()>().await;
                }
                if !same(&view.borrow_and_update().floor, &floor) {
                    return;
                }
            }
        };
        tokio::select! {
            () = talk => return,
            () = replaced => {}
        }
    }
}

fn options(broker: &Mqtt) -> MqttOptions {
    let id = format!("litfloor-{}", std::process::id());
    let mut options = MqttOptions::new(id, &broker.host, broker.port);
    options.set_keep_alive(KEEP_ALIVE);
    options.set_max_packet_size(LARGEST, LARGEST);
    let said = |name| env::var(name).ok().filter(|value| !value.is_empty());
    if let Some(user) = said(USER) {
        options.set_credentials(user, said(PASSWORD).unwrap_or_default());
    }
    options
}

/// Connects, subscribes and takes readings, again and again.
async fn talk(broker: &Mqtt, floor: &Floor, source: &Source) {
    let mut topics: BTreeMap<&str, Vec<&Sensor>> = BTreeMap::new();
    for sensor in &floor.sensors {
        if let Some(topic) = &sensor.topic {
            topics.entry(&topic.name).or_default().push(sensor);
        }
    }
    let mut pause = FIRST_PAUSE;
    let mut told = false;
    // As many requests as there are topics fit, so that nothing here waits for room.
    let (client, mut events) = AsyncClient::new(options(broker), topics.len() + 10);
    let publish = publish(
        client.clone(),
        broker.alarms.as_deref(),
        &floor.name,
        source,
    );
    let listen = async {
        loop {
            match events.poll().await {
                Ok(Event::Incoming(Packet::ConnAck(_))) => {
                    tracing::info!(
                        host = broker.host,
                        port = broker.port,
                        "connected to the broker"
                    );
                    (pause, told) = (FIRST_PAUSE, false);
                    for topic in topics.keys() {
                        // A session that is clean has no subscriptions of before.
                        if let Err(error) = client.try_subscribe(*topic, QoS::AtMostOnce) {
                            tracing::warn!(%error, topic, "the topic can't be subscribed to");
                        }
                    }
                }
                Ok(Event::Incoming(Packet::Publish(message))) => {
                    // What was retained may be hours old: it is no reading.
                    let sensors = topics
                        .get(message.topic.as_str())
                        .filter(|_| !message.retain);
                    let sensors = sensors.into_iter().flatten();
                    let readings = sensors.map(|sensor| reading(sensor, &message.payload));
                    let readings: Vec<_> = readings.collect();
                    if !readings.is_empty() {
                        let taken = source.command(Command::Readings(readings)).await;
                        if let Err(why) = taken {
                            tracing::debug!(%why, "a reading was not taken");
                        }
                    }
                }
                Ok(_) => {}
                Err(error) => {
                    if !told {
                        told = true;
                        tracing::warn!(
                            host = broker.host, port = broker.port, %error,
                            "the broker does not answer; litfloor goes on trying"
                        );
                    }
                    sleep(pause).await;
                    pause = (pause * 2).min(LONGEST_PAUSE);
                }
            }
        }
    };
    tokio::select! {
        () = listen => {}
        () = publish => {}
    }
}

/// Publishes each alarm when it begins and when it ends. What can't be sent, because the broker is
/// away, is told again by the next state.
async fn publish(client: AsyncClient, topic: Option<&str>, floor: &str, source: &Source) {
    let Some(topic) = topic else {
        return std::future::pending().await;
    };
    let mut states = source.state.clone();
    let mut known = Known::default();
    loop {
        let state = Arc::clone(&states.borrow_and_update());
        for (begun, alarm) in known.compare(&state.alarms) {
            let Ok(body) = told(&state, &alarm, begun, floor) else {
                continue;
            };
            let sent = client.try_publish(topic, QoS::AtLeastOnce, false, body);
            if sent.is_ok() {
                known.note(begun, alarm);
            }
        }
        if states.changed().await.is_err() {
            return;
        }
    }
}

/// What a payload says of one sensor. What is no number is told as absurd.
pub(super) fn reading(sensor: &Sensor, payload: &[u8]) -> (String, f64) {
    let topic = sensor.topic.as_ref();
    let field = topic.and_then(|topic| topic.field.as_deref());
    let value = number(payload, field).unwrap_or(f64::NAN);
    (sensor.name.clone(), value * sensor.factor)
}

/// The number of a payload: alone, or in a field of a JSON object.
fn number(payload: &[u8], field: Option<&str>) -> Option<f64> {
    let text = std::str::from_utf8(payload).ok()?.trim();
    if field.is_none()
        && let Ok(number) = text.parse()
    {
        return Some(number);
    }
    let object: serde_json::Value = serde_json::from_str(text).ok()?;
    let value = object.get(field.unwrap_or("value"))?;
    value
        .as_f64()
        .or_else(|| value.as_str().and_then(|text| text.trim().parse().ok()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn payloads_are_numbers_or_objects_with_one() {
        let read = |payload: &str, field| number(payload.as_bytes(), field);
        assert_eq!(read("12.5", None), Some(12.5));
        assert_eq!(read(" -3e2\n", None), Some(-300.0));
        assert_eq!(read("{\"value\": 4}", None), Some(4.0));
        assert_eq!(
            read("{\"amps\": \"4.5\", \"value\": 1}", Some("amps")),
            Some(4.5)
        );
        for wrong in [
            "",
            "on",
            "{}",
            "[1]",
            "{\"value\": null}",
            "{\"value\": {}}",
        ] {
            assert_eq!(read(wrong, None), None, "{wrong}");
        }
        assert_eq!(read("5", Some("amps")), None);
        assert_eq!(number(b"\xff", None), None);
    }
}
