//! States and pictures that are made up.

use std::sync::Arc;

use crate::engine::snapshot::{
    AlarmState, ArrivalState, CalibrationOutcome, CalibrationState, FloorLoadState, Levels,
    LoadState, NodePort, NodeState, Notice, PanelState, PatternState, PeakState, SensorCalibration,
    SensorState, SensorVerdict, Severity, SignalState, SourceState, State, Stranger, UniverseState,
};

/// A state with names and one value everywhere; asked is twice the draw.
pub(in super::super) fn state(uptime_s: f64, draw_a: f64) -> Arc<State> {
    let load = |name: &str| LoadState {
        name: name.into(),
        asked_a: 2.0 * draw_a,
        draw_a,
        ..LoadState::default()
    };
    Arc::new(State {
        revision: 1,
        uptime_s,
        circuits: vec![load("mains")],
        supplies: vec![load("S1")],
        feeds: vec![load("F1"), load("F2")],
        ..State::default()
    })
}

/// What may be limited, with something in every choice.
fn limit(full: &mut State) {
    full.floor = FloorLoadState {
        limit_va: Some(3_000.0),
        live_limit_va: Some(3_000.0),
        ..FloorLoadState::default()
    };
    full.supplies[0].level_a = Some(1.5);
    full.supplies[0].peak = Some(PeakState::default());
}

/// A state with something in every list, and with both of every choice.
pub(in super::super) fn full_state() -> Arc<State> {
    let mut full = State::clone(&state(12.5, 3.0));
    full.signal = SignalState::Partial;
    full.frames_refused.insert("sequence".into(), 3);
    full.datagrams.insert("taken".into(), 7);
    let source = SourceState {
        address: "10.0.0.5".into(),
        physical: 1,
        age_s: 0.1,
        ignored: false,
    };
    let universe = UniverseState {
        port_address: "0:0:1".into(),
        fps: 43.9,
        age_s: Some(0.02),
        sources: vec![source],
        slots: 24,
        mapped: true,
        merging: false,
        synced: false,
        lost: false,
        arrival: ArrivalState {
            cut_off: vec!["A1".into()],
            missing_frames: Some(2),
            offset_slots: Some(-3),
            ..ArrivalState::default()
        },
    };
    let silent = UniverseState {
        age_s: None,
        sources: Vec::new(),
        arrival: ArrivalState::default(),
        ..universe.clone()
    };
    full.universes = vec![universe, silent];
    measure(&mut full);
    full.pattern = Some(PatternState {
        starts_in_s: 0.25,
        kind: "panel".into(),
        what: "Panel A1 alone, white at 50 %".into(),
        lit: vec!["A1".into()],
        lit_panels: 1,
        covered_panels: 3,
        covers_all: true,
        step: None,
        steps: None,
        held: false,
        ends_with_owner: false,
        since_s: 1.25,
        ends_in_s: 298.75,
    });
    limit(&mut full);
    full.nodes = vec![NodeState {
        last_send_error_s: None,
        name: "north".into(),
        address: "127.0.0.21:6454".into(),
        online: true,
        last_reply_s: None,
        short_name: "n".into(),
        long_name: "north".into(),
        firmware: "1.0".into(),
        report: "#0001".into(),
        ports: vec![NodePort {
            direction: "output".into(),
            port_address: "0:0:1".into(),
            active: true,
            short_circuit: false,
        }],
        sends: vec!["0:0:1".into()],
        not_listed: Vec::new(),
        frames_out: 9,
        send_errors: 1,
    }];
    full.strangers = vec![Stranger {
        address: "10.0.0.9".into(),
        short_name: "other".into(),
        last_reply_s: 1.0,
    }];
    let panel = PanelState {
        impossible: false,
        position: "A1".into(),
        asked_a: 1.0,
        draw_a: 0.5,
        limit_a: Some(1.6),
        scale: 0.5,
        segments_a: vec![0.4, 0.1],
        pressed: vec![2],
        switches_known: true,
    };
    let free = PanelState {
        impossible: false,
        position: "B1".into(),
        limit_a: None,
        ..panel.clone()
    };
    full.panels = vec![panel, free];
    tell(&mut full);
    Arc::new(full)
}

/// One alarm and one notice.
fn tell(full: &mut State) {
    full.alarms = vec![AlarmState {
        code: "near_limit".into(),
        severity: Severity::Warning,
        text: "Near.".into(),
        element: "feed:F1".into(),
        since_s: 3.0,
    }];
    full.notices = vec![Notice {
        code: "signal_lost".into(),
        severity: Severity::Warning,
        text: "No signal.".into(),
    }];
}

/// A picture of the test floor's ten pixels: all slots `value` as sent, `value` + 1 as asked.
pub(in super::super) fn levels(frame: u32, value: u8) -> Arc<Levels> {
    Arc::new(Levels {
        revision: 1,
        frame,
        uptime_ms: 40 * frame,
        channels: 3,
        sent: vec![value; 30],
        asked: vec![value + 1; 30],
    })
}

/// A sensor in full, and a calibration run.
fn measure(full: &mut State) {
    full.sensors = vec![SensorState {
        name: "main clamp".into(),
        place: "supply S1".into(),
        quantity: "current".into(),
        state: SensorVerdict::ApartAbove,
        measured: Some(5.4),
        computed: Some(4.6),
        expected: Some(4.7),
        difference_percent: Some(14.9),
        tolerance_percent: 5.0,
        age_s: Some(0.4),
        live_limit_a: Some(34.8),
        stricter: true,
        calibration: Some(SensorCalibration {
            idle_a: 0.1,
            gains: [("red".to_owned(), 1.02)].into(),
            residual_a: 0.03,
            above_a: 0.02,
        }),
    }];
    full.calibration = CalibrationState {
        running: true,
        step: 3,
        steps: 9,
        ends_in_s: 30.5,
        ended: 1,
        outcomes: vec![CalibrationOutcome {
            sensor: "main clamp".into(),
            refused: Some("it was silent during the run".into()),
        }],
    };
}
