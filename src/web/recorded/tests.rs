use std::fmt::Write;

use axum::http::StatusCode;
use serde_json::json;

use super::super::openapi::tests::faults;
use super::super::testing::{Bench, ask};
use crate::power::tally::{Energy, Total, TotalRow};
use std::sync::Arc;

const RANGE: &str = "/api/v1/history?from=1000&to=1006&points=3";

#[tokio::test]
async fn a_range_is_cut_into_buckets() {
    let bench = Bench::new();
    let answer = ask(&bench.router, RANGE, &[]).await;
    assert_eq!(answer.status, StatusCode::OK);
    let range = answer.json();
    assert_eq!(
        (&range["from_s"], &range["bucket_s"]),
        (&json!(1000), &json!(3))
    );
    let feed = &range["elements"][1];
    assert_eq!(feed["name"], "F,1");
    assert_eq!(feed["draw_mean_a"], json!([2.0, null, null]));
    assert_eq!(feed["draw_max_a"], json!([3.0, null, null]));
    // 1 A to 3 A within 2 s: 4 As.
    assert_eq!(feed["total"]["amp_hours"], json!(0.001_111));
    assert_eq!(range["recording"]["in_file"], true);
    let description = ask(&bench.router, "/api/v1/openapi.json", &[]).await.json();
    let schema = &description["paths"]["/api/v1/history"]["get"]["responses"]["200"]["content"]["application/json"]
        ["schema"];
    assert_eq!(faults(&description, schema, &range, "range"), [""; 0]);
}

#[tokio::test]
async fn what_can_not_be_is_said() {
    let bench = Bench::new();
    for (query, said) in [
        ("from=soon", "from must be seconds since 1970"),
        ("from=9&to=9", "from must be before to"),
        ("points=0", "points must be 1 to 2000"),
        ("points=2001", "points must be 1 to 2000"),
        ("points=many", "points"),
        ("element=panel:A1", "element must be floor, circuit:NAME"),
    ] {
        for path in ["/api/v1/history", "/api/v1/history.csv"] {
            let answer = ask(&bench.router, &format!("{path}?{query}"), &[]).await;
            assert_eq!(answer.status, StatusCode::BAD_REQUEST, "{path} {query}");
            let problem = answer.json();
            assert_eq!(problem["error"], "bad_range");
            let message = problem["message"].as_str().unwrap();
            assert!(message.contains(said), "{message}");
        }
    }
}

#[tokio::test]
async fn a_history_that_can_not_be_read_is_said() {
    let bench = Bench::new();
    for path in ["/api/v1/history", "/api/v1/history.csv"] {
        let answer = ask(&bench.router, &format!("{path}?element=feed:broken"), &[]).await;
        assert_eq!(answer.status, StatusCode::SERVICE_UNAVAILABLE, "{path}");
        assert_eq!(
            answer.json(),
            json!({"error": "history_unread", "message": "the history can't be read: broken"})
        );
    }
}

#[tokio::test]
async fn rows_are_csv_as_the_standard_has_it() {
    let bench = Bench::new();
    let answer = ask(&bench.router, "/api/v1/history.csv?from=1000&to=1006", &[]).await;
    assert_eq!(answer.status, StatusCode::OK);
    assert!(
        answer.headers["content-type"]
            .to_str()
            .unwrap()
            .starts_with("text/csv")
    );
    let text = std::str::from_utf8(&answer.body).unwrap();
    let mut wanted = "time,seconds,kind,name,asked_mean_a,asked_max_a,draw_min_a,draw_mean_a,\
                      draw_max_a,limit_a,scale_min,mains_mean_w,capped_s,over_s\r\n"
        .to_owned();
    for (kind, limit) in [("floor,", ""), ("feed,\"F,1\"", "8.000")] {
        write!(
            wanted,
            "1970-01-01T00:16:40Z,2.000,{kind},4.000,6.000,1.000,2.000,3.000,{limit},0.5000,\
             24.000,2.000,0.000\r\n"
        )
        .unwrap();
    }
    assert_eq!(text, wanted);
}

#[tokio::test]
async fn a_long_table_comes_in_parts() {
    let bench = Bench::new();
    let answer = ask(&bench.router, "/api/v1/history.csv?element=feed:long", &[]).await;
    let text = std::str::from_utf8(&answer.body).unwrap();
    assert_eq!(text.lines().count(), 1 + 5_000);
}

#[tokio::test(start_paused = true)]
async fn totals_are_told() {
    let bench = Bench::new();
    let mut total = Total::default();
    total.sum.s = 3_600.0;
    total.sum.draw_as = 36_000.0;
    total.sum.draw_max_a = 12.5;
    total.sum.mains_ws = 1.8e6;
    total.peak_at_s = 60.0;
    bench.energy.send_replace(Arc::new(Energy {
        since: 1_000,
        until_s: 3_600.0,
        rows: vec![TotalRow {
            element: "feed:F1".parse().unwrap(),
            total,
        }],
    }));
    let energy = ask(&bench.router, "/api/v1/energy", &[]).await.json();
    assert_eq!(energy["since"], "1970-01-01T00:16:40Z");
    let feed = &energy["elements"][0];
    assert_eq!(feed["peak_at"], "1970-01-01T00:17:40Z");
    // 10 A for an hour, 500 W for an hour.
    assert_eq!(
        (
            &feed["total"]["amp_hours"],
            &feed["total"]["kwh"],
            &feed["total"]["mean_a"]
        ),
        (&json!(10.0), &json!(0.5), &json!(10.0))
    );
    let description = ask(&bench.router, "/api/v1/openapi.json", &[]).await.json();
    let schema = json!({"$ref": "#/components/schemas/EnergyState"});
    assert_eq!(faults(&description, &schema, &energy, "energy"), [""; 0]);
}
