use super::*;

fn node(name: &str, online: bool) -> NodeState {
    NodeState {
        name: name.to_owned(),
        address: format!("at {name}"),
        online,
        last_reply_s: Some(1.0),
        ..NodeState::default()
    }
}

fn state(signal: SignalState, nodes: &[(&str, bool)]) -> State {
    State {
        uptime_s: 100.0,
        signal,
        nodes: nodes
            .iter()
            .map(|(name, online)| node(name, *online))
            .collect(),
        ..State::default()
    }
}

fn standby(change: impl FnOnce(&mut StandbyState)) -> State {
    let mut standby = StandbyState::of_a_second();
    change(&mut standby);
    State {
        standby: Some(standby),
        ..State::default()
    }
}

#[test]
fn the_signal_is_told_when_it_goes_and_when_it_comes_back() {
    let of = |before, now| told(&state(before, &[]), &state(now, &[]));
    assert_eq!(of(SignalState::Live, SignalState::Live), [""; 0]);
    let lost = ["the signal is lost: no universe of the floor arrives"];
    assert_eq!(of(SignalState::Live, SignalState::Lost), lost);
    let back = ["the signal is there again, all of it"];
    assert_eq!(of(SignalState::Lost, SignalState::Live), back);
    assert_eq!(
        of(SignalState::Waiting, SignalState::Live),
        ["the signal is there"]
    );
}

#[test]
fn nodes_are_told_when_they_fall_silent_and_when_they_come_back() {
    let of = |before: &[_], now: &[_]| {
        told(
            &state(SignalState::Live, before),
            &state(SignalState::Live, now),
        )
    };
    let both = [("west", true), ("east", true)];
    assert_eq!(of(&both, &both), [""; 0]);
    assert_eq!(
        of(&both, &[("west", false), ("east", true)]),
        ["node west: no longer answers polls"]
    );
    // As behind a switch that lost its power.
    let none = [("west", false), ("east", false)];
    assert_eq!(
        of(&both, &none),
        ["nodes west, east: no longer answer polls"]
    );
    assert_eq!(
        of(&[("west", false)], &[("west", true)]),
        ["node west: answers polls again"]
    );
    // One that the file has only now.
    assert_eq!(of(&[], &[("west", false)]), [""; 0]);
}

#[test]
fn a_node_that_answers_for_the_first_time_is_a_change_only_when_it_is_late() {
    let at = |uptime_s| {
        let mut before = state(SignalState::Live, &[("west", false)]);
        before.nodes[0].last_reply_s = None;
        let mut now = state(SignalState::Live, &[("west", true)]);
        now.uptime_s = uptime_s;
        told(&before, &now)
    };
    assert_eq!(at(3.0), [""; 0]);
    assert_eq!(at(60.0), ["node west: answers polls for the first time"]);
}

#[test]
fn the_lead_is_told_when_it_is_taken_and_given_back() {
    let waits = standby(|_| ());
    assert_eq!(told(&waits, &waits), [""; 0]);
    let leads = standby(|standby| {
        standby.duty = StandbyDuty::Leads;
        // A leader is given up for dead sooner than anybody calls it late.
        standby.peer_heard_s = Some(0.3);
    });
    assert_eq!(
        told(&waits, &leads),
        ["this litfloor leads now: the one at 10.0.0.2:6454 is not heard any more"]
    );
    let ended = standby(|standby| {
        standby.duty = StandbyDuty::Leads;
        standby.peer_duty = Some(StandbyDuty::Ended);
    });
    assert_eq!(
        told(&waits, &ended),
        ["this litfloor leads now: the one at 10.0.0.2:6454 was told to end"]
    );
    assert_eq!(
        told(&leads, &waits),
        ["this litfloor gave the lead back to the one at 10.0.0.2:6454, and stands by"]
    );
}

#[test]
fn the_other_litfloor_is_told_when_it_goes_and_when_its_beats_can_not_be_read() {
    let leads = |heard_s, deaf| {
        standby(move |standby| {
            standby.duty = StandbyDuty::Leads;
            standby.peer_heard_s = Some(heard_s);
            standby.deaf = deaf;
        })
    };
    let (there, gone, deaf) = (leads(0.1, false), leads(2.0, false), leads(2.0, true));
    assert_eq!(
        told(&there, &gone),
        ["nobody stands by any more: the litfloor at 10.0.0.2:6454 is not heard"]
    );
    assert_eq!(
        told(&gone, &there),
        ["the litfloor at 10.0.0.2:6454 is there"]
    );
    assert!(told(&gone, &deaf)[0].contains("its beats can't be read"));
    assert!(told(&deaf, &there)[0].contains("can be read again"));
    assert!(told(&deaf, &gone)[0].contains("does not answer polls either"));
    assert_eq!(told(&deaf, &deaf), [""; 0]);
}

#[test]
fn what_goes_to_and_fro_does_not_fill_the_log_and_is_told_when_it_rests() {
    let up = state(SignalState::Live, &[("west", true), ("east", true)]);
    let down = state(SignalState::Live, &[("west", false), ("east", true)]);
    let mut restraint = Restraint::default();
    let mut lines = Vec::new();
    for round in 0..200_u32 {
        let (before, now) = if round % 2 == 0 {
            (&up, &down)
        } else {
            (&down, &up)
        };
        lines.extend(restraint.lines(changes(before, now), f64::from(round) * 10.0));
    }
    assert_eq!(lines.len(), MOST + 1, "{lines:#?}");
    assert!(lines[MOST].starts_with("node west changes again and again"));
    // Another is told all the same.
    let east = state(SignalState::Live, &[("west", true), ("east", false)]);
    assert_eq!(
        restraint.lines(changes(&up, &east), 2_000.0),
        ["node east: no longer answers polls"]
    );
    // The last change was at 1,990 s.
    assert_eq!(restraint.lines(Vec::new(), 2_589.0), [""; 0]);
    assert_eq!(
        restraint.lines(Vec::new(), 2_590.0),
        ["for 600 s now: node west: answers polls again"]
    );
    assert_eq!(restraint.lines(Vec::new(), 3_000.0), [""; 0]);
    assert_eq!(
        restraint.lines(changes(&up, &down), 4_000.0),
        ["node west: no longer answers polls"]
    );
}
