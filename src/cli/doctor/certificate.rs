//! Encryption: whether certificate and key can be used, until when, and for which names.

use std::fs;
use std::net::{IpAddr, SocketAddr};
use std::path::{Path, PathBuf};
use std::time::{Duration, UNIX_EPOCH};

use super::super::doors::Doors;
use super::super::networks::named;
use super::super::summary::counted;
use super::{Point, key_file};
use crate::net::clock;
use crate::web::certificate::Certificate;
use crate::web::door::Names;
use crate::web::operator::Keep;
use crate::web::tls::{Encryption, OWN};

const POINT: &str = "certificate";
const NAMES: &str = "certificate_names";

/// One that ends within it may end during the night.
const SOON_S: i64 = 24 * 3_600;

/// All of it; nothing where pages are not encrypted. `kept` says whether something can be kept.
pub(super) fn look(
    doors: &Doors,
    keep: &Keep,
    kept: Result<(), String>,
    http: SocketAddr,
) -> Vec<Point> {
    let now_s = i64::try_from(clock::unix_s()).unwrap_or(i64::MAX);
    if doors.tls_own {
        return of_own(keep, kept, now_s);
    }
    let (Some(certificate), Some(key)) = (&doors.tls_cert, &doors.tls_key) else {
        return Vec::new();
    };
    let mut points = match usable(doors, certificate) {
        Ok((encryption, (chain, unread))) => {
            let shown = certificate.display().to_string();
            let mut points = of_validity(&chain, &shown, encryption.fingerprint(), now_s);
            let asked = asked(doors, http);
            points.extend(chain.first().map(|first| of_names(first, &asked)));
            points.extend(unread.map(|why| of_unread(&shown, &why)));
            points
        }
        Err(why) => vec![Point::wrong(
            POINT,
            why,
            "`litfloor run` does not start with it: mend that and look again",
        )],
    };
    points.extend(key_file::look(key));
    points
}

/// The certificates of a file, and why one of them can't be read.
type Chain = (Vec<Certificate>, Option<String>);

/// What `run` would take, and what can be read of it here.
fn usable(doors: &Doors, path: &Path) -> Result<(Encryption, Chain), String> {
    let encryption = doors.given().map_err(|why| why.message)?;
    let text = fs::read(path).map_err(|error| format!("{}: {error}", path.display()))?;
    let encryption = encryption.ok_or("no certificate is named")?;
    Ok((encryption, Certificate::chain(&text)))
}

/// `run` only hands certificates on: those that can't be read here may be no good to browsers.
fn of_unread(shown: &str, why: &str) -> Point {
    Point::mind(
        "certificate_chain",
        format!("{shown}: {why}"),
        "litfloor starts, but browsers may refuse it, and what comes after it in the file was not looked at: \
         give the file as whoever signed it gave it",
    )
}

/// The certificate that litfloor makes of itself.
fn of_own(keep: &Keep, kept: Result<(), String>, now_s: i64) -> Vec<Point> {
    let path = match keep {
        Keep::Directory(directory) => directory.join(OWN),
        Keep::Memory | Keep::Nowhere(_) => PathBuf::from(OWN),
    };
    let shown = path.display().to_string();
    match (Encryption::kept(keep), kept) {
        (Ok(Some(own)), _) => {
            let text = keep.read_file(OWN).ok().flatten().unwrap_or_default();
            let (chain, unread) = Certificate::chain(text.as_bytes());
            let told = format!("litfloor's own, {shown},");
            let mut points = of_validity(&chain, &told, own.fingerprint(), now_s);
            points.extend(unread.map(|why| of_unread(&shown, &why)));
            points.extend(key_file::look(&path));
            points
        }
        (Ok(None), Ok(())) => vec![Point::fine(
            POINT,
            format!(
                "{shown} is not there: litfloor makes its own at its first start and keeps it there; browsers \
                 warn of it"
            ),
        )],
        (Ok(None), Err(why)) => vec![Point::mind(
            POINT,
            format!("litfloor makes its own and can't keep it in {shown}: {why}"),
            "each start makes another one, and browsers ask again whether they trust it: let the state \
             directory be written",
        )],
        (Err(why), _) => vec![Point::mind(
            POINT,
            format!("litfloor's own, {shown}: {why}"),
            "the next start tries to put a new one in its place, and browsers ask again whether they trust it: \
             if the file should be good, look at its rights and run doctor as the user of the night",
        )],
    }
}

/// Until when. `shown` says whose it is.
fn of_validity(chain: &[Certificate], shown: &str, fingerprint: &str, now_s: i64) -> Vec<Point> {
    const RENEW: &str =
        "renew it and start litfloor again, for it reads the certificate at its start only";
    let Some((first, others)) = chain.split_first() else {
        return Vec::new();
    };
    let (from, until) = (date(first.from_s), date(first.until_s));
    let left_s = first.until_s.saturating_sub(now_s);
    let mut points = vec![if now_s < first.from_s {
        Point::wrong(
            POINT,
            format!(
                "{shown} is valid from {from} only, and here it is {}",
                date(now_s)
            ),
            "browsers refuse it until then: set this machine's clock if it is that which is wrong, or give \
             a certificate that is valid tonight",
        )
    } else if left_s < 0 {
        Point::wrong(
            POINT,
            format!(
                "{shown} was valid until {until}, and here it is {}",
                date(now_s)
            ),
            format!(
                "browsers refuse it, and who was here before has no way past that: {RENEW}; or set this \
                 machine's clock if it is that which is wrong"
            ),
        )
    } else if left_s < SOON_S {
        Point::mind(
            POINT,
            format!("{shown} ends at {until}, in {}", counted_hours(left_s)),
            format!("browsers refuse it from then on: {RENEW}"),
        )
    } else {
        let days = counted(u64::try_from(left_s / 86_400).unwrap_or(0), "day");
        Point::fine(
            POINT,
            format!("{shown} is valid until {until}, {days} from now; SHA-256 {fingerprint}"),
        )
    }];
    for (other, number) in others.iter().zip(2_u32..) {
        if now_s < other.from_s || other.until_s - now_s < SOON_S {
            points.push(Point::mind(
                "certificate_chain",
                format!(
                    "certificate {number} in the file, between the first and its root, is valid from {} \
                     until {}",
                    date(other.from_s),
                    date(other.until_s)
                ),
                "browsers that need it refuse the page then: give the chain that came with the last \
                 renewal",
            ));
        }
    }
    points
}

fn counted_hours(seconds: i64) -> String {
    match u64::try_from(seconds / 3_600).unwrap_or(0) {
        0 => "less than an hour".to_owned(),
        hours => counted(hours, "hour"),
    }
}

/// For people. What lies before 1970 or after the year 9999 is shown as those.
fn date(unix_s: i64) -> String {
    /// 9999-12-31T23:59:59Z.
    const LAST: u64 = 253_402_300_799;
    let since = Duration::from_secs(u64::try_from(unix_s).unwrap_or(0).min(LAST));
    humantime::format_rfc3339_seconds(UNIX_EPOCH + since).to_string()
}

/// By what browsers will ask, as far as that is known here.
struct Asked {
    /// The names that were given with `--name`.
    surely: Vec<String>,
    /// Where litfloor will listen, or what this machine is called.
    perhaps: Vec<String>,
    /// What is let in.
    names: Names,
}

fn asked(doors: &Doors, http: SocketAddr) -> Asked {
    let listeners = [Some(http), doors.guests].into_iter().flatten();
    let mut perhaps = Vec::new();
    for at in listeners {
        if at.ip().is_unspecified() {
            perhaps.extend(doors.own_names());
        } else {
            perhaps.push(at.ip().to_string());
        }
    }
    Asked {
        surely: doors.names.clone(),
        perhaps,
        names: Names::new(&doors.names),
    }
}

/// Whether browsers find the host by which they ask in it.
fn of_names(certificate: &Certificate, asked: &Asked) -> Point {
    let addresses = certificate.addresses.iter().map(ToString::to_string);
    let mut all = certificate.names.clone();
    all.extend(addresses);
    if all.is_empty() {
        return Point::mind(
            NAMES,
            "it names no host",
            // RFC 9525, 6.3: the subject's common name is not looked at.
            "browsers refuse it whatever they ask by: let a new one be made with the names in \
             subjectAltName",
        );
    }
    let all_told = named(&all);
    let lacking: Vec<String> = asked
        .surely
        .iter()
        .filter(|host| !certificate.is_for(host))
        .cloned()
        .collect();
    if !lacking.is_empty() {
        return Point::mind(
            NAMES,
            format!("it is for {all_told}, and not for {}", named(&lacking)),
            "browsers that ask by what is not in it refuse the page: ask by what is, or let a new one be made",
        );
    }
    // Those with a `*` stand for names that only their owner knows.
    let turned_away = |name: &&String| !name.starts_with('*') && !asked.names.have(name);
    let turned: Vec<String> = certificate
        .names
        .iter()
        .filter(turned_away)
        .cloned()
        .collect();
    if let Some(one) = turned.first() {
        return Point::mind(
            NAMES,
            format!(
                "it is for {}, by which litfloor lets nobody in",
                named(&turned)
            ),
            format!("give `--name {one}`, here and at `litfloor run`, if browsers ask by it"),
        );
    }
    // What is left of the names either lets in, or has a `*`.
    let lets_in = |name: &String| {
        let one = name.strip_prefix('*').map(|rest| format!("a{rest}"));
        one.is_none_or(|one| asked.names.have(&one))
    };
    let fits = |own: &String| {
        let is_let_in = own.parse::<IpAddr>().is_ok() || asked.names.have(own);
        is_let_in && certificate.is_for(own)
    };
    let here = !asked.surely.is_empty() || asked.perhaps.iter().any(fits);
    if !here && !certificate.names.is_empty() && !certificate.names.iter().any(lets_in) {
        return Point::mind(
            NAMES,
            format!("it is for {all_told}, and litfloor was told no name within that"),
            "litfloor lets nobody in by such a name unless it is told: give `--name NAME`, here and at \
             `litfloor run`, with that by which browsers ask",
        );
    }
    if !here && certificate.names.is_empty() {
        return Point::mind(
            NAMES,
            format!("it is for {all_told}, and this machine has none of these now"),
            "give this machine that address, or let a new certificate be made",
        );
    }
    Point::fine(NAMES, format!("it is for {all_told}"))
}
