//! Alarms that begin and end: written to the log, and posted to the address of the floor file.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde::Serialize;
use tokio::sync::watch;

use crate::engine::snapshot::{AlarmState, Severity, State};
use crate::net::webhook::{Caller, Post};
use crate::power::moment;
use crate::store::clock;
use crate::web::FloorView;

/// What is posted.
#[derive(Debug, Serialize)]
struct Told<'a> {
    event: &'static str,
    code: &'a str,
    severity: Severity,
    text: &'a str,
    element: &'a str,
    since: String,
    floor: &'a str,
}

/// Alarms that were there when last looked.
#[derive(Debug, Default)]
pub(super) struct Known(BTreeMap<(String, String), AlarmState>);

impl Known {
    /// What has begun and what has ended since: `true` and `false`.
    pub(super) fn compare(&self, alarms: &[AlarmState]) -> Vec<(bool, AlarmState)> {
        let now: BTreeMap<_, _> = alarms.iter().map(|alarm| (key(alarm), alarm)).collect();
        let begun = now.iter().filter(|(key, _)| !self.0.contains_key(*key));
        let ended = self.0.iter().filter(|(key, _)| !now.contains_key(*key));
        let begun = begun.map(|(_, alarm)| (true, (*alarm).clone()));
        let ended = ended.map(|(_, alarm)| (false, alarm.clone()));
        begun.chain(ended).collect()
    }

    /// Notes what was told, so that it is told once.
    pub(super) fn note(&mut self, begun: bool, alarm: AlarmState) {
        if begun {
            self.0.insert(key(&alarm), alarm);
        } else {
            self.0.remove(&key(&alarm));
        }
    }
}

/// An alarm that comes again so soon stands in the log only where that is to tell more. A picture that goes to
/// its limits with every bar raises the same ones all night, and who reads the log must find the others.
const QUIET_S: f64 = 600.0;

/// When each alarm was last in the log as a warning, by uptime.
#[derive(Debug, Default)]
struct Warned(BTreeMap<(String, String), f64>);

impl Warned {
    /// Whether this one is to be a warning, and notes that it is.
    fn may(&mut self, alarm: &AlarmState, uptime_s: f64) -> bool {
        self.0.retain(|_, at| uptime_s - *at < QUIET_S);
        let key = key(alarm);
        let may = !self.0.contains_key(&key);
        if may {
            self.0.insert(key, uptime_s);
        }
        may
    }
}

fn key(alarm: &AlarmState) -> (String, String) {
    (alarm.code.clone(), alarm.element.clone())
}

/// When an alarm of `state` began, in seconds since 1970.
fn since(state: &State, alarm: &AlarmState) -> i64 {
    #[expect(clippy::cast_possible_truncation, reason = "an uptime")]
    let ago_s = (state.uptime_s - alarm.since_s) as i64;
    clock::unix_ms() / 1_000 - ago_s
}

/// An alarm of `state` that has begun or ended, as the webhook and the broker get it.
pub(super) fn told(
    state: &State,
    alarm: &AlarmState,
    begun: bool,
    floor: &str,
) -> serde_json::Result<String> {
    body(alarm, begun, floor, since(state, alarm))
}

fn body(alarm: &AlarmState, begun: bool, floor: &str, since: i64) -> serde_json::Result<String> {
    serde_json::to_string(&Told {
        event: if begun { "raised" } else { "ended" },
        code: &alarm.code,
        severity: alarm.severity,
        text: &alarm.text,
        element: &alarm.element,
        since: moment::iso(since),
        floor,
    })
}

/// Follows the alarms of every state until there are no more states.
pub(super) async fn follow(
    mut states: watch::Receiver<Arc<State>>,
    floor: watch::Receiver<Arc<FloorView>>,
    caller: Caller,
) {
    let (mut known, mut warned) = (Known::default(), Warned::default());
    let mut full = false;
    while states.changed().await.is_ok() {
        let state = Arc::clone(&states.borrow_and_update());
        for (begun, alarm) in known.compare(&state.alarms) {
            known.note(begun, alarm.clone());
            let AlarmState { code, text, .. } = &alarm;
            if begun && warned.may(&alarm, state.uptime_s) {
                tracing::warn!(code, "alarm: {text}");
            } else if begun {
                tracing::info!(code, "alarm again: {text}");
            } else {
                tracing::info!(code, element = alarm.element, "the alarm has ended");
            }
            let view = Arc::clone(&floor.borrow());
            let Some(webhook) = &view.floor.alarm.webhook else {
                continue;
            };
            let Ok(body) = told(&state, &alarm, begun, &view.floor.name) else {
                continue;
            };
            let taken = caller.post(Post {
                address: webhook.as_str().to_owned(),
                shown: webhook.to_string(),
                body,
            });
            if !taken && !full {
                tracing::warn!(to = %webhook, "too many alarms wait to be posted: some are left out");
            }
            full = !taken;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn alarm(code: &str, element: &str, text: &str) -> AlarmState {
        AlarmState {
            code: code.into(),
            severity: Severity::Warning,
            text: text.into(),
            element: element.into(),
            since_s: 1.0,
        }
    }

    #[test]
    fn what_begins_and_ends_is_told_once() {
        let mut known = Known::default();
        let near = |text| alarm("near_limit", "feed:a", text);
        let mut told = |alarms: &[AlarmState]| -> Vec<(bool, String)> {
            let mut told = Vec::new();
            for (begun, alarm) in known.compare(alarms) {
                told.push((begun, alarm.element.clone()));
                known.note(begun, alarm);
            }
            told
        };
        assert_eq!(told(&[near("91 %")]), [(true, "feed:a".to_owned())]);
        assert_eq!(told(&[near("92 %")]), [], "only its text is another");
        let other = alarm("near_limit", "feed:b", "");
        assert_eq!(
            told(&[other]),
            [(true, "feed:b".to_owned()), (false, "feed:a".to_owned())]
        );
    }

    #[test]
    fn what_comes_again_within_ten_minutes_is_no_warning_again() {
        let mut warned = Warned::default();
        let (a, b) = (
            alarm("near_limit", "feed:a", ""),
            alarm("near_limit", "feed:b", ""),
        );
        assert!(warned.may(&a, 10.0) && warned.may(&b, 300.0));
        assert!(!warned.may(&a, 40.0) && !warned.may(&a, 609.0));
        assert!(
            warned.may(&alarm("capping_long", "feed:a", ""), 40.0),
            "another kind"
        );
        // From the warning on, not from when it last came: else what never rests would never be told again.
        assert!(warned.may(&a, 610.0) && !warned.may(&b, 611.0));
    }

    #[test]
    fn it_is_told_as_the_documents_say() {
        let text = "Feed left: 10.92 A drawn, 91 % of its limit of 12.00 A.";
        let alarm = alarm("near_limit", "feed:left", text);
        // 2026-06-20T21:14:03Z by `date -u -d … +%s`.
        let said = body(&alarm, true, "First floor", 1_781_990_043).unwrap();
        let said: serde_json::Value = serde_json::from_str(&said).unwrap();
        let page = include_str!("../../docs/floor-file.md");
        let (_, rest) = page.split_once("```json\n{\"event\"").unwrap();
        let (example, _) = rest.split_once("```").unwrap();
        let example: serde_json::Value =
            serde_json::from_str(&format!("{{\"event\"{example}")).unwrap();
        assert_eq!(said, example);
    }
}
