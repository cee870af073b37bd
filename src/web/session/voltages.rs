//! The voltages, for a client that wants them.

use std::sync::Arc;
use std::time::Duration;

use super::pace::Pace;
use super::{Ended, Session};

/// Time between two messages of voltages.
const VOLTAGES_EVERY: Duration = Duration::from_millis(400);

impl Session {
    /// The newest voltages, if they belong to this floor.
    pub(super) async fn send_voltages(&mut self) -> Result<(), Ended> {
        let Some(pace) = &mut self.voltages_pace else {
            return Ok(());
        };
        pace.sent();
        let newest = Arc::clone(&self.voltages.borrow_and_update());
        if newest.revision != self.revision {
            return Ok(());
        }
        let message = self.shared.messages.voltages(&newest, self.revision);
        self.send_bytes(message.map_err(Ended::Fault)?).await
    }

    /// The client wants voltages, or no more.
    pub(super) fn want_voltages(&mut self, wanted: bool) {
        if !wanted {
            self.voltages_pace = None;
        } else if self.voltages_pace.is_none() {
            self.voltages_pace = Some(Pace::new(VOLTAGES_EVERY));
        }
    }
}

#[cfg(test)]
mod tests {
    use tokio_tungstenite::tungstenite::Message;

    use super::super::super::testing::{Bench, state};
    use super::super::super::timers;
    use super::*;
    use crate::engine::voltages::Voltages;

    const STATE: u8 = 3;
    const VOLTAGES: u8 = 6;

    fn found(revision: u32) -> Arc<Voltages> {
        Arc::new(Voltages {
            revision,
            off_mv: 0.25,
            ..Voltages::default()
        })
    }

    #[tokio::test(start_paused = true)]
    async fn voltages_come_for_who_asks_at_their_pace_and_for_this_floor() {
        let bench = Bench::new();
        bench.voltages.send_replace(found(1));
        let mut client = bench.open(None).await.unwrap();
        client.next_of(STATE).await;
        bench.voltages.send_replace(found(1));
        bench.state.send_replace(state(1.0, 0.0));
        assert_eq!(client.next().await.unwrap()[0], STATE, "nobody asked");

        client
            .say(Message::text(r#"{"view":"none","voltages":true}"#))
            .await;
        let told = client.next_of(VOLTAGES).await;
        assert_eq!(told[..8], [VOLTAGES, 0, 0, 0, 1, 0, 0, 0]);
        let json: serde_json::Value = serde_json::from_slice(&told[8..]).unwrap();
        assert_eq!(json["off_mv"], 0.25);
        let start = timers::now();
        for _ in 0..5 {
            bench.voltages.send_replace(found(1));
            client.next_of(VOLTAGES).await;
        }
        // On made-up time.
        assert!((1_900..=2_010).contains(&start.elapsed().as_millis()));

        // Those of a floor that this client does not have yet are left out.
        bench.voltages.send_replace(found(2));
        bench.state.send_replace(state(2.0, 0.0));
        assert_eq!(client.next().await.unwrap()[0], STATE);
        client
            .say(Message::text(r#"{"view":"none","voltages":false}"#))
            .await;
        bench.state.send_replace(state(3.0, 0.0));
        client.next_of(STATE).await;
        bench.voltages.send_replace(found(1));
        bench.state.send_replace(state(4.0, 0.0));
        assert_eq!(client.next().await.unwrap()[0], STATE);
    }
}
