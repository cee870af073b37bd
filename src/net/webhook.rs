//! Posts what it is told to an address of the operator's, on a thread of its own: nothing waits for
//! it, and what can't be posted is given up in the end.

use std::io;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, SyncSender, channel, sync_channel};
use std::thread::JoinHandle;
use std::time::Duration;

use ureq::Agent;
use ureq::http::StatusCode;

/// Posts that may wait.
pub const MOST_WAITING: usize = 64;

/// Times that a post is tried.
const TRIES: u32 = 5;

/// How patient it is.
#[derive(Debug, Clone, Copy)]
pub struct Patience {
    /// For an answer.
    pub answer: Duration,
    /// Before the second try; twice as long before every other.
    pub again: Duration,
}

impl Default for Patience {
    fn default() -> Self {
        Self {
            answer: Duration::from_secs(5),
            again: Duration::from_secs(1),
        }
    }
}

/// What is posted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Post {
    /// Where, `http://…`.
    pub address: String,
    /// What may be shown of the address.
    pub shown: String,
    /// JSON.
    pub body: String,
}

/// Takes posts. The thread ends when this is dropped.
#[derive(Debug)]
pub struct Caller {
    posts: SyncSender<Post>,
    stop: Option<Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Caller {
    /// Starts the thread.
    ///
    /// # Errors
    /// When there is none to be had.
    pub fn start(patience: Patience) -> io::Result<Self> {
        let (posts, waiting) = sync_channel(MOST_WAITING);
        let (stop, stopped) = channel();
        let thread = std::thread::Builder::new()
            .name("webhook".into())
            .spawn(move || run(&waiting, &stopped, patience))?;
        Ok(Self {
            posts,
            stop: Some(stop),
            thread: Some(thread),
        })
    }

    /// Whether it is taken to be posted; not if too many wait.
    pub fn post(&self, post: Post) -> bool {
        self.posts.try_send(post).is_ok()
    }

    /// Tells the thread to end, and gives it to be waited for: what is under way may take its time.
    pub fn end(mut self) -> Option<JoinHandle<()>> {
        self.stop = None;
        self.thread.take()
    }
}

fn run(waiting: &Receiver<Post>, stopped: &Receiver<()>, patience: Patience) {
    // Neither an answer nor the environment may lead elsewhere.
    let agent: Agent = Agent::config_builder()
        .timeout_global(Some(patience.answer))
        .max_redirects(0)
        .http_status_as_error(false)
        .proxy(None)
        .user_agent(concat!("litfloor/", env!("CARGO_PKG_VERSION")))
        .build()
        .into();
    while let Ok(post) = waiting.recv() {
        let mut again = patience.again;
        for tried in 1..=TRIES {
            let why = match send(&agent, &post) {
                Ok(()) => break,
                Err(why) => why,
            };
            if tried == TRIES {
                tracing::warn!(to = post.shown, why, "an alarm could not be posted");
                break;
            }
            tracing::debug!(to = post.shown, why, "an alarm is posted again later");
            if stopped.recv_timeout(again) != Err(RecvTimeoutError::Timeout) {
                return;
            }
            again *= 2;
        }
    }
}

fn send(agent: &Agent, post: &Post) -> Result<(), String> {
    let request = agent
        .post(&post.address)
        .header("content-type", "application/json");
    let answer = request
        .send(&post.body)
        .map_err(|error| error.to_string())?;
    let status: StatusCode = answer.status();
    if status.is_success() {
        Ok(())
    } else {
        Err(format!("the answer was {}", status.as_u16()))
    }
}

#[cfg(test)]
mod tests {
    use std::net::SocketAddr;
    use std::sync::{Arc, Mutex};

    use axum::Router;
    use axum::http::HeaderMap;
    use axum::response::{IntoResponse, Redirect, Response};
    use axum::routing::post;
    use tokio::sync::mpsc;

    use super::super::socket;
    use super::*;

    const SHORT: Patience = Patience {
        answer: Duration::from_secs(5),
        again: Duration::from_millis(1),
    };

    /// A server on the loopback that answers with `answers`, one after the other, and then with
    /// 204; what it was posted comes out of the channel.
    fn serve(answers: Vec<Response>) -> (SocketAddr, mpsc::UnboundedReceiver<String>) {
        let (heard, hears) = mpsc::unbounded_channel();
        let answers = Arc::new(Mutex::new(answers.into_iter()));
        let answer = move |headers: HeaderMap, body: String| async move {
            assert_eq!(headers["content-type"], "application/json");
            heard.send(body).unwrap();
            let next = answers.lock().unwrap().next();
            next.unwrap_or_else(|| StatusCode::NO_CONTENT.into_response())
        };
        let socket = socket::http("127.0.0.1:0".parse().unwrap()).unwrap();
        let listener = tokio::net::TcpListener::from_std(socket).unwrap();
        let at = listener.local_addr().unwrap();
        let router = Router::new().route("/alarms", post(answer));
        tokio::spawn(async move { axum::serve(listener, router).await });
        (at, hears)
    }

    fn post_to(at: SocketAddr, body: &str) -> Post {
        Post {
            address: format!("http://{at}/alarms?key=1"),
            shown: format!("http://{at}"),
            body: body.to_owned(),
        }
    }

    #[tokio::test]
    async fn what_fails_is_tried_again_and_given_up_in_the_end() {
        let busy = || StatusCode::SERVICE_UNAVAILABLE.into_response();
        let away = Redirect::temporary("/elsewhere").into_response();
        let answers = vec![busy(), away, busy(), busy(), busy(), busy()];
        let (at, mut hears) = serve(answers);
        let caller = Caller::start(SHORT).unwrap();
        assert!(caller.post(post_to(at, "{\"n\": 1}")));
        assert!(caller.post(post_to(at, "{\"n\": 2}")));
        for wanted in ["{\"n\": 1}"; 5].into_iter().chain(["{\"n\": 2}"; 2]) {
            assert_eq!(hears.recv().await.unwrap(), wanted);
        }
        let thread = caller.end().unwrap();
        tokio::task::spawn_blocking(move || thread.join().unwrap())
            .await
            .unwrap();
        assert!(hears.try_recv().is_err(), "the second was taken");
    }

    #[tokio::test]
    async fn nobody_there_holds_nothing_up() {
        let (at, _) = serve(Vec::new());
        // A port that nobody listens at: it was had and given back.
        let gone = {
            let socket = socket::http("127.0.0.1:0".parse().unwrap()).unwrap();
            socket.local_addr().unwrap()
        };
        let patient = Patience {
            again: Duration::from_secs(3_600),
            ..SHORT
        };
        let caller = Caller::start(patient).unwrap();
        assert_ne!(at, gone);
        let taken = (0..200).filter(|n| caller.post(post_to(gone, &n.to_string())));
        let taken = taken.count();
        assert!(
            (MOST_WAITING..=MOST_WAITING + 2).contains(&taken),
            "{taken}"
        );
        let thread = caller.end().unwrap();
        tokio::task::spawn_blocking(move || thread.join().unwrap())
            .await
            .unwrap();
    }
}
