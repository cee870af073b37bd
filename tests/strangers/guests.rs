//! The door for guests, who look and change nothing.

use super::*;

#[test]
fn guests_see_the_floor_and_change_nothing() {
    let mut house = House::new(&["--guests", "127.0.0.1:0"], Some("correct horse"));
    let told = house.daemon.said("For guests, who can only look: http://");
    let guests: SocketAddrV4 = told.parse().unwrap();
    let own = house.daemon.http;
    for path in [
        "/",
        "/api/v1/floor",
        "/api/v1/state",
        "/api/v1/faults",
        "/api/v1/book/panels",
        "/healthz",
    ] {
        assert_eq!(get(FRIEND, guests, path, "").status, 200, "{path}");
    }
    let session: Value =
        serde_json::from_str(&get(ME, guests, "/api/v1/session", "").body).unwrap();
    assert_eq!(session["guest"], true);
    assert_eq!(session["may_control"], false);
    // Not even from this machine: where files lie is told at the other door alone.
    assert_eq!(session["from_this_machine"], false);

    // Everything that the API can change, by its own description.
    let described = get(ME, own, "/api/v1/openapi.json", "").body;
    let described: Value = serde_json::from_str(&described).unwrap();
    let mut tried = 0;
    for (path, methods) in described["paths"].as_object().unwrap() {
        let path = path.replace(['{', '}'], "");
        for method in methods
            .as_object()
            .unwrap()
            .keys()
            .filter(|method| *method != "get")
        {
            let answer = change(ME, guests, &method.to_uppercase(), &path, "", "{}");
            assert_eq!(
                (answer.status, answer.word().as_str()),
                (403, "guests_only_look"),
                "{method} {path}"
            );
            tried += 1;
        }
    }
    assert!(tried > 20, "{tried}");
    // Nor does a cookie of the operator help there.
    let body = "{\"passphrase\": \"correct horse\"}";
    let signed_in = change(ME, own, "POST", "/api/v1/session", "", body);
    let cookie = signed_in
        .header("set-cookie")
        .unwrap()
        .split(';')
        .next()
        .unwrap();
    let cookie = format!("Cookie: {cookie}\r\n");
    let lowered =
        |at, path: &str| change(ME, at, "PUT", path, &cookie, "{\"floor_va\": 100}").status;
    assert_eq!(lowered(guests, "/api/v1/limit"), 403);
    assert_eq!(lowered(own, "/api/v1/limit"), 200);
    let may: Value =
        serde_json::from_str(&get(ME, guests, "/api/v1/session", &cookie).body).unwrap();
    assert_eq!(may["may_control"], false);

    // What tells more than a guest needs.
    for path in [
        "/metrics",
        "/api/v1/book/export.json",
        "/api/v1/book/export.csv",
        "/api/v1/book/floor.toml",
        "/api/v1/stepping/corrected.toml",
        "/api/v1/history.csv",
    ] {
        let answer = get(ME, guests, path, "");
        assert_eq!(
            (answer.status, answer.word().as_str()),
            (403, "guests_only_look"),
            "{path}"
        );
    }
}

#[test]
fn a_crowd_of_guests_does_not_shut_out_the_operator() {
    let mut house = House::new(&["--guests", "127.0.0.1:0"], None);
    let told = house.daemon.said("For guests, who can only look: http://");
    let guests: SocketAddrV4 = told.parse().unwrap();
    let crowd: Vec<_> = (0..400_u32)
        .map(|n| connect([127, 0, 2, 1 + u8::try_from(n % 200).unwrap()], guests))
        .collect();
    assert_eq!(
        get(FRIEND, house.daemon.http, "/api/v1/state", "").status,
        200
    );
    assert_eq!(get(FRIEND, guests, "/api/v1/state", "").status, 200);
    drop(crowd);
    house.is_well();
}
