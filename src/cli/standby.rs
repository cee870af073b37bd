//! Which of two litfloors that stand by for each other this one is, and what both must know.

use std::net::SocketAddrV4;

use argon2::password_hash::rand_core::{OsRng, RngCore};
use blake2::{Blake2s256, Digest};

use super::failure::Failure;
use crate::engine::Interface;
use crate::engine::snapshot::{StandbyDuty, StandbyState};
use crate::engine::standby::{Key, Role, Setup};
use crate::floor::model::{Floor, StandbyPair, WhenEnded};
use crate::net::interfaces;

/// Where the key that both must know comes from.
pub(super) const KEY: &str = "LITFLOOR_STANDBY_KEY";

/// The least that such a key has.
const LEAST: usize = 16;

/// What the engine needs to know of the other litfloor; nothing if the floor file names none.
///
/// # Errors
/// When this machine is neither of the two, or the key is missing.
pub(super) fn setup(
    floor: &Floor,
    artnet: SocketAddrV4,
    own: &[Interface],
) -> Result<Option<Setup>, Failure> {
    let Some(pair) = floor.network.standby else {
        return Ok(None);
    };
    let (role, peer) = which(pair, artnet, own)?;
    let key = key(std::env::var(KEY).ok().as_deref()).map_err(Failure::usage)?;
    let mut run = [0; 8];
    OsRng.try_fill_bytes(&mut run).map_err(|error| {
        Failure::machine(format!("the system gives no random numbers: {error}"))
    })?;
    Ok(Some(Setup {
        role,
        peer,
        key,
        // 0 says that none was heard.
        run: u64::from_le_bytes(run).max(1),
    }))
}

/// Which of the two this machine is, and where the other one is.
///
/// # Errors
/// When it is neither, or both.
pub(super) fn which(
    pair: StandbyPair,
    artnet: SocketAddrV4,
    own: &[Interface],
) -> Result<(Role, SocketAddrV4), Failure> {
    let ours = |listener| interfaces::loops_back(listener, artnet, own);
    match (ours(pair.first), ours(pair.second)) {
        (true, false) => Ok((Role::First, pair.second)),
        (false, true) => Ok((Role::Second, pair.first)),
        (false, false) => {
            let own: Vec<_> = own.iter().map(|(address, _)| address.to_string()).collect();
            // An interface may still come: whoever starts litfloor again tries again.
            Err(Failure::machine(format!(
                "[standby] of the floor file names {} and {}, and neither is where this litfloor listens \
                 ({artnet}; this machine has {}). Correct the addresses, give this one with --artnet, or \
                 take [standby] out to run alone.",
                pair.first,
                pair.second,
                own.join(", ")
            )))
        }
        (true, true) => Err(Failure::usage(format!(
            "both {} and {} of [standby] are addresses of this machine at which this litfloor listens: \
             give the one that it is to have with --artnet.",
            pair.first, pair.second
        ))),
    }
}

/// The key of this text.
///
/// # Errors
/// When there is none or it is too short, for people.
pub(super) fn key(text: Option<&str>) -> Result<Key, String> {
    let wanted = format!(
        "[standby] of the floor file needs a key that both machines know and nobody else, or anybody could \
         say that the other one is still alive. Set {KEY} to the same {LEAST} characters or more on both, \
         in the environment, or for the package's service in /etc/litfloor/secrets, which only root can read."
    );
    match text {
        None => Err(wanted),
        Some(text) if text.chars().count() < LEAST => Err(format!(
            "{KEY} is shorter than {LEAST} characters. {wanted}"
        )),
        Some(text) => Ok(Blake2s256::digest(text).into()),
    }
}

/// A number of a floor file: the same for the same text.
pub(super) fn number(text: &str) -> u64 {
    let hash = Blake2s256::digest(text);
    let first = hash.first_chunk::<8>();
    first.map_or(0, |bytes| u64::from_le_bytes(*bytes))
}

/// For people, at the start.
pub(super) fn told(setup: &Setup) -> String {
    match setup.role {
        Role::First => format!(
            "the first of two; it leads while it can, and the one at {} stands by",
            setup.peer
        ),
        Role::Second => format!(
            "the second of two; it stands by for the one at {}, and leads when that is gone",
            setup.peer
        ),
    }
}

/// For people, at the end: what becomes of the picture.
pub(super) fn end_told(other: Option<&StandbyState>, when_ended: WhenEnded) -> String {
    let there = |other: &&StandbyState| {
        let ends = other
            .peer_duty
            .is_none_or(|duty| duty == StandbyDuty::Ended);
        !ends && other.is_heard()
    };
    // Who did not lead sent nothing.
    let led = other.is_none_or(|other| other.duty == StandbyDuty::Leads);
    match other.filter(there) {
        Some(StandbyState {
            peer,
            peer_duty: Some(StandbyDuty::Leads),
            ..
        }) => format!("Ended. The litfloor at {peer} leads, and the floor goes on."),
        Some(StandbyState { peer, .. }) => format!(
            "Ended. The litfloor at {peer} takes over, and the floor goes on: to make it dark, end that one \
             as well, and then switch off its supplies."
        ),
        None if led && when_ended == WhenEnded::Dark => {
            "Ended. The floor was sent black: where a panel is still lit, its node did not hear that; switch its \
                 supply off."
                .to_owned()
        }
        None => {
            "Ended. The nodes hold the last picture they got: to make the floor dark, switch off \
                 its supplies or let the console send black before the end."
                .to_owned()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_end_says_who_goes_on() {
        let told = |peer_duty, peer_heard_s| {
            let other = StandbyState {
                duty: StandbyDuty::Leads,
                peer_duty,
                peer_heard_s,
                ..StandbyState::of_a_second()
            };
            // What the file says of the end counts only for who is alone.
            let [holds, dark] =
                [WhenEnded::Hold, WhenEnded::Dark].map(|when| end_told(Some(&other), when));
            assert_eq!(holds == dark, !holds.contains("nodes hold"));
            holds
        };
        let waits = Some(StandbyDuty::StandsBy);
        assert!(told(waits, Some(0.1)).contains("10.0.0.2:6454 takes over"));
        assert!(told(Some(StandbyDuty::Leads), Some(0.1)).contains("10.0.0.2:6454 leads"));
        for alone in [
            told(waits, Some(3.0)),
            told(None, None),
            told(Some(StandbyDuty::Ended), Some(0.1)),
            end_told(None, WhenEnded::Hold),
        ] {
            assert!(alone.contains("nodes hold the last picture"), "{alone}");
        }
        let dark = end_told(None, WhenEnded::Dark);
        assert!(dark.contains("was sent black"), "{dark}");
    }

    #[test]
    fn who_it_is_follows_from_where_it_listens() {
        let at = |text: &str| -> SocketAddrV4 { text.parse().unwrap() };
        let pair = StandbyPair {
            first: at("10.0.0.2:6454"),
            second: at("10.0.0.3:6454"),
        };
        let own = |last| [([10, 0, 0, last].into(), [255, 255, 255, 0].into())];
        let any = at("0.0.0.0:6454");
        let found = |artnet, own: &[_]| which(pair, artnet, own).unwrap();
        let refused = |artnet, own: &[_]| {
            let failure = which(pair, artnet, own).unwrap_err();
            (failure.status, failure.message)
        };
        assert_eq!(found(any, &own(2)), (Role::First, pair.second));
        assert_eq!(found(any, &own(3)), (Role::Second, pair.first));
        // An address that is not there may come yet, so that is the machine's fault.
        let (status, why) = refused(any, &own(4));
        assert!(
            status == 3 && why.contains("this machine has 10.0.0.4"),
            "{why}"
        );
        let (status, other_port) = refused(at("0.0.0.0:6455"), &own(2));
        assert!(
            status == 3 && other_port.contains("0.0.0.0:6455"),
            "{other_port}"
        );
        let both = [own(2), own(3)].concat();
        let (status, why) = refused(any, &both);
        assert!(status == 2 && why.contains("--artnet"), "{why}");
        assert_eq!(
            found(at("10.0.0.3:6454"), &both),
            (Role::Second, pair.first)
        );
    }

    #[test]
    fn a_key_is_long_and_the_same_for_the_same_text() {
        assert!(key(None).unwrap_err().contains(KEY));
        assert!(key(Some("short")).unwrap_err().contains("shorter"));
        let one = key(Some("a long enough key")).unwrap();
        assert_eq!(key(Some("a long enough key")), Ok(one));
        assert_ne!(key(Some("a long enough kez")), Ok(one));
        assert_ne!(number("a"), number("b"));
    }
}
