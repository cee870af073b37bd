import assert from "node:assert/strict";
import { test } from "node:test";
import { encode, MIX, mixInto, screenValue, UNLIT } from "../../src/lib/light";
import { kindOf, lettersOf, levelWords, mixesOf, type PixelKind } from "../../src/lib/pixels";

/** 8-bit code of IEC 61966-2-1 for a linear share of light, lifted so that an unlit pixel is seen. */
const shown = (code: number) => Math.round(UNLIT + ((255 - UNLIT) * code) / 255);
const mixed = (mix: number, ...levels: number[]) => {
  const screen = new Uint8Array(3);
  mixInto(screen, Uint8Array.from(levels), levels.length, Uint8Array.of(mix));
  return [...screen];
};

test("levels are shown by the transfer function of IEC 61966-2-1", () => {
  // Values of the standard's function: 8-bit code 128 is 0.21586 linear, code 188 is 0.50289.
  assert.equal(Math.round(encode(0.21586) * 255), 128);
  assert.equal(Math.round(encode(0.50289) * 255), 188);
  assert.equal(encode(0), 0);
  assert.ok(Math.abs(encode(1) - 1) < 1e-12);
  // Both pieces meet at 0.0031308 (code 0.04045).
  assert.ok(Math.abs(encode(0.0031308) - 0.04045) < 1e-5);
  assert.equal(screenValue(0), UNLIT);
  assert.equal(screenValue(255), 255);
  for (let level = 1; level < 256; level++) assert.ok(screenValue(level) >= screenValue(level - 1));
  assert.ok(screenValue(1) > screenValue(0), "the dimmest light can be told from none");
});

test("colours alone are shown as they are, white alone as grey", () => {
  assert.deepEqual(mixed(MIX.colours, 255, 0, 128), [255, UNLIT, screenValue(128)]);
  assert.deepEqual(mixed(MIX.colours, 255, 0, 128, 0), [255, UNLIT, screenValue(128)]);
  assert.deepEqual(mixed(MIX.white, 0, 0, 0, 128), Array(3).fill(screenValue(128)));
});

test("colours and white are shown as their mean, so that nothing clips and dimming is seen", () => {
  // 159 of 255 is 0.6235 linear; the standard's function gives code 206.7 for it.
  assert.deepEqual(mixed(MIX.coloursAndWhite, 159, 159, 159, 159), Array(3).fill(shown(206.7)));
  assert.deepEqual(mixed(MIX.coloursAndWhite, 255, 255, 255, 255), [255, 255, 255]);
  // Half of all light: 0.5 linear is code 187.5.
  assert.deepEqual(mixed(MIX.coloursAndWhite, 255, 0, 255, 0), [shown(187.5), UNLIT, shown(187.5)]);
  assert.deepEqual(mixed(MIX.coloursAndWhite, 0, 0, 0, 255), Array(3).fill(shown(187.5)));
  assert.ok(mixed(MIX.coloursAndWhite, 0, 0, 0, 1)[0]! > UNLIT);
});

const kind = (name: string, slots: string, full: number[]): PixelKind => ({
  name, slots, volts: 12, idle_ma: 1, full_ma: Object.fromEntries(full.map((ma, i) => [["red", "green", "blue", "white"][i], ma])),
});
const kinds = [kind("strip", "GRB", [10, 10, 10]), kind("long strip", "GRB", [20, 20, 20]), kind("with white", "GRBW", [12, 12, 12, 20]), kind("lamp", "Ww", [0, 0, 0, 300])];
const panel = (first_pixel: number, pixel_kind: string) => ({ first_pixel, pixels: 10, pixel_kind });

test("a panel shows as its kind of pixel does", () => {
  assert.equal(kindOf(panel(0, "strip"), { pixel_kinds: kinds })?.name, "strip");
  assert.equal(kindOf(panel(0, "other"), { pixel_kinds: kinds }), undefined);
  const panels = [panel(0, "strip"), panel(10, "with white"), panel(20, "lamp")];
  const mixes = mixesOf({ pixel_kinds: kinds, panels }, 30);
  assert.deepEqual([mixes[0], mixes[9], mixes[10], mixes[29]], [MIX.colours, MIX.colours, MIX.coloursAndWhite, MIX.white]);
});

test("levels are printed raw, and only those that the pixel has", () => {
  const levels = Uint8Array.of(1, 2, 3, 4, 159, 159, 159, 159);
  const words = (pixel: number, name: string) => levelWords(levels, 4, pixel, lettersOf(kinds.find((k) => k.name === name)));
  assert.equal(words(1, "with white"), "R 159  G 159  B 159  W 159");
  assert.equal(words(0, "strip"), "R 1  G 2  B 3");
  assert.equal(words(0, "lamp"), "W 4");
  assert.equal(words(0, "not in the list"), "R 1  G 2  B 3");
});
