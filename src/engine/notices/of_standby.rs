//! Who leads, and what keeps the other one from it.

use super::super::snapshot::{Notice, Severity, StandbyDuty, StandbyRole, StandbyState, State};
use super::notice;

/// All that there is to say.
pub(super) fn all(state: &State) -> Vec<Notice> {
    let Some(standby) = &state.standby else {
        return Vec::new();
    };
    let mut notices = vec![of_duty(standby)];
    let there = standby.is_heard();
    if standby.deaf {
        let text = format!(
            "The litfloor at {} answers polls, but its beats can't be read: give both the same \
             LITFLOOR_STANDBY_KEY and the same [standby], and start them again.",
            standby.peer
        );
        notices.push(notice("standby_deaf", Severity::Warning, text));
    } else if !there && standby.duty == StandbyDuty::Leads {
        let text = format!(
            "Nobody stands by: the litfloor at {} is not heard. Look at that machine, and at the \
             network between.",
            standby.peer
        );
        notices.push(notice("standby_missing", Severity::Warning, text));
    }
    if there && standby.same_file == Some(false) {
        let text = format!(
            "The litfloor at {} has another floor file: copy the right one to both and read it again \
             there, or the floor changes when the lead does.",
            standby.peer
        );
        notices.push(notice("standby_other_file", Severity::Warning, text));
    }
    if standby.duty == StandbyDuty::StandsBy && state.signal.is_dark() {
        let text = "This litfloor stands by but hears no picture: let the console send to both, by \
                    broadcast or to two addresses, or the floor goes dark when this one has to lead.";
        notices.push(notice(
            "standby_no_picture",
            Severity::Warning,
            text.to_owned(),
        ));
    }
    let waits = there && standby.peer_duty == Some(StandbyDuty::StandsBy);
    if waits && standby.peer_hears_picture == Some(false) && !state.signal.is_dark() {
        let text = format!(
            "The litfloor at {} stands by but hears no picture: let the console send to both, by broadcast \
             or to two addresses, or the floor goes dark when that one has to lead.",
            standby.peer
        );
        notices.push(notice("standby_no_picture_there", Severity::Warning, text));
    }
    notices
}

fn of_duty(standby: &StandbyState) -> Notice {
    let peer = &standby.peer;
    match (standby.duty, standby.role) {
        (StandbyDuty::Leads, StandbyRole::Second) => {
            let text = format!(
                "This litfloor, the second, leads: the first at {peer} does not. It is given back \
                 when that has been well for ten seconds."
            );
            notice("standby_leads", Severity::Warning, text)
        }
        (StandbyDuty::Leads, StandbyRole::First) => {
            let text = format!("This litfloor leads; the one at {peer} is to stand by.");
            notice("standby_leads", Severity::Info, text)
        }
        (StandbyDuty::Listens, _) => {
            let text = format!("This litfloor listens whether the one at {peer} leads.");
            notice("standby_listens", Severity::Info, text)
        }
        _ => {
            let text = format!(
                "This litfloor stands by and sends nothing to the nodes; the one at {peer} leads. What \
                 this page shows as sent does not leave while this one stands by."
            );
            notice("standby_waits", Severity::Info, text)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::snapshot::SignalState;
    use super::*;

    fn told(change: impl FnOnce(&mut StandbyState, &mut SignalState)) -> Vec<(String, Severity)> {
        let mut standby = StandbyState::of_a_second();
        let mut signal = SignalState::Live;
        change(&mut standby, &mut signal);
        let state = State {
            signal,
            standby: Some(standby),
            ..State::default()
        };
        let notices = all(&state);
        notices
            .into_iter()
            .map(|notice| (notice.code, notice.severity))
            .collect()
    }

    #[test]
    fn all_is_well_while_the_first_leads_and_the_second_hears_it() {
        let waits = ("standby_waits".to_owned(), Severity::Info);
        assert_eq!(told(|_, _| ()), [waits]);
        assert_eq!(
            all(&State::default()),
            [],
            "nobody stands by for a floor without [standby]"
        );
    }

    #[test]
    fn what_needs_somebody_is_a_warning() {
        let codes = |told: Vec<(String, Severity)>| -> Vec<String> {
            let warned = told
                .into_iter()
                .filter(|(_, severity)| *severity == Severity::Warning);
            warned.map(|(code, _)| code).collect()
        };
        let leads = |standby: &mut StandbyState, _: &mut SignalState| {
            standby.duty = StandbyDuty::Leads;
            standby.peer_heard_s = Some(3.0);
        };
        assert_eq!(codes(told(leads)), ["standby_leads", "standby_missing"]);
        assert_eq!(
            codes(told(|standby, _| standby.deaf = true)),
            ["standby_deaf"]
        );
        let other =
            |standby: &mut StandbyState, _: &mut SignalState| standby.same_file = Some(false);
        assert_eq!(codes(told(other)), ["standby_other_file"]);
        let silent =
            |_: &mut StandbyState, signal: &mut SignalState| *signal = SignalState::Waiting;
        assert_eq!(codes(told(silent)), ["standby_no_picture"]);
        let silent_there = |standby: &mut StandbyState, _: &mut SignalState| {
            standby.duty = StandbyDuty::Leads;
            standby.peer_duty = Some(StandbyDuty::StandsBy);
            standby.peer_hears_picture = Some(false);
        };
        assert!(codes(told(silent_there)).contains(&"standby_no_picture_there".to_owned()));
    }
}
