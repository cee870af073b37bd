//! Whom litfloor listens to: each fault with its place, and what a sound file becomes.

use super::super::model::{Pin, StandbyPair};
use super::super::parse;
use super::BASE;
use super::faults::Edits;
use crate::wire::PortAddress;

/// The fault, once for each mark, and nothing else told.
pub(super) const TRUST: &[(&str, Edits)] = &[
    ("missing-key", &[("[cap]", "‹[network]\n[cap]")]),
    (
        "empty-list",
        &[("[cap]", "[network]\nsources = ‹[]\n[cap]")],
    ),
    (
        "bad-network",
        &[(
            "[cap]",
            "[network]\nsources = [‹\"10.0.0.1/24\", \"10.0.0.0/24\", ‹\"10.0.0.0/40\"]\n[cap]",
        )],
    ),
    (
        "past-last-universe",
        &[(
            "[[circuit]]",
            "[[pin]]\nstart = ‹\"127:15:15\"\nuniverses = 2\nsource = \"10.0.0.9\"\n[[circuit]]",
        )],
    ),
    (
        "needless-pin",
        &[(
            "[[circuit]]",
            "[[pin]]\nstart = ‹\"0:0:3\"\nuniverses = 9\nsource = \"10.0.0.9\"\n[[circuit]]",
        )],
    ),
    (
        "pinned-twice",
        &[(
            "[[circuit]]",
            "[[pin]]\nstart = \"0:0:1\"\nuniverses = 2\nsource = \"10.0.0.9\"\n\
             [[pin]]\nstart = ‹\"0:0:2\"\nsource = \"10.0.0.8\"\n[[circuit]]",
        )],
    ),
    (
        "pin-not-admitted",
        &[(
            "[[circuit]]",
            "[network]\nsources = [\"10.0.0.0/29\"]\n\
             [[pin]]\nstart = \"0:0:1\"\nsource = ‹\"10.0.0.9\"\n[[circuit]]",
        )],
    ),
    (
        "out-of-range",
        &[(
            "[[circuit]]",
            "[[pin]]\nstart = \"0:0:1\"\nuniverses = ‹0\nsource = \"10.0.0.9\"\n[[circuit]]",
        )],
    ),
    (
        "same-standby",
        &[(
            "[[circuit]]",
            "[standby]\nfirst = \"10.0.0.8\"\nsecond = ‹\"10.0.0.8:6454\"\n[[circuit]]",
        )],
    ),
    (
        "bad-address",
        &[(
            "[[circuit]]",
            "[standby]\nfirst = ‹\"0.0.0.0\"\nsecond = ‹\"10.0.0.255:0\"\n[[circuit]]",
        )],
    ),
    (
        "standby-is-node",
        &[(
            "[[circuit]]",
            "[standby]\nfirst = ‹\"10.0.0.1\"\nsecond = \"10.0.0.9\"\n[[circuit]]",
        )],
    ),
];

#[test]
fn a_file_without_them_listens_to_all_and_stands_alone() {
    let network = parse("base.toml", BASE).unwrap().network;
    assert_eq!(network, super::super::model::NetworkSettings::default());
}

#[test]
fn what_is_said_is_taken() {
    let text = format!(
        "{BASE}[network]\nsources = [\"10.0.0.0/24\"]\n[[pin]]\nstart = \"0:0:1\"\nuniverses = 2\n\
         source = \"10.0.0.9\"\n[standby]\nfirst = \"10.0.0.8\"\nsecond = \"10.0.0.7:7000\"\n"
    );
    let network = parse("trust.toml", &text).unwrap().network;
    assert_eq!(network.sources.len(), 1);
    assert!(network.admits([10, 0, 0, 200].into()) && !network.admits([10, 0, 1, 1].into()));
    let pin = Pin {
        start: PortAddress::new(1).unwrap(),
        universes: 2,
        source: [10, 0, 0, 9].into(),
    };
    assert_eq!(network.pins, [pin]);
    let standby = StandbyPair {
        first: "10.0.0.8:6454".parse().unwrap(),
        second: "10.0.0.7:7000".parse().unwrap(),
    };
    assert_eq!(network.standby, Some(standby));
}
