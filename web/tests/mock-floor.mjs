/** Invented floors for developing and testing pages without a daemon, shaped as the contract says. */

const PIXEL_KIND = "12 V group";
const PANEL_MM = 450;
const PITCH_MM = 37.5;
const LEVEL_MA = 12;
const IDLE_MA = 0.9;
const MARGIN = 0.8;

/** A strip that runs round the edge: 4 segments of `side` pixels. */
function ring(side) {
  const inset = (PANEL_MM - PITCH_MM * side) / 2;
  const at = [];
  for (let i = 0; i < side; i++) at.push([inset + i * PITCH_MM, inset]);
  for (let i = 0; i < side; i++) at.push([PANEL_MM - inset, inset + i * PITCH_MM]);
  for (let i = 0; i < side; i++) at.push([PANEL_MM - inset - i * PITCH_MM, PANEL_MM - inset]);
  for (let i = 0; i < side; i++) at.push([inset, PANEL_MM - inset - i * PITCH_MM]);
  return { at, segments: [side, side, side, side] };
}

/** A full matrix in rows, one segment a row. */
function matrix(columns, rows) {
  const at = [];
  for (let r = 0; r < rows; r++) {
    for (let c = 0; c < columns; c++) {
      const across = r % 2 === 0 ? c : columns - 1 - c;
      at.push([((across + 0.5) * PANEL_MM) / columns, ((r + 0.5) * PANEL_MM) / rows]);
    }
  }
  return { at, segments: Array(rows).fill(columns) };
}

const letters = (column) => (column < 26 ? "" : letters(Math.floor(column / 26) - 1)) + String.fromCharCode(65 + (column % 26));
const address = (n) => `${n >> 8}:${(n >> 4) & 15}:${n & 15}`;

/** Two nodes, two supplies, a hole and a missing corner: 49 panels. With `white` their pixels have white too. */
export function stage({ watchOnly = false, white = false, simulated = false, copper = true } = {}) {
  const empty = ["D3", "E3", "H1", "I1", "I6"];
  return build({ name: "Meadow stage", columns: 9, rows: 6, empty, kind: "rim-44", pixels: ring(11), watchOnly, white, simulated, copper });
}

/** As much of everything as a page must show, and no more: two nodes, six feeds, 17 panels. */
export function corner() {
  return build({ name: "Stage corner", columns: 6, rows: 3, empty: ["D2"], kind: "rim-44", pixels: ring(11) });
}

/** 247 panels in 64 universes. */
export function wide() {
  return build({ name: "Sixty-four universes", columns: 19, rows: 13, empty: [], kind: "rim-44", pixels: ring(11) });
}

/** 40 × 25 panels of 100 pixels: 100,000. */
export function huge() {
  return build({ name: "Hundred thousand", columns: 40, rows: 25, empty: [], kind: "field-100", pixels: matrix(10, 10) });
}

function build({ name, columns, rows, empty, kind, pixels, watchOnly = false, white = false, simulated = false, copper = true }) {
  const channels = white ? 4 : 3;
  // Pixels never lie across two universes: 170 of 3 slots fill one, or 128 of 4.
  const universe = Math.floor(512 / channels) * channels;
  const panels = [];
  const xy = [];
  const perPanel = pixels.at.length;
  let slot = 0;
  for (let r = 0; r < rows; r++) {
    for (let c = 0; c < columns; c++) {
      const position = `${letters(c)}${r + 1}`;
      if (empty.includes(position)) continue;
      const left = c < columns / 2;
      const third = Math.min(2, Math.floor((r * 3) / rows));
      const spans = [];
      for (let first = slot; first < slot + perPanel * channels; ) {
        const last = Math.min(slot + perPanel * channels, (Math.floor(first / universe) + 1) * universe);
        spans.push({
          port_address: address(Math.floor(first / universe)),
          first_slot: (first % universe) + 1,
          last_slot: ((last - 1) % universe) + 1,
        });
        first = last;
      }
      slot += perPanel * channels;
      panels.push({
        position, kind, pixel_kind: PIXEL_KIND, x_mm: c * PANEL_MM, y_mm: r * PANEL_MM, width_mm: PANEL_MM, height_mm: PANEL_MM,
        turn_deg: (c % 4) * 90, mirrored: false, serial: `M${String(panels.length + 1).padStart(3, "0")}`, spare_slots: 0, unused_pixels: 0, first_pixel: panels.length * perPanel, pixels: perPanel, segments: pixels.segments,
        switches: 4, run: left ? 0 : 1, node: watchOnly ? null : left ? "left wing" : "right wing",
        port: watchOnly ? null : 1 + third, spans, source_spans: spans, feed: `${left ? "L" : "R"}${third + 1}`,
        supply: left ? "left 12 V" : "right 12 V", circuit: left ? "grey socket" : "blue socket",
        idle_a: (perPanel * IDLE_MA) / 1000, full_a: (perPanel * (IDLE_MA + channels * LEVEL_MA)) / 1000,
        limit_a: c % 3 === 0 ? 1.6 : null, strip_known: copper,
      });
      for (const [x, y] of pixels.at) xy.push(c * PANEL_MM + x, r * PANEL_MM + y);
    }
  }
  const universes = Array.from({ length: Math.ceil(slot / universe) }, (_, i) => ({
    port_address: address(i), slots: Math.min(universe, slot - i * universe),
  }));
  const share = panels.length / 2;
  const feedRating = ((panels[0].full_a * share) / 3) * 0.95;
  const supplyRating = panels[0].full_a * share;
  const floor = {
    name, revision: 1, simulated, book: true, width_mm: columns * PANEL_MM, height_mm: rows * PANEL_MM,
    grid: { columns, rows, panel_mm: [PANEL_MM, PANEL_MM], gap_mm: 0, empty },
    watch_only: watchOnly,
    cap: { margin: MARGIN, let_up_s: 1.5 },
    signal: { merge: "htp", lost_after_s: 3, when_lost: "fade", fade_s: 2, when_ended: "hold" },
    delivery: { copies: 3, late_ms: 20 },
    panels,
    runs: [0, 1].map((run) => ({
      node: watchOnly ? null : ["left wing", "right wing"][run], port: watchOnly ? null : 1, start: "0:0:0", slot: 1,
      packing: "whole_pixel", source: null, panels: panels.filter((p) => p.run === run).map((p) => p.position),
    })),
    nodes: watchOnly ? [] : [
      { name: "left wing", address: "10.20.0.21:6454" },
      { name: "right wing", address: "10.20.0.22:6454" },
    ],
    circuits: ["grey socket", "blue socket"].map((n) => ({ name: n, volts: 230, rated_a: 16, limit_a: 16 * MARGIN })),
    supplies: ["left 12 V", "right 12 V"].map((n, i) => ({
      name: n, circuit: ["grey socket", "blue socket"][i], volts: 12, rated_a: supplyRating,
      limit_a: supplyRating * MARGIN, efficiency: 0.88, power_factor: 0.95,
    })),
    feeds: ["L1", "L2", "L3", "R1", "R2", "R3"].map((n) => ({
      name: n, supply: n.startsWith("L") ? "left 12 V" : "right 12 V", fuse_a: feedRating, limit_a: feedRating * MARGIN,
      cable_known: copper && n !== "R3",
    })),
    universes,
    pixel_kinds: [{
      name: PIXEL_KIND, slots: white ? "RGBW" : "RGB", volts: 12, idle_ma: IDLE_MA,
      full_ma: { red: LEVEL_MA, green: LEVEL_MA, blue: LEVEL_MA, ...(white ? { white: LEVEL_MA } : {}) },
    }],
  };
  return { floor, xy: Float32Array.from(xy), channels };
}

/** A still picture with every kind of level, the same at every call. */
export function stillPicture({ floor, xy, channels }) {
  const levels = new Uint8Array((xy.length / 2) * channels);
  for (let i = 0; i < xy.length / 2; i++) {
    const u = xy[2 * i] / floor.width_mm;
    const v = xy[2 * i + 1] / floor.height_mm;
    levels[channels * i] = Math.round(255 * u);
    levels[channels * i + 1] = Math.round(255 * v * (1 - u));
    levels[channels * i + 2] = Math.round(255 * (1 - v));
    if (channels > 3) levels[channels * i + 3] = Math.round(255 * u * v);
  }
  return levels;
}

/** Slow waves of warm light, and now and then more white than the feeds bear. */
export function movingPicture({ floor, xy, channels }, t) {
  const levels = new Uint8Array((xy.length / 2) * channels);
  const white = Math.max(0, Math.sin(t / 4)) ** 2;
  for (let i = 0; i < xy.length / 2; i++) {
    const u = xy[2 * i] / floor.height_mm;
    const v = xy[2 * i + 1] / floor.height_mm;
    const wave = (0.5 + 0.5 * Math.sin(7 * u + 1.3 * t)) * (0.5 + 0.5 * Math.cos(6 * v - t));
    const lift = white * Math.max(0, 1 - 1.6 * Math.abs(v - 0.5));
    levels[channels * i] = 255 * Math.min(1, wave + lift);
    levels[channels * i + 1] = 255 * Math.min(1, wave * wave * 0.55 + lift);
    levels[channels * i + 2] = 255 * Math.min(1, 0.4 * (1 - wave) * u + lift);
    if (channels > 3) levels[channels * i + 3] = 255 * lift;
  }
  return levels;
}

/** Caps feed by feed, roughly as a daemon would, and sums what comes of it. */
export function reckon({ floor, channels }, asked) {
  const draws = (levels, first, count) => {
    let sum = 0;
    for (let i = first * channels; i < (first + count) * channels; i++) sum += levels[i];
    return (sum / 255) * (LEVEL_MA / 1000) + (count * IDLE_MA) / 1000;
  };
  const wanted = new Map(floor.panels.map((p) => [p.position, draws(asked, p.first_pixel, p.pixels)]));
  const scaleOf = new Map();
  for (const feed of floor.feeds) {
    const mine = floor.panels.filter((p) => p.feed === feed.name);
    const idle = mine.reduce((sum, p) => sum + p.idle_a, 0);
    const total = mine.reduce((sum, p) => sum + wanted.get(p.position), 0);
    // Without nodes there is nothing that could be held back.
    scaleOf.set(feed.name, floor.watch_only ? 1 : Math.max(0, Math.min(1, (feed.limit_a - idle) / Math.max(1e-9, total - idle))));
  }
  const sent = new Uint8Array(asked.length);
  const panels = floor.panels.map((p) => {
    const own = p.limit_a === null || floor.watch_only ? 1 : (p.limit_a - p.idle_a) / Math.max(1e-9, wanted.get(p.position) - p.idle_a);
    const scale = Math.max(0, Math.min(own, scaleOf.get(p.feed)));
    for (let i = p.first_pixel * channels; i < (p.first_pixel + p.pixels) * channels; i++) sent[i] = Math.floor(asked[i] * scale);
    let first = p.first_pixel;
    const segments_a = p.segments.map((count) => {
      const a = draws(sent, first, count);
      first += count;
      return a;
    });
    return {
      position: p.position, asked_a: wanted.get(p.position), draw_a: segments_a.reduce((a, b) => a + b, 0),
      limit_a: p.limit_a, scale, impossible: p.limit_a !== null && p.idle_a > p.limit_a, segments_a,
    };
  });
  const sum = (list, key) => list.reduce((total, item) => total + item[key], 0);
  const load = (info, parent, below, factor, scale) => ({
    name: info.name, parent, asked_a: sum(below, "asked_a") * factor, draw_a: sum(below, "draw_a") * factor,
    reserved_a: floor.watch_only ? sum(below, "draw_a") * factor : Math.min(info.limit_a, sum(below, "draw_a") * factor * 1.12),
    idle_a: sum(below, "idle_a") * factor,
    limit_a: info.limit_a, rated_a: info.rated_a ?? info.fuse_a, scale, level_a: null, peak: null, mains_w: 0, impossible: false,
    silent_a: 0,
  });
  const withIdle = panels.map((p, i) => ({ ...p, ...floor.panels[i], ...p }));
  const feeds = floor.feeds.map((f) => load(f, f.supply, withIdle.filter((p) => p.feed === f.name), 1, scaleOf.get(f.name)));
  const supplies = floor.supplies.map((s) => load(s, s.circuit, feeds.filter((f) => f.parent === s.name), 1, 1));
  const circuits = floor.circuits.map((c) => load(c, null, supplies.filter((s) => s.parent === c.name), 12 / 0.88 / 0.95 / 230, 1));
  return { sent, panels, feeds, supplies, circuits };
}
