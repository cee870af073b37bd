/** The slots of the mock's universes as a console would send them, and the message that carries them. */

const SLOTS = 512;

/** 512 levels for each universe that is mapped. */
export function slotsOf({ floor, channels }, levels) {
  const all = new Map(floor.universes.map((u) => [u.port_address, new Uint8Array(SLOTS)]));
  for (const panel of floor.panels) {
    let at = panel.first_pixel * channels;
    for (const span of panel.source_spans) {
      const wide = span.last_slot - span.first_slot + 1;
      all.get(span.port_address).set(levels.subarray(at, at + wide), span.first_slot - 1);
      at += wide;
    }
  }
  return all;
}

/** What the state says of a universe that arrives as it should. */
export function arrivalOf(needs_slots, levels) {
  return {
    needs_slots, short_by_slots: 0, cut_off: [], cut_off_panels: 0, odd_length: false, length_varies: false,
    moving_slots: levels.reduce((lit, level) => lit + (level > 0), 0), still_lit_slots: 0, stray_lit_slots: 0,
    missing_frames: 0, overtaken_frames: 0, contested_slots: 0, source_changes: 0, offset_slots: null,
  };
}

const flatOf = (address) => {
  const [net, subNet, universe] = address.split(":").map(Number);
  return net * 256 + subNet * 16 + universe;
};

/** Kind 4, as src/web/messages.rs describes it. `before` is the picture of a second ago. */
export function slotsMessage(model, now, wish, before, change) {
  const all = slotsOf(model, now.asked);
  const earlier = slotsOf(model, before);
  const lengths = new Map(model.floor.universes.map((u) => [u.port_address, u.slots]));
  const parts = [];
  for (const name of wish.slots) {
    const levels = all.get(name) ?? new Uint8Array(SLOTS);
    const moving = new Uint8Array(SLOTS / 8);
    levels.forEach((level, i) => {
      if (level !== (earlier.get(name)?.[i] ?? 0)) moving[i >> 3] |= 1 << (i & 7);
    });
    const length = lengths.get(name);
    const plain = { name, length: length ?? SLOTS, age_ms: 12, verdict: wish.reference ? 2 : 0, shift: 0, levels, moving };
    const u = change(plain, wish);
    const head = Buffer.alloc(12);
    head.writeUInt16LE(flatOf(u.name), 0);
    head.writeUInt16LE(u.length, 2);
    head.writeUInt32LE(u.age_ms ?? 0xffffffff, 4);
    head.writeUInt8(u.verdict, 8);
    head.writeInt16LE(u.shift, 10);
    parts.push(head, u.levels, u.moving);
  }
  const head = Buffer.alloc(12);
  head.writeUInt8(5, 0);
  head.writeUInt16LE(wish.slots.length, 2);
  head.writeUInt32LE(model.floor.revision, 4);
  head.writeUInt32LE(Math.round(now.t * 1000), 8);
  return Buffer.concat([head, ...parts]);
}
