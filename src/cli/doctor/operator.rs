//! Who will be able to change something: the passphrase, and the token of sensors.

use std::net::SocketAddr;
use std::path::Path;

use super::super::{control, meter};
use super::Point;
use crate::web::Gate;
use crate::web::operator::{Keep, OpenedBy};

/// What `run` says of both, by whether something can be kept.
pub(super) fn look(keep: &Keep, kept: Result<(), String>, http: SocketAddr) -> Vec<Point> {
    vec![of_passphrase(keep, kept, http), of_token(keep)]
}

/// What to do about a variable that `run` does not take.
const NO_START: &str = "`litfloor run` does not start with it: correct or unset that variable";

fn of_passphrase(keep: &Keep, kept: Result<(), String>, http: SocketAddr) -> Point {
    const POINT: &str = "control";
    let gate = match control::by_passphrase(keep.clone()) {
        Ok(gate) => gate,
        Err(why) => return Point::wrong(POINT, why.message, NO_START),
    };
    let can_keep = kept.is_ok();
    let told = format!("changes are taken {}", gate.told_where(kept));
    let told = match (gate.opened_by(), keep) {
        (OpenedBy::BeingHere, Keep::Directory(looked_at)) => {
            format!("{told}; none is kept in {}", looked_at.display())
        }
        _ => told,
    };
    match gate.opened_by() {
        OpenedBy::Nothing => Point::wrong(
            POINT,
            gate.told_where(Ok(())),
            "nobody can change anything before that: mend the file or its rights, or move it away and set \
             a new passphrase",
        ),
        OpenedBy::BeingHere if !http.ip().is_loopback() => {
            let set = if can_keep {
                "set a passphrase on a page opened here, or give"
            } else {
                "give"
            };
            Point::mind(
                POINT,
                told,
                format!(
                    "no phone can turn the floor down: {set} LITFLOOR_PASSPHRASE (for the package's service \
                     in /etc/litfloor/secrets, which is not seen here){}",
                    elsewhere(keep)
                ),
            )
        }
        OpenedBy::BeingHere | OpenedBy::Passphrase => Point::fine(POINT, told),
    }
}

/// Where the package's service keeps a passphrase, for who looked somewhere else.
fn elsewhere(keep: &Keep) -> &'static str {
    match keep {
        Keep::Directory(directory) if directory == Path::new("/var/lib/litfloor") => "",
        _ => {
            ". That service keeps its own in /var/lib/litfloor: look there with `--state /var/lib/litfloor`"
        }
    }
}

fn of_token(keep: &Keep) -> Point {
    const POINT: &str = "readings_token";
    // A passphrase that is no good was told of before, and has nothing to do with it.
    let gate = Gate::open(keep.clone(), None).map_err(|why| why.to_string());
    let gate = gate.and_then(|gate| meter::with_token(gate).map_err(|why| why.message));
    match gate.map(|gate| gate.readings_fault()) {
        Err(why) => Point::wrong(POINT, why, NO_START),
        Ok(Some(why)) => Point::mind(
            POINT,
            format!("no sensor can report by HTTP: {why}"),
            "mend the file or its rights, or move it away and make a new token on the page Power",
        ),
        Ok(None) => Point::fine(POINT, "nothing is wrong with it, if sensors have one"),
    }
}

#[cfg(test)]
mod tests {
    use super::super::Verdict;
    use super::*;

    #[test]
    fn without_a_passphrase_only_who_is_here_turns_it_down_and_nothing_is_written() {
        let home = tempfile::tempdir().unwrap();
        let keep = Keep::Directory(home.path().join("state"));
        let point = |http: &str| of_passphrase(&keep, Ok(()), http.parse().unwrap());
        assert_eq!(point("127.0.0.1:8080").verdict, Verdict::Fine);
        let open = point("0.0.0.0:8080");
        assert_eq!(open.verdict, Verdict::Mind);
        assert!(open.told.contains("from this machine only"), "{open:?}");
        let why = of_passphrase(&keep, Err("full".to_owned()), ([0, 0, 0, 0], 1).into());
        assert!(why.told.contains("can be kept: full"), "{why:?}");
        let page = |point: &Point| point.to_do.as_ref().unwrap().contains("on a page");
        assert!(page(&open) && !page(&why), "{why:?}");
        assert_eq!(std::fs::read_dir(home.path()).unwrap().count(), 0);
    }

    #[test]
    fn a_passphrase_that_can_not_be_read_lets_nobody_in() {
        let home = tempfile::tempdir().unwrap();
        std::fs::write(home.path().join("operator.json"), "{}").unwrap();
        let keep = Keep::Directory(home.path().to_owned());
        let point = of_passphrase(&keep, Ok(()), ([127, 0, 0, 1], 1).into());
        assert_eq!(point.verdict, Verdict::Wrong);
        assert!(point.told.contains("operator.json"), "{point:?}");
    }

    #[test]
    fn who_looked_where_the_service_keeps_it_is_not_sent_there() {
        assert_eq!(elsewhere(&Keep::Directory("/var/lib/litfloor/".into())), "");
        let other = Keep::Directory("/var/lib/litfloor/.local/state/litfloor".into());
        assert!(elsewhere(&other).ends_with("`--state /var/lib/litfloor`"));
    }

    #[test]
    fn a_token_that_can_not_be_read_keeps_sensors_out_and_litfloor_starts() {
        let home = tempfile::tempdir().unwrap();
        let keep = Keep::Directory(home.path().to_owned());
        assert_eq!(of_token(&keep).verdict, Verdict::Fine);
        std::fs::write(home.path().join("readings.json"), "{}").unwrap();
        let point = of_token(&keep);
        assert_eq!(point.verdict, Verdict::Mind);
        assert!(point.told.contains("readings.json"), "{point:?}");
    }
}
