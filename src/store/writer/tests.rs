use std::fs;

use super::*;
use crate::power::record::{Element, Reading, Sum};
use crate::power::series::{Archive, Ask, Line, Row};
use crate::store::reader::Reader;

const START: i64 = 1_700_000_040;

fn step(at_s: f64, draw_a: f64) -> Step {
    let reading = Reading {
        draw_a,
        scale: 1.0,
        ..Reading::default()
    };
    let element: Element = "feed:a".parse().unwrap();
    Step {
        s: 1.0,
        at_s,
        elements: Arc::new([element]),
        sums: vec![Some(Sum::between(1.0, &reading, &reading))],
    }
}

struct Bench {
    writer: Writer,
    archive: Reader,
    heard: Receiver<Message>,
}

impl Bench {
    fn new(place: Place) -> Self {
        let common = Arc::new(Common::new(place).unwrap());
        let (sender, heard) = std::sync::mpsc::sync_channel(8);
        let mut writer = Writer::new(Arc::clone(&common));
        writer.unix_ms = START * 1_000;
        Self {
            writer,
            archive: Reader::new(common, sender),
            heard,
        }
    }

    fn live(&mut self, seconds: std::ops::Range<u16>, draw_a: f64) {
        for second in seconds {
            let unix_ms = (START + i64::from(second)) * 1_000 + 500;
            self.writer.take(unix_ms, &step(f64::from(second), draw_a));
        }
    }

    fn trouble(&self) -> Option<String> {
        self.archive.recording().trouble
    }

    /// Seconds and ampere-seconds of all that can be read.
    fn read(&self) -> (f64, f64) {
        let ask = Ask {
            from: START - 600,
            to: START + 100_000,
            points: 50,
            element: None,
        };
        let series = self.archive.series(&ask).unwrap();
        let totals = series.lines.iter().map(Line::total);
        totals.fold((0.0, 0.0), |sum, total| {
            (sum.0 + total.s, sum.1 + total.draw_as)
        })
    }
}

#[test]
fn what_is_written_can_be_read_meanwhile_and_later() {
    let directory = tempfile::tempdir().unwrap();
    let place = Place::Directory(directory.path().join("new"));
    let mut bench = Bench::new(place.clone());
    bench.live(0..151, 2.0);
    let (s, charge) = bench.read();
    assert!((145.0..=151.0).contains(&s), "{s}");
    assert!((charge - 2.0 * s).abs() < 1e-6);
    bench.writer.fold.end(&mut bench.writer.waiting);
    bench.writer.commit();
    // The seconds of a minute that is whole are not counted beside it.
    let (s, charge) = bench.read();
    assert!(
        (s - 151.0).abs() < 1e-9 && (charge - 302.0).abs() < 1e-6,
        "{s} {charge}"
    );
    drop(bench);
    let mut bench = Bench::new(place);
    bench.live(151..200, 2.0);
    bench.writer.fold.end(&mut bench.writer.waiting);
    bench.writer.commit();
    assert!((bench.read().0 - 200.0).abs() < 1e-9);
    assert_eq!(bench.trouble(), None);
}

#[test]
fn while_another_holds_the_file_rows_wait() {
    let directory = tempfile::tempdir().unwrap();
    let other = file::open(directory.path(), 1).unwrap();
    let mut bench = Bench::new(Place::Directory(directory.path().to_owned()));
    bench.live(0..30, 1.0);
    let said = bench.trouble().unwrap();
    assert!(said.contains("another litfloor writes there"), "{said}");
    drop(other);
    bench.live(30..41, 1.0);
    assert_eq!(bench.trouble(), None);
    assert!(
        (bench.read().0 - 40.0).abs() < 1e-9,
        "all but the second that goes on"
    );
    assert_eq!(bench.archive.recording().lost_rows, 0);
}

#[test]
fn a_full_disk_is_said_and_ends() {
    let directory = tempfile::tempdir().unwrap();
    let mut bench = Bench::new(Place::Directory(directory.path().to_owned()));
    bench.live(0..6, 1.0);
    let limit = |bench: &Bench, pages: i64| {
        let opened = bench.writer.opened.as_ref().unwrap();
        let pragma = format!("PRAGMA max_page_count = {pages}");
        opened
            .connection
            .query_row(&pragma, [], |row| row.get::<_, i64>(0))
            .unwrap()
    };
    // SQLite answers SQLITE_FULL then, as it does when the disk is full.
    limit(&bench, 1);
    bench.live(6..1_000, 1.0);
    let said = bench.trouble().unwrap();
    assert!(
        said.contains("make room where history.sqlite3 lies"),
        "{said}"
    );
    limit(&bench, 1_000_000);
    bench.live(1_000..1_006, 1.0);
    assert_eq!(bench.trouble(), None);
    assert!((bench.read().0 - 1_005.0).abs() < 1.0 + 1e-9);
}

#[test]
fn what_waits_too_long_is_lost_and_counted() {
    let mut bench = Bench::new(Place::Memory);
    let row = Row {
        at: START,
        element: Element::default(),
        sum: Sum::default(),
    };
    bench.writer.waiting.seconds = vec![row.clone(); MOST_WAITING];
    bench.writer.waiting.minutes = vec![row; 7];
    bench.writer.shed();
    assert_eq!(bench.writer.waiting.minutes.len(), 7);
    assert_eq!(bench.writer.waiting.seconds.len(), MOST_WAITING - 7);
    assert_eq!(bench.archive.recording().lost_rows, 7);
}

#[test]
fn a_file_that_breaks_is_moved_aside_while_it_runs() {
    let directory = tempfile::tempdir().unwrap();
    let mut bench = Bench::new(Place::Directory(directory.path().to_owned()));
    bench.live(0..300, 1.0);
    let opened = bench.writer.opened.as_ref().unwrap();
    opened
        .connection
        .pragma_update(None, "wal_checkpoint", "truncate")
        .ok();
    let path = directory.path().join(file::NAME);
    // All pages behind the first.
    let mut bytes = fs::read(&path).unwrap();
    assert!(bytes.len() > 8_192, "{}", bytes.len());
    bytes[4_096..].fill(0xA5);
    fs::write(&path, bytes).unwrap();
    let ask = Ask {
        from: 0,
        to: START + 1_000,
        points: 10,
        element: None,
    };
    assert!(bench.archive.series(&ask).is_err());
    assert!(matches!(bench.heard.try_recv(), Ok(Message::Suspect)));
    bench.writer.examine();
    bench.live(300..320, 1.0);
    let names = || fs::read_dir(directory.path()).unwrap();
    let moved =
        |name: std::ffi::OsString| name.to_str().unwrap().starts_with("history-unreadable-");
    assert!(names().any(|entry| moved(entry.unwrap().file_name())));
    assert!(bench.read().0 > 10.0);
    assert_eq!(bench.trouble(), None);
}

#[test]
fn a_file_that_is_broken_inside_does_not_stop_the_next_start() {
    let directory = tempfile::tempdir().unwrap();
    let place = Place::Directory(directory.path().to_owned());
    let mut bench = Bench::new(place.clone());
    bench.live(0..300, 1.0);
    drop(bench);
    let path = directory.path().join(file::NAME);
    let mut bytes = fs::read(&path).unwrap();
    assert!(bytes.len() > 8_192, "closing it has put all into the file");
    bytes[4_096..].fill(0xA5);
    fs::write(&path, bytes).unwrap();
    let mut bench = Bench::new(place);
    bench.live(300..320, 1.0);
    assert_eq!(bench.trouble(), None);
    assert!(bench.read().0 > 10.0);
    let names = fs::read_dir(directory.path()).unwrap();
    let names = names.map(|entry| entry.unwrap().file_name());
    let mut names = names.map(|name| name.into_string().unwrap());
    assert!(names.any(|name| name.starts_with("history-unreadable-")));
}

#[test]
fn in_memory_it_is_kept_as_long_as_the_process() {
    for place in [Place::Memory, Place::Nowhere("no home".into())] {
        let mut bench = Bench::new(place.clone());
        bench.live(0..20, 3.0);
        let (s, charge) = bench.read();
        assert!(s >= 14.0 && (charge - 3.0 * s).abs() < 1e-6);
        let nowhere = place != Place::Memory;
        assert_eq!(bench.trouble().is_some(), nowhere);
        assert!(!bench.archive.recording().in_file);
    }
}

#[test]
fn an_export_that_nobody_takes_holds_nothing_up() {
    let directory = tempfile::tempdir().unwrap();
    for place in [Place::Memory, Place::Directory(directory.path().to_owned())] {
        let mut bench = Bench::new(place);
        bench.live(0..3_000, 2.0);
        let archive = bench.archive.clone();
        let ask = Ask {
            from: START,
            to: START + 100_000,
            points: 1,
            element: None,
        };
        let mut seen = Vec::new();
        let mut live = 3_000_u16;
        archive
            .rows(&ask, &mut |row| {
                seen.push(row.at);
                // The taker of this row takes its time; meanwhile six seconds are lived and written.
                if seen.len().is_multiple_of(1_000) {
                    let free = |memory: &Mutex<Connection>| memory.try_lock().is_ok();
                    assert!(bench.writer.common.memory.as_ref().is_none_or(free));
                    bench.live(live..live + 6, 2.0);
                    live += 6;
                    if let Some(opened) = &bench.writer.opened {
                        let busy = opened.connection.query_row(
                            "PRAGMA wal_checkpoint(TRUNCATE)",
                            [],
                            |row| row.get::<_, i64>(0),
                        );
                        assert_eq!(busy, Ok(0), "a reader holds the log");
                    }
                }
                true
            })
            .unwrap();
        assert_eq!(bench.trouble(), None);
        // Each row once, in its order, across the batches.
        assert!(seen.len() > 2_900, "{}", seen.len());
        assert!(seen.windows(2).all(|pair| pair[1] == pair[0] + 1));
        assert!(live > 3_000);
    }
}

#[test]
fn a_clock_that_leaps_at_the_start_costs_no_year() {
    let directory = tempfile::tempdir().unwrap();
    let place = Place::Directory(directory.path().to_owned());
    let minutes = |bench: &Bench| {
        let opened = bench.writer.opened.as_ref().unwrap();
        let statement = "SELECT COUNT(*) FROM minutes WHERE at < ?1";
        opened
            .connection
            .query_row(statement, [START + 100_000], |row| row.get::<_, i64>(0))
            .unwrap()
    };
    let later = |bench: &mut Bench, s: i64| {
        // More than an hour of uptime, by a clock that runs straight.
        for at in (0..4_000_i32).step_by(4) {
            let unix_ms = (START + s + i64::from(at)) * 1_000;
            bench.writer.take(unix_ms, &step(f64::from(at), 1.0));
        }
    };
    let mut bench = Bench::new(place.clone());
    bench.live(0..300, 1.0);
    drop(bench);
    // Two years later, says the clock.
    let mut bench = Bench::new(place.clone());
    later(&mut bench, 2 * table::MINUTES_KEPT);
    assert_eq!(minutes(&bench), 4);
    drop(bench);
    // The same clock at the start after that is believed.
    let mut bench = Bench::new(place);
    later(&mut bench, 2 * table::MINUTES_KEPT + 5_000);
    assert_eq!(minutes(&bench), 0);
}
