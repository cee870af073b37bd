//! A history that is made up: one row of the floor and one of a feed.

use crate::power::record::{Element, Reading, Sum};
use crate::power::series::{Archive, Ask, Line, Recording, Row, Series, Unread};

#[derive(Debug)]
pub(in super::super) struct MadeUp;

fn rows(ask: &Ask) -> Result<Vec<Row>, Unread> {
    let wanted = ask.element.as_ref().map(|element| element.name.as_str());
    let reading = |draw_a: f64, limit_a| Reading {
        asked_a: 2.0 * draw_a,
        draw_a,
        limit_a,
        scale: 0.5,
        mains_w: 12.0 * draw_a,
        ..Reading::default()
    };
    let row = |at, element: &Element| {
        let limit_a = (!element.name.is_empty()).then_some(8.0);
        Row {
            at,
            element: element.clone(),
            sum: Sum::between(2.0, &reading(1.0, limit_a), &reading(3.0, limit_a)),
        }
    };
    let feed = |name: &str| Element {
        kind: crate::power::record::Kind::Feed,
        name: name.to_owned(),
    };
    match wanted {
        Some("broken") => Err(Unread("broken".to_owned())),
        Some("long") => Ok((0..5_000).map(|at| row(at, &feed("long"))).collect()),
        _ => Ok(vec![
            row(1_000, &Element::default()),
            row(1_000, &feed("F,1")),
        ]),
    }
}

impl Archive for MadeUp {
    fn now(&self) -> i64 {
        2_000
    }

    fn recording(&self) -> Recording {
        Recording {
            in_file: true,
            trouble: None,
            lost_rows: 0,
        }
    }

    fn series(&self, ask: &Ask) -> Result<Series, Unread> {
        let bucket_s = ask.bucket_s(1);
        let line = |row: Row| Line {
            element: row.element,
            buckets: vec![Some(row.sum), None, None],
        };
        Ok(Series {
            from: ask.from,
            bucket_s,
            row_s: 1,
            count: 3,
            lines: rows(ask)?.into_iter().map(line).collect(),
        })
    }

    fn rows(&self, ask: &Ask, each: &mut dyn FnMut(Row) -> bool) -> Result<(), Unread> {
        for row in rows(ask)? {
            if !each(row) {
                break;
            }
        }
        Ok(())
    }
}
