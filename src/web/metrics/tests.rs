//! What stands on the page, beside the state that it is made of.

use axum::http::StatusCode;

use super::super::crowd::Stage;
use super::super::place::Place;
use super::super::testing::{Bench, ask, full_state};
use super::*;

async fn page(bench: &Bench) -> String {
    let answer = ask(&bench.router, "/metrics", &[]).await;
    assert_eq!(answer.status, StatusCode::OK);
    assert_eq!(answer.headers["content-type"], TYPE);
    String::from_utf8(answer.body.to_vec()).unwrap()
}

fn has(page: &str, line: &str) {
    let found = page.lines().filter(|found| *found == line).count();
    assert_eq!(found, 1, "{line} in\n{page}");
}

#[tokio::test(start_paused = true)]
async fn figures_are_those_of_the_state() {
    let bench = Bench::new();
    let mut state = State::clone(&full_state());
    state.feeds[0].name = "left \"A\" \\ 2".to_owned();
    state.feeds[0].limit_a = 7.25;
    bench.state.send_replace(Arc::new(state));
    bench.dropped.send_replace(Some(Dropped {
        count: 17,
        last_s: Some(3.5),
    }));
    let _browser = bench.open(None).await.unwrap();
    let _guests = [8, 9].map(|last| {
        let place = Place::of([10, 0, 0, last].into());
        bench
            .shared
            .guest_seats
            .admit(place, Stage::Looking)
            .unwrap()
    });
    let mut alive = bench.shared.health.clone();
    let fresh = alive.wait_for(|alive| *alive == Alive::Fresh).await;
    drop(fresh.unwrap());
    let page = page(&bench).await;
    for line in [
        "litfloor_uptime_seconds 12.5",
        "litfloor_data_plane_alive 1",
        "litfloor_floor_revision 1",
        "litfloor_browsers{door=\"all\"} 1",
        "litfloor_browsers{door=\"guests\"} 2",
        "litfloor_datagrams_total{outcome=\"taken\"} 7",
        "litfloor_kernel_dropped_datagrams_total 17",
        "litfloor_kernel_dropped_last_uptime_seconds 3.5",
        "litfloor_signal{state=\"partial\"} 1",
        "litfloor_signal{state=\"live\"} 0",
        "litfloor_nodes{state=\"online\"} 1",
        "litfloor_nodes{state=\"offline\"} 0",
        "litfloor_node_refused_frames_total{node=\"north\"} 1",
        "litfloor_load_draw_amperes{kind=\"supply\",name=\"S1\"} 3.0",
        // The format's own escapes: a backslash before quote and backslash.
        "litfloor_load_limit_amperes{kind=\"feed\",name=\"left \\\"A\\\" \\\\ 2\"} 7.25",
        "litfloor_floor_limit_volt_amperes 3000.0",
        "litfloor_notices{severity=\"warning\"} 1",
        "litfloor_alarms{severity=\"danger\"} 0",
        "litfloor_turned_away_total{reason=\"too_slow\"} 0",
        "# UNIT litfloor_load_scale_ratio ratio",
        "# TYPE litfloor_datagrams counter",
    ] {
        has(&page, line);
    }
    assert!(page.ends_with("# EOF\n"), "{page}");
}

#[tokio::test(start_paused = true)]
async fn what_is_not_known_is_left_out() {
    let bench = Bench::new();
    let page = page(&bench).await;
    for name in [
        "kernel_dropped_datagrams_total",
        "last_uptime_seconds",
        "floor_limit_volt_amperes",
        "litfloor_leads",
        "standby_heard",
    ] {
        let rows = page.lines().filter(|line| !line.starts_with('#'));
        assert_eq!(
            rows.filter(|line| line.contains(name)).count(),
            0,
            "{name} in\n{page}"
        );
    }
}

#[tokio::test(start_paused = true)]
async fn faults_and_panels_are_counted_by_their_kind() {
    use crate::health::snapshot::{PanelHealth, SegmentCondition, SegmentHealth};
    let bench = Bench::new();
    let panel = |conditions: &[SegmentCondition]| PanelHealth {
        segments: conditions
            .iter()
            .map(|&condition| SegmentHealth {
                condition,
                ..SegmentHealth::default()
            })
            .collect(),
        ..PanelHealth::default()
    };
    bench.faults.told.send_replace(Arc::new(Health {
        panels: vec![
            panel(&[SegmentCondition::Good, SegmentCondition::Dead]),
            panel(&[SegmentCondition::Good, SegmentCondition::Weak]),
            panel(&[SegmentCondition::Good]),
            panel(&[]),
        ],
        ..Health::default()
    }));
    let page = page(&bench).await;
    for (condition, count) in [
        ("dead", 1),
        ("weak", 1),
        ("good", 1),
        ("unknown", 1),
        ("stuck", 0),
    ] {
        has(
            &page,
            &format!("litfloor_panels{{condition=\"{condition}\"}} {count}"),
        );
    }
    has(&page, "litfloor_faults{sure=\"certain\"} 0");
}
