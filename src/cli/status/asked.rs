//! What a running litfloor answers.

use std::time::Duration;

use serde::Deserialize;
use ureq::Agent;

/// For each answer.
const PATIENCE: Duration = Duration::from_secs(5);

/// No answer is longer: the state of 10,000 panels has some 4 MB.
const LONGEST: u64 = 64 << 20;

/// All that was asked.
#[derive(Debug)]
pub(super) struct Answers {
    /// Why the data plane is not alive; nothing if it is.
    pub(super) unhealthy: Option<String>,
    pub(super) state: State,
    pub(super) faults: Vec<Fault>,
    /// `/metrics`; empty if it could not be had.
    pub(super) metrics: String,
}

/// What is looked at of `/api/v1/state`.
#[derive(Debug, Deserialize)]
pub(super) struct State {
    pub(super) revision: u32,
    pub(super) file: File,
    pub(super) uptime_s: f64,
    pub(super) signal: String,
    pub(super) frames_in: u64,
    pub(super) frames_out: u64,
    pub(super) universes: Vec<Universe>,
    pub(super) nodes: Vec<Node>,
    pub(super) floor: FloorLoad,
    pub(super) circuits: Vec<Load>,
    pub(super) supplies: Vec<Load>,
    pub(super) feeds: Vec<Load>,
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
    /// Asks the litfloor at `at`.
    ///
    /// # Errors
    /// Why there is none, for people.
    pub(super) fn of(at: &str) -> Result<Self, String> {
        // Neither an answer nor the environment may lead elsewhere.
        let agent: Agent = Agent::config_builder()
            .timeout_global(Some(PATIENCE))
            .max_redirects(0)
            .http_status_as_error(false)
            .proxy(None)
            .user_agent(concat!("litfloor/", env!("CARGO_PKG_VERSION")))
            .build()
            .into();
        let ask = |path: &str| get(&agent, at, path).map_err(|error| nobody(at, &error));
        let (status, health) = ask("/healthz")?;
        let unhealthy = match (status, health.as_str()) {
            (200, "ok") => None,
            (503, text) => match serde_json::from_str(text) {
                Ok(Problem { error, message }) if error == "unhealthy" => Some(message),
                _ => return Err(stranger(at)),
            },
            _ => return Err(stranger(at)),
        };
        let (status, state) = ask("/api/v1/state")?;
        let state = serde_json::from_str(&state)
            .ok()
            .filter(|_| status == 200)
            .ok_or_else(|| stranger(at))?;
        let (_, faults) = ask("/api/v1/faults")?;
        let health: Health = serde_json::from_str(&faults).map_err(|_| stranger(at))?;
        let (status, metrics) = ask("/metrics")?;
        Ok(Self {
            unhealthy,
            state,
            faults: health.faults,
            metrics: if status == 200 {
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

fn get(agent: &Agent, at: &str, path: &str) -> Result<(u16, String), ureq::Error> {
    let mut answer = agent.get(format!("{at}{path}")).call()?;
    let status = answer.status().as_u16();
    let body = answer.body_mut().with_config().limit(LONGEST);
    Ok((status, body.read_to_string()?))
}

fn nobody(at: &str, error: &ureq::Error) -> String {
    format!(
        "No litfloor answers at {at} ({error}). Does it run, and is this the address that it said at its \
         start (\"Dashboard:\")? Give that one with --at. If it should run and does not, look at why it \
         ended, in its own terminal or by `journalctl -u litfloor -e`, and start it again: until then the \
         nodes hold or lose their picture, and nothing is capped."
    )
}

fn stranger(at: &str) -> String {
    format!(
        "Something answers at {at}, but not as a litfloor of this version does. Give the address that \
         litfloor said at its start (\"Dashboard:\") with --at."
    )
}
