//! One notice for all alarms of a kind.

use super::super::snapshot::{AlarmState, Notice, State};
use super::{names, notice};
use crate::power::alarm::Cause;

/// What several alarms of one code have in common; their names follow.
fn head(code: &str) -> &'static str {
    if code == Cause::CappingLong.code() {
        "The cap has dimmed these for long, so the picture asks for more than the floor may draw"
    } else if code == Cause::VoltageLow.code() {
        "Too little voltage at the end of these, now or a moment ago, computed from their cables"
    } else {
        "Near their limits, now or a moment ago"
    }
}

pub(super) fn all(state: &State) -> Vec<Notice> {
    let mut notices: Vec<Notice> = Vec::new();
    // Sensors have notices of their own, which say what to do.
    let told = [Cause::MeasuredApart.code(), Cause::SensorLost.code()];
    let alarms = state.alarms.iter();
    for alarm in alarms.filter(|alarm| !told.contains(&alarm.code.as_str())) {
        if notices.iter().any(|known| known.code == alarm.code) {
            continue;
        }
        let alike = || state.alarms.iter().filter(|other| other.code == alarm.code);
        let name = |alarm: &AlarmState| alarm.element.replacen(':', " ", 1);
        let text = if alike().count() == 1 {
            alarm.text.clone()
        } else {
            let all: Vec<String> = alike().map(name).collect();
            format!("{}: {}.", head(&alarm.code), names(&all))
        };
        notices.push(notice(&alarm.code, alarm.severity, text));
    }
    notices
}

#[cfg(test)]
mod tests {
    use super::super::super::snapshot::Severity;
    use super::*;

    #[test]
    fn alarms_of_one_kind_are_told_together() {
        let alarm = |code: &str, element: &str| AlarmState {
            code: code.into(),
            severity: Severity::Warning,
            text: format!("{element} alone."),
            element: element.into(),
            since_s: 1.0,
        };
        let state = State {
            alarms: vec![
                alarm("near_limit", "feed:a"),
                alarm("near_limit", "supply:b"),
                alarm("capping_long", "feed:a"),
            ],
            ..State::default()
        };
        let told: Vec<_> = all(&state)
            .into_iter()
            .map(|notice| (notice.code, notice.text))
            .collect();
        assert_eq!(
            told,
            [
                (
                    "near_limit".to_owned(),
                    "Near their limits, now or a moment ago: feed a, supply b.".to_owned()
                ),
                ("capping_long".to_owned(), "feed:a alone.".to_owned()),
            ]
        );
    }
}
