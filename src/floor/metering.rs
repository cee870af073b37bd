//! What measures the real current and voltage, as the file says it.

/// A sensor.
#[derive(Debug, Clone, PartialEq)]
pub struct Sensor {
    /// What its readings call it.
    pub name: String,
    /// What it measures at.
    pub of: Measured,
    /// What it measures.
    pub quantity: Quantity,
    /// How far measured and computed may be apart, in per cent.
    pub tolerance_percent: f64,
    /// How often it reports, in seconds.
    pub every_s: f64,
    /// Where it reports over MQTT, if it does.
    pub topic: Option<Topic>,
    /// What its numbers are multiplied with to be amperes or volts.
    pub factor: f64,
}

/// An MQTT topic with numbers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Topic {
    /// Its name.
    pub name: String,
    /// The number's field, if payloads are JSON objects with another than `value`.
    pub field: Option<String>,
}

/// Where a sensor sits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measured {
    /// Mains amperes or volts; index into [`Floor::circuits`](super::model::Floor::circuits).
    Circuit(usize),
    /// At the output; index into [`Floor::supplies`](super::model::Floor::supplies).
    Supply(usize),
    /// Behind the fuse; index into [`Floor::feeds`](super::model::Floor::feeds).
    Feed(usize),
    /// Index into [`Floor::panels`](super::model::Floor::panels).
    Panel(usize),
}

/// What a sensor measures.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Quantity {
    /// Amperes.
    #[default]
    Current,
    /// Volts.
    Voltage,
}

impl Quantity {
    /// Each with its word in the floor file.
    pub const ALL: [(&'static str, Self); 2] =
        [("current", Self::Current), ("voltage", Self::Voltage)];
}

/// The broker that sensors with a topic report to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mqtt {
    /// Name or address.
    pub host: String,
    /// TCP port.
    pub port: u16,
    /// Where alarms are published, if they are.
    pub alarms: Option<String>,
}
