use std::io;
use std::net::Ipv4Addr;

use serde_json::Value;

use super::*;
use crate::floor::model::Node;
use crate::net::ask::Heard;
use crate::net::holder::{Holder, Process};
use crate::net::interfaces::Named;
use crate::net::socket::OpenError;

fn node(name: &str, address: &str) -> Node {
    Node {
        name: name.to_owned(),
        address: format!("{address}:6454").parse().unwrap(),
    }
}

fn interface(name: &str, address: &str, mask: &str) -> Named {
    Named {
        name: name.to_owned(),
        address: address.parse().unwrap(),
        mask: mask.parse().unwrap(),
    }
}

fn told(points: Vec<Point>, format: Format) -> (u8, String) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let status = tell(points, None, format, &mut out, &mut err).unwrap();
    assert!(err.is_empty());
    (status, String::from_utf8(out).unwrap())
}

#[test]
fn what_is_to_be_minded_is_no_reason_to_stay_at_home_and_what_is_wrong_is() {
    let fine = Point::fine("clock", "right");
    let mind = Point::mind("buffers", "small", "make them larger");
    let wrong = Point::wrong("artnet_port", "taken", "free it");
    let (status, text) = told(vec![fine.clone(), mind.clone()], Format::Text);
    assert_eq!(status, 0);
    for line in [
        "fine   clock    right",
        "MIND   buffers  small",
        "                -> make them larger",
    ] {
        assert!(text.lines().any(|found| found == line), "{line} in\n{text}");
    }
    assert!(text.contains("0 wrong, 1 to mind, 1 fine."), "{text}");
    let (status, json) = told(vec![fine, wrong, mind], Format::Json);
    let json: Value = serde_json::from_str(&json).unwrap();
    assert_eq!((status, &json["verdict"]), (3, &"wrong".into()));
    assert_eq!(json["points"][1]["to_do"], "free it");
    assert_eq!(
        (&json["points"][0]["verdict"], &json["points"][0]["to_do"]),
        (&"fine".into(), &Value::Null)
    );
}

#[test]
fn a_floor_file_with_faults_is_the_input_s_fault_and_the_machine_is_looked_at_all_the_same() {
    let (_directory, path) = {
        let directory = tempfile::tempdir().unwrap();
        let path = directory.path().join("floor.toml");
        std::fs::write(&path, "name = 3\n").unwrap();
        (directory, path)
    };
    let looked = |format| {
        let options = Doctor {
            floor: path.clone(),
            artnet: "127.0.0.1:0".parse().unwrap(),
            http: "127.0.0.1:0".parse().unwrap(),
            state: Some(path.parent().unwrap().join("state")),
            doors: Doors::default(),
            format,
        };
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let status = run(&options, &mut out, &mut err);
        (
            status,
            String::from_utf8(out).unwrap(),
            String::from_utf8(err).unwrap(),
        )
    };
    let (status, out, err) = looked(Format::Text);
    assert_eq!(status, 1, "{out}");
    assert!(err.contains("floor.toml:1:8"), "{err}");
    assert!(
        out.starts_with("WRONG  floor file") && out.contains("artnet port"),
        "{out}"
    );
    let (status, out, err) = looked(Format::Json);
    assert_eq!((status, err.as_str()), (1, ""));
    let found: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(found["points"][0]["verdict"], "wrong");
    assert!(!found["faults"].as_array().unwrap().is_empty());
    let points = found["points"].as_array().unwrap();
    for point in ["http_port", "buffers", "clock", "state", "versions"] {
        assert!(
            points.iter().any(|found| found["point"] == point),
            "{point} in {out}"
        );
    }
}

#[test]
fn ways_to_nodes_are_judged_by_the_networks_of_the_machine() {
    let own = [
        interface("lo", "127.0.0.1", "255.0.0.0"),
        interface("eth0", "10.0.0.5", "255.255.255.0"),
        interface("wlan0", "192.168.1.7", "255.255.255.0"),
    ];
    let ways = |nodes: &[Node], from: io::Result<&str>| {
        let from = from.map(|from| from.parse::<Ipv4Addr>().unwrap());
        let way = |_| match &from {
            Ok(from) => Ok(*from),
            Err(why) => Err(io::Error::from(why.kind())),
        };
        let points = network::of_ways(nodes, &own, &way);
        let told = points
            .iter()
            .map(|point| (point.verdict, point.told.clone()));
        told.collect::<Vec<_>>()
    };
    let near = [node("west", "10.0.0.21"), node("east", "10.0.0.22")];
    let told = ways(&near, Ok("10.0.0.5"));
    assert_eq!(
        told,
        [(
            Verdict::Fine,
            "datagrams to 2 nodes leave by eth0 (10.0.0.5)".to_owned()
        )]
    );
    let told = ways(&near[..1], Ok("192.168.1.7"));
    assert_eq!(told[0].0, Verdict::Mind);
    assert!(told[0].1.contains("in the network of eth0") && told[0].1.contains("leave by wlan0"));
    let told = ways(&[node("far", "10.9.9.9")], Ok("10.0.0.5"));
    assert_eq!(told[0].0, Verdict::Mind);
    assert!(
        told[0].1.contains("in no network of this machine"),
        "{told:?}"
    );
    let told = ways(
        &[node("far", "10.9.9.9")],
        Err(io::ErrorKind::NetworkUnreachable.into()),
    );
    assert_eq!(told[0].0, Verdict::Wrong);
    assert!(
        told[0].1.contains("no way to node far (10.9.9.9:6454)"),
        "{told:?}"
    );
    let told = ways(&[node("here", "127.0.0.9")], Ok("127.0.0.1"));
    assert_eq!(told[0].0, Verdict::Fine);
}

#[test]
fn silent_nodes_are_wrong_only_where_their_answers_could_be_heard() {
    let nodes = [node("west", "10.0.0.21"), node("east", "10.0.0.22")];
    let mut heard = Heard::default();
    heard
        .answers
        .insert("10.0.0.21:6454".parse().unwrap(), "w".to_owned());
    let mut asked: Vec<SocketAddrV4> = nodes.iter().map(|node| node.address).collect();
    let point =
        |heard: &Heard, own_port| network::of_answers(&nodes, &asked, heard, own_port).remove(0);
    let silent = point(&heard, true);
    assert_eq!(silent.verdict, Verdict::Wrong);
    assert_eq!(
        silent.told,
        "1 of 2 nodes answered a poll; silent: east (10.0.0.22:6454)"
    );
    assert_eq!(point(&heard, false).verdict, Verdict::Mind);
    heard
        .answers
        .insert("10.0.0.22:1".parse().unwrap(), "e".to_owned());
    assert_eq!(
        point(&heard, true),
        Point::fine("nodes", "2 nodes answered a poll")
    );
    // Unless another one that was asked at its address may have been it.
    asked.push("10.0.0.22:1".parse().unwrap());
    let silent = network::of_answers(&nodes, &asked, &heard, true).remove(0);
    assert_eq!(silent.verdict, Verdict::Wrong);
    assert!(silent.told.ends_with("east (10.0.0.22:6454)"), "{silent:?}");
}

#[test]
fn neighbours_at_the_port_and_several_consoles_are_told() {
    let holder = |pid, name: &str| Holder {
        address: "10.0.0.5:6454".parse().unwrap(),
        uid: 1_000,
        process: Some(Process {
            pid,
            name: name.to_owned(),
        }),
    };
    assert_eq!(
        ports::of_neighbours(&[holder(std::process::id(), "litfloor")]),
        None
    );
    let point = ports::of_neighbours(&[holder(1, "viewer")]).unwrap();
    assert!(
        point.told.ends_with("viewer (process 1) at 10.0.0.5:6454"),
        "{point:?}"
    );
    let mut heard = Heard::default();
    assert!(network::of_others(&heard).is_empty());
    heard.frames.entry(Ipv4Addr::LOCALHOST).or_default();
    assert_eq!(network::of_others(&heard)[0].verdict, Verdict::Fine);
    heard.frames.entry(Ipv4Addr::BROADCAST).or_default();
    assert_eq!(network::of_others(&heard)[0].verdict, Verdict::Mind);
}

#[test]
fn cables_radio_and_speed_are_told_of_each_interface() {
    let sys = tempfile::tempdir().unwrap();
    let own = [
        interface("lo", "127.0.0.1", "255.0.0.0"),
        interface("eth0", "10.0.0.5", "255.255.255.0"),
    ];
    let at = sys.path().join("eth0");
    std::fs::create_dir(&at).unwrap();
    let point = |file: &str, text: &str| {
        std::fs::write(at.join(file), text).unwrap();
        let mut points = network::of_interfaces(&own, sys.path());
        assert_eq!(points.len(), 1);
        points.remove(0)
    };
    // IFF_UP, IFF_BROADCAST and IFF_MULTICAST (netdevice(7)), without broadcast, then with it.
    assert!(point("flags", "0x1001\n").told.contains("can't broadcast"));
    assert_eq!(
        point("flags", "0x1003\n"),
        Point::fine("interface", "eth0 has 10.0.0.5/24")
    );
    assert!(point("flags", "0x3\n").told.contains("multicast"));
    assert_eq!(point("speed", "1000\n").verdict, Verdict::Fine);
    // What a driver without an answer says.
    assert_eq!(point("speed", "-1\n").verdict, Verdict::Fine);
    assert!(point("speed", "10\n").told.contains("10 Mbit/s only"));
    assert_eq!(point("carrier", "0\n").verdict, Verdict::Wrong);
    std::fs::write(at.join("carrier"), "1\n").unwrap();
    std::fs::create_dir(at.join("wireless")).unwrap();
    assert!(
        network::of_interfaces(&own, sys.path())[0]
            .told
            .contains("by radio")
    );
    let alone = network::of_interfaces(&own[..1], sys.path());
    assert!(alone[0].told.contains("in no network"), "{alone:?}");
}

#[test]
fn a_low_port_is_refused_for_want_of_a_right() {
    let to_do = |port, kind: io::ErrorKind| {
        ports::refused(&OpenError::Other {
            what: "TCP (dashboard)",
            address: SocketAddrV4::new(Ipv4Addr::UNSPECIFIED, port).into(),
            source: kind.into(),
        })
    };
    let denied = io::ErrorKind::PermissionDenied;
    assert!(to_do(80, denied).contains("choose one from 1024 up"));
    assert!(!to_do(1_024, denied).contains("1024 need"));
    assert!(!to_do(80, io::ErrorKind::OutOfMemory).contains("1024 need"));
}

#[test]
fn of_two_litfloors_key_role_and_the_other_one_are_told() {
    let verdict = |text| pair::of_key(text).verdict;
    assert_eq!(verdict(Some("a long enough key")), Verdict::Fine);
    assert_eq!(verdict(Some("short")), Verdict::Wrong);
    // The service's own file has it, perhaps.
    assert_eq!(verdict(None), Verdict::Mind);
    let at = |text: &str| -> SocketAddrV4 { text.parse().unwrap() };
    let two = crate::floor::model::StandbyPair {
        first: at("10.0.0.2:6454"),
        second: at("10.0.0.3:6454"),
    };
    let role = |last| {
        let own = [([10, 0, 0, last].into(), [255, 255, 255, 0].into())];
        pair::of_role(two, at("0.0.0.0:6454"), &own)
    };
    let (point, peer) = role(3);
    assert_eq!((point.verdict, peer), (Verdict::Fine, Some(two.first)));
    assert!(point.told.contains("the second of two"), "{point:?}");
    let (point, peer) = role(4);
    assert_eq!((point.verdict, peer), (Verdict::Wrong, None));
    let mut heard = Heard::default();
    assert_eq!(
        pair::of_other(two.first, &[two.first], &heard, true).verdict,
        Verdict::Mind
    );
    heard.answers.insert(two.first, "litfloor".to_owned());
    assert_eq!(
        pair::of_other(two.first, &[two.first], &heard, true).verdict,
        Verdict::Fine
    );
}
