//! Which processor core the thread of frames keeps to, and before whom it goes.
//!
//! Both are wishes: where they can't be had, a warning says why and what to do, and frames are
//! forwarded all the same.

use crate::floor::model::MachineSettings;

/// Does what the floor file wishes for the thread that calls this, and tells in the log what came of
/// it.
pub fn settle(wishes: MachineSettings) {
    for told in outcomes(wishes) {
        match told {
            Ok(got) => tracing::info!("{got}"),
            Err(why) => tracing::warn!("{why}"),
        }
    }
}

/// What would come of these wishes, tried out by a thread of its own that ends at once; nothing if there
/// are none.
pub fn try_out(wishes: MachineSettings) -> Option<Vec<Result<String, String>>> {
    if wishes == MachineSettings::default() {
        return None;
    }
    std::thread::spawn(move || outcomes(wishes).collect())
        .join()
        .ok()
}

fn outcomes(wishes: MachineSettings) -> impl Iterator<Item = Result<String, String>> {
    let core = wishes.core.map(keep_to);
    core.into_iter()
        .chain(wishes.real_time_priority.map(go_before))
}

/// Lets frames go before whatever the thread that calls this does, and all threads that it starts from
/// then on: with many browsers or a long reload on a small board it is these that wait.
pub fn stand_back() {
    #[cfg(target_os = "linux")]
    {
        use thread_priority::{ThreadPriority, ThreadPriorityValue, set_current_thread_priority};
        // A niceness of 10, on a scale from 0 (19) to 99 (-20).
        let done = ThreadPriorityValue::try_from(22)
            .map(|value| set_current_thread_priority(ThreadPriority::Crossplatform(value)));
        // Nobody is refused to be nicer; if someone were, frames would only take turns with the rest.
        if !matches!(done, Ok(Ok(()))) {
            tracing::debug!("frames take turns with everything else");
        }
    }
}

#[cfg(target_os = "linux")]
fn keep_to(core: u16) -> Result<String, String> {
    use nix::sched::{CpuSet, sched_getaffinity, sched_setaffinity};
    use nix::unistd::Pid;
    // The calling thread.
    let own = Pid::from_raw(0);
    let mut wanted = CpuSet::new();
    let done = wanted
        .set(usize::from(core))
        .and_then(|()| sched_setaffinity(own, &wanted));
    done.map(|()| format!("frames are forwarded by processor core {core} alone"))
        .map_err(|error| {
            let cores = sched_getaffinity(own).map_or_else(
                |_| "none that it tells".to_owned(),
                |set| listed((0..CpuSet::count()).filter(|&core| set.is_set(core).unwrap_or(false))),
            );
            format!(
                "`core = {core}` of [machine] can't be had ({}): litfloor may use core {cores} here. \
                 Frames are forwarded by any of these. Write one of them, or take the key out; what a \
                 container or `CPUAffinity=` of a systemd unit leaves out can't be had either.",
                error.desc()
            )
        })
}

/// Numbers in order, as ranges: `0-3, 6`.
#[cfg(target_os = "linux")]
fn listed(numbers: impl Iterator<Item = usize>) -> String {
    let mut ranges: Vec<(usize, usize)> = Vec::new();
    for number in numbers {
        match ranges.last_mut() {
            Some((_, last)) if *last + 1 == number => *last = number,
            _ => ranges.push((number, number)),
        }
    }
    let told = |&(first, last): &(usize, usize)| {
        if first == last {
            first.to_string()
        } else {
            format!("{first}-{last}")
        }
    };
    ranges.iter().map(told).collect::<Vec<_>>().join(", ")
}

#[cfg(target_os = "linux")]
fn go_before(priority: u8) -> Result<String, String> {
    use thread_priority::{
        RealtimeThreadSchedulePolicy, ThreadPriority, ThreadPriorityValue, ThreadSchedulePolicy,
        set_thread_priority_and_policy, thread_native_id,
    };
    let fifo = ThreadSchedulePolicy::Realtime(RealtimeThreadSchedulePolicy::Fifo);
    let done = ThreadPriorityValue::try_from(priority).and_then(|value| {
        let value = ThreadPriority::Crossplatform(value);
        set_thread_priority_and_policy(thread_native_id(), value, fifo).map_err(|error| match error
        {
            thread_priority::Error::OS(number) => {
                std::io::Error::from_raw_os_error(number).to_string()
            }
            other => format!("{other:?}"),
        })
    });
    done.map(|()| format!("frames go before all else: real-time priority {priority}"))
        .map_err(|why| {
            let program = std::env::current_exe()
                .map_or_else(|_| "litfloor".into(), |path| path.display().to_string());
            format!(
                "`real_time_priority = {priority}` of [machine] can't be had ({why}): frames take turns \
                 with everything else. It needs the right CAP_SYS_NICE. In a systemd unit write \
                 `AmbientCapabilities=CAP_SYS_NICE` or `LimitRTPRIO={priority}` under [Service]; \
                 otherwise run `sudo setcap cap_sys_nice+ep '{program}'` and start litfloor again. Or \
                 take the key out."
            )
        })
}

#[cfg(not(target_os = "linux"))]
fn keep_to(core: u16) -> Result<String, String> {
    Err(format!(
        "`core = {core}` of [machine] can't be had on this system, only on Linux: frames are forwarded by \
         any core. Take the key out of the floor file."
    ))
}

#[cfg(not(target_os = "linux"))]
fn go_before(priority: u8) -> Result<String, String> {
    Err(format!(
        "`real_time_priority = {priority}` of [machine] can't be had on this system, only on Linux: frames \
         take turns with everything else. Take the key out of the floor file."
    ))
}

#[cfg(all(test, target_os = "linux"))]
mod tests {
    use super::*;

    #[test]
    fn who_stands_back_is_nicer_than_before() {
        // The 19th field of /proc/…/stat, `nice` in proc(5); the name before may hold spaces.
        let nice = || {
            let stat = std::fs::read_to_string("/proc/thread-self/stat").unwrap();
            let (_, fields) = stat.rsplit_once(") ").unwrap();
            fields.split(' ').nth(19 - 3).unwrap().to_owned()
        };
        std::thread::spawn(move || {
            stand_back();
            assert_eq!(nice(), "10");
            assert_eq!(std::thread::spawn(nice).join().unwrap(), "10");
        })
        .join()
        .unwrap();
    }

    #[test]
    fn cores_are_told_as_ranges() {
        let told = |numbers: &[usize]| listed(numbers.iter().copied());
        assert_eq!(told(&[]), "");
        assert_eq!(told(&[5]), "5");
        assert_eq!(told(&[0, 1, 2, 3, 6, 8, 9]), "0-3, 6, 8-9");
    }

    #[test]
    fn a_core_that_is_not_there_is_refused_with_those_that_are() {
        // The last that the call can name; a machine that had it would have 1,024.
        let why = keep_to(1_023).unwrap_err();
        assert!(why.contains("`core = 1023`"), "{why}");
        assert!(!why.contains("core  here"), "{why}");
    }
}
