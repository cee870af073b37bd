//! What arrives: the rules of Art-Net 4 for `ArtDmx`, through the engine on a made-up clock.
//!
//! Rules are those of the published Art-Net 4 specification; what real senders do was seen on the
//! wire. Bytes are laid out here by hand, not by the code under test.

mod support;

use std::net::SocketAddrV4;

use litfloor::engine::snapshot::SignalState;
use litfloor::engine::tally::Outcome;
use proptest::prelude::*;
use support::stage::{A, B, C, SYNC, Stage, dmx, dmx_bytes, floor};

#[test]
fn lengths_shorter_than_512_and_odd_ones_are_taken() {
    // Art-Net 4: Length is even, 2 to 512. Seen on the wire: odd lengths and 1 as well.
    let mut stage = Stage::usual("");
    for (length, first) in [
        (512_usize, 1_u8),
        (2, 2),
        (6, 3),
        (5, 4),
        (3, 5),
        (1, 6),
        (511, 7),
    ] {
        let before = stage.asked(0);
        let outcome = stage.console(A, &dmx(0, 1, &vec![first; length]));
        assert_eq!(outcome, Outcome::Taken, "{length}");
        let asked = stage.asked(0);
        let taken = length.min(6);
        assert_eq!(asked[..taken], [first; 6][..taken]);
        assert_eq!(asked[taken..], before[taken..], "slots behind stay");
        assert_eq!(usize::from(stage.state().universes[0].slots), length);
    }
}

#[test]
fn the_length_field_rules_not_the_size_of_the_datagram() {
    let mut stage = Stage::usual("");
    // More bytes than Length says: the rest is no slots.
    stage.console(A, &dmx_bytes(0, 0, 1, 2, &[9; 6]));
    assert_eq!(stage.asked(0), [9, 9, 0, 0, 0, 0]);
    // Fewer bytes than it says, none, and too many.
    for (length, reason) in [
        (8, Outcome::Truncated),
        (512, Outcome::Truncated),
        (0, Outcome::BadLength),
        (513, Outcome::BadLength),
        (65_535, Outcome::BadLength),
    ] {
        assert_eq!(
            stage.console(A, &dmx_bytes(0, 0, 1, length, &[7; 6])),
            reason
        );
    }
    assert_eq!(
        stage.asked(0),
        [9, 9, 0, 0, 0, 0],
        "refused frames show nothing"
    );
    let refused = stage.state().frames_refused;
    assert_eq!((refused["truncated"], refused["bad_length"]), (2, 3));
}

#[test]
fn sequence_zero_turns_the_check_off() {
    let mut stage = Stage::usual("");
    for (sequence, level) in [(9, 1), (0, 2), (8, 3), (0, 4), (0, 5)] {
        assert_eq!(
            stage.console(A, &dmx(sequence, 1, &[level; 6])),
            Outcome::Taken
        );
        assert_eq!(stage.asked(0), [level; 6]);
    }
}

#[test]
fn old_frames_are_dropped_also_past_the_wrap() {
    // Art-Net 4: 1 to 255, 255 is followed by 1.
    let mut stage = Stage::usual("");
    let frames = [
        (253, 1, true),
        (255, 2, true),
        (254, 3, false),
        (1, 4, true),
        (255, 5, false),
        (2, 6, true),
        (2, 7, true),
        (40, 8, true),
    ];
    let mut shown = 0;
    for (sequence, level, taken) in frames {
        stage.pass(23);
        let outcome = stage.console(A, &dmx(sequence, 1, &[level; 6]));
        let wanted = if taken {
            Outcome::Taken
        } else {
            Outcome::OldSequence
        };
        assert_eq!(outcome, wanted, "{sequence}");
        shown = if taken { level } else { shown };
        assert_eq!(stage.asked(0)[0], shown);
    }
    assert_eq!(stage.state().frames_refused["old_sequence"], 2);
}

#[test]
fn a_source_that_starts_again_is_believed_soon() {
    let mut stage = Stage::usual("");
    for sequence in 1..=15 {
        stage.pass(23);
        stage.console(A, &dmx(sequence, 1, &[1; 6]));
    }
    let mut refused = 0;
    for sequence in 1..=10 {
        stage.pass(23);
        let outcome = stage.console(A, &dmx(sequence, 1, &[2; 6]));
        refused += u32::from(outcome == Outcome::OldSequence);
    }
    assert!(
        refused <= 2,
        "believed within three frames, not after {refused}"
    );
    assert_eq!(stage.asked(0), [2; 6]);
}

#[test]
fn what_real_senders_number_is_taken() {
    // Seen on the wire: a constant number; one counter shared by all universes.
    let mut stage = Stage::usual("");
    for level in 0..100 {
        stage.pass(23);
        assert_eq!(stage.console(A, &dmx(7, 1, &[level; 6])), Outcome::Taken);
    }
    let mut shared = 1_u8;
    for level in 0..200 {
        stage.pass(23);
        for universe in [1, 2, 7] {
            let outcome = stage.console(B, &dmx(shared, universe, &[level; 6]));
            assert_ne!(outcome, Outcome::OldSequence, "{shared}");
            shared = if shared == 255 { 1 } else { shared + 1 };
        }
    }
}

#[test]
fn any_source_port_is_the_same_source() {
    // Art-Net 4: a source is IP and Physical. Seen on the wire: ephemeral ports, new ones too.
    let mut stage = Stage::usual("");
    for port in [6454, 50_000, 50_001, 1] {
        let from = SocketAddrV4::new(A, port);
        assert_eq!(stage.arrives(from, &dmx(0, 1, &[3; 6])), Outcome::Taken);
    }
    assert_eq!(stage.state().universes[0].sources.len(), 1);
}

#[test]
fn port_address_zero_is_taken_and_more_than_15_bits_are_not() {
    let mut stage = Stage::new(&floor(&[(1, "0:0:0")], 20.0, ""));
    assert_eq!(stage.console(A, &dmx(0, 0, &[5; 6])), Outcome::Taken);
    assert_eq!(stage.asked(0), [5; 6]);
    assert_eq!(
        stage.console(A, &dmx(0, 0x8000, &[6; 6])),
        Outcome::BadAddress
    );
    assert_eq!(stage.console(A, &dmx(0, 0x100, &[6; 6])), Outcome::Unmapped);
    let state = stage.state();
    let unmapped = state.universes.iter().find(|u| !u.mapped).unwrap();
    assert_eq!(unmapped.port_address, "1:0:0");
}

#[test]
fn two_sources_merge_highest_or_latest() {
    let mut stage = Stage::usual("[signal]\nmerge = \"htp\"");
    stage.console(A, &dmx(0, 1, &[10, 200, 0, 0, 0, 50]));
    stage.console(B, &dmx(0, 1, &[100, 20]));
    assert_eq!(stage.asked(0), [100, 200, 0, 0, 0, 50]);
    assert!(stage.state().universes[0].merging);
    stage.console(A, &dmx(0, 1, &[10, 0, 0, 0, 0, 0]));
    assert_eq!(stage.asked(0), [100, 20, 0, 0, 0, 0], "B never sent slot 6");

    let mut stage = Stage::usual("[signal]\nmerge = \"ltp\"");
    stage.console(A, &dmx(0, 1, &[10, 200, 0, 0, 0, 0]));
    stage.console(B, &dmx(0, 1, &[100, 20, 0, 0, 0, 0]));
    assert_eq!(stage.asked(0)[..2], [100, 20]);
    stage.console(A, &dmx(0, 1, &[10, 201, 0, 0, 0, 0]));
    assert_eq!(stage.asked(0)[..2], [100, 201], "only what A changed");
}

#[test]
fn one_address_with_two_physicals_is_two_sources() {
    let mut stage = Stage::usual("");
    stage.console(A, &dmx_bytes(5, 0, 1, 2, &[10, 20]));
    stage.console(A, &dmx_bytes(1, 1, 1, 2, &[20, 10]));
    assert_eq!(stage.asked(0)[..2], [20, 20]);
    assert_eq!(stage.state().universes[0].sources.len(), 2);
}

#[test]
fn a_third_source_is_ignored_and_reported_until_one_leaves_after_ten_seconds() {
    let mut stage = Stage::usual("");
    stage.console(A, &dmx(0, 1, &[1; 6]));
    stage.console(B, &dmx(0, 1, &[2; 6]));
    assert_eq!(stage.console(C, &dmx(0, 1, &[9; 6])), Outcome::ThirdSource);
    assert_eq!(stage.asked(0), [2; 6]);
    let sources = &stage.state().universes[0].sources;
    let ignored: Vec<_> = sources
        .iter()
        .map(|s| (s.address.as_str(), s.ignored))
        .collect();
    assert_eq!(
        ignored,
        [("10.9.0.1", false), ("10.9.0.2", false), ("10.9.0.3", true)]
    );
    assert!(stage.has_notice("third_source"));
    assert_eq!(stage.state().frames_refused["third_source"], 1);
    // B falls silent; A and C go on.
    for _ in 0..19 {
        stage.pass(500);
        stage.console(A, &dmx(0, 1, &[1; 6]));
        assert_eq!(stage.console(C, &dmx(0, 1, &[9; 6])), Outcome::ThirdSource);
    }
    assert_eq!(stage.asked(0), [2; 6], "9.5 s: B is still merged");
    stage.pass(500);
    assert_eq!(stage.console(C, &dmx(0, 1, &[9; 6])), Outcome::Taken);
    assert_eq!(stage.asked(0), [9; 6]);
    assert!(!stage.has_notice("third_source"), "C is one of two now");
}

#[test]
fn a_silent_source_leaves_after_ten_seconds_and_its_levels_with_it() {
    for merge in ["htp", "ltp"] {
        let mut stage = Stage::usual(&format!("[signal]\nmerge = \"{merge}\""));
        stage.console(A, &dmx(0, 1, &[1; 6]));
        stage.console(B, &dmx(0, 1, &[200; 6]));
        for _ in 0..99 {
            stage.pass(100);
            stage.console(A, &dmx(0, 1, &[1; 6]));
        }
        assert_eq!(stage.asked(0), [200; 6], "{merge}: after 9.9 s");
        // Silent sources are looked for ten times a second, on ticks that may be as far apart.
        stage.pass(300);
        assert_eq!(stage.asked(0), [1; 6], "{merge}: after 10.2 s");
        assert!(!stage.state().universes[0].merging);
    }
}

#[test]
fn a_sole_source_that_leaves_leaves_its_picture() {
    let mut stage = Stage::usual("[signal]\nwhen_lost = \"hold\"");
    stage.console(A, &dmx(0, 1, &[77; 6]));
    stage.console(B, &dmx(0, 1, &[76; 6]));
    stage.pass(60_000);
    assert_eq!(stage.sent(0), [77; 6]);
    assert!(stage.state().universes[0].sources.is_empty());
    assert_eq!(stage.state().signal, SignalState::Lost);
}

#[test]
fn unknown_opcodes_and_garbage_are_counted_by_reason_and_change_nothing() {
    let mut stage = Stage::usual("");
    stage.console(A, &dmx(0, 1, &[5; 6]));
    stage.pass(2_000);
    let mut old = dmx(0, 1, &[6; 6]);
    old[11] = 13;
    let mut newer = dmx(0, 1, &[5; 6]);
    newer[11] = 15;
    let cases: [(&[u8], Outcome); 10] = [
        (b"", Outcome::NotArtnet),
        (b"Art-Net", Outcome::NotArtnet),
        (b"art-net\0\x00\x50\x00\x0e", Outcome::NotArtnet),
        (b"Art-Net\0\x00\x50", Outcome::Truncated),
        (&old, Outcome::BadVersion),
        (b"Art-Net\0\x34\x12\x00\x0e\x00\x00", Outcome::UnknownOpcode),
        // ArtTimeCode, ArtDiagData, ArtAddress: the standard's, of no use here.
        (b"Art-Net\0\x00\x97\x00\x0e\x00\x00", Outcome::PassedOver),
        (b"Art-Net\0\x00\x23\x00\x0e\x00\x00", Outcome::PassedOver),
        (b"Art-Net\0\x00\x60\x00\x0e\x00\x00", Outcome::PassedOver),
        // Accept higher versions.
        (&newer, Outcome::Taken),
    ];
    stage.news();
    for (bytes, outcome) in cases {
        assert_eq!(stage.console(A, bytes), outcome, "{bytes:?}");
        assert!(stage.news().is_empty());
    }
    assert_eq!(stage.asked(0), [5; 6]);
    let state = stage.state();
    assert_eq!(state.datagrams.values().sum::<u64>(), 11);
    assert_eq!(state.frames_refused["not_artnet"], 3);
    assert_eq!(state.frames_refused["unknown_opcode"], 1);
    assert_eq!(state.datagrams["passed_over"], 3);
}

/// Datagrams of every kind, sound and broken.
fn datagram() -> impl Strategy<Value = Vec<u8>> {
    let frame = (any::<u8>(), 0..3_u8, 0..4_u16, 0..520_u16, 0..520_usize).prop_map(
        |(seq, physical, universe, length, size)| {
            dmx_bytes(seq, physical, universe, length, &vec![seq; size])
        },
    );
    let known = (
        prop::sample::select(vec![0x5000_u16, 0x5200, 0x2000, 0x2100, 0x9700, 0x6000]),
        prop::collection::vec(any::<u8>(), 0..260),
    )
        .prop_map(|(opcode, tail)| [&b"Art-Net\0"[..], &opcode.to_le_bytes(), &tail].concat());
    prop_oneof![
        4 => frame,
        2 => known,
        1 => Just(SYNC.to_vec()),
        1 => prop::collection::vec(any::<u8>(), 0..64),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(48) })]
    #[test]
    fn every_datagram_ends_in_exactly_one_outcome(
        datagrams in prop::collection::vec((datagram(), 1..5_u8, 0..400_u64), 1..80),
    ) {
        let mut stage = Stage::usual("");
        let mut taken = 0;
        for (at, (bytes, from, pause)) in datagrams.iter().enumerate() {
            let from = SocketAddrV4::new([10, 9, 0, *from].into(), 6454);
            let before = stage.state().datagrams;
            let outcome = stage.arrives(from, bytes);
            let after = stage.state().datagrams;
            prop_assert_eq!(after.values().sum::<u64>(), at as u64 + 1);
            prop_assert_eq!(after[outcome.name()], before[outcome.name()] + 1);
            taken += u64::from(matches!(outcome, Outcome::Taken | Outcome::HeldForSync));
            stage.pass(*pause);
        }
        let state = stage.state();
        prop_assert_eq!(state.frames_in, taken);
        let refused: u64 = state.frames_refused.values().sum();
        prop_assert!(refused + taken <= datagrams.len() as u64);
    }
}
