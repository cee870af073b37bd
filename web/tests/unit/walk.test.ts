import assert from "node:assert/strict";
import { test } from "node:test";
import type { PanelInfo } from "../../src/api/types";
import { diffLines, FINGER_PX, foundWord, planScale, pointAnswer, progressWords, tapScale, wholeScale } from "../../src/lib/walk";

const panel = (position: string, x_mm: number, y_mm: number) => ({ position, x_mm, y_mm, width_mm: 400, height_mm: 200 }) as PanelInfo;
const panels = [panel("A1", 0, 0), panel("B1", 420, 0), panel("A2", 0, 220)];

test("a finger hits every pixel once the picture is near, and sees the whole panel before", () => {
  const whole = wholeScale(panels[0]!, 340, 440);
  assert.ok(400 * whole < 340 && 200 * whole < 440, "all of the panel is in sight");
  assert.ok(tapScale(37.5, whole) * 37.5 >= 44, "44 CSS pixels: WCAG 2.2, 2.5.5");
  // Wide pixels are large enough from the first.
  assert.equal(tapScale(200, whole), whole);
});

test("a plan fills the screen, or is larger so that every panel can be hit", () => {
  assert.equal(planScale(panels, 820, 1640), 2);
  assert.equal(planScale(panels, 820, 100) * 200, FINGER_PX);
  assert.ok(Number.isFinite(planScale([], 0, 300)));
});

test("a tap is told from the corner of the panel that it hit", () => {
  assert.deepEqual(pointAnswer(panels, 433.21, 99.96), { kind: "point", position: "B1", x_mm: 13.2, y_mm: 100 });
  // Between two panels the nearer one counts, and the point lies on its edge.
  assert.deepEqual(pointAnswer(panels, 405, 50), { kind: "point", position: "A1", x_mm: 400, y_mm: 50 });
  assert.deepEqual(pointAnswer(panels, 30, 215), { kind: "point", position: "A2", x_mm: 30, y_mm: 0 });
  assert.equal(pointAnswer([], 0, 0), null);
});

test("a unified diff is read line by line", () => {
  // As `diff -u` of GNU diffutils prints it.
  const text = "--- a\n+++ b\n@@ -3,4 +3,4 @@\n one\n--- two\n+++ two\n\n@@ -20 +20 @@\n-slot = 1\n+slot = 13\n\\ No newline at end of file\n";
  assert.deepEqual(diffLines(text), [
    { kind: "place", text: "From line 3" },
    { kind: "same", text: "one" },
    { kind: "removed", text: "-- two" },
    { kind: "added", text: "++ two" },
    { kind: "same", text: "" },
    { kind: "place", text: "From line 20" },
    { kind: "removed", text: "slot = 1" },
    { kind: "added", text: "slot = 13" },
    { kind: "place", text: "No newline at end of file" },
  ]);
  assert.deepEqual(diffLines(""), []);
});

test("what is found has a word, and a kind that this page does not know keeps the daemon's", () => {
  assert.equal(foundWord("reversed"), "Wired from the other end");
  assert.equal(foundWord("upside_down"), "Upside down");
  assert.equal(progressWords({ progress: { done: 1, panels: 49, taps: 1 } }), "1 of 49 panels done, 1 tap");
});
