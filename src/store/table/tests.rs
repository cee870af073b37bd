use super::super::file;
use super::*;
use crate::power::record::Reading;

fn row(at: i64, element: &str, s: f64, draw_a: f64) -> Row {
    let reading = Reading {
        asked_a: 1.5 * draw_a,
        draw_a,
        limit_a: Some(12.0),
        scale: 0.6,
        mains_w: 13.6 * draw_a,
        ..Reading::default()
    };
    Row {
        at,
        element: element.parse().unwrap(),
        sum: Sum::between(s, &reading, &reading),
    }
}

fn whole_of(connection: &Connection, table: &str) -> Sum {
    connection
        .query_row(&format!("SELECT {SUMS} FROM {table}"), [], |row| {
            sum(row, 0)
        })
        .unwrap()
}

fn count(connection: &Connection, table: &str) -> i64 {
    let statement = format!("SELECT COUNT(*) FROM {table}");
    connection
        .query_row(&statement, [], |row| row.get(0))
        .unwrap()
}

#[test]
fn a_second_that_is_lived_twice_covers_both() {
    let mut connection = file::in_memory().unwrap();
    let mut ids = Ids::default();
    for (s, draw_a) in [(1.0, 2.0), (0.5, 8.0)] {
        let rows = Rows {
            seconds: vec![row(100, "feed:a", s, draw_a)],
            minutes: Vec::new(),
        };
        write(&mut connection, &mut ids, &rows).unwrap();
    }
    assert_eq!(count(&connection, "seconds"), 1);
    let whole = whole_of(&connection, "seconds");
    assert!((whole.s - 1.5).abs() < 1e-9);
    assert!(
        (whole.draw_as - 6.0).abs() < 1e-3,
        "2 A for 1 s, 8 A for 0.5 s"
    );
    assert_eq!((whole.draw_min_a, whole.draw_max_a), (2.0, 8.0));
    assert!((whole.mains_ws - 13.6 * 6.0).abs() < 1e-2);
    assert_eq!(whole.limit_a, Some(12.0));
    assert!((whole.scale_min - 0.6).abs() < 1e-9 && (whole.capped_s - 1.5).abs() < 1e-9);
}

#[test]
fn a_transaction_is_whole_or_not_at_all() {
    let mut connection = file::in_memory().unwrap();
    let mut ids = Ids::default();
    connection
        .execute_batch(
            "CREATE TRIGGER full BEFORE INSERT ON minutes
             BEGIN SELECT RAISE(ABORT, 'full'); END",
        )
        .unwrap();
    let rows = Rows {
        seconds: vec![row(60, "feed:a", 1.0, 2.0)],
        minutes: vec![row(60, "feed:a", 60.0, 2.0)],
    };
    assert!(write(&mut connection, &mut ids, &rows).is_err());
    assert_eq!(
        (count(&connection, "seconds"), count(&connection, "series")),
        (0, 0)
    );
    connection.execute_batch("DROP TRIGGER full").unwrap();
    ids.forget();
    write(&mut connection, &mut ids, &rows).unwrap();
    assert_eq!(
        (count(&connection, "seconds"), count(&connection, "minutes")),
        (1, 1)
    );
}

#[test]
fn old_rows_go_but_not_by_a_clock_that_nobody_trusts() {
    let now = 1_700_000_040;
    let mut connection = file::in_memory().unwrap();
    let rows = Rows {
        seconds: [now - 3_601, now - 3_599, now, now + 3_601]
            .map(|at| row(at, "feed:a", 1.0, 1.0))
            .to_vec(),
        minutes: [now - MINUTES_KEPT - 60, now - MINUTES_KEPT + 60, now]
            .map(|at| row(at, "feed:a", 60.0, 1.0))
            .to_vec(),
    };
    write(&mut connection, &mut Ids::default(), &rows).unwrap();
    prune(&connection, now, false, MOST_BYTES).unwrap();
    assert_eq!(
        (count(&connection, "seconds"), count(&connection, "minutes")),
        (2, 3)
    );
    prune(&connection, now, true, MOST_BYTES).unwrap();
    assert_eq!(count(&connection, "minutes"), 2);
    assert_eq!(newest_minute(&connection).unwrap(), Some(now));
}

const SERIES: [&str; 6] = ["feed:a", "feed:b", "feed:c", "feed:d", "supply:b", "floor"];

/// What the documents say of the size: a series takes so many bytes a year.
#[test]
fn a_series_takes_as_many_bytes_as_is_said_and_never_too_many() {
    let mut connection = file::in_memory().unwrap();
    let mut ids = Ids::default();
    let start = 1_700_000_040;
    // Ten days, in transactions as the writer makes them, with amperes that go up and down.
    let minutes = 14_400_i64;
    for hour in 0..minutes / 60 {
        let mut rows = Rows::default();
        for minute in hour * 60..(hour + 1) * 60 {
            for name in SERIES {
                #[expect(clippy::cast_precision_loss, reason = "small")]
                let draw_a = 6.0 + 5.0 * (minute as f64).sin();
                rows.minutes
                    .push(row(start + 60 * minute, name, 60.0, draw_a));
            }
        }
        write(&mut connection, &mut ids, &rows).unwrap();
    }
    let used = bytes(&connection).unwrap();
    let a_year = used * 525_600 / (6 * minutes);
    println!("{a_year} bytes a series and year");
    assert!((24_000_000..29_000_000).contains(&a_year), "{a_year}");
    // The oldest days go first when there is too much.
    let most = used / 2;
    let now = start + 60 * minutes;
    for _ in 0..3 {
        prune(&connection, now, false, most).unwrap();
    }
    assert!(bytes(&connection).unwrap() <= most);
    assert_eq!(newest_minute(&connection).unwrap(), Some(now - 60));
    assert!(oldest_minute(&connection).unwrap().unwrap() > start + 4 * DAY);
}
