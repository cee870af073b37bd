//! How families of figures are written.

use std::fmt::{self, Write as _};

use prometheus_client::encoding::{
    DescriptorEncoder, EncodeGaugeValue, EncodeLabelValue, LabelValueEncoder, NoLabelSet,
};
use prometheus_client::metrics::MetricType;
use prometheus_client::registry::Unit;

/// The value of a label. The library writes values as they are, so what the format wants escaped
/// ("escaped-string" of `OpenMetrics` 1.0.0) is escaped here: names come from the floor file.
#[derive(Debug, Clone, Copy)]
pub(super) struct Value<'a>(pub(super) &'a str);

impl EncodeLabelValue for Value<'_> {
    fn encode(&self, encoder: &mut LabelValueEncoder<'_>) -> fmt::Result {
        for character in self.0.chars() {
            match character {
                '\\' => encoder.write_str("\\\\")?,
                '"' => encoder.write_str("\\\"")?,
                '\n' => encoder.write_str("\\n")?,
                other => encoder.write_char(other)?,
            }
        }
        Ok(())
    }
}

/// Labels of one row.
pub(super) type Labels<'a, const N: usize> = [(&'static str, Value<'a>); N];

/// What is written, family by family.
pub(super) struct Families<'e>(pub(super) DescriptorEncoder<'e>);

impl Families<'_> {
    pub(super) fn gauges<'v, G: EncodeGaugeValue, const N: usize>(
        &mut self,
        name: &str,
        help: &str,
        unit: Option<&Unit>,
        rows: impl IntoIterator<Item = (Labels<'v, N>, G)>,
    ) -> fmt::Result {
        let encoder = &mut self.0;
        let mut metric = encoder.encode_descriptor(name, help, unit, MetricType::Gauge)?;
        for (labels, value) in rows {
            // Without labels there are no braces either.
            if N == 0 {
                metric.encode_gauge(&value)?;
            } else {
                metric.encode_family(&labels)?.encode_gauge(&value)?;
            }
        }
        Ok(())
    }

    pub(super) fn counters<'v, const N: usize>(
        &mut self,
        name: &str,
        help: &str,
        rows: impl IntoIterator<Item = (Labels<'v, N>, u64)>,
    ) -> fmt::Result {
        let encoder = &mut self.0;
        let mut metric = encoder.encode_descriptor(name, help, None, MetricType::Counter)?;
        for (labels, value) in rows {
            if N == 0 {
                metric.encode_counter::<NoLabelSet, _, u64>(&value, None)?;
            } else {
                let mut row = metric.encode_family(&labels)?;
                row.encode_counter::<NoLabelSet, _, u64>(&value, None)?;
            }
        }
        Ok(())
    }

    /// A gauge that has one value, or none now.
    pub(super) fn gauge<G: EncodeGaugeValue>(
        &mut self,
        name: &str,
        help: &str,
        unit: Option<&Unit>,
        value: Option<G>,
    ) -> fmt::Result {
        self.gauges::<G, 0>(name, help, unit, value.map(|value| ([], value)))
    }
}
