//! Each attack tried.

use std::io;
use std::time::Duration;

use super::super::extract::LARGEST;
use super::super::sessions;
use super::*;

#[tokio::test(start_paused = true)]
async fn a_page_from_elsewhere_may_not_change_anything() {
    let house = House::new(None);
    let here = Browser::new(&house, HERE);
    for origin in ["http://elsewhere.example", "null", "http://127.0.0.1:9000"] {
        let foreign = here.clone().with("origin", origin);
        assert_eq!(
            foreign.change().await.error(),
            (403, "foreign_origin"),
            "{origin}"
        );
        assert_eq!(foreign.may().await["may_control"], false);
        let refused = foreign.clone().set(PASSPHRASE).await;
        assert_eq!(refused.error(), (403, "foreign_origin"));
    }
    let hidden = here
        .clone()
        .without("origin")
        .with("sec-fetch-site", "cross-site");
    assert_eq!(hidden.change().await.error(), (403, "foreign_origin"));
    // What a form or a beacon can send without being asked about first.
    for kind in ["text/plain", "application/x-www-form-urlencoded", ""] {
        let form = here.clone().without("origin").with("content-type", kind);
        assert_eq!(form.change().await.error(), (415, "not_json"), "{kind}");
    }
    // Neither may it sign a browser in or out.
    let house = House::new(Some(PASSPHRASE));
    let mut here = Browser::new(&house, HERE);
    here.sign_in(PASSPHRASE).await;
    let mut foreign = here.clone().with("origin", "http://elsewhere.example");
    assert_eq!(foreign.change().await.error(), (403, "foreign_origin"));
    assert_eq!(
        foreign.sign_in(PASSPHRASE).await.error(),
        (403, "foreign_origin")
    );
    let out = foreign.send(Method::DELETE, "/api/v1/session", "").await;
    assert_eq!(out.error(), (403, "foreign_origin"));
    assert_eq!(here.change().await.status, StatusCode::NO_CONTENT);
}

/// The page of a name whose owner lets it lead to this machine is of the same origin.
#[tokio::test(start_paused = true)]
async fn a_name_that_was_bent_to_this_machine_opens_nothing() {
    let house = House::new(None);
    let here = Browser::new(&house, HERE);
    let mut bent = here
        .clone()
        .with("host", "elsewhere.example:8080")
        .with("origin", "http://elsewhere.example:8080");
    assert_eq!(bent.change().await.error(), (403, "foreign_host"));
    assert_eq!(bent.set(PASSPHRASE).await.error(), (403, "foreign_host"));
    assert_eq!(bent.may().await["may_control"], false);
    // With a passphrase the name has none of the cookies of this host.
    Browser::new(&house, HERE).set(PASSPHRASE).await;
    assert_eq!(bent.change().await.error(), (401, "not_signed_in"));
    // An honest name will do then.
    let mut named = here
        .with("host", "floor.local:8080")
        .with("origin", "http://floor.local:8080");
    assert_eq!(
        named.sign_in(PASSPHRASE).await.status,
        StatusCode::NO_CONTENT
    );
    assert_eq!(named.change().await.status, StatusCode::NO_CONTENT);
}

#[tokio::test(start_paused = true)]
async fn a_cookie_is_out_of_reach_of_scripts_and_of_other_pages() {
    let house = House::new(Some(PASSPHRASE));
    let mut phone = Browser::new(&house, PHONE);
    let reply = phone.sign_in(PASSPHRASE).await;
    let cookie = reply.headers["set-cookie"].to_str().unwrap();
    let (pair, attributes) = cookie.split_once("; ").unwrap();
    assert_eq!(
        attributes,
        "Path=/; Max-Age=43200; HttpOnly; SameSite=Strict"
    );
    assert_eq!(pair.len(), "litfloor_session=".len() + 64);
    assert_eq!(reply.headers["cache-control"], "no-store");
    // A cookie without word of where the change comes from is not enough.
    let silent = phone.clone().without("origin");
    assert_eq!(silent.change().await.error(), (403, "origin_unsaid"));
    // The daemon does not keep it.
    let kept = format!("{:?}", house.bench.shared.gate);
    assert!(!kept.contains(&pair["litfloor_session=".len()..]));
}

#[tokio::test(start_paused = true)]
async fn a_session_that_has_ended_can_not_be_replayed() {
    let house = House::new(Some(PASSPHRASE));
    let mut phone = Browser::new(&house, PHONE);
    phone.sign_in(PASSPHRASE).await;
    let out = phone.send(Method::DELETE, "/api/v1/session", "").await;
    assert_eq!(out.status, StatusCode::NO_CONTENT);
    let cookie = out.headers["set-cookie"].to_str().unwrap();
    assert!(
        cookie.starts_with("litfloor_session=; Path=/; Max-Age=0;"),
        "{cookie}"
    );
    assert_eq!(phone.change().await.error(), (401, "not_signed_in"));
    // Nor one whose time is over.
    phone.sign_in(PASSPHRASE).await;
    tokio::time::advance(sessions::LASTS).await;
    assert_eq!(phone.change().await.error(), (401, "not_signed_in"));
}

#[tokio::test(start_paused = true)]
async fn a_token_that_somebody_planted_is_not_taken() {
    let house = House::new(Some(PASSPHRASE));
    let planted = format!("litfloor_session={}", "a".repeat(64));
    let mut victim = Browser::new(&house, PHONE);
    victim.cookie = Some(planted.clone());
    victim.sign_in(PASSPHRASE).await;
    assert_ne!(victim.cookie.as_ref(), Some(&planted));
    let mut thief = Browser::new(&house, PHONE);
    thief.cookie = Some(planted);
    assert_eq!(thief.change().await.error(), (401, "not_signed_in"));
    // Signing in anew ends the session of before.
    thief.cookie.clone_from(&victim.cookie);
    assert_eq!(thief.change().await.status, StatusCode::NO_CONTENT);
    victim.sign_in(PASSPHRASE).await;
    assert_eq!(thief.change().await.error(), (401, "not_signed_in"));
    assert_eq!(victim.change().await.status, StatusCode::NO_CONTENT);
}

#[tokio::test(start_paused = true)]
async fn of_two_that_set_the_first_passphrase_at_once_one_succeeds() {
    let house = House::new(None);
    let (mut one, mut other) = (Browser::new(&house, HERE), Browser::new(&house, HERE));
    let replies = tokio::join!(one.set(PASSPHRASE), other.set("battery staple"));
    let mut found = [replies.0.status.as_u16(), replies.1.status.as_u16()];
    found.sort_unstable();
    assert_eq!(found, [204, 401]);
}

#[tokio::test(start_paused = true)]
async fn who_guesses_waits_and_others_do_not() {
    let house = House::new(Some(PASSPHRASE));
    let mut guesser = Browser::new(&house, PHONE);
    let start = timers::now();
    for _ in 0..7 {
        guesser.sign_in("wrong passphrase").await;
    }
    // On made-up time: 0.25 + 0.5 + 1 + 2 + 4 + 8 s before the second to the seventh.
    assert!(timers::now() - start >= Duration::from_millis(15_750));
    // While one of its tries waits, another is refused and everybody else is served at once.
    let mut second = guesser.clone();
    let mut other = Browser::new(&house, "192.168.1.8:50000");
    let waits = timers::now();
    let (late, refused, served) = tokio::join!(
        guesser.sign_in(PASSPHRASE),
        async {
            let reply = second.sign_in(PASSPHRASE).await;
            (reply, timers::now())
        },
        async {
            let reply = other.sign_in(PASSPHRASE).await;
            (reply, timers::now())
        }
    );
    assert_eq!(refused.0.error(), (429, "too_many_tries"));
    assert_eq!(refused.1, waits);
    assert_eq!((served.0.status, served.1), (StatusCode::NO_CONTENT, waits));
    assert_eq!(late.status, StatusCode::NO_CONTENT);
    assert!(timers::now() - waits >= Duration::from_secs(8));
}

/// A hash takes a tenth of a second and more, and they are made one after the other.
#[tokio::test(start_paused = true)]
async fn who_has_not_failed_comes_before_a_queue_of_guessers() {
    let house = House::new(Some(PASSPHRASE));
    let gate = Arc::clone(&house.bench.shared.gate);
    let guessers: Vec<_> = (1..=3).map(|n| format!("10.0.0.{n}:50000")).collect();
    for peer in &guessers {
        Browser::new(&house, peer).sign_in("wrong passphrase").await;
    }
    timers::until(timers::now() + Duration::from_secs(1)).await;
    // Somebody has the turn until all others stand in line.
    let held = gate.turn.acquire().await.unwrap();
    let order = Mutex::new(Vec::new());
    let guess = async |peer| {
        Browser::new(&house, peer).sign_in("wrong passphrase").await;
        order.lock().unwrap().push("guesser");
    };
    let friend = async {
        // The guessers came first.
        timers::until(timers::now() + Duration::from_secs(1)).await;
        let reply = Browser::new(&house, PHONE).sign_in(PASSPHRASE).await;
        assert_eq!(reply.status, StatusCode::NO_CONTENT);
        order.lock().unwrap().push("friend");
    };
    let free = async {
        timers::until(timers::now() + Duration::from_secs(2)).await;
        drop(held);
    };
    let [one, two, three] = [&guessers[0], &guessers[1], &guessers[2]].map(|peer| guess(peer));
    tokio::join!(one, two, three, friend, free);
    let order = order.into_inner().unwrap();
    assert_eq!(order, ["guesser", "friend", "guesser", "guesser"]);
}

#[tokio::test(start_paused = true)]
async fn giving_up_a_try_saves_no_waiting() {
    let house = House::new(Some(PASSPHRASE));
    let mut guesser = Browser::new(&house, PHONE);
    guesser.sign_in("wrong passphrase").await;
    for _ in 0..3 {
        let mut hasty = guesser.clone();
        let moment = Duration::from_millis(1);
        let given_up = timers::within(moment, hasty.sign_in("wrong passphrase")).await;
        assert!(given_up.is_err());
    }
    let start = timers::now();
    assert_eq!(
        guesser.sign_in(PASSPHRASE).await.status,
        StatusCode::NO_CONTENT
    );
    // Four failed tries: 250 ms doubled three times.
    assert!(timers::now() - start >= Duration::from_secs(2));
}

#[tokio::test(start_paused = true)]
async fn a_body_is_json_of_a_bearable_length() {
    let house = House::new(None);
    let here = Browser::new(&house, HERE);
    let sent = async |body: String| here.send(Method::POST, "/change", body).await;
    let filled = |length: usize| format!("\"{}\"", "a".repeat(length - 2));
    assert_eq!(sent(filled(LARGEST)).await.status, StatusCode::NO_CONTENT);
    assert_eq!(sent(filled(LARGEST + 1)).await.error(), (413, "too_large"));
    assert_eq!(sent("{".to_owned()).await.error(), (400, "not_understood"));
    assert_eq!(sent(String::new()).await.error(), (400, "not_understood"));
    let utf8 = here
        .clone()
        .with("content-type", "Application/JSON; charset=utf-8");
    assert_eq!(utf8.change().await.status, StatusCode::NO_CONTENT);
    // A change that takes no body needs no kind of it, but can't be used to smuggle one.
    let bare = here.clone().without("content-type");
    let removed = bare.send(Method::DELETE, "/thing", "").await;
    assert_eq!(removed.status, StatusCode::NO_CONTENT);
    let form = bare.with("content-length", "3");
    let refused = form.send(Method::DELETE, "/thing", "a=b").await;
    assert_eq!(refused.error(), (415, "not_json"));
    let empty = here.clone().with("content-type", "text/plain");
    let refused = empty.send(Method::DELETE, "/thing", "").await;
    assert_eq!(refused.error(), (415, "not_json"));
    // A body that never ends.
    let never = Body::from_stream(futures_util::stream::pending::<io::Result<Vec<u8>>>());
    let slow = here.send(Method::POST, "/change", never).await;
    assert_eq!(slow.error(), (408, "too_slow"));
}
