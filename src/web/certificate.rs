//! What a certificate says of itself: from when until when it is valid, and whom it names. Whether browsers
//! trust whoever signed it, they alone know.

use std::net::IpAddr;

use tokio_rustls::rustls::client::verify_server_name;
use tokio_rustls::rustls::pki_types::pem::PemObject;
use tokio_rustls::rustls::pki_types::{CertificateDer, ServerName};
use tokio_rustls::rustls::server::ParsedCertificate;
use x509_parser::extensions::GeneralName;
use x509_parser::prelude::{FromDer, X509Certificate};

/// A certificate, read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Certificate {
    /// The first second that it is valid in, since 1970.
    pub from_s: i64,
    /// The last one (RFC 5280, 4.1.2.5: "through notAfter, inclusive").
    pub until_s: i64,
    /// The names of hosts in it, perhaps with a `*` in front.
    pub names: Vec<String>,
    /// The addresses in it.
    pub addresses: Vec<IpAddr>,
    der: CertificateDer<'static>,
}

impl Certificate {
    /// The certificates of a PEM text: the server's first, then those between it and its root. When one can't
    /// be read they end before it, and a text says which that is and why.
    pub fn chain(pem: &[u8]) -> (Vec<Self>, Option<String>) {
        let mut chain = Vec::new();
        for (certificate, number) in CertificateDer::pem_slice_iter(pem).zip(1_u32..) {
            let read = certificate
                .map_err(|error| error.to_string())
                .and_then(|certificate| Self::read(&certificate));
            match read {
                Ok(read) => chain.push(read),
                Err(why) => {
                    let why = format!("certificate {number} in it can't be read: {why}");
                    return (chain, Some(why));
                }
            }
        }
        (chain, None)
    }

    fn read(der: &CertificateDer<'static>) -> Result<Self, String> {
        let (_, read) = X509Certificate::from_der(der).map_err(|error| error.to_string())?;
        let validity = read.validity();
        let (mut names, mut addresses) = (Vec::new(), Vec::new());
        let named = read.subject_alternative_name();
        for name in named
            .ok()
            .flatten()
            .iter()
            .flat_map(|named| &named.value.general_names)
        {
            match name {
                GeneralName::DNSName(name) => names.push((*name).to_owned()),
                GeneralName::IPAddress(bytes) => addresses.extend(address(bytes)),
                _ => {}
            }
        }
        Ok(Self {
            from_s: validity.not_before.timestamp(),
            until_s: validity.not_after.timestamp(),
            names,
            addresses,
            der: der.clone(),
        })
    }

    /// Whether browsers that ask for this host find it named.
    pub fn is_for(&self, host: &str) -> bool {
        let (Ok(read), Ok(host)) = (
            ParsedCertificate::try_from(&self.der),
            ServerName::try_from(host),
        ) else {
            return false;
        };
        verify_server_name(&read, &host).is_ok()
    }
}

/// Four bytes or sixteen (RFC 5280, 4.2.1.6).
fn address(bytes: &[u8]) -> Option<IpAddr> {
    let v4 = <[u8; 4]>::try_from(bytes).map(IpAddr::from);
    v4.or_else(|_| <[u8; 16]>::try_from(bytes).map(IpAddr::from))
        .ok()
}

#[cfg(test)]
mod tests {
    use rcgen::{CertificateParams, KeyPair};

    use super::*;

    #[test]
    fn what_was_written_is_read_again() {
        let names = ["floor.example.org", "*.example.net", "10.0.0.5", "::1"];
        let mut wanted = CertificateParams::new(names.map(str::to_owned)).unwrap();
        wanted.not_before = rcgen::date_time_ymd(2024, 2, 29);
        // From 2050 on, dates are written in another way (RFC 5280, 4.1.2.5).
        wanted.not_after = rcgen::date_time_ymd(2050, 1, 1);
        let pem = wanted
            .self_signed(&KeyPair::generate().unwrap())
            .unwrap()
            .pem();
        let (read, why) = Certificate::chain(format!("{pem}{pem}").as_bytes());
        assert_eq!(why, None);
        assert_eq!((read.len(), &read[0]), (2, &read[1]));
        // `date -u -d 2024-02-29 +%s`, and of 2050-01-01.
        assert_eq!(
            (read[0].from_s, read[0].until_s),
            (1_709_164_800, 2_524_608_000)
        );
        assert_eq!(read[0].names, names[..2]);
        let addresses: Vec<String> = read[0].addresses.iter().map(IpAddr::to_string).collect();
        assert_eq!(addresses, names[2..]);
        for host in ["floor.example.org", "a.example.net", "10.0.0.5", "::1"] {
            assert!(read[0].is_for(host), "{host}");
        }
        // A `*` stands for one part of a name and no more (RFC 9525, 6.3).
        for host in ["example.org", "a.b.example.net", "10.0.0.6", "not a name"] {
            assert!(!read[0].is_for(host), "{host}");
        }
    }

    #[test]
    fn what_is_no_certificate_is_said_by_its_number() {
        assert_eq!(Certificate::chain(b"text"), (Vec::new(), None));
        let text = "-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n";
        let (chain, why) = Certificate::chain(text.as_bytes());
        assert_eq!(chain, []);
        assert!(why.unwrap().starts_with("certificate 1 in it"));
        // What was read before it is there.
        let names = ["floor.example.org".to_owned()];
        let key = KeyPair::generate().unwrap();
        let wanted = CertificateParams::new(names.to_vec()).unwrap();
        let pem = wanted.self_signed(&key).unwrap().pem();
        let (chain, why) = Certificate::chain(format!("{pem}{text}{pem}").as_bytes());
        assert_eq!((chain.len(), &chain[0].names[..]), (1, &names[..]));
        assert!(why.unwrap().starts_with("certificate 2 in it"));
    }
}
