/** The recorded history of the mock: an evening that was thought up. */

/**
 * What there is of the recorded history, changed by tests while the mock runs:
 * `empty` nothing was recorded, `fail` so many answers are 503, `wait` a promise before each answer,
 * `trouble` why it can't be kept, `in_file`.
 */
const recording = ({ trouble = null, in_file = true, lost_rows = 0 }) => ({ in_file, trouble, lost_rows });

const KINDS = [["circuit", "circuits"], ["supply", "supplies"], ["feed", "feeds"]];

function elements(model) {
  const own = KINDS.flatMap(([kind, group]) => model.floor[group].map(({ name, limit_a }) => ({ kind, name, limit_a })));
  return [{ kind: "floor", name: "", limit_a: null }, ...own];
}

/** Share of its limit that an element draws: a set every twenty minutes, nothing between them, and a gap. */
function draw(limit_a, at_s) {
  const minute = Math.floor(at_s / 60);
  if (minute % 240 >= 200 && minute % 240 < 215) return null;
  const loud = minute % 20 < 16;
  return (limit_a ?? 16) * (loud ? 0.62 + 0.3 * Math.sin(minute / 7) ** 2 : 0.08);
}

function totalOf(means, maxima, asked, bucket_s, capped_s, over_s) {
  const known = means.filter((a) => a !== null);
  const seconds = known.length * bucket_s;
  const charge = known.reduce((sum, a) => sum + a * bucket_s, 0);
  return {
    seconds, peak_a: Math.max(0, ...maxima), peak_asked_a: Math.max(0, ...asked), mean_a: seconds > 0 ? charge / seconds : null,
    amp_hours: charge / 3600, kwh: (charge * 13.6) / 3.6e6, capped_s, over_s,
  };
}

function rangeOf(state, model, asked) {
  const [from, to] = [Number(asked.get("from")), Number(asked.get("to"))];
  const row_s = to - from <= 3600 ? 1 : 60;
  const bucket_s = Math.ceil((to - from) / row_s / Number(asked.get("points") ?? 600)) * row_s;
  const count = Math.ceil((to - from) / bucket_s);
  const wanted = asked.get("element");
  const name = (e) => (e.kind === "floor" ? "floor" : `${e.kind}:${e.name}`);
  const lines = state.empty ? [] : elements(model).filter((e) => wanted === null || name(e) === wanted);
  const from_s = Math.floor(from / row_s) * row_s;
  return {
    from_s, bucket_s, row_s, count,
    elements: lines.map(({ kind, name: own, limit_a }) => {
      const mean = Array.from({ length: count }, (_, i) => draw(limit_a, from_s + i * bucket_s));
      const times = (factor) => mean.map((a) => (a === null ? null : a * factor));
      const all = (value) => mean.map((a) => (a === null ? null : value));
      return {
        kind, name: own, asked_mean_a: times(1.15), asked_max_a: times(1.3), draw_min_a: times(0.7), draw_mean_a: mean,
        draw_max_a: times(1.06), limit_a: all(limit_a), scale_min: all(0.87), mains_mean_w: times(13.6),
        total: totalOf(mean, times(1.06), times(1.3), bucket_s, 420, 380),
      };
    }),
    recording: recording(state),
  };
}

function energyOf(state, model) {
  return {
    since: new Date(Date.now() - 4 * 3600 * 1000).toISOString().replace(/\.\d+Z/, "Z"),
    until_s: 4 * 3600,
    elements: state.empty ? [] : elements(model).map(({ kind, name, limit_a }, i) => {
      const most = limit_a ?? 16;
      return {
        kind, name, peak_at: "2026-06-20T21:14:03Z",
        total: {
          seconds: 14_400, peak_a: most * 0.99, peak_asked_a: most * 1.4, mean_a: most * 0.6, amp_hours: most * 2.4,
          kwh: most * 0.03, capped_s: i * 131, over_s: i * 97,
        },
      };
    }),
    recording: recording(state),
  };
}

/** Answers if it is about the recorded history. */
export async function answerHistory(state, model, path, asked, response, headers, json) {
  if (!["/api/v1/history", "/api/v1/history.csv", "/api/v1/energy"].includes(path)) return false;
  await state.wait;
  if (state.fail > 0) {
    state.fail -= 1;
    response.writeHead(503, { ...headers, "content-type": "application/json" });
    response.end(JSON.stringify({ error: "history_unread", message: "the history can't be read: disk I/O error" }));
  } else if (path === "/api/v1/energy") {
    json(energyOf(state, model));
  } else if (path === "/api/v1/history") {
    json(rangeOf(state, model, asked));
  } else {
    response.writeHead(200, { ...headers, "content-type": "text/csv; charset=utf-8", "content-disposition": "attachment" });
    response.end("time,seconds,kind,name\r\n");
  }
  return true;
}
