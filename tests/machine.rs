//! `[machine]` of the floor file, held against what Linux says of the thread of frames (proc(5),
//! sched(7)).
#![cfg(target_os = "linux")]

mod daemon;

use std::fs;
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};

/// The program, and what it logged until its frames ran. It ends with this.
struct Running {
    child: Child,
    log: String,
    _files: tempfile::TempDir,
}

impl Drop for Running {
    fn drop(&mut self) {
        // It may have ended already.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Running {
    /// Runs a floor with this `[machine]`, by the program `before` if there is one.
    fn with(machine: &str, before: &[&str]) -> Self {
        let floor = daemon::six_panels(&[daemon::free_udp_port()]);
        let (directory, path) = daemon::file(&format!("{floor}\n[machine]\n{machine}\n"));
        let state = directory.path().join("state");
        let mut command = daemon::to_run(&path);
        command.arg("--state").arg(&state);
        if let [program, rest @ ..] = before {
            let mut wrapped = Command::new(program);
            wrapped.args(rest).arg(command.get_program());
            wrapped.args(command.get_args());
            command = wrapped;
        }
        let child = command
            .env("RUST_LOG", "info")
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut running = Self {
            child,
            log: String::new(),
            _files: directory,
        };
        let told = running.child.stderr.take().unwrap();
        for line in BufReader::new(told).lines() {
            running.log += &line.unwrap();
            running.log.push('\n');
            if running.log.contains("the data plane runs") {
                return running;
            }
        }
        panic!("it ended:\n{}", running.log);
    }

    /// A file of the thread of frames.
    fn thread(&self, file: &str) -> String {
        let tasks = fs::read_dir(format!("/proc/{}/task", self.child.id())).unwrap();
        let of = |task: fs::DirEntry| {
            let name = fs::read_to_string(task.path().join("comm")).ok()?;
            (name.trim() == "frames").then(|| fs::read_to_string(task.path().join(file)).unwrap())
        };
        let mut found = tasks.filter_map(|task| of(task.unwrap()));
        let text = found.next().expect("a thread of frames");
        assert_eq!(found.next(), None, "one only");
        text
    }

    /// Its real-time priority and its policy: fields 40 and 41 of `stat`.
    fn urgency(&self) -> (u32, u32) {
        let stat = self.thread("stat");
        // The third field follows the name, which may have anything in it.
        let (_, rest) = stat.rsplit_once(')').unwrap();
        let fields: Vec<&str> = rest.split_whitespace().collect();
        (
            fields[40 - 3].parse().unwrap(),
            fields[41 - 3].parse().unwrap(),
        )
    }

    fn cores(&self) -> String {
        cores(&self.thread("status"))
    }
}

/// The cores that a thread may use, by its `status`.
fn cores(status: &str) -> String {
    line(status, "Cpus_allowed_list:")
}

fn line(status: &str, key: &str) -> String {
    let found = status.lines().find_map(|line| line.strip_prefix(key));
    found.unwrap().trim().to_owned()
}

fn own_status() -> String {
    fs::read_to_string("/proc/self/status").unwrap()
}

#[test]
fn frames_keep_to_the_core_of_the_file() {
    let all = cores(&own_status());
    let last = all.rsplit([',', '-']).next().unwrap();
    let running = Running::with(&format!("core = {last}"), &[]);
    assert_eq!(running.cores(), last, "{}", running.log);
    assert_eq!(running.urgency(), (0, 0), "nothing was said of it");
    // Whoever started it is not held to that core with it.
    let whole = fs::read_to_string(format!("/proc/{}/status", running.child.id())).unwrap();
    assert_eq!(cores(&whole), all);
}

#[test]
fn a_core_that_is_not_there_is_told_and_the_frames_run_without() {
    let running = Running::with("core = 1023", &[]);
    assert_eq!(running.cores(), cores(&own_status()));
    let warning = running.log.lines().find(|line| line.contains("WARN"));
    let warning = warning.unwrap_or_else(|| panic!("{}", running.log));
    assert!(
        warning.contains("`core = 1023` of [machine] can't be had"),
        "{warning}"
    );
}

/// `SCHED_FIFO` of sched.h.
const FIFO: u32 = 1;

/// The right to be more urgent than others (capabilities(7)): its bit in `CapEff`.
const SYS_NICE: u64 = 1 << 23;

fn may_be_urgent() -> bool {
    let rights = line(&own_status(), "CapEff:");
    u64::from_str_radix(&rights, 16).unwrap() & SYS_NICE != 0
}

#[test]
fn frames_are_as_urgent_as_the_file_says_or_it_says_why_not() {
    let running = Running::with("real_time_priority = 7", &[]);
    if running.log.contains("real-time priority 7") {
        assert_eq!(running.urgency(), (7, FIFO));
    } else {
        // A container may keep even root from it.
        refused(&running);
    }
}

#[test]
fn who_may_not_be_urgent_is_told_what_to_do() {
    let without = [
        "setpriv",
        "--bounding-set=-sys_nice",
        "--inh-caps=-sys_nice",
    ];
    let before: &[&str] = if may_be_urgent() { &without } else { &[] };
    refused(&Running::with("real_time_priority = 7", before));
}

fn refused(running: &Running) {
    assert_eq!(running.urgency(), (0, 0), "{}", running.log);
    for told in [
        "`real_time_priority = 7` of [machine] can't be had",
        "AmbientCapabilities=CAP_SYS_NICE",
        "LimitRTPRIO=7",
        "sudo setcap cap_sys_nice+ep '",
    ] {
        assert!(running.log.contains(told), "{told}: {}", running.log);
    }
}
