//! Requests to the API: every route, its headers and bodies, with a real engine behind it.
//! `litfloor_fuzz::http` says how they are written.
#![no_main]

use libfuzzer_sys::fuzz_target;
use litfloor_fuzz::daemon::Daemon;
use litfloor_fuzz::http::{self, BETWEEN};

/// Requests of one execution, at most.
const MOST: usize = 12;

async fn all(data: &[u8]) {
    let with_book = data.windows(5).any(|part| part == b"/book");
    let mut daemon = Daemon::new(with_book);
    let router = daemon.router.clone();
    let mut allowed = false;
    for asked in data.split(|&byte| byte == BETWEEN).take(MOST) {
        let Some(asked) = http::read(asked) else {
            continue;
        };
        // Who is not here, and has no passphrase to know, changes nothing. Sensors have their token.
        let path = asked.request.uri().path();
        let live = path == "/api/v1/live";
        allowed |= asked.from_here || path == "/api/v1/readings";
        if !live {
            tokio::select! {
                _ = http::ask(&router, asked.request) => {}
                () = daemon.follow() => unreachable!("it follows for ever"),
            }
        }
        assert!(allowed || daemon.ordered == 0, "a stranger gave an order");
    }
}

fuzz_target!(|data: &[u8]| litfloor_fuzz::in_no_time(all(data)));
