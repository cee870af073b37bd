//! Encryption: a certificate that was given, or one that litfloor makes of itself and keeps.

use std::fmt::Write as _;
use std::sync::Arc;

use rcgen::{CertificateParams, DnType, ExtendedKeyUsagePurpose, KeyPair, KeyUsagePurpose};
use ring::digest;
use tokio_rustls::rustls::pki_types::pem::PemObject;
use tokio_rustls::rustls::pki_types::{CertificateDer, PrivateKeyDer};
use tokio_rustls::rustls::{self, ServerConfig, crypto};

use super::operator::Keep;

/// The file of the state directory with the certificate that litfloor made, and its key.
pub const OWN: &str = "tls-own.pem";

/// Why there is no encryption.
#[derive(Debug, thiserror::Error)]
pub enum Unusable {
    /// No certificate in what should have one.
    #[error("there is no certificate in it: it must be PEM, with a line BEGIN CERTIFICATE")]
    NoCertificate,
    /// No key in what should have one.
    #[error(
        "there is no private key in it that can be used: it must be PEM and not encrypted, with a line \
         BEGIN PRIVATE KEY"
    )]
    NoKey,
    /// Certificate and key do not belong together.
    #[error("the key is not the one of the certificate: give the two that belong together")]
    Mismatched,
    /// Something else.
    #[error("{0}")]
    Other(String),
}

/// What encrypts connections.
#[derive(Debug, Clone)]
pub struct Encryption {
    config: Arc<ServerConfig>,
    fingerprint: String,
    given: bool,
}

impl Encryption {
    /// By a certificate (with those between it and its root) and its key, both PEM.
    ///
    /// # Errors
    /// When they are no certificate and no key, or do not belong together.
    pub fn given(certificate: &[u8], key: &[u8]) -> Result<Self, Unusable> {
        Self::of(certificate, key, true)
    }

    /// By a certificate that litfloor made of itself for these `names`, now or on an earlier day. One that
    /// can't be used any more is replaced, and one that can't be kept serves as long as litfloor runs: the log
    /// says so. Neither is a reason to leave the floor dark.
    ///
    /// # Errors
    /// When none can be made.
    pub fn own(keep: &Keep, names: &[String]) -> Result<Self, String> {
        match Self::kept(keep) {
            Ok(Some(kept)) => return Ok(kept),
            Ok(None) => {}
            Err(why) => tracing::warn!(
                "{why}. A new certificate takes its place; browsers ask once more whether they trust it."
            ),
        }
        let made = make(names).map_err(|error| format!("no certificate can be made: {error}"))?;
        if let Err(why) = keep.write_file(OWN, made.as_bytes()) {
            tracing::warn!(
                "the certificate can't be kept, and the next start makes another one: {why}"
            );
        }
        Self::of(made.as_bytes(), made.as_bytes(), false).map_err(|why| why.to_string())
    }

    /// By the certificate that litfloor made of itself on an earlier day; nothing if it has made none.
    ///
    /// # Errors
    /// When there is one that can't be read or used. The text says which and why.
    pub fn kept(keep: &Keep) -> Result<Option<Self>, String> {
        let Some(kept) = keep.read_file(OWN)? else {
            return Ok(None);
        };
        let usable = Self::of(kept.as_bytes(), kept.as_bytes(), false);
        let said = |why| format!("{OWN} in the state directory can't be used: {why}");
        usable.map(Some).map_err(said)
    }

    fn of(certificate: &[u8], key: &[u8], given: bool) -> Result<Self, Unusable> {
        let chain: Vec<_> = CertificateDer::pem_slice_iter(certificate)
            .collect::<Result<_, _>>()
            .map_err(|_| Unusable::NoCertificate)?;
        let first = chain.first().ok_or(Unusable::NoCertificate)?;
        let fingerprint = fingerprint(first);
        let key = PrivateKeyDer::from_pem_slice(key).map_err(|_| Unusable::NoKey)?;
        let provider = Arc::new(crypto::ring::default_provider());
        let mut config = ServerConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()
            .map_err(|error| Unusable::Other(error.to_string()))?
            .with_no_client_auth()
            .with_single_cert(chain, key)
            .map_err(|error| match error {
                rustls::Error::InconsistentKeys(_) => Unusable::Mismatched,
                other => Unusable::Other(other.to_string()),
            })?;
        config.alpn_protocols = vec![b"http/1.1".to_vec()];
        Ok(Self {
            config: Arc::new(config),
            fingerprint,
            given,
        })
    }

    pub(super) fn config(&self) -> Arc<ServerConfig> {
        Arc::clone(&self.config)
    }

    /// Whether somebody gave the certificate; then browsers know who vouches for it.
    pub const fn was_given(&self) -> bool {
        self.given
    }

    /// The SHA-256 fingerprint of the certificate, as browsers show it.
    pub fn fingerprint(&self) -> &str {
        &self.fingerprint
    }
}

/// The SHA-256 fingerprint of a certificate, as browsers show it: pairs of hexadecimal digits with colons.
pub fn fingerprint(certificate: &CertificateDer<'_>) -> String {
    let hash = digest::digest(&digest::SHA256, certificate);
    let mut text = String::new();
    for (at, byte) in hash.as_ref().iter().enumerate() {
        let colon = if at == 0 { "" } else { ":" };
        let _ = write!(text, "{colon}{byte:02X}");
    }
    text
}

/// A key and a certificate of itself, both PEM in one text: so they are always kept together.
fn make(names: &[String]) -> Result<String, rcgen::Error> {
    let mut wanted = CertificateParams::new(names.to_vec())?;
    wanted
        .distinguished_name
        .push(DnType::CommonName, "litfloor, made by itself");
    wanted.key_usages = vec![KeyUsagePurpose::DigitalSignature];
    wanted.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
    // Boards without a clock of their own wake up in the past; nobody but a person who compares the
    // fingerprint vouches for it in any case.
    wanted.not_before = rcgen::date_time_ymd(2020, 1, 1);
    wanted.not_after = rcgen::date_time_ymd(2049, 12, 31);
    let key = KeyPair::generate()?;
    let certificate = wanted.self_signed(&key)?;
    Ok(format!("{}{}", key.serialize_pem(), certificate.pem()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names() -> Vec<String> {
        ["localhost", "127.0.0.1", "::1"].map(str::to_owned).into()
    }

    #[test]
    fn an_own_certificate_is_made_once_and_kept_for_its_owner_alone() {
        let directory = tempfile::tempdir().unwrap();
        let keep = Keep::Directory(directory.path().join("state"));
        let first = Encryption::own(&keep, &names()).unwrap();
        let again = Encryption::own(&keep, &["other".to_owned()]).unwrap();
        assert_eq!(first.fingerprint(), again.fingerprint());
        assert!(!first.was_given());
        // 32 bytes in two digits each, with colons between.
        assert_eq!(first.fingerprint().len(), 32 * 3 - 1);
        let file = directory.path().join("state").join(OWN);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let mode = std::fs::metadata(&file).unwrap().permissions().mode();
            assert_eq!(mode & 0o777, 0o600);
        }
        // One that is damaged is replaced, for good.
        std::fs::write(&file, "no certificate").unwrap();
        let new = Encryption::own(&keep, &names()).unwrap();
        assert_ne!(first.fingerprint(), new.fingerprint());
        let again = Encryption::own(&keep, &names()).unwrap();
        assert_eq!(new.fingerprint(), again.fingerprint());
    }

    #[test]
    fn one_that_can_t_be_kept_serves_all_the_same() {
        let directory = tempfile::tempdir().unwrap();
        let taken = directory.path().join("a file");
        std::fs::write(&taken, "").unwrap();
        for keep in [Keep::Directory(taken), Keep::Nowhere("no home".to_owned())] {
            let first = Encryption::own(&keep, &names()).unwrap();
            let next = Encryption::own(&keep, &names()).unwrap();
            assert_ne!(first.fingerprint(), next.fingerprint());
        }
    }

    #[test]
    fn what_does_not_fit_together_is_called_so() {
        let (one, other) = (make(&names()).unwrap(), make(&names()).unwrap());
        let (one, other) = (one.as_bytes(), other.as_bytes());
        assert!(Encryption::given(one, one).unwrap().was_given());
        let refused =
            |certificate: &[u8], key: &[u8]| Encryption::given(certificate, key).unwrap_err();
        assert!(matches!(refused(one, other), Unusable::Mismatched));
        assert!(matches!(refused(b"", one), Unusable::NoCertificate));
        assert!(matches!(refused(one, b"text"), Unusable::NoKey));
        let text = std::str::from_utf8(one).unwrap();
        let certificate = &text[text.find("-----BEGIN CERTIFICATE").unwrap()..];
        assert!(matches!(
            refused(one, certificate.as_bytes()),
            Unusable::NoKey
        ));
    }
}
