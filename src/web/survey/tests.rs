use axum::http::Method;
use serde_json::{Value, json};

use super::super::testing::Bench;
use super::super::testing::here::{ask_here, id_of};
use super::*;
use crate::pattern::Refused;

const SURVEY: &str = "/api/v1/survey";

/// Says `body` and plays the task that owns the survey, which answers with `answer`; gives the wish
/// as it came there, and what was told.
async fn said(
    bench: &mut Bench,
    (method, path, body): (Method, &str, Value),
    answer: Result<Arc<SurveyState>, NotDone>,
) -> (SurveyWish, u16, Value) {
    let asked = ask_here(&bench.router, method, path, body);
    let task = async {
        let (wish, told) = bench.surveys.wished.recv().await.unwrap();
        told.send(answer).unwrap();
        wish
    };
    let ((status, told), wish) = tokio::join!(asked, task);
    (wish, status, told)
}

fn state() -> Arc<SurveyState> {
    Arc::new(SurveyState {
        running: true,
        by: Some(By::Eyes),
        items: 7,
        ..SurveyState::default()
    })
}

#[tokio::test(start_paused = true)]
async fn wishes_reach_the_task_as_they_were_said() {
    let mut bench = Bench::new();
    let begin = |by, about, owner| SurveyWish::Begin { by, about, owner };
    let about = |positions, level| About {
        positions,
        level,
        weak: false,
    };
    let whole = json!({"by": "sensors"});
    let (wish, status, told) = said(&mut bench, (Method::POST, SURVEY, whole), Ok(state())).await;
    assert_eq!(wish, begin(By::Sensors, about(None, 255), None));
    assert_eq!((status, &told["items"]), (200, &json!(7)));
    let some = json!({"by": "eyes", "positions": ["C4"], "level": 40});
    let (wish, ..) = said(&mut bench, (Method::POST, SURVEY, some), Ok(state())).await;
    let positions = Some(vec!["C4".to_owned()]);
    assert_eq!(wish, begin(By::Eyes, about(positions, 40), None));
    let eyes = json!({"by": "eyes"});
    let (wish, ..) = said(&mut bench, (Method::POST, SURVEY, eyes), Ok(state())).await;
    assert_eq!(wish, begin(By::Eyes, about(None, 128), None));
    let seen = json!({"number": 3, "dark": [{"position": "C4", "segment": 2}]});
    let path = "/api/v1/survey/seen";
    let (wish, ..) = said(&mut bench, (Method::POST, path, seen), Ok(state())).await;
    let tapped = vec![("C4".to_owned(), 2)];
    assert_eq!(wish, SurveyWish::Seen { number: 3, tapped });
    let undo = json!({"number": 3});
    let path = "/api/v1/survey/undo";
    let (wish, ..) = said(&mut bench, (Method::POST, path, undo), Ok(state())).await;
    assert_eq!(wish, SurveyWish::Undo { number: 3 });
    let stop = (Method::DELETE, SURVEY, Value::Null);
    let (wish, status, _) = said(&mut bench, stop, Ok(state())).await;
    assert_eq!((wish, status), (SurveyWish::Stop, 200));
}

#[tokio::test(start_paused = true)]
async fn what_is_not_done_says_why() {
    let mut bench = Bench::new();
    for (code, wanted) in [
        ("no_sensor", 409),
        ("no_such_panel", 422),
        ("too_dark", 422),
    ] {
        let refused = Err(Refused::new(code, "So it is.").into());
        let begin = (Method::POST, SURVEY, json!({"by": "sensors"}));
        let (_, status, told) = said(&mut bench, begin, refused).await;
        assert_eq!((status, &told["error"]), (wanted, &json!(code)));
        assert_eq!(told["message"], "So it is.");
    }
    // Nobody has that id, so nothing is begun at all.
    let lost = json!({"by": "eyes", "ends_with": "nobody"});
    let (status, told) = ask_here(&bench.router, Method::POST, SURVEY, lost).await;
    assert_eq!((status, &told["error"]), (422, &json!("not_connected")));
    assert!(bench.surveys.wished.try_recv().is_err());
    let strange = json!({"by": "nose"});
    let (status, _) = ask_here(&bench.router, Method::POST, SURVEY, strange).await;
    assert_eq!(status, 400);
}

#[tokio::test(start_paused = true)]
async fn it_is_tied_to_a_connection_and_told_as_it_is() {
    let mut bench = Bench::new();
    let mut client = bench.open(None).await.unwrap();
    let id = id_of(&mut client, "").await;
    let begin = json!({"by": "eyes", "ends_with": id});
    let (wish, ..) = said(&mut bench, (Method::POST, SURVEY, begin), Ok(state())).await;
    assert!(
        matches!(wish, SurveyWish::Begin { owner: Some(_), .. }),
        "{wish:?}"
    );
    bench.surveys.told.send_replace(state());
    let (status, told) = ask_here(&bench.router, Method::GET, SURVEY, Value::Null).await;
    assert_eq!((status, &told["by"]), (200, &json!("eyes")));
    assert_eq!(told["question"], Value::Null);
}
