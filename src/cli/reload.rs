//! The floor file read again while the floor runs: by SIGHUP, or by a wish of the operator.

use std::io::{self, Write};
use std::net::SocketAddrV4;
use std::path::PathBuf;
use std::sync::Arc;

use tokio::sync::{mpsc, oneshot, watch};
use tokio::task::JoinError;

use super::{check, standby};
use crate::engine::{Engine, Me};
use crate::floor::model::{MachineSettings, StandbyPair};
use crate::floor::{Faults, Floor, FloorFile, Tables};
use crate::net::clock::Clock;
use crate::net::interfaces;
use crate::net::plane::Reread;
use crate::web::{FloorView, NotReloaded, ReloadOrder, Reloaded};

/// What is said when a table has changed that is only taken at the start.
const WAITS: &str = "[machine] or [standby] of the file is not what litfloor was started with. They are taken when \
                     litfloor is started again, and all else of the file now.";

/// How the floor file is read.
#[derive(Debug, Clone)]
pub(super) struct Reader {
    /// Where it is.
    pub(super) path: PathBuf,
    /// Where Art-Net is listened to: no node may lie there.
    pub(super) artnet: SocketAddrV4,
}

impl Reader {
    /// Reads it.
    ///
    /// # Errors
    /// All its faults.
    pub(super) fn read(&self) -> Result<(FloorFile, Floor), Faults> {
        let own = interfaces::list();
        let file = FloorFile::read(&self.path)?;
        let floor = file.floor(&|node| interfaces::loops_back(node, self.artnet, &own))?;
        Ok((file, floor))
    }
}

/// Reads the file again whenever that is wished for, and hands what came of it to the data plane.
#[derive(Debug)]
pub(super) struct Reloader {
    /// Nothing if the floor is part of the program.
    pub(super) reader: Option<Reader>,
    pub(super) hangups: Hangups,
    pub(super) me: Me,
    pub(super) clock: Clock,
    pub(super) view: watch::Sender<Arc<FloorView>>,
    pub(super) plane: mpsc::Sender<Reread>,
    /// What held for the machine and for who stands by when litfloor was started, and does until it ends.
    pub(super) started_with: (MachineSettings, Option<StandbyPair>),
}

/// All that a floor needs to run, made beside the frames.
struct Prepared {
    view: FloorView,
    engine: Engine,
    cautions: Vec<String>,
}

impl Reloader {
    /// Waits for wishes and for SIGHUP, until the data plane has ended.
    pub(super) async fn run(mut self, mut wishes: mpsc::Receiver<ReloadOrder>) {
        loop {
            let answer = tokio::select! {
                wish = wishes.recv() => match wish {
                    Some(answer) => Some(answer),
                    None => return,
                },
                () = self.hangups.next() => None,
            };
            let Some(done) = self.reload().await else {
                return;
            };
            if let Some(answer) = answer {
                // Whoever asked may have gone away.
                let _ = answer.send(done);
            }
        }
    }

    /// Reads the file and says what came of it; nothing if the data plane has ended.
    async fn reload(&self) -> Option<Result<Reloaded, NotReloaded>> {
        let Some(reader) = self.reader.clone() else {
            return Some(Err(NotReloaded::NoFile));
        };
        let (me, now) = (self.me.clone(), self.clock.now());
        let started_with = self.started_with;
        let revision = self.view.borrow().document.revision.wrapping_add(1);
        let prepared = tokio::task::spawn_blocking(move || {
            let (file, floor) = reader.read()?;
            let tables = Arc::new(Tables::compile(&floor));
            let mut cautions = check::summary(&floor, &tables, &interfaces::list()).cautions;
            if (floor.machine, floor.network.standby) != started_with {
                cautions.push(WAITS.to_owned());
            }
            let floor = Arc::new(floor);
            let (name, number) = (file.own_name(), standby::number(&file.text));
            let view = FloorView::new(file, &floor, &tables, revision, false);
            let mut engine = Engine::new(floor, tables, me, now);
            engine.set_file(&name, revision, now);
            engine.set_file_number(number);
            Ok(Prepared {
                view,
                engine,
                cautions,
            })
        });
        let prepared: Result<Result<Prepared, Faults>, JoinError> = prepared.await;
        match prepared {
            Ok(Ok(prepared)) => self.replace(prepared).await.map(Ok),
            Err(error) => {
                tracing::error!(%error, "the floor file could not be read again");
                Some(Err(NotReloaded::Failed))
            }
            Ok(Err(faults)) => {
                tracing::warn!(
                    "the floor file was not taken, and the floor of before goes on:\n{}",
                    faults.render(false)
                );
                let rows = faults.rows_without_directory();
                let told = Reread::Refused(rows.clone());
                self.plane.send(told).await.ok()?;
                Some(Err(NotReloaded::Faulty(rows)))
            }
        }
    }

    async fn replace(&self, prepared: Prepared) -> Option<Reloaded> {
        let Prepared {
            view,
            engine,
            cautions,
        } = prepared;
        let (done, is_done) = oneshot::channel();
        let floor = Reread::Floor(Box::new(engine), done);
        self.plane.send(floor).await.ok()?;
        drop(is_done.await.ok()?);
        let reloaded = Reloaded {
            revision: view.document.revision,
            name: view.document.name.clone(),
            cautions,
        };
        self.view.send_replace(Arc::new(view));
        tracing::info!(
            name = reloaded.name,
            revision = reloaded.revision,
            "the floor was replaced"
        );
        // The terminal may be gone; that is no reason to end.
        let mut out = io::stdout();
        let _ = writeln!(
            out,
            "The floor file was read again and taken: {}",
            reloaded.name
        );
        let _ = check::cautions(&reloaded.cautions, &mut out);
        Some(reloaded)
    }
}

/// SIGHUP, where there is one. From the moment that this is made it ends the program no more.
#[derive(Debug)]
pub(super) struct Hangups {
    #[cfg(unix)]
    signal: Option<tokio::signal::unix::Signal>,
    /// Whether there was a terminal: a hangup may be its end and no wish.
    terminal: bool,
}

impl Hangups {
    /// To be made within a runtime. If not `wanted`, the signal does what it always does.
    #[cfg(unix)]
    pub(super) fn new(wanted: bool) -> Self {
        use io::IsTerminal;
        use tokio::signal::unix::{SignalKind, signal};
        Self {
            signal: wanted.then(|| signal(SignalKind::hangup()).ok()).flatten(),
            terminal: io::stdin().is_terminal(),
        }
    }

    #[cfg(not(unix))]
    pub(super) fn new(_: bool) -> Self {
        Self { terminal: false }
    }

    /// The next that asks for the file. A terminal that was closed does not: the floor goes on.
    async fn next(&mut self) {
        #[cfg(unix)]
        if let Some(signal) = &mut self.signal {
            use io::IsTerminal;
            while signal.recv().await.is_some() {
                if self.terminal && !io::stdin().is_terminal() {
                    self.terminal = false;
                    tracing::warn!("the terminal is gone; the floor goes on without it");
                    continue;
                }
                return;
            }
        }
        std::future::pending::<()>().await;
    }
}
