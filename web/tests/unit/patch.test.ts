import assert from "node:assert/strict";
import { test } from "node:test";
import type { Floor, PanelInfo } from "../../src/api/types";
import { colourWord, find, litBy, type Patch, patchOf, portAddress, slotsOf } from "../../src/lib/patch";

const panel = (position: string, first_pixel: number, pixels: number, more: Partial<PanelInfo>) =>
  ({ position, first_pixel, pixels, pixel_kind: "p", serial: "", node: "north", source_spans: [], ...more }) as PanelInfo;

const span = (port_address: string, first_slot: number, last_slot: number) => ({ port_address, first_slot, last_slot });

/** Two RGB panels of four pixels: the second's second pixel lies across the end of 0:0:1. */
const floor = {
  panels: [
    panel("A1", 0, 4, { source_spans: [span("0:0:1", 496, 507)], serial: "SN-7" }),
    panel("B1", 4, 4, { source_spans: [span("0:0:1", 508, 512), span("0:0:2", 1, 7)], node: "south" }),
  ],
  nodes: [{ name: "north", address: "10.0.0.21:6454" }, { name: "south", address: "10.0.0.22:6454" }],
  pixel_kinds: [{ name: "p", slots: "GRB" }],
} as unknown as Floor;
const patch: Patch = patchOf(floor);

test("a slot lights the pixel that a walk along the wire reaches", () => {
  // The walk: slot by slot over all spans, a pixel every three slots, in the order of the letters.
  for (const p of floor.panels) {
    let step = 0;
    for (const { port_address, first_slot, last_slot } of p.source_spans) {
      const flat = port_address === "0:0:1" ? 1 : 2;
      for (let slot = first_slot; slot <= last_slot; slot++, step++) {
        const lit = litBy(patch, flat, slot);
        assert.deepEqual(
          lit.map((l) => [l.panel.position, l.pixel, l.letter]),
          [[p.position, p.first_pixel + Math.floor(step / 3), "GRB"[step % 3]]],
        );
      }
    }
    assert.equal(step, p.pixels * 3);
  }
  assert.deepEqual(litBy(patch, 1, 495), []);
  assert.deepEqual(litBy(patch, 9, 1), []);
});

test("a pixel's slots are those that light it, also across two universes", () => {
  assert.deepEqual(slotsOf(patch, floor.panels[1]!, 5), [
    { flat: 1, first_slot: 511, last_slot: 512 },
    { flat: 2, first_slot: 1, last_slot: 1 },
  ]);
  for (const p of floor.panels) {
    for (let pixel = p.first_pixel; pixel < p.first_pixel + p.pixels; pixel++) {
      let slots = 0;
      for (const range of slotsOf(patch, p, pixel)) {
        for (let slot = range.first_slot; slot <= range.last_slot; slot++, slots++) {
          assert.equal(litBy(patch, range.flat, slot)[0]?.pixel, pixel);
        }
      }
      assert.equal(slots, 3);
    }
  }
});

test("people may write what they mean in several ways", () => {
  const kind = (text: string) => {
    const found = find(patch, text);
    switch (found.kind) {
      case "panel":
        return found.panel.position;
      case "pixel":
        return `${found.panel.position}:${found.pixel}`;
      case "slot":
        return `${found.flat}/${found.slot}`;
      case "universe":
        return `u${found.flat}`;
      case "node":
        return `${found.name} ${found.panels.map((p) => p.position).join()}`;
      case "nothing":
        return "nothing";
    }
  };
  const meant: [string, string][] = [
    ["B1", "B1"], [" b1 ", "B1"], ["sn-7", "A1"], ["B1:4", "B1:7"], ["B1:5", "nothing"], ["Z9:1", "nothing"],
    // Art-Net 4: net in bits 14 to 8, sub-net in 7 to 4, universe in 3 to 0.
    ["1:2:3/121", "291/121"], ["3/121", "3/121"], ["0:0:3", "u3"], ["3", "u3"], ["3/0", "nothing"], ["3/513", "nothing"],
    // No bits are left for more: Art-Net 4.
    ["127:15:15/512", "32767/512"], ["0:0:16/1", "nothing"], ["0:16:0", "nothing"], ["128:0:0/1", "nothing"],
    ["32768/1", "nothing"], ["SN-7:4", "A1:3"], ["sn-7:5", "nothing"], ["SN-8:1", "nothing"],
    ["south", "south B1"], ["10.0.0.21", "north A1"], ["what", "nothing"],
  ];
  for (const [text, wanted] of meant) assert.equal(kind(text), wanted, text);
  const why = (text: string) => {
    const found = find(patch, text);
    return found.kind === "nothing" ? found.why : "";
  };
  assert.match(why("0:0:16/1"), /^0:0:16 is no Port-Address: .* from 0 to 15/);
  assert.equal(why("sn-7:5"), "Panel A1 has 4 pixels.");
  assert.equal(why("SN-8:1"), "The floor has no panel SN-8.");
  assert.equal(portAddress(291), "1:2:3");
  assert.deepEqual([colourWord("R"), colourWord("b")], ["red", "blue, fine half"]);
});
