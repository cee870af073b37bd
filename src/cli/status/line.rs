//! The way to a running litfloor: HTTP over one connection, encrypted or not.

use std::fmt;
use std::io;
use std::str::FromStr;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use axum::body::{Body, to_bytes};
use axum::http::uri::Authority;
use axum::http::{Request, StatusCode, header};
use hyper::client::conn::http1::{SendRequest, handshake};
use hyper_util::rt::TokioIo;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::{TcpStream, lookup_host};
use tokio::time::timeout;
use tokio_rustls::TlsConnector;
use tokio_rustls::rustls::client::WebPkiServerVerifier;
use tokio_rustls::rustls::client::danger::{
    HandshakeSignatureValid, ServerCertVerified, ServerCertVerifier,
};
use tokio_rustls::rustls::crypto::{self, CryptoProvider};
use tokio_rustls::rustls::pki_types::{CertificateDer, ServerName, UnixTime};
use tokio_rustls::rustls::{
    CertificateError, ClientConfig, DigitallySignedStruct, Error, RootCertStore, SignatureScheme,
};

use crate::web::tls;

/// For a connection, and for each answer.
pub(super) const PATIENCE: Duration = Duration::from_secs(5);

/// No answer is longer: the state of 10,000 panels has some 4 MB.
const LONGEST: usize = 64 << 20;

/// Where a dashboard is: `http://ADDRESS:PORT` or `https://ADDRESS:PORT`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct At {
    encrypted: bool,
    authority: Authority,
}

impl FromStr for At {
    type Err = String;

    /// `http://` may be left out.
    fn from_str(text: &str) -> Result<Self, String> {
        let (encrypted, rest) = match text.split_once("://") {
            None => (false, text),
            Some(("http", rest)) => (false, rest),
            Some(("https", rest)) => (true, rest),
            Some(_) => return Err(badly_written()),
        };
        let rest = rest.strip_suffix('/').unwrap_or(rest);
        let authority = Authority::from_str(rest).map_err(|_| badly_written())?;
        // A port that is no number is left to whoever asks for it.
        let port_is_one = authority.port_u16().is_some() || authority.host() == rest;
        if rest.contains('@') || authority.host().is_empty() || !port_is_one {
            return Err(badly_written());
        }
        Ok(Self {
            encrypted,
            authority,
        })
    }
}

fn badly_written() -> String {
    "write http://ADDRESS:PORT or https://ADDRESS:PORT, such as http://127.0.0.1:8080".to_owned()
}

impl fmt::Display for At {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let scheme = if self.encrypted { "https" } else { "http" };
        write!(f, "{scheme}://{}", self.authority)
    }
}

impl At {
    /// The name or the address, an IPv6 address without its brackets.
    pub(super) fn host(&self) -> &str {
        let host = self.authority.host();
        let bare = host
            .strip_prefix('[')
            .and_then(|rest| rest.strip_suffix(']'));
        bare.unwrap_or(host)
    }

    /// The same place, asked encrypted.
    pub(super) fn encrypted(&self) -> Self {
        Self {
            encrypted: true,
            authority: self.authority.clone(),
        }
    }

    /// The same place, asked plainly.
    pub(super) fn plain(&self) -> Self {
        Self {
            encrypted: false,
            authority: self.authority.clone(),
        }
    }

    fn port(&self) -> u16 {
        let usual = if self.encrypted { 443 } else { 80 };
        self.authority.port_u16().unwrap_or(usual)
    }
}

/// The SHA-256 fingerprint of a certificate, as litfloor prints it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Fingerprint(String);

impl FromStr for Fingerprint {
    type Err = String;

    /// 64 hexadecimal digits, with colons between them or without.
    fn from_str(text: &str) -> Result<Self, String> {
        let digits: String = text.chars().filter(|&letter| letter != ':').collect();
        if digits.len() != 64 || !digits.bytes().all(|digit| digit.is_ascii_hexdigit()) {
            return Err(
                "a fingerprint has 64 hexadecimal digits: copy all of the line \"Certificate (SHA-256)\" \
                 that litfloor prints at its start"
                    .to_owned(),
            );
        }
        let digits = digits.to_ascii_uppercase();
        let pairs: Vec<&str> = (0..32).map(|at| &digits[2 * at..2 * at + 2]).collect();
        Ok(Self(pairs.join(":")))
    }
}

/// Why there is no answer.
#[derive(Debug, thiserror::Error)]
pub(super) enum Lost {
    /// The name leads nowhere.
    #[error("{0}")]
    Unnamed(String),
    /// This machine knows no way there.
    #[error("{0}")]
    NoWay(String),
    /// Nothing came back in time: not even that there is a machine.
    #[error("nothing came back")]
    Swallowed,
    /// There is something that took the connection, and says nothing in time.
    #[error("no answer")]
    Hangs,
    /// What answers does not speak encrypted.
    #[error("not encrypted")]
    Plain,
    /// Nobody answers, or what answers speaks otherwise.
    #[error("{0}")]
    Silent(String),
    /// Encrypted, but by whom can't be known.
    #[error("{0}")]
    Untrusted(String),
}

impl Lost {
    fn silent(error: impl std::error::Error) -> Self {
        Self::Silent(said(&error))
    }

    /// Why there is no connection.
    fn unconnected(error: &io::Error) -> Self {
        use io::ErrorKind::{HostUnreachable, NetworkDown, NetworkUnreachable, TimedOut};
        match error.kind() {
            HostUnreachable | NetworkDown | NetworkUnreachable => Self::NoWay(said(error)),
            TimedOut => Self::Swallowed,
            _ => Self::silent(error),
        }
    }

    /// Why there is no encryption.
    fn unencrypted(error: &io::Error) -> Self {
        let inner = error.get_ref().and_then(|inner| inner.downcast_ref());
        match inner {
            Some(Error::InvalidMessage(_)) => Self::Plain,
            _ => Self::silent(error),
        }
    }
}

/// An error with what is behind it.
fn said(error: &dyn std::error::Error) -> String {
    // The outermost error often says only that there was one.
    let mut said = error.to_string();
    let mut inner = error.source();
    while let Some(error) = inner {
        let text = error.to_string();
        if !said.contains(&text) {
            said = format!("{said}: {text}");
        }
        inner = error.source();
    }
    said
}

/// A connection.
pub(super) struct Line {
    sender: SendRequest<Body>,
    host: String,
}

impl Line {
    /// To the dashboard at `at`; an encrypted one must show the certificate of this fingerprint, or, if none
    /// is given, one that this machine trusts.
    pub(super) async fn to(at: &At, wanted: Option<&Fingerprint>) -> Result<Self, Lost> {
        let stream = in_time(Lost::Swallowed, connect(at)).await?;
        let speaking = async {
            if at.encrypted {
                speak(encrypt(stream, at, wanted).await?).await
            } else {
                speak(stream).await
            }
        };
        Ok(Self {
            sender: in_time(Lost::Hangs, speaking).await?,
            host: at.authority.to_string(),
        })
    }

    /// What is answered to `GET path`, whatever it is.
    pub(super) async fn get(&mut self, path: &str) -> Result<(StatusCode, String), Lost> {
        let agent = concat!("litfloor/", env!("CARGO_PKG_VERSION"));
        let request = Request::get(path)
            .header(header::HOST, &self.host)
            .header(header::USER_AGENT, agent)
            .body(Body::empty())
            .map_err(Lost::silent)?;
        let sender = &mut self.sender;
        in_time(Lost::Hangs, async {
            sender.ready().await.map_err(Lost::silent)?;
            let answer = sender.send_request(request).await.map_err(Lost::silent)?;
            let (head, body) = answer.into_parts();
            let body = to_bytes(Body::new(body), LONGEST)
                .await
                .map_err(Lost::silent)?;
            Ok((head.status, String::from_utf8_lossy(&body).into_owned()))
        })
        .await
    }
}

/// What comes of `work`; `late` if that takes too long.
async fn in_time<T>(late: Lost, work: impl Future<Output = Result<T, Lost>>) -> Result<T, Lost> {
    timeout(PATIENCE, work).await.map_err(|_| late)?
}

async fn connect(at: &At) -> Result<TcpStream, Lost> {
    let found = lookup_host((at.host(), at.port())).await;
    let found: Vec<_> = found
        .map_err(|error| Lost::Unnamed(said(&error)))?
        .collect();
    #[expect(
        clippy::disallowed_methods,
        reason = "status asks the litfloor that it is told to ask"
    )]
    let stream = TcpStream::connect(&*found).await;
    stream.map_err(|error| Lost::unconnected(&error))
}

async fn speak(
    stream: impl AsyncRead + AsyncWrite + Send + Unpin + 'static,
) -> Result<SendRequest<Body>, Lost> {
    let (sender, connection) = handshake(TokioIo::new(stream))
        .await
        .map_err(Lost::silent)?;
    // What breaks it, the sender tells too.
    tokio::spawn(async move { connection.await.ok() });
    Ok(sender)
}

async fn encrypt(
    stream: TcpStream,
    at: &At,
    wanted: Option<&Fingerprint>,
) -> Result<tokio_rustls::client::TlsStream<TcpStream>, Lost> {
    let provider = Arc::new(crypto::ring::default_provider());
    let look = Arc::new(Look::new(wanted.cloned(), &provider));
    let config = ClientConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()
        .map_err(Lost::silent)?
        .dangerous()
        .with_custom_certificate_verifier(Arc::<Look>::clone(&look))
        .with_no_client_auth();
    let name = ServerName::try_from(at.host().to_owned()).map_err(Lost::silent)?;
    let connecting = TlsConnector::from(Arc::new(config)).connect(name, stream);
    connecting.await.map_err(|error| match look.shown() {
        Some((shown, why)) => Lost::Untrusted(untrusted(at, wanted, &shown, &why)),
        None => Lost::unencrypted(&error),
    })
}

fn untrusted(at: &At, wanted: Option<&Fingerprint>, shown: &str, why: &str) -> String {
    match wanted {
        None => format!(
            "{at} shows a certificate that nobody known here vouches for ({why}). Its fingerprint is\n  \
             {shown}\nIf the litfloor there printed the same at its start (\"Certificate (SHA-256)\"), ask \
             with --fingerprint and this one. If it is another, you are not talking to your litfloor."
        ),
        Some(Fingerprint(wanted)) => format!(
            "{at} shows a certificate with the fingerprint\n  {shown}\nand not the one that was given:\n  \
             {wanted}\nIf the litfloor there printed the first at its start (\"Certificate (SHA-256)\"), it \
             has a new certificate: give that one. If not, you are not talking to your litfloor."
        ),
    }
}

/// Who looks at the certificate that is shown.
#[derive(Debug)]
struct Look {
    wanted: Option<Fingerprint>,
    /// By the certificates that this machine trusts; none if it trusts none.
    by_roots: Option<Arc<WebPkiServerVerifier>>,
    provider: Arc<CryptoProvider>,
    /// The fingerprint of one that was turned away, and why.
    shown: Mutex<Option<(String, String)>>,
}

impl Look {
    fn new(wanted: Option<Fingerprint>, provider: &Arc<CryptoProvider>) -> Self {
        let mut roots = RootCertStore::empty();
        if wanted.is_none() {
            roots.add_parsable_certificates(rustls_native_certs::load_native_certs().certs);
        }
        let builder =
            WebPkiServerVerifier::builder_with_provider(Arc::new(roots), Arc::clone(provider));
        Self {
            wanted,
            by_roots: builder.build().ok(),
            provider: Arc::clone(provider),
            shown: Mutex::default(),
        }
    }

    fn shown(&self) -> Option<(String, String)> {
        let shown = self.shown.lock().unwrap_or_else(PoisonError::into_inner);
        shown.clone()
    }
}

impl ServerCertVerifier for Look {
    fn verify_server_cert(
        &self,
        certificate: &CertificateDer<'_>,
        between: &[CertificateDer<'_>],
        name: &ServerName<'_>,
        ocsp: &[u8],
        now: UnixTime,
    ) -> Result<ServerCertVerified, Error> {
        let shown = tls::fingerprint(certificate);
        let verdict = match (&self.wanted, &self.by_roots) {
            (Some(Fingerprint(wanted)), _) if *wanted == shown => {
                Ok(ServerCertVerified::assertion())
            }
            (None, Some(roots)) => roots.verify_server_cert(certificate, between, name, ocsp, now),
            _ => Err(Error::InvalidCertificate(CertificateError::UnknownIssuer)),
        };
        if let Err(why) = &verdict {
            let mut told = self.shown.lock().unwrap_or_else(PoisonError::into_inner);
            *told = Some((shown, why.to_string()));
        }
        verdict
    }

    fn verify_tls12_signature(
        &self,
        message: &[u8],
        certificate: &CertificateDer<'_>,
        signed: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        let known = &self.provider.signature_verification_algorithms;
        crypto::verify_tls12_signature(message, certificate, signed, known)
    }

    fn verify_tls13_signature(
        &self,
        message: &[u8],
        certificate: &CertificateDer<'_>,
        signed: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        let known = &self.provider.signature_verification_algorithms;
        crypto::verify_tls13_signature(message, certificate, signed, known)
    }

    fn supported_verify_schemes(&self) -> Vec<SignatureScheme> {
        self.provider
            .signature_verification_algorithms
            .supported_schemes()
    }
}
