use super::*;
use crate::engine::snapshot::FloorLoadState;
use crate::power::series::{Archive, Ask};

fn state(uptime_s: f64, draw_a: f64) -> Arc<State> {
    let load = |name: &str, draw_a: f64| LoadState {
        name: name.into(),
        asked_a: 2.0 * draw_a,
        draw_a,
        limit_a: 10.0,
        scale: 0.5,
        mains_w: 230.0 * draw_a,
        ..LoadState::default()
    };
    Arc::new(State {
        uptime_s,
        circuits: vec![load("one", draw_a), load("two", draw_a)],
        feeds: vec![load("left", 12.0 * draw_a)],
        floor: FloorLoadState {
            scale: 1.0,
            ..FloorLoadState::default()
        },
        ..State::default()
    })
}

#[test]
fn the_floor_is_the_sum_of_its_circuits() {
    let mut sampler = Sampler::default();
    let readings = sampler.sample(&state(1.0, 1.5));
    let names: Vec<String> = readings.elements.iter().map(ToString::to_string).collect();
    assert_eq!(names, ["floor", "circuit:one", "circuit:two", "feed:left"]);
    let floor = readings.readings[0];
    assert!((floor.draw_a - 3.0).abs() < 1e-12 && (floor.mains_w - 690.0).abs() < 1e-9);
    assert_eq!(
        (floor.limit_a, floor.scale.to_bits()),
        (None, 0.5_f64.to_bits())
    );
    // The same names are the same list.
    let again = sampler.sample(&state(2.0, 1.5));
    assert!(Arc::ptr_eq(&readings.elements, &again.elements));
}

#[test]
fn the_limit_of_the_whole_floor_counts() {
    let sample = |asked_va, limit_va, scale| {
        let mut state = state(1.0, 1.5);
        let own = Arc::make_mut(&mut state);
        own.floor = FloorLoadState {
            asked_va,
            limit_va,
            scale,
            ..FloorLoadState::default()
        };
        own.circuits[0].scale = 1.0;
        own.circuits[1].scale = 1.0;
        own.feeds[0].scale = 1.0;
        Sampler::default().sample(&state).readings[0]
    };
    let down = sample(1_380.0, Some(690.0), 0.5);
    assert!(down.capped() && down.over(), "{down:?}");
    assert_eq!(down.limit_a, None);
    for open in [sample(690.0, Some(690.0), 1.0), sample(1_380.0, None, 1.0)] {
        assert!(!open.capped() && !open.over(), "{open:?}");
    }
}

#[tokio::test]
async fn a_thread_that_ended_is_said_and_counted() {
    let (sender, messages) = sync_channel(MOST_STEPS);
    drop(messages);
    let recorder = Recorder {
        common: Arc::new(Common::new(Place::Memory).unwrap()),
        sender,
        thread: std::thread::spawn(|| {}),
    };
    let archive = recorder.archive();
    let (states, seen) = watch::channel(state(0.5, 1.0));
    let (energy, mut told) = watch::channel(Arc::default());
    let task = tokio::spawn(recorder.record(seen, energy));
    for second in 1..=3_u8 {
        states.send_replace(state(f64::from(second), 1.0));
        told.wait_for(|energy: &Arc<Energy>| energy.until_s >= f64::from(second))
            .await
            .unwrap();
    }
    drop(states);
    task.await.unwrap();
    let recording = archive.recording();
    // Two steps of four elements: nothing comes of the first state.
    assert_eq!(recording.lost_rows, 8);
    assert_eq!(recording.trouble.as_deref(), Some(ENDED));
}

#[tokio::test]
async fn states_become_totals_and_rows() {
    let recorder = Recorder::start(Place::Memory).unwrap();
    let archive = recorder.archive();
    let (states, seen) = watch::channel(state(0.5, 1.0));
    let (energy, mut told) = watch::channel(Arc::default());
    let task = tokio::spawn(recorder.record(seen, energy));
    for second in 1..=11_u8 {
        states.send_replace(state(f64::from(second), 1.0));
        told.wait_for(|energy: &Arc<Energy>| energy.until_s >= f64::from(second))
            .await
            .unwrap();
    }
    let rows = told.borrow().rows.clone();
    assert_eq!(rows[0].element, Element::default());
    // Two circuits of 230 W for 10 s.
    assert!(
        (rows[0].total.sum.mains_ws - 4_600.0).abs() < 1e-6,
        "{rows:?}"
    );
    drop(states);
    task.await.unwrap();
    recorder.end();
    let ask = Ask {
        from: 0,
        to: i64::MAX / 4,
        points: 1,
        element: Some("feed:left".parse().unwrap()),
    };
    let series = archive.series(&ask).unwrap();
    let total = series.lines[0].total();
    assert!((total.draw_as - 120.0).abs() < 0.1, "{total:?}");
}
