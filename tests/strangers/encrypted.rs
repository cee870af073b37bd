//! The encrypted door: what it shows, what it sets, and who speaks plainly to it.

use std::io::Write;
use std::path::Path;
use std::sync::Arc;

use tokio_rustls::rustls::pki_types::pem::PemObject;
use tokio_rustls::rustls::pki_types::{CertificateDer, ServerName};
use tokio_rustls::rustls::{self, ClientConfig, ClientConnection, RootCertStore, StreamOwned};

use super::*;

/// Who trusts the certificate of a PEM file and no other.
fn who_trusts(certificate: &Path) -> Arc<ClientConfig> {
    let mut roots = RootCertStore::empty();
    roots
        .add(CertificateDer::from_pem_file(certificate).unwrap())
        .unwrap();
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let config = ClientConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_root_certificates(roots)
        .with_no_client_auth();
    Arc::new(config)
}

fn encrypted(
    config: &Arc<ClientConfig>,
    at: SocketAddrV4,
    request: &str,
) -> std::io::Result<Answer> {
    let name = ServerName::try_from("localhost").unwrap();
    let client = ClientConnection::new(Arc::clone(config), name).unwrap();
    let mut stream = StreamOwned::new(client, connect(ME, at));
    stream.write_all(request.as_bytes())?;
    let mut all = Vec::new();
    match stream.read_to_end(&mut all) {
        Err(error) if error.kind() != ErrorKind::UnexpectedEof => Err(error),
        _ => Ok(Answer::of(&String::from_utf8_lossy(&all))),
    }
}

fn asks(method: &str, at: SocketAddrV4, path: &str, more: &str, body: &str) -> String {
    format!(
        "{method} {path} HTTP/1.1\r\nHost: {at}\r\nConnection: close\r\n\
         Content-Type: application/json\r\nContent-Length: {}\r\n{more}\r\n{body}",
        body.len()
    )
}

#[test]
fn an_own_certificate_is_told_kept_and_taken_by_who_trusts_it() {
    let mut house = House::new(&["--tls-own"], Some("correct horse"));
    let at = house.daemon.http;
    let fingerprint = house.daemon.said("Certificate (SHA-256): ");
    let file = house.directory.path().join("state/tls-own.pem");
    let trusts = who_trusts(&file);
    let get = |path: &str| encrypted(&trusts, at, &asks("GET", at, path, "", "")).unwrap();
    let floor = get("/api/v1/floor");
    assert_eq!(floor.status, 200);
    // A browser that once held to encryption here would find no way past a new certificate of ours.
    assert_eq!(floor.header("strict-transport-security"), None);
    let session: Value = serde_json::from_str(&get("/api/v1/session").body).unwrap();
    assert_eq!(session["encrypted"], true);

    // Cookies never travel in the clear, and a plain page of the same name is not ours.
    let body = "{\"passphrase\": \"correct horse\"}";
    let sign_in = |origin: &str| {
        let more = format!("Origin: {origin}://{at}\r\n");
        encrypted(
            &trusts,
            at,
            &asks("POST", at, "/api/v1/session", &more, body),
        )
        .unwrap()
    };
    let plain_page = sign_in("http");
    assert_eq!(
        (plain_page.status, plain_page.word().as_str()),
        (403, "foreign_origin")
    );
    let signed_in = sign_in("https");
    assert_eq!(signed_in.status, 204);
    let cookie = signed_in.header("set-cookie").unwrap();
    assert!(cookie.split("; ").any(|part| part == "secure"), "{cookie}");

    // Who does not know the certificate does not go on.
    let stranger = tempfile::tempdir().unwrap();
    let other = make(stranger.path(), "other");
    assert!(encrypted(&who_trusts(&other.0), at, &asks("GET", at, "/", "", "")).is_err());

    // Started again it is the same certificate.
    let text = std::fs::read(&file).unwrap();
    let der = CertificateDer::from_pem_slice(&text).unwrap();
    let hash = ring::digest::digest(&ring::digest::SHA256, &der);
    let told: Vec<String> = hash
        .as_ref()
        .iter()
        .map(|byte| format!("{byte:02X}"))
        .collect();
    assert_eq!(fingerprint, told.join(":"));
}

#[test]
fn who_speaks_plainly_to_the_encrypted_door_is_told_where_to_go() {
    let house = House::new(&["--tls-own"], None);
    let at = house.daemon.http;
    let page = get(ME, at, "/faults?a=b", "");
    assert_eq!(page.status, 307);
    assert_eq!(
        page.header("location"),
        Some(format!("https://{at}/faults?a=b").as_str())
    );
    let said = change(
        ME,
        at,
        "POST",
        "/api/v1/session",
        "",
        "{\"passphrase\": \"x\"}",
    );
    assert_eq!((said.status, said.word().as_str()), (400, "https_only"));
    // No place that somebody else names.
    let bent = send(
        ME,
        at,
        "GET / HTTP/1.1\r\nHost: rebind.example.com\r\nConnection: close\r\n\r\n",
    );
    assert_eq!((bent.status, bent.header("location")), (400, None));
    // What begins as encryption and is none, and what says nothing, both end.
    let mut broken = connect(ME, at);
    broken.write_all(b"\x16\x03\x01\x00\x05hello").unwrap();
    assert!(!closes_within(&mut broken, PATIENCE).contains("HTTP"));
    let mut silent = connect(ME, at);
    assert_eq!(closes_within(&mut silent, PATIENCE), "");
    // Encryption that is begun and never agreed on.
    let mut half = connect(ME, at);
    half.write_all(b"\x16\x03\x01\x02\x00").unwrap();
    assert_eq!(closes_within(&mut half, PATIENCE), "");
    // It is well all the same; plainly it can't say so.
    assert_eq!(get(ME, at, "/healthz", "").status, 307);
}

/// Makes a certificate and its key: the paths of both.
fn make(directory: &Path, name: &str) -> (std::path::PathBuf, std::path::PathBuf) {
    let made = rcgen::generate_simple_self_signed(vec!["localhost".to_owned()]).unwrap();
    let paths = (
        directory.join(format!("{name}.crt")),
        directory.join(format!("{name}.key")),
    );
    std::fs::write(&paths.0, made.cert.pem()).unwrap();
    std::fs::write(&paths.1, made.signing_key.serialize_pem()).unwrap();
    paths
}

#[test]
fn a_given_certificate_serves_both_doors_and_what_does_not_fit_is_called_so() {
    let directory = tempfile::tempdir().unwrap();
    let (one, other) = (
        make(directory.path(), "one"),
        make(directory.path(), "other"),
    );
    let text = |path: &Path| path.to_str().unwrap().to_owned();
    let (certificate, key) = (text(&one.0), text(&one.1));
    let options = [
        "--tls-cert",
        &certificate,
        "--tls-key",
        &key,
        "--guests",
        "127.0.0.1:0",
    ];
    let mut house = House::new(&options, None);
    let at = house.daemon.http;
    let told = house.daemon.said("For guests, who can only look: https://");
    let trusts = who_trusts(&one.0);
    for at in [at, told.parse().unwrap()] {
        let floor = encrypted(&trusts, at, &asks("GET", at, "/api/v1/floor", "", "")).unwrap();
        assert_eq!(floor.status, 200);
        assert_eq!(
            floor.header("strict-transport-security"),
            Some("max-age=86400")
        );
    }

    let (_floor_directory, floor) = daemon::file(&daemon::six_panels(&[daemon::free_udp_port()]));
    let fails = |certificate: &str, key: &str| {
        daemon::ended(&[
            "run",
            &floor,
            "--artnet",
            "127.0.0.1:0",
            "--http",
            "127.0.0.1:0",
            "--state",
            directory.path().join("state").to_str().unwrap(),
            "--tls-cert",
            certificate,
            "--tls-key",
            key,
        ])
    };
    let nowhere = text(&directory.path().join("nowhere.pem"));
    let cases = [
        (
            certificate.clone(),
            text(&other.1),
            "--tls-cert",
            "not the one of the certificate",
        ),
        (nowhere.clone(), key.clone(), "--tls-cert", "can't be read"),
        (certificate.clone(), nowhere, "--tls-key", "can't be read"),
        (
            floor.clone(),
            key.clone(),
            "--tls-cert",
            "BEGIN CERTIFICATE",
        ),
        (
            certificate.clone(),
            certificate.clone(),
            "--tls-key",
            "BEGIN PRIVATE KEY",
        ),
    ];
    for (certificate, key, option, why) in cases {
        let (status, _, complaint) = fails(&certificate, &key);
        assert_eq!(status, 1, "{complaint}");
        assert!(
            complaint.starts_with(option) && complaint.contains(why),
            "{complaint}"
        );
    }
    let (status, _, complaint) = daemon::ended(&["run", &floor, "--tls-cert", &certificate]);
    assert_eq!(status, 2, "{complaint}");
    assert!(complaint.contains("--tls-key"), "{complaint}");
}

#[test]
fn status_asks_the_encrypted_door_if_it_knows_the_certificate() {
    let mut house = House::new(&["--tls-own"], None);
    let at = house.daemon.http;
    let fingerprint = house.daemon.said("Certificate (SHA-256): ");
    let file = house.directory.path().join("state/tls-own.pem");
    let encrypted = format!("https://{at}");
    let nobody = house.directory.path().join("nobody.pem");
    std::fs::write(&nobody, "").unwrap();
    let status = |at: &str, more: &[&str], trusted: &Path| {
        let mut command = daemon::litfloor(&["status", "--at", at]);
        // Where rustls looks for what a machine trusts.
        command
            .args(more)
            .env("SSL_CERT_FILE", trusted)
            .env_remove("SSL_CERT_DIR");
        let output = command.output().unwrap();
        let text = |bytes| String::from_utf8(bytes).unwrap();
        (
            output.status.code().unwrap(),
            text(output.stdout),
            text(output.stderr),
        )
    };
    let answers = |(code, out, err): (i32, String, String)| {
        // No console plays here: it is not well, but it answers.
        assert_eq!((code, err.as_str()), (1, ""), "{out}");
        assert!(
            out.starts_with(&format!("NOT WELL: floor.toml at {encrypted}, ")),
            "{out}"
        );
    };
    let plain = fingerprint.replace(':', "").to_lowercase();
    for written in [&fingerprint, &plain] {
        answers(status(&encrypted, &["--fingerprint", written], &nobody));
    }
    answers(status(&encrypted, &[], &file));

    let refused = |(code, out, err): (i32, String, String)| {
        assert_eq!((code, out.as_str()), (3, ""), "{err}");
        err
    };
    let why = refused(status(&encrypted, &[], &nobody));
    assert!(
        why.contains(&fingerprint) && why.contains("--fingerprint"),
        "{why}"
    );
    let other = make(house.directory.path(), "other");
    let why = refused(status(&encrypted, &[], &other.0));
    assert!(why.contains(&fingerprint), "{why}");
    let wrong = "00:".repeat(31) + "00";
    let why = refused(status(&encrypted, &["--fingerprint", &wrong], &file));
    assert!(why.contains(&fingerprint) && why.contains(&wrong), "{why}");
    let why = refused(status(&format!("http://{at}"), &[], &nobody));
    assert!(
        why.contains("encrypted only") && why.contains(&encrypted),
        "{why}"
    );

    // Asked encrypted, a plain door answers what is no encryption.
    let plain = House::new(&[], None);
    let at = format!("https://{}", plain.daemon.http);
    let why = refused(status(&at, &["--fingerprint", &fingerprint], &nobody));
    assert!(
        why.contains(&format!("--at http://{}", plain.daemon.http)),
        "{why}"
    );
}
