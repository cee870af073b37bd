/** The mock's changes of pictures, kind 7 as `../../src/web/messages.rs` lays it out: every pixel that differs is a run of its own, every second of them by how far it moved. */

export function deltaMessage({ floor, channels }, before, now, view, frames, uptime_s) {
  const head = Buffer.alloc(20);
  head.writeUInt8(7, 0);
  head.writeUInt8(view === "asked" ? 1 : 0, 1);
  head.writeUInt8(channels, 2);
  head.writeUInt32LE(floor.revision, 4);
  head.writeUInt32LE(frames.now, 8);
  head.writeUInt32LE(Math.round(uptime_s * 1000), 12);
  head.writeUInt32LE(frames.before, 16);
  const parts = [head];
  let stands = 0;
  for (let pixel = 0; pixel * channels < now.length; pixel++) {
    const own = now.subarray(pixel * channels, (pixel + 1) * channels);
    if (own.every((level, i) => level === before[pixel * channels + i])) continue;
    const run = Buffer.alloc(4);
    run.writeUInt16LE(pixel - stands, 0);
    const near = pixel % 2 === 1;
    run.writeUInt16LE(near ? 0x8001 : 1, 2);
    parts.push(run, near ? moved(before.subarray(pixel * channels), own) : own);
    stands = pixel + 1;
  }
  return Buffer.concat(parts);
}

function moved(before, own) {
  const codes = [...own].map((level, i) => (Math.abs(level - before[i]) < 8 ? level - before[i] + 8 : 0));
  const halves = codes.map((code) => code.toString(16)).concat("0");
  const bytes = [...Array(Math.ceil(codes.length / 2)).keys()].map((i) => parseInt(halves[2 * i + 1] + halves[2 * i], 16));
  return Buffer.from([...bytes, ...[...own].filter((_, i) => codes[i] === 0)]);
}
