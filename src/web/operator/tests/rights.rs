//! Who gets through and who does not, and what is kept.

use super::super::super::testing::ask;
use super::*;

#[tokio::test(start_paused = true)]
async fn without_a_passphrase_only_this_machine_may_change_something() {
    let house = House::new(None);
    let (here, phone) = (Browser::new(&house, HERE), Browser::new(&house, PHONE));
    assert_eq!(here.change().await.status, StatusCode::NO_CONTENT);
    assert_eq!(phone.change().await.error(), (403, "not_this_machine"));
    let told = |may_control, from_this_machine| {
        json!({"may_control": may_control, "passphrase_set": false,
            "from_this_machine": from_this_machine, "guest": false, "encrypted": false})
    };
    assert_eq!(here.may().await, told(true, true));
    assert_eq!(phone.may().await, told(false, false));
    // A program on this machine that is no browser.
    let program = here.clone().without("origin");
    assert_eq!(program.change().await.status, StatusCode::NO_CONTENT);
    // Somebody far away behind a proxy on this machine.
    let far = here.clone().with("x-forwarded-for", "192.168.1.7");
    assert_eq!(far.change().await.error(), (403, "not_this_machine"));
    let refused = Browser::new(&house, HERE).sign_in(PASSPHRASE).await;
    assert_eq!(refused.error(), (409, "no_passphrase"));
}

#[tokio::test(start_paused = true)]
async fn with_a_passphrase_everyone_signs_in() {
    let house = House::new(None);
    let mut here = Browser::new(&house, HERE);
    let set = here.set(PASSPHRASE).await;
    assert_eq!(set.status, StatusCode::NO_CONTENT);
    assert_eq!(
        here.change().await.status,
        StatusCode::NO_CONTENT,
        "signed in by it"
    );
    let stranger = Browser::new(&house, HERE);
    assert_eq!(stranger.change().await.error(), (401, "not_signed_in"));
    let mut phone = Browser::new(&house, PHONE);
    assert_eq!(phone.change().await.error(), (401, "not_signed_in"));
    assert_eq!(
        phone.set("another horse").await.error(),
        (401, "not_signed_in")
    );
    for wrong in ["", "correct hors", "correct horse ", "another horse"] {
        assert_eq!(
            phone.sign_in(wrong).await.error(),
            (401, "wrong_passphrase")
        );
        assert_eq!(phone.cookie, None);
    }
    assert_eq!(
        phone.sign_in(PASSPHRASE).await.status,
        StatusCode::NO_CONTENT
    );
    assert_eq!(phone.change().await.status, StatusCode::NO_CONTENT);
    assert_eq!(
        phone.may().await,
        json!({"may_control": true, "passphrase_set": true, "from_this_machine": false,
            "guest": false, "encrypted": false})
    );
}

#[tokio::test(start_paused = true)]
async fn a_new_passphrase_ends_all_other_sessions() {
    let house = House::new(None);
    let mut here = Browser::new(&house, HERE);
    assert_eq!(here.set("seven77").await.error(), (422, "too_short"));
    here.set(PASSPHRASE).await;
    let mut phone = Browser::new(&house, PHONE);
    phone.sign_in(PASSPHRASE).await;
    let before = here.clone();
    assert_eq!(
        here.set("battery staple").await.status,
        StatusCode::NO_CONTENT
    );
    assert_eq!(phone.change().await.error(), (401, "not_signed_in"));
    assert_eq!(before.change().await.error(), (401, "not_signed_in"));
    assert_eq!(here.change().await.status, StatusCode::NO_CONTENT);
    assert_eq!(
        phone.sign_in(PASSPHRASE).await.error(),
        (401, "wrong_passphrase")
    );
    assert_eq!(
        phone.sign_in("battery staple").await.status,
        StatusCode::NO_CONTENT
    );
}

#[tokio::test(start_paused = true)]
async fn what_was_kept_counts_after_a_new_start_and_what_was_given_counts_more() {
    let directory = tempfile::tempdir().unwrap();
    let keep = Keep::Directory(directory.path().to_owned());
    let house = House::kept(keep.clone(), None);
    Browser::new(&house, HERE).set(PASSPHRASE).await;
    let house = House::kept(keep.clone(), None);
    let mut here = Browser::new(&house, HERE);
    assert_eq!(here.change().await.error(), (401, "not_signed_in"));
    assert_eq!(
        here.sign_in(PASSPHRASE).await.status,
        StatusCode::NO_CONTENT
    );
    let house = House::kept(keep.clone(), Some("battery staple"));
    let mut here = Browser::new(&house, HERE);
    assert_eq!(
        here.sign_in(PASSPHRASE).await.error(),
        (401, "wrong_passphrase")
    );
    here.sign_in("battery staple").await;
    assert_eq!(
        here.set("a third horse").await.error(),
        (409, "passphrase_given")
    );
    // And it was not kept.
    assert_eq!(
        keep.read().unwrap().unwrap().fits("battery staple"),
        Ok(false)
    );
    let short = Gate::open(Keep::Memory, Some("short".to_owned()));
    assert!(matches!(short, Err(Unopened::TooShort(_))));
}

#[tokio::test(start_paused = true)]
async fn what_can_not_be_kept_is_not_set_and_this_machine_keeps_control() {
    let house = House::kept(Keep::Nowhere("no home".to_owned()), None);
    let mut here = Browser::new(&house, HERE);
    let refused = here.set(PASSPHRASE).await;
    assert_eq!(refused.error(), (503, "not_kept"));
    assert!(
        refused.body["message"]
            .as_str()
            .unwrap()
            .contains("no home")
    );
    assert_eq!(here.change().await.status, StatusCode::NO_CONTENT);
    let phone = Browser::new(&house, PHONE);
    assert_eq!(phone.change().await.error(), (403, "not_this_machine"));
    assert!(house.bench.shared.gate.told().contains("no home"));
}

#[tokio::test(start_paused = true)]
async fn a_passphrase_that_can_not_be_read_opens_for_nobody() {
    let directory = tempfile::tempdir().unwrap();
    std::fs::write(directory.path().join("operator.json"), "{").unwrap();
    let house = House::kept(Keep::Directory(directory.path().to_owned()), None);
    let mut here = Browser::new(&house, HERE);
    // Where it is kept is told on this machine, and nowhere else.
    let phone = Browser::new(&house, PHONE);
    let path = directory.path().to_str().unwrap();
    for (browser, told) in [(&here, true), (&phone, false)] {
        let refused = browser.change().await;
        assert_eq!(refused.error(), (403, "locked"));
        let message = refused.body["message"].as_str().unwrap();
        assert_eq!(message.contains(path), told, "{message}");
    }
    assert_eq!(here.sign_in(PASSPHRASE).await.error(), (403, "locked"));
    assert_eq!(here.set(PASSPHRASE).await.error(), (403, "locked"));
    assert_eq!(here.may().await["passphrase_set"], true);
    assert!(
        house
            .bench
            .shared
            .gate
            .told()
            .contains("operator.json can't be read")
    );
}

/// A route that forgets to take the operator is found here.
#[tokio::test(start_paused = true)]
async fn every_change_that_is_described_needs_the_operator() {
    let house = House::new(None);
    let description = ask(&house.router, "/api/v1/openapi.json", &[]).await.json();
    let mut changes = 0;
    for (path, ways) in description["paths"].as_object().unwrap() {
        for (method, way) in ways.as_object().unwrap() {
            // Who reports readings has a token of its own, and no other right.
            let own = ["/api/v1/session", "/api/v1/readings"];
            if method == "get" || own.contains(&path.as_str()) {
                continue;
            }
            let asked = Method::from_bytes(method.to_uppercase().as_bytes()).unwrap();
            let phone = Browser::new(&house, PHONE);
            let refused = phone.send(asked, path, "{}").await;
            assert_eq!(
                refused.error(),
                (403, "not_this_machine"),
                "{method} {path}"
            );
            assert_eq!(way["security"], json!([{"session": []}]), "{method} {path}");
            changes += 1;
        }
    }
    assert!(changes >= 1);
}
