//! Certificates that are not what they should be. `rcgen` makes them here; what OpenSSL makes is looked at in
//! `tests/outside/test_tls.py`.

use std::path::PathBuf;
use std::time::{Duration, SystemTime};

use rcgen::{CertificateParams, KeyPair};

use super::*;

/// A certificate for `names`, valid from and until so many hours from now, and its key.
struct Pair {
    directory: tempfile::TempDir,
    floor: String,
    _floor: tempfile::TempDir,
    /// It answers, so that nobody waits for it.
    _node: Node,
}

impl Pair {
    fn new(names: &[&str], hours: (i64, i64)) -> Self {
        let names = names.iter().map(|&name| name.to_owned());
        let mut wanted = CertificateParams::new(names.collect::<Vec<_>>()).unwrap();
        let at = |hours: i64| {
            let span = Duration::from_secs(hours.unsigned_abs() * 3_600);
            let now = SystemTime::now();
            if hours < 0 { now - span } else { now + span }
        };
        wanted.not_before = at(hours.0).into();
        wanted.not_after = at(hours.1).into();
        let key = KeyPair::generate().unwrap();
        let certificate = wanted.self_signed(&key).unwrap();
        let directory = tempfile::tempdir().unwrap();
        std::fs::write(directory.path().join("floor.pem"), certificate.pem()).unwrap();
        std::fs::write(directory.path().join("floor.key"), key.serialize_pem()).unwrap();
        let node = Node::open("six");
        let (of_floor, floor) = daemon::file(&daemon::six_panels(&[node.address]));
        let pair = Self {
            directory,
            floor,
            _floor: of_floor,
            _node: node,
        };
        pair.guard(0o600);
        pair
    }

    fn path(&self, name: &str) -> PathBuf {
        self.directory.path().join(name)
    }

    /// Sets who may read the key.
    fn guard(&self, mode: u32) {
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let rights = std::fs::Permissions::from_mode(mode);
            std::fs::set_permissions(self.path("floor.key"), rights).unwrap();
        }
    }

    fn looked(&self, more: &[&str]) -> Value {
        self.with_key(&self.path("floor.key"), more)
    }

    fn with_key(&self, key: &Path, more: &[&str]) -> Value {
        let certificate = self.path("floor.pem");
        let mut options = vec!["--tls-cert", certificate.to_str().unwrap()];
        options.extend(["--tls-key", key.to_str().unwrap()]);
        options.extend(more);
        found(&self.floor, &options, &[]).1
    }
}

#[test]
fn one_that_is_good_says_until_when_and_for_whom() {
    let pair = Pair::new(&["127.0.0.1", "floor.example.org"], (-1, 24 * 10 + 1));
    let points = pair.looked(&["--name", "floor.example.org"]);
    let (good, _) = told(&points, "certificate", "fine");
    assert!(good.contains("10 days from now; SHA-256 "), "{good}");
    told(&points, "certificate_names", "fine");
    told(&points, "key_file", "fine");
    // The name that litfloor was not told, and one that is not in it.
    let (why, to_do) = told(&pair.looked(&[]), "certificate_names", "mind");
    assert!(why.contains("floor.example.org"), "{why}");
    assert!(to_do.contains("`--name floor.example.org`"), "{to_do}");
    let (why, _) = told(
        &pair.looked(&["--name", "light.example.org"]),
        "certificate_names",
        "mind",
    );
    assert!(why.ends_with("and not for light.example.org"), "{why}");
    let far = Pair::new(&["192.0.2.7"], (-1, 24 * 10 + 1)).looked(&[]);
    let (why, _) = told(&far, "certificate_names", "mind");
    assert!(why.contains("this machine has none of these"), "{why}");
}

#[test]
fn one_for_all_names_of_a_domain_is_of_use_only_with_a_name_within_it() {
    let pair = Pair::new(&["*.example.org"], (-1, 48));
    let (why, to_do) = told(&pair.looked(&[]), "certificate_names", "mind");
    assert!(
        why.contains("*.example.org") && why.contains("no name within"),
        "{why}"
    );
    assert!(to_do.contains("`--name "), "{to_do}");
    let points = pair.looked(&["--name", "floor.example.org"]);
    told(&points, "certificate_names", "fine");
    // By this machine's address they come in without a name, and by one that nobody can own.
    let with_address = Pair::new(&["*.example.org", "127.0.0.1"], (-1, 48));
    told(&with_address.looked(&[]), "certificate_names", "fine");
    let at_home = Pair::new(&["*.floor.home.arpa"], (-1, 48));
    told(&at_home.looked(&[]), "certificate_names", "fine");
}

#[cfg(target_os = "linux")]
#[test]
fn guests_who_may_ask_at_any_address_make_all_addresses_those_of_the_pages() {
    let pair = Pair::new(&["127.0.0.1"], (-1, 48));
    // All of 127.0.0.0/8 is this machine's.
    let one = ["--http", "127.0.0.2:0"];
    told(&pair.looked(&one), "certificate_names", "mind");
    let points = pair.looked(&[&one[..], &["--guests", "0.0.0.0:0"]].concat());
    told(&points, "certificate_names", "fine");
}

#[test]
fn one_after_the_first_that_can_not_be_read_keeps_no_litfloor_from_starting() {
    let pair = Pair::new(&["127.0.0.1"], (-1, 24 * 10 + 1));
    let path = pair.path("floor.pem");
    let mut text = std::fs::read_to_string(&path).unwrap();
    text.push_str("-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n");
    std::fs::write(&path, text).unwrap();
    let points = pair.looked(&[]);
    let (why, to_do) = told(&points, "certificate_chain", "mind");
    assert!(why.contains("certificate 2 in it can't be read"), "{why}");
    assert!(
        to_do.contains("litfloor starts") && to_do.contains("browsers may refuse it"),
        "{to_do}"
    );
    // The first is looked at all the same.
    let (good, _) = told(&points, "certificate", "fine");
    assert!(good.contains("10 days from now"), "{good}");
    told(&points, "certificate_names", "fine");
    // And so it is: it starts, and who looks at the first alone is served.
    let mut command = daemon::to_run(&pair.floor);
    command.arg("--tls-cert").arg(&path);
    command.arg("--tls-key").arg(pair.path("floor.key"));
    let daemon = daemon::Daemon::of(command);
    let at = format!("https://{}", daemon.http);
    let (_, fingerprint) = good.split_once("SHA-256 ").unwrap();
    let (status, said, complaint) = ended(&["status", "--at", &at, "--fingerprint", fingerprint]);
    // Nobody answers: 3.
    assert!(status <= 1, "{status} {said}{complaint}");
}

#[test]
fn one_between_the_first_and_its_root_that_ends_tonight_is_told_with_its_number() {
    for (hours, good) in [((-1, 6), false), ((2, 48), false), ((-1, 48), true)] {
        let pair = Pair::new(&["127.0.0.1"], (-1, 24 * 10 + 1));
        let path = pair.path("floor.pem");
        let mut chain = std::fs::read_to_string(&path).unwrap();
        let second = Pair::new(&["between.example.org"], hours);
        chain += &std::fs::read_to_string(second.path("floor.pem")).unwrap();
        std::fs::write(&path, chain).unwrap();
        let points = pair.looked(&[]);
        let (first, _) = told(&points, "certificate", "fine");
        assert!(first.contains("10 days from now"), "{first}");
        if good {
            let all = points["points"].as_array().unwrap().iter();
            assert!(
                all.clone().all(|one| one["point"] != "certificate_chain"),
                "{points}"
            );
            continue;
        }
        let (why, to_do) = told(&points, "certificate_chain", "mind");
        assert!(why.starts_with("certificate 2 in the file"), "{why}");
        assert!(to_do.contains("the last renewal"), "{to_do}");
    }
}

#[test]
fn one_that_is_not_valid_tonight_is_told_with_when() {
    let verdict = |hours, verdict: &str| {
        let points = Pair::new(&["127.0.0.1"], hours).looked(&[]);
        told(&points, "certificate", verdict)
    };
    let (why, to_do) = verdict((-48, -1), "wrong");
    assert!(why.contains("was valid until 20"), "{why}");
    assert!(to_do.contains("renew it"), "{to_do}");
    let (why, to_do) = verdict((1, 48), "wrong");
    assert!(why.contains("is valid from 20"), "{why}");
    assert!(to_do.contains("clock"), "{to_do}");
    let (why, to_do) = verdict((-48, 6), "mind");
    assert!(
        why.contains("ends at 20") && why.ends_with("in 5 hours"),
        "{why}"
    );
    assert!(to_do.contains("renew it"), "{to_do}");
    verdict((-48, 26), "fine");
}

#[test]
fn a_key_of_another_or_none_is_wrong_in_the_words_of_run() {
    let (pair, other) = (
        Pair::new(&["127.0.0.1"], (-1, 48)),
        Pair::new(&["127.0.0.1"], (-1, 48)),
    );
    let (why, _) = told(
        &pair.with_key(&other.path("floor.key"), &[]),
        "certificate",
        "wrong",
    );
    assert!(
        why.contains("the key is not the one of the certificate"),
        "{why}"
    );
    let (why, _) = told(
        &pair.with_key(&pair.path("none.key"), &[]),
        "certificate",
        "wrong",
    );
    assert!(
        why.contains("--tls-key") && why.contains("can't be read"),
        "{why}"
    );
    let (why, _) = told(
        &pair.with_key(&pair.path("floor.pem"), &[]),
        "certificate",
        "wrong",
    );
    assert!(why.contains("no private key"), "{why}");
}

#[cfg(unix)]
#[test]
fn a_key_that_everybody_can_read_is_minded_and_how_to_mend_it_is_what_mends_it() {
    use std::os::unix::fs::PermissionsExt;
    let mode = |path: &Path| path.metadata().unwrap().permissions().mode() & 0o777;
    let rights = |path: &Path, mode| {
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
    };
    let pair = Pair::new(&["127.0.0.1"], (-1, 48));
    let key = pair.path("floor.key");
    let base = pair.directory.path().canonicalize().unwrap();
    if base.ancestors().skip(1).any(|above| mode(above) & 1 == 0) {
        println!("not run: not everybody gets to the directory of temporary files");
        return;
    }
    rights(&base, 0o755);
    for (wide, word, narrow) in [
        (0o644, "read", 0o640),
        (0o660, "replace", 0o640),
        (0o646, "replace", 0o640),
    ] {
        pair.guard(wide);
        let (why, to_do) = told(&pair.looked(&[]), "key_file", "mind");
        assert!(
            why.contains(word) && why.contains(&format!("{wide:04o}")),
            "{why}"
        );
        let line = to_do.split('`').nth(1).unwrap();
        assert!(line.starts_with("chmod "), "{line}");
        let mended = Command::new("sh").args(["-c", line]).status().unwrap();
        assert!(mended.success());
        // The group reads as before: that is how some systems give it to who needs it.
        assert_eq!(mode(&key), narrow);
        told(&pair.looked(&[]), "key_file", "fine");
    }
    // Nobody gets to one whose directory is shut.
    pair.guard(0o644);
    for (shut, verdict) in [(0o755, "mind"), (0o750, "fine"), (0o700, "fine")] {
        rights(&base, shut);
        told(&pair.looked(&[]), "key_file", verdict);
    }
}

#[test]
fn litfloor_s_own_is_looked_at_where_it_is_kept_and_none_is_made() {
    let (_floor, floor) = daemon::file(&daemon::six_panels(&[daemon::free_udp_port()]));
    let home = tempfile::tempdir().unwrap();
    let state = home.path().join("state");
    let own = state.join("tls-own.pem");
    let keeping = ["--tls-own", "--state", state.to_str().unwrap()];
    let look = || found(&floor, &keeping, &[]).1;
    let (soon, _) = told(&look(), "certificate", "fine");
    assert!(soon.contains(own.to_str().unwrap()), "{soon}");
    assert!(!state.exists(), "it changes nothing");
    let mut command = daemon::to_run(&floor);
    command.args(keeping);
    let mut daemon = daemon::Daemon::of(command);
    let fingerprint = daemon.said("Certificate (SHA-256): ");
    assert!(daemon.end_with("TERM").success());
    let points = look();
    let (there, _) = told(&points, "certificate", "fine");
    assert!(
        there.contains(&fingerprint) && there.contains("2049-12-31"),
        "{there}"
    );
    told(&points, "key_file", "fine");
    std::fs::write(&own, "nothing").unwrap();
    let (why, _) = told(&look(), "certificate", "mind");
    assert!(
        why.contains(own.to_str().unwrap()) && why.contains("no certificate"),
        "{why}"
    );
    assert_eq!(std::fs::read_to_string(&own).unwrap(), "nothing");
    // Where a file is in the directory's place.
    let file = home.path().join("file");
    std::fs::write(&file, "").unwrap();
    let points = found(
        &floor,
        &["--tls-own", "--state", file.to_str().unwrap()],
        &[],
    )
    .1;
    let (why, _) = told(&points, "certificate", "mind");
    assert!(why.contains("can't keep it"), "{why}");
}
