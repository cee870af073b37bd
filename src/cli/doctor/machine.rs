//! What the machine gives: buffers, cores and priority, power, open files, versions.

use std::fs;
use std::path::Path;

use super::Point;
use crate::floor::Floor;
use crate::floor::model::MachineSettings;
use crate::net::{processor, socket};
use crate::web::{LEAST_CONNECTIONS, MOST_CONNECTIONS};

/// What the program itself has open, generously: sockets of nodes' network, history, book, timers. A `run` with a
/// floor of four panels had 21 (measured in /proc/PID/fd).
const OWN_FILES: usize = 56;

/// Open files without which browsers that look on are turned away.
const FILES: u64 = (LEAST_CONNECTIONS + OWN_FILES) as u64;

/// With so many, all fit that the doors for browsers let in.
const ENOUGH_FILES: u64 = (MOST_CONNECTIONS + OWN_FILES) as u64;

pub(super) fn look(floor: Option<&Floor>) -> Vec<Point> {
    let mut points = vec![of_buffers()];
    points.extend(floor.and_then(|floor| of_wishes(floor.machine)));
    points.extend(of_power(Path::new("/sys")));
    points.extend(of_open_files());
    points.push(of_versions());
    points
}

fn of_buffers() -> Point {
    const POINT: &str = "buffers";
    let to_do = |small: &socket::SmallBuffers| {
        let to_do = small.to_do.clone();
        to_do.unwrap_or_else(|| "allow larger ones in the system's settings".to_owned())
    };
    match socket::small_buffers() {
        Ok(Some(small)) => Point::mind(POINT, small.told.clone(), to_do(&small)),
        Ok(None) => match socket::small_buffers_of_others() {
            None => Point::fine(POINT, "a burst of all universes of a large floor fits"),
            Some(small) => Point::mind(
                POINT,
                format!(
                    "this user gets what it needs, but another would not. {}",
                    small.told
                ),
                to_do(&small),
            ),
        },
        Err(why) => Point::wrong(
            POINT,
            format!("no UDP socket can be opened ({why})"),
            "look whether this machine has a network at all, and whether a container or a firewall \
             forbids sockets",
        ),
    }
}

/// `[machine]` of the floor file, tried out by a thread that ends at once.
fn of_wishes(wishes: MachineSettings) -> Option<Point> {
    const POINT: &str = "processor";
    let told = processor::try_out(wishes)?;
    let (got, refused): (Vec<_>, Vec<_>) = told.into_iter().partition(Result::is_ok);
    let all = |told: Vec<Result<String, String>>| {
        let texts = told.into_iter().map(|told| told.unwrap_or_else(|why| why));
        texts.collect::<Vec<_>>().join("; ")
    };
    Some(if refused.is_empty() {
        Point::fine(POINT, all(got))
    } else {
        Point::mind(
            POINT,
            all(refused),
            "frames are forwarded all the same. What this user may not, the user that the night's \
             litfloor runs as may: run doctor as that one",
        )
    })
}

/// Mains or battery, and what the processor does to save power.
fn of_power(sys: &Path) -> Vec<Point> {
    const POINT: &str = "power";
    let read = |path: &Path| {
        fs::read_to_string(path)
            .map(|text| text.trim().to_owned())
            .ok()
    };
    let mut points = Vec::new();
    let supplies = fs::read_dir(sys.join("class/power_supply"))
        .into_iter()
        .flatten()
        .flatten();
    let discharging = supplies
        .map(|supply| supply.path())
        .filter(|path| read(&path.join("type")).as_deref() == Some("Battery"))
        // That of a mouse or a pen is not this machine's.
        .filter(|path| read(&path.join("scope")).as_deref() != Some("Device"))
        .any(|path| read(&path.join("status")).as_deref() == Some("Discharging"));
    if discharging {
        points.push(Point::mind(
            POINT,
            "this machine runs on its battery",
            "plug it in, and switch off that it sleeps when its lid is shut",
        ));
    }
    let core = sys.join("devices/system/cpu/cpu0/cpufreq");
    let driver = read(&core.join("scaling_driver")).unwrap_or_default();
    // With these drivers `powersave` is what everybody has, and goes up when there is work.
    let by_itself = driver.starts_with("intel_pstate") || driver.starts_with("amd-pstate-epp");
    if read(&core.join("scaling_governor")).as_deref() == Some("powersave") && !by_itself {
        points.push(Point::mind(
            POINT,
            "the processor is kept at its slowest (governor powersave)",
            "frames leave later than they could: as root, `cpupower frequency-set -g performance`, or \
             `schedutil`",
        ));
    }
    points
}

#[cfg(target_os = "linux")]
fn of_open_files() -> Option<Point> {
    use nix::sys::resource::{Resource, getrlimit};
    let (most, _) = getrlimit(Resource::RLIMIT_NOFILE).ok()?;
    Some(of_files(most))
}

#[cfg(not(target_os = "linux"))]
fn of_open_files() -> Option<Point> {
    None
}

#[cfg_attr(not(target_os = "linux"), allow(dead_code))]
fn of_files(most: u64) -> Point {
    const POINT: &str = "open_files";
    let told = format!("litfloor may have {most} files and connections open");
    let to_do = format!(
        "browsers may be turned away, up to {MOST_CONNECTIONS} are let in: `ulimit -n 1024` in the shell that \
         starts it, or `LimitNOFILE=1024` under [Service] of its systemd unit"
    );
    match most {
        ..FILES => Point::wrong(POINT, told, to_do),
        FILES..ENOUGH_FILES => Point::mind(POINT, told, to_do),
        _ => Point::fine(POINT, told),
    }
}

fn of_versions() -> Point {
    let kernel = fs::read_to_string("/proc/sys/kernel/osrelease");
    let kernel = kernel.map_or_else(
        |_| std::env::consts::OS.to_owned(),
        |release| format!("Linux {}", release.trim()),
    );
    Point::fine(
        "versions",
        format!(
            "litfloor {}, SQLite {}, {kernel} on {}",
            env!("CARGO_PKG_VERSION"),
            rusqlite::version(),
            std::env::consts::ARCH
        ),
    )
}

#[cfg(test)]
mod tests {
    use super::super::Verdict;
    use super::*;

    fn write(root: &Path, path: &str, text: &str) {
        let path = root.join(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
    }

    /// Files as the kernel's documentation has them: Documentation/ABI/testing/sysfs-class-power, and
    /// Documentation/admin-guide/pm/cpufreq.rst.
    #[test]
    fn a_battery_that_empties_and_a_slow_processor_are_told() {
        let sys = tempfile::tempdir().unwrap();
        let root = sys.path();
        assert!(of_power(root).is_empty());
        let battery = "class/power_supply/BAT0";
        write(root, &format!("{battery}/type"), "Battery\n");
        write(root, &format!("{battery}/status"), "Charging\n");
        assert!(of_power(root).is_empty());
        write(root, &format!("{battery}/status"), "Discharging\n");
        assert!(of_power(root)[0].told.contains("battery"));
        write(root, &format!("{battery}/scope"), "Device\n");
        assert!(of_power(root).is_empty());
        let core = "devices/system/cpu/cpu0/cpufreq";
        write(root, &format!("{core}/scaling_governor"), "powersave\n");
        write(root, &format!("{core}/scaling_driver"), "cpufreq-dt\n");
        assert!(of_power(root)[0].told.contains("powersave"));
        write(root, &format!("{core}/scaling_driver"), "intel_pstate\n");
        assert!(of_power(root).is_empty());
    }

    #[test]
    fn few_open_files_turn_browsers_away() {
        assert_eq!(of_files(64).verdict, Verdict::Wrong);
        assert_eq!(of_files(256).verdict, Verdict::Mind);
        // The door for all takes 512, that for guests 256.
        assert_eq!(of_files(512).verdict, Verdict::Mind);
        assert_eq!(of_files(768).verdict, Verdict::Mind);
        // What the advice names is enough.
        assert_eq!(of_files(1_024).verdict, Verdict::Fine);
        let to_do = of_files(512).to_do.unwrap();
        assert!(to_do.contains("LimitNOFILE=1024"), "{to_do}");
    }

    #[test]
    fn a_core_that_is_not_there_is_no_reason_to_stay_at_home() {
        assert_eq!(of_wishes(MachineSettings::default()), None);
        let point = of_wishes(MachineSettings {
            // The last that the call can name; a machine that had it would have 1,024.
            core: Some(1_023),
            ..MachineSettings::default()
        });
        let point = point.unwrap();
        assert_eq!(point.verdict, Verdict::Mind);
        assert!(point.told.contains("`core = 1023`"), "{point:?}");
    }
}
