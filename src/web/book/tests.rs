use axum::http::Method;
use serde_json::{Value, json};

use super::super::testing::Bench;
use super::super::testing::here::ask_here;
use crate::book::Found;
use crate::store::book::now;

async fn get(bench: &Bench, path: &str) -> (u16, Value) {
    ask_here(&bench.router, Method::GET, path, Value::Null).await
}

async fn post(bench: &Bench, path: &str, body: Value) -> (u16, Value) {
    ask_here(&bench.router, Method::POST, path, body).await
}

fn open_joint() -> Found {
    Found {
        key: "A1/1-2/supply_open".to_owned(),
        serial: Some("M017".to_owned()),
        position: Some("A1".to_owned()),
        cause: "supply_open".to_owned(),
        place: "A1, joint between segments 1 and 2, supply side".to_owned(),
        text: "Segment 2 is dark.".to_owned(),
        sure: "certain".to_owned(),
        evidence: Some("Survey 3 found it dead.".to_owned()),
        same_place: Vec::new(),
    }
}

#[tokio::test]
async fn a_fault_goes_its_way_and_people_prove_nothing() {
    let bench = Bench::new();
    let row = bench.book.found(&open_joint(), now()).unwrap().unwrap();
    let path = format!("/api/v1/book/faults/{}", row.id);
    let (status, rows) = get(&bench, "/api/v1/book/faults").await;
    assert_eq!((status, &rows[0]["state"]), (200, &json!("found")));
    let at = |state: &str, who: &str| json!({"state": state, "who": who, "note": "cold joint"});
    let (status, told) = post(&bench, &path, at("being_repaired", " ")).await;
    assert_eq!((status, &told["error"]), (422, &json!("missing")));
    assert_eq!(told["message"], "The name of who does it is missing.");
    let (status, row) = post(&bench, &path, at("being_repaired", "Ida")).await;
    assert_eq!((status, &row["steps"][1]["who"]), (200, &json!("Ida")));
    let (status, told) = post(&bench, &path, at("proved", "Ida")).await;
    assert_eq!((status, &told["error"]), (422, &json!("only_by_survey")));
    let (status, row) = post(&bench, &path, at("repaired", "Ida")).await;
    assert_eq!((status, &row["open"]), (200, &json!(true)));
    let (status, told) = post(&bench, &path, at("repaired", "Noor")).await;
    assert_eq!((status, &told["error"]), (409, &json!("not_from_there")));
    for gone in ["/api/v1/book/faults/99", "/api/v1/book/faults/x"] {
        let (status, told) = post(&bench, gone, at("repaired", "Ida")).await;
        assert_eq!((status, &told["error"]), (404, &json!("no_such_fault")));
    }
    let (_, through) = get(&bench, "/api/v1/book/faults?open=false").await;
    assert_eq!(through, json!([]));
    assert_eq!(get(&bench, "/api/v1/book/faults?open=maybe").await.0, 400);
}

#[tokio::test]
async fn a_panel_has_its_history_by_its_serial() {
    let bench = Bench::new();
    let (status, told) = get(&bench, "/api/v1/book/panels/M017").await;
    assert_eq!((status, &told["error"]), (404, &json!("no_such_panel")));
    let signature = json!({"dark_a": 0.04, "white_a": 1.43});
    let test = json!({"passed": true, "who": "Ida", "note": "", "signature": signature});
    let path = "/api/v1/book/panels/M017/bench";
    assert_eq!(post(&bench, path, test).await, (200, json!({})));
    let note = json!({"text": "New plug.", "who": "Noor"});
    let path = "/api/v1/book/panels/M017/notes";
    assert_eq!(post(&bench, path, note).await, (200, json!({})));
    let place = json!({"serial": "M017", "position": " a1", "who": "Ida"});
    let (status, row) = post(&bench, "/api/v1/book/placed", place).await;
    assert_eq!(
        (status, row),
        (200, json!({"position": "A1", "serial": "M017"}))
    );
    let seen = json!({"position": "A1", "text": "The plate is cracked.", "who": "Noor"});
    let (_, row) = post(&bench, "/api/v1/book/faults", seen).await;
    assert_eq!(row["serial"], "M017");
    let (status, page) = get(&bench, "/api/v1/book/panels/M017").await;
    assert_eq!(status, 200);
    assert_eq!(page["benches"][0]["signature"], signature);
    assert_eq!(page["notes"][0]["text"], "New plug.");
    assert_eq!(page["positions"][0]["to"], Value::Null);
    assert_eq!(page["faults"][0]["text"], "The plate is cracked.");
    let (_, rows) = get(&bench, "/api/v1/book/panels").await;
    assert_eq!(
        (&rows[0]["open_faults"], &rows[0]["position"]),
        (&json!(1), &json!("A1"))
    );
}

#[tokio::test]
async fn only_what_can_lie_there_is_placed() {
    let bench = Bench::new();
    let place = |serial: &str, position: &str| json!({"serial": serial, "position": position, "who": "Ida"});
    let (status, told) = post(&bench, "/api/v1/book/placed", place("M1", "Z9")).await;
    assert_eq!((status, &told["error"]), (422, &json!("no_such_position")));
    let (status, told) = post(&bench, "/api/v1/book/placed", place("M 1", "A1")).await;
    assert_eq!((status, &told["error"]), (422, &json!("bad_serial")));
    let (status, _) = post(&bench, "/api/v1/book/placed", place("M1", "A1")).await;
    assert_eq!(status, 200);
    let (_, list) = get(&bench, "/api/v1/book/checklist").await;
    assert_eq!(list["placed"], json!([{"position": "A1", "serial": "M1"}]));
    // The rest of its run is not placed yet.
    let (status, told) = get(&bench, "/api/v1/book/diff").await;
    assert_eq!((status, &told["error"]), (409, &json!("not_all_placed")));
    let away = super::super::testing::ask_with(
        &bench.router,
        Method::DELETE,
        "/api/v1/book/placed/A1",
        &[],
    );
    assert_ne!(away.await.status, 204, "from a stranger");
    let request = super::super::testing::here::request(
        Method::DELETE,
        "/api/v1/book/placed/A1",
        &Value::Null,
    );
    let router = bench.router.clone();
    let away = tower::ServiceExt::oneshot(router, request).await.unwrap();
    assert_eq!(away.status(), 204);
    let (_, list) = get(&bench, "/api/v1/book/checklist").await;
    assert_eq!(
        (&list["placed"], &list["unplaced"]),
        (&json!([]), &json!(["M1"]))
    );
}

#[tokio::test]
async fn whoever_follows_the_book_hears_of_changes_alone() {
    let bench = Bench::new();
    let book = bench.shared.source.book.clone().unwrap();
    let mut versions = book.version.subscribe();
    get(&bench, "/api/v1/book/panels").await;
    let refused = json!({"text": "", "who": "Noor"});
    post(&bench, "/api/v1/book/panels/M017/notes", refused).await;
    assert!(!versions.has_changed().unwrap());
    let note = json!({"text": "New plug.", "who": "Noor"});
    post(&bench, "/api/v1/book/panels/M017/notes", note).await;
    assert!(versions.has_changed().unwrap());
    versions.mark_unchanged();
}

#[tokio::test]
async fn all_of_it_can_be_taken_away() {
    let bench = Bench::new();
    bench.book.found(&open_joint(), now()).unwrap();
    let (status, all) = get(&bench, "/api/v1/book/export.json").await;
    assert_eq!(status, 200);
    assert!(all.to_string().contains("Survey 3 found it dead."));
    let csv = super::super::testing::ask(&bench.router, "/api/v1/book/export.csv", &[]).await;
    let mut table = csv::Reader::from_reader(&csv.body[..]);
    let rows = table.records().collect::<Result<Vec<_>, _>>().unwrap();
    assert_eq!(rows.len(), 1);
    assert!(rows[0].iter().any(|cell| cell == "A1/1-2/supply_open"));
}
