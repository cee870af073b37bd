//! Who will be able to change something: the passphrase, and the token of sensors.

use std::net::SocketAddr;

use super::super::control;
use super::Point;
use crate::web::operator::{Keep, OpenedBy};

/// What `run` says of it, by whether a passphrase can be kept.
pub(super) fn look(keep: &Keep, kept: Result<(), String>, http: SocketAddr) -> Point {
    const POINT: &str = "control";
    let gate = match control::gate(keep.clone()) {
        Ok(gate) => gate,
        Err(why) => {
            return Point::wrong(
                POINT,
                why.message,
                "`litfloor run` does not start with it: set a longer one, or none",
            );
        }
    };
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
        OpenedBy::BeingHere if !http.ip().is_loopback() => Point::mind(
            POINT,
            told,
            "no phone can turn the floor down: set a passphrase on a page opened here, or give \
             LITFLOOR_PASSPHRASE (for the package's service in /etc/litfloor/secrets, which is not seen here). \
             That service keeps its own in /var/lib/litfloor: look there with `--state /var/lib/litfloor`",
        ),
        OpenedBy::BeingHere | OpenedBy::Passphrase => Point::fine(POINT, told),
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
        let point = |http: &str| look(&keep, Ok(()), http.parse().unwrap());
        assert_eq!(point("127.0.0.1:8080").verdict, Verdict::Fine);
        let open = point("0.0.0.0:8080");
        assert_eq!(open.verdict, Verdict::Mind);
        assert!(open.told.contains("from this machine only"), "{open:?}");
        let why = look(&keep, Err("full".to_owned()), ([0, 0, 0, 0], 1).into());
        assert!(why.told.contains("can be kept: full"), "{why:?}");
        assert_eq!(std::fs::read_dir(home.path()).unwrap().count(), 0);
    }

    #[test]
    fn a_passphrase_that_can_not_be_read_lets_nobody_in() {
        let home = tempfile::tempdir().unwrap();
        std::fs::write(home.path().join("operator.json"), "{}").unwrap();
        let keep = Keep::Directory(home.path().to_owned());
        let point = look(&keep, Ok(()), ([127, 0, 0, 1], 1).into());
        assert_eq!(point.verdict, Verdict::Wrong);
        assert!(point.told.contains("operator.json"), "{point:?}");
    }
}
