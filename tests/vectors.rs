//! Golden packets, as bytes, through litfloor's reader.
//!
//! `tests/vectors/artnet.json` was written for this project; what each packet says was decoded
//! with tshark 4.0.17, and `tests/outside/test_vectors.py` has tshark decode them all again.

use std::collections::BTreeMap;

use litfloor::wire::poll_reply::{Direction, PollReply};
use litfloor::wire::{Packet, Refusal, read};

fn vectors() -> BTreeMap<String, Vec<u8>> {
    let texts: BTreeMap<String, String> =
        serde_json::from_str(include_str!("vectors/artnet.json")).unwrap();
    let bytes = |hex: &str| {
        (0..hex.len())
            .step_by(2)
            .map(|at| u8::from_str_radix(&hex[at..at + 2], 16).unwrap())
            .collect()
    };
    texts
        .into_iter()
        .map(|(name, hex)| (name, bytes(&hex)))
        .collect()
}

/// A packet in one line, so that all can be compared in one table.
fn said(bytes: &[u8]) -> String {
    match read(bytes) {
        Ok(Packet::Dmx(dmx)) => format!(
            "dmx {} sequence {} physical {} slots {:?}",
            dmx.port_address, dmx.sequence, dmx.physical, dmx.slots
        ),
        Ok(Packet::Sync) => "sync".to_owned(),
        Ok(Packet::Poll(poll)) => format!("poll {:x?}", poll.target),
        Ok(Packet::PollReply(reply)) => reply_said(&reply),
        Ok(Packet::Other(opcode)) => format!("other {opcode:04x}"),
        Err(refusal) => format!("refused: {refusal}"),
    }
}

fn reply_said(reply: &PollReply) -> String {
    let ports = reply.ports.iter().map(|port| {
        let way = match port.direction {
            Direction::Output => "out",
            Direction::Input => "in",
        };
        format!("{way} {}", port.port_address)
    });
    format!(
        "reply {:?} {:?} {:?} {} version {:?} bind {} [{}]",
        reply.short_name,
        reply.long_name,
        reply.report,
        reply.address,
        reply.version,
        reply.bind_index,
        ports.collect::<Vec<_>>().join(", ")
    )
}

#[test]
fn every_vector_is_read_as_tshark_reads_it() {
    let floor = |bind: u8| {
        format!(
            "reply \"Floor\" \"Floor node\" \"#0001 [0007] ok\" 127.0.0.1 version [0, 1] \
             bind {bind} [out 5:3:2, in 5:3:4]"
        )
    };
    let expected = [
        ("address", "other 6000".to_owned()),
        ("diag", "other 2300".to_owned()),
        (
            "dmx_addr",
            "dmx 5:3:2 sequence 255 physical 3 slots [1, 2, 3, 4]".to_owned(),
        ),
        (
            "dmx_min",
            "dmx 0:0:1 sequence 1 physical 0 slots [255, 128]".to_owned(),
        ),
        (
            "dmx_odd",
            "dmx 0:0:7 sequence 0 physical 0 slots [1, 2, 3, 4, 5]".to_owned(),
        ),
        ("poll14", "poll None".to_owned()),
        ("poll22", "poll Some((530, 53f))".to_owned()),
        (
            "poll_reply_239",
            "reply \"panel\" \"panel node\" \"#0001 [0001] ok.\" 127.0.0.1 version [0, 1] \
             bind 1 [out 1:2:3]"
                .to_owned(),
        ),
        ("pollreply207", floor(0)),
        ("pollreply213", floor(1)),
        ("pollreply239", floor(1)),
        ("rdm_sensor_value", "other 8300".to_owned()),
        ("sync", "sync".to_owned()),
        ("timecode", "other 9700".to_owned()),
        ("todreq", "other 8000".to_owned()),
        ("trigger", "other 9900".to_owned()),
        ("trigger_full", "other 9900".to_owned()),
    ];
    let expected: BTreeMap<String, String> = expected
        .into_iter()
        .map(|(name, said)| (name.to_owned(), said))
        .collect();
    let read: BTreeMap<String, String> = vectors()
        .into_iter()
        .map(|(name, bytes)| (name, said(&bytes)))
        .collect();
    assert_eq!(read, expected);
}

#[test]
fn a_vector_that_ends_too_early_is_refused_and_never_read_as_something_else() {
    let shortest = |name: &str, whole: usize| match name {
        // Art-Net 4: a reply is valid from 207 bytes on, a poll from 14.
        name if name.starts_with("poll_reply") || name.starts_with("pollreply") => 207,
        name if name.starts_with("poll") => 14,
        name if name.starts_with("dmx") => whole,
        // litfloor only looks at what they are.
        _ => 12,
    };
    for (name, bytes) in vectors() {
        for cut in 0..shortest(&name, bytes.len()) {
            let expected = if cut < 8 {
                Refusal::NotArtNet
            } else {
                Refusal::Truncated
            };
            assert_eq!(read(&bytes[..cut]), Err(expected), "{name} cut to {cut}");
        }
    }
}
