//! What a running litfloor answers.

use std::io;

use axum::http::StatusCode;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use tokio::runtime;

use super::line::{At, Fingerprint, Line, Lost, PATIENCE};

/// All that was asked.
#[derive(Debug)]
pub(super) struct Answers {
    /// Why the data plane is not alive; nothing if it is.
    pub(super) unhealthy: Option<String>,
    pub(super) state: State,
    pub(super) faults: Vec<Fault>,
    pub(super) recording: Recording,
    /// `/metrics`; empty if it could not be had.
    pub(super) metrics: String,
    /// Whether it was asked at the address for guests, where there are no metrics.
    pub(super) as_guest: bool,
}

/// What is looked at of `/api/v1/state`.
#[derive(Debug, Deserialize)]
pub(super) struct State {
    pub(super) revision: u32,
    pub(super) file: File,
    pub(super) uptime_s: f64,
    pub(super) artnet: String,
    pub(super) signal: String,
    pub(super) frames_in: u64,
    pub(super) frames_out: u64,
    pub(super) universes: Vec<Universe>,
    pub(super) nodes: Vec<Node>,
    pub(super) floor: FloorLoad,
    pub(super) circuits: Vec<Load>,
    pub(super) supplies: Vec<Load>,
    pub(super) feeds: Vec<Load>,
    pub(super) panels: Vec<Panel>,
    pub(super) notices: Vec<Notice>,
}

#[derive(Debug, Deserialize)]
pub(super) struct File {
    pub(super) name: String,
}

#[derive(Debug, Deserialize)]
pub(super) struct Universe {
    pub(super) port_address: String,
    pub(super) fps: f64,
    pub(super) mapped: bool,
    pub(super) arrival: Arrival,
}

#[derive(Debug, Deserialize)]
pub(super) struct Arrival {
    pub(super) missing_frames: Option<u32>,
}

#[derive(Debug, Deserialize)]
pub(super) struct Node {
    pub(super) name: String,
    pub(super) online: bool,
    pub(super) last_send_error_s: Option<f64>,
}

#[derive(Debug, Clone, Deserialize, serde::Serialize)]
pub(super) struct FloorLoad {
    pub(super) draw_va: f64,
    pub(super) limit_va: Option<f64>,
    pub(super) scale: f64,
}

#[derive(Debug, Deserialize)]
pub(super) struct Load {
    pub(super) name: String,
    pub(super) draw_a: f64,
    pub(super) limit_a: f64,
    pub(super) scale: f64,
}

#[derive(Debug, Deserialize)]
pub(super) struct Panel {
    /// The least factor over its path.
    pub(super) scale: f64,
}

#[derive(Debug, Clone, Deserialize, serde::Serialize)]
pub(super) struct Notice {
    pub(super) severity: String,
    pub(super) code: String,
    pub(super) text: String,
}

#[derive(Debug, Deserialize)]
struct Health {
    faults: Vec<Fault>,
}

/// What is looked at of `/api/v1/energy`.
#[derive(Debug, Deserialize)]
struct Energy {
    recording: Recording,
}

/// How the history of power is kept.
#[derive(Debug, Clone, Deserialize, serde::Serialize)]
pub(super) struct Recording {
    pub(super) in_file: bool,
    pub(super) trouble: Option<String>,
}

#[derive(Debug, Deserialize)]
pub(super) struct Fault {
    pub(super) cause: String,
    pub(super) place: String,
    pub(super) effect: String,
    pub(super) sure: String,
    pub(super) here: f64,
}

#[derive(Debug, Deserialize)]
struct Problem {
    error: String,
    message: String,
}

impl Answers {
    /// Asks the litfloor at `at`, which shows the certificate of this fingerprint if one is given.
    ///
    /// # Errors
    /// Why there is none, for people.
    pub(super) fn of(at: &At, wanted: Option<&Fingerprint>) -> Result<Self, String> {
        let runtime = runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .map_err(|error: io::Error| format!("This machine gives no means to ask: {error}"))?;
        runtime.block_on(async {
            let line = Line::to(at, wanted).await;
            let mut line = line.map_err(|lost| nobody(at, lost))?;
            Self::over(&mut line, at).await
        })
    }

    async fn over(line: &mut Line, at: &At) -> Result<Self, String> {
        let unhealthy = match ask(line, at, "/healthz").await? {
            (StatusCode::OK, text) if text == "ok" => None,
            (StatusCode::SERVICE_UNAVAILABLE, text) => match serde_json::from_str(&text) {
                Ok(Problem { error, message }) if error == "unhealthy" => Some(message),
                _ => return Err(stranger(at)),
            },
            (StatusCode::TEMPORARY_REDIRECT, _) => return Err(encrypted_only(at)),
            (StatusCode::MISDIRECTED_REQUEST, text) => match serde_json::from_str(&text) {
                Ok(Problem { error, message }) if error == "foreign_host" => return Err(message),
                _ => return Err(stranger(at)),
            },
            _ => return Err(stranger(at)),
        };
        let state = described(line, at, "/api/v1/state").await?;
        let health: Health = described(line, at, "/api/v1/faults").await?;
        let energy: Energy = described(line, at, "/api/v1/energy").await?;
        let (status, metrics) = ask(line, at, "/metrics").await?;
        Ok(Self {
            unhealthy,
            state,
            faults: health.faults,
            recording: energy.recording,
            as_guest: status == StatusCode::FORBIDDEN && for_guests(&metrics),
            metrics: if status == StatusCode::OK {
                metrics
            } else {
                String::new()
            },
        })
    }

    /// The value of the one row of `/metrics` that is called so, without labels.
    pub(super) fn metric(&self, name: &str) -> Option<f64> {
        let row = |line: &str| line.strip_prefix(name)?.strip_prefix(' ')?.parse().ok();
        self.metrics.lines().find_map(row)
    }

    /// The version of the litfloor that answers.
    pub(super) fn version(&self) -> Option<String> {
        let row = |line: &str| {
            let rest = line.strip_prefix("litfloor_build_info{version=\"")?;
            Some(rest.split('"').next()?.to_owned())
        };
        self.metrics.lines().find_map(row)
    }
}

/// Whether a refusal says that the address is for guests.
fn for_guests(text: &str) -> bool {
    serde_json::from_str(text).is_ok_and(|problem: Problem| problem.error == "guests_only_look")
}

async fn ask(line: &mut Line, at: &At, path: &str) -> Result<(StatusCode, String), String> {
    line.get(path).await.map_err(|lost| nobody(at, lost))
}

/// An answer of the API.
async fn described<T: DeserializeOwned>(line: &mut Line, at: &At, path: &str) -> Result<T, String> {
    let (status, text) = ask(line, at, path).await?;
    let read = serde_json::from_str(&text).ok();
    read.filter(|_| status == StatusCode::OK)
        .ok_or_else(|| stranger(at))
}

/// Why there is no answer, and what to do about this one cause.
fn nobody(at: &At, lost: Lost) -> String {
    let patience_s = PATIENCE.as_secs();
    match lost {
        Lost::Untrusted(why) => why,
        Lost::Unnamed(why) => format!(
            "No litfloor answers at {at}: the name {} leads nowhere from here ({why}). Look for a slip of \
             the pen, or give --at the address in numbers that litfloor said at its start.",
            at.host()
        ),
        Lost::NoWay(why) => format!(
            "No litfloor answers at {at}: there is no way from this machine to {} ({why}). Look whether \
             that machine is on, at the cable or radio of this one, and at the address.",
            at.host()
        ),
        Lost::Swallowed => format!(
            "No litfloor answers at {at}: nothing at all came back within {patience_s} s. Look whether that \
             machine is on and has this address, and whether a firewall or the network between lets \
             nobody through."
        ),
        Lost::Hangs => format!(
            "What listens at {at} took the connection, and said nothing for {patience_s} s: it hangs, is \
             stopped or far too busy, or the network lost the answer. Ask again; if it stays so, look on \
             that machine at what litfloor said last (`journalctl -u litfloor -e`) and start it again: \
             frames may not be forwarded."
        ),
        Lost::Plain => format!(
            "What answers at {at} speaks plain http only. Ask with --at {}.",
            at.plain()
        ),
        Lost::Silent(why) => format!(
            "No litfloor answers at {at} ({why}). Give --at the address that it said at its start \
             (\"Dashboard:\"). If that is it, litfloor does not run: look at why it ended, in its own \
             terminal or by `journalctl -u litfloor -e`, and start it again: until then the nodes hold or \
             lose their picture, and nothing is capped."
        ),
    }
}

fn encrypted_only(at: &At) -> String {
    format!(
        "What answers at {at} speaks encrypted only. Ask with --at {}, and with --fingerprint and the \
         fingerprint that litfloor printed at its start (\"Certificate (SHA-256)\").",
        at.encrypted()
    )
}

fn stranger(at: &At) -> String {
    format!(
        "Something answers at {at}, but not as a litfloor of this version does. Give the address that \
         litfloor said at its start (\"Dashboard:\") with --at."
    )
}
