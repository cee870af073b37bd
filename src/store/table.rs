//! Rows written, merged and pruned.

use std::collections::HashMap;

use rusqlite::{Connection, OptionalExtension, params};

use super::fold::Rows;
use crate::power::record::{Element, Sum};
use crate::power::series::Row;

/// Seconds are kept for so long, in seconds.
pub(super) const SECONDS_KEPT: i64 = 3_600;

/// Minutes are kept for so long, in seconds: a year with its leap day.
pub(super) const MINUTES_KEPT: i64 = 366 * 86_400;

/// The most bytes that the file may fill. Beyond that the oldest goes, whatever its age.
pub(super) const MOST_BYTES: i64 = 512 << 20;

/// The most bytes of a history that is kept in memory.
pub(super) const MOST_BYTES_IN_MEMORY: i64 = 64 << 20;

const DAY: i64 = 86_400;

/// A row that is there already covers the same second once more: the clock was set back, or
/// litfloor was started anew within it. Means are weighed by the time that they cover.
const UPSERT: &str = "
    ON CONFLICT DO UPDATE SET
        covered_ms = covered_ms + excluded.covered_ms,
        asked_mean_ma = CAST(ROUND((1.0 * asked_mean_ma * covered_ms
            + 1.0 * excluded.asked_mean_ma * excluded.covered_ms)
            / (covered_ms + excluded.covered_ms)) AS INTEGER),
        asked_max_ma = MAX(asked_max_ma, excluded.asked_max_ma),
        draw_min_ma = MIN(draw_min_ma, excluded.draw_min_ma),
        draw_mean_ma = CAST(ROUND((1.0 * draw_mean_ma * covered_ms
            + 1.0 * excluded.draw_mean_ma * excluded.covered_ms)
            / (covered_ms + excluded.covered_ms)) AS INTEGER),
        draw_max_ma = MAX(draw_max_ma, excluded.draw_max_ma),
        limit_ma = COALESCE(excluded.limit_ma, limit_ma),
        scale_min_e4 = MIN(scale_min_e4, excluded.scale_min_e4),
        mains_mean_mw = CAST(ROUND((1.0 * mains_mean_mw * covered_ms
            + 1.0 * excluded.mains_mean_mw * excluded.covered_ms)
            / (covered_ms + excluded.covered_ms)) AS INTEGER),
        capped_ms = capped_ms + excluded.capped_ms,
        over_ms = over_ms + excluded.over_ms";

/// A value in thousandths, or as many parts as `parts` says.
#[expect(clippy::cast_possible_truncation, reason = "clamped")]
fn whole(value: f64, parts: f64) -> i64 {
    (value * parts).round().clamp(-9e15, 9e15) as i64
}

/// Numbers of the series, by element.
#[derive(Debug, Default)]
pub(super) struct Ids(HashMap<Element, i64>);

impl Ids {
    /// What was learnt in a transaction that did not come about is wrong.
    pub(super) fn forget(&mut self) {
        self.0.clear();
    }

    fn of(&mut self, connection: &Connection, element: &Element) -> rusqlite::Result<i64> {
        if let Some(id) = self.0.get(element) {
            return Ok(*id);
        }
        let named = params![element.kind.word(), element.name];
        connection
            .prepare_cached("INSERT OR IGNORE INTO series (kind, name) VALUES (?1, ?2)")?
            .execute(named)?;
        let id = connection
            .prepare_cached("SELECT id FROM series WHERE kind = ?1 AND name = ?2")?
            .query_row(named, |row| row.get(0))?;
        self.0.insert(element.clone(), id);
        Ok(id)
    }
}

/// Writes `rows`, all or none.
pub(super) fn write(
    connection: &mut Connection,
    ids: &mut Ids,
    rows: &Rows,
) -> rusqlite::Result<()> {
    let transaction = connection.transaction()?;
    for (table, rows) in [("seconds", &rows.seconds), ("minutes", &rows.minutes)] {
        let insert = format!(
            "INSERT INTO {table} (series, at, covered_ms, asked_mean_ma, asked_max_ma, \
             draw_min_ma, draw_mean_ma, draw_max_ma, limit_ma, scale_min_e4, mains_mean_mw, \
             capped_ms, over_ms) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13) \
             {UPSERT}"
        );
        for row in rows {
            let id = ids.of(&transaction, &row.element)?;
            put(&transaction, &insert, id, row)?;
        }
    }
    transaction.commit()
}

fn put(connection: &Connection, insert: &str, id: i64, row: &Row) -> rusqlite::Result<()> {
    let Row { at, sum, .. } = row;
    let mean = |mean: Option<f64>| whole(mean.unwrap_or(0.0), 1e3);
    connection.prepare_cached(insert)?.execute(params![
        id,
        at,
        whole(sum.s, 1e3).max(1),
        mean(sum.asked_a()),
        whole(sum.asked_max_a, 1e3),
        whole(sum.draw_min_a, 1e3),
        mean(sum.draw_a()),
        whole(sum.draw_max_a, 1e3),
        sum.limit_a.map(|limit_a| whole(limit_a, 1e3)),
        whole(sum.scale_min, 1e4),
        mean(sum.mains_w()),
        whole(sum.capped_s, 1e3),
        whole(sum.over_s, 1e3),
    ])?;
    Ok(())
}

/// Columns of a sum over rows, in the order in which [`sum`] reads them.
pub(super) const SUMS: &str = "
    TOTAL(covered_ms), TOTAL(1.0 * asked_mean_ma * covered_ms), MAX(asked_max_ma),
    TOTAL(1.0 * draw_mean_ma * covered_ms), MIN(draw_min_ma), MAX(draw_max_ma), MAX(limit_ma),
    MIN(scale_min_e4), TOTAL(1.0 * mains_mean_mw * covered_ms), TOTAL(capped_ms), TOTAL(over_ms)";

/// Reads [`SUMS`] from column `first` on.
pub(super) fn sum(row: &rusqlite::Row<'_>, first: usize) -> rusqlite::Result<Sum> {
    let value = |at: usize| row.get::<_, f64>(first + at);
    Ok(Sum {
        s: value(0)? / 1e3,
        asked_as: value(1)? / 1e6,
        asked_max_a: value(2)? / 1e3,
        draw_as: value(3)? / 1e6,
        draw_min_a: value(4)? / 1e3,
        draw_max_a: value(5)? / 1e3,
        limit_a: row
            .get::<_, Option<f64>>(first + 6)?
            .map(|limit_ma| limit_ma / 1e3),
        scale_min: value(7)? / 1e4,
        mains_ws: value(8)? / 1e6,
        capped_s: value(9)? / 1e3,
        over_s: value(10)? / 1e3,
    })
}

/// All series: number and element.
pub(super) fn series(connection: &Connection) -> rusqlite::Result<Vec<(i64, Element)>> {
    let mut statement = connection.prepare_cached("SELECT id, kind, name FROM series")?;
    let rows = statement.query_map([], |row| {
        let (kind, name): (String, String) = (row.get(1)?, row.get(2)?);
        let text = if kind == "floor" {
            kind
        } else {
            format!("{kind}:{name}")
        };
        Ok((row.get(0)?, text.parse::<Element>().ok()))
    })?;
    let mut found = Vec::new();
    for row in rows {
        let (id, element) = row?;
        found.extend(element.map(|element| (id, element)));
    }
    found.sort_by(|a, b| a.1.cmp(&b.1));
    Ok(found)
}

/// Removes what is older than it may be at `now`; minutes only if the wall clock is `trusted`, for one
/// that was set wrong must not cost a year. Then removes the oldest as long as there is too much.
pub(super) fn prune(
    connection: &Connection,
    now: i64,
    trusted: bool,
    most_bytes: i64,
) -> rusqlite::Result<()> {
    connection
        .prepare_cached("DELETE FROM seconds WHERE at < ?1 OR at > ?2")?
        .execute([now - SECONDS_KEPT, now + SECONDS_KEPT])?;
    if trusted {
        drop_minutes(connection, now - MINUTES_KEPT)?;
    }
    // Each round removes a day or ten minutes, so that none takes long.
    for _ in 0..8 {
        if bytes(connection)? <= most_bytes {
            break;
        }
        let oldest = oldest_minute(connection)?;
        if let Some(oldest) = oldest.filter(|oldest| oldest + DAY < now) {
            drop_minutes(connection, oldest + DAY)?;
        } else {
            let oldest: Option<i64> = connection
                .query_row("SELECT MIN(at) FROM seconds", [], |row| row.get(0))
                .optional()?
                .flatten();
            let Some(oldest) = oldest else { break };
            connection.execute("DELETE FROM seconds WHERE at < ?1", [oldest + 600])?;
        }
    }
    Ok(())
}

fn drop_minutes(connection: &Connection, before: i64) -> rusqlite::Result<()> {
    let mut delete =
        connection.prepare_cached("DELETE FROM minutes WHERE series = ?1 AND at < ?2")?;
    for (id, _) in series(connection)? {
        delete.execute([id, before])?;
    }
    Ok(())
}

/// Series that have no row any more.
pub(super) fn drop_empty_series(connection: &Connection) -> rusqlite::Result<()> {
    connection.execute(
        "DELETE FROM series
         WHERE NOT EXISTS (SELECT 1 FROM minutes WHERE minutes.series = series.id)
         AND id NOT IN (SELECT DISTINCT series FROM seconds)",
        [],
    )?;
    Ok(())
}

fn oldest_minute(connection: &Connection) -> rusqlite::Result<Option<i64>> {
    edge(connection, "MIN")
}

/// The newest minute of all series.
pub(super) fn newest_minute(connection: &Connection) -> rusqlite::Result<Option<i64>> {
    edge(connection, "MAX")
}

/// By the key of each series, for the whole table would take long.
fn edge(connection: &Connection, which: &str) -> rusqlite::Result<Option<i64>> {
    let inner = format!("(SELECT {which}(at) FROM minutes WHERE series = series.id)");
    let inner = inner.replace("series = series.id", "minutes.series = series.id");
    let statement = format!("SELECT {which}(edge) FROM (SELECT {inner} AS edge FROM series)");
    connection
        .prepare_cached(&statement)?
        .query_row([], |row| row.get(0))
}

/// Bytes that are in use.
pub(super) fn bytes(connection: &Connection) -> rusqlite::Result<i64> {
    let number = |name| connection.pragma_query_value(None, name, |row| row.get::<_, i64>(0));
    Ok((number("page_count")? - number("freelist_count")?) * number("page_size")?)
}

#[cfg(test)]
mod tests;
