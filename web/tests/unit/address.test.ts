import assert from "node:assert/strict";
import { test } from "node:test";
import { flatNumber, flatTitle, inRanges, target } from "../../src/lib/address";

test("a Port-Address is one number of 15 bits", () => {
  assert.equal(flatNumber("0:0:0"), 0);
  assert.equal(flatNumber("0:1:0"), 16);
  // Art-Net 4 gives the Port-Address 15 bits: the highest is 2^15 − 1.
  assert.equal(flatNumber("127:15:15"), 0x7fff);
  assert.equal(flatNumber("3:2:1"), 0x321);
  assert.equal(flatNumber("3:2"), null);
  assert.equal(flatNumber("a:b:c"), null);
  // It leaves seven bits to the net, four each to sub-net and universe.
  for (const none of ["128:0:0", "0:16:0", "0:0:16", "0:0:-1", "0:0:1.5", "::", "0:0:1e0", " 0:0:1"]) {
    assert.equal(flatNumber(none), null, none);
  }
  assert.match(flatTitle(16), /from 1 call this one 17/);
});

test("the target is named as exactly as it is known", () => {
  assert.equal(target("10.0.0.5:6454", "localhost"), "10.0.0.5:6454");
  assert.equal(target("0.0.0.0:6455", "10.0.0.7"), "10.0.0.7:6455");
  assert.equal(target("0.0.0.0:6454", "127.0.0.1"), "this machine's address, port 6454");
  assert.equal(target(undefined, "floor.example"), "this machine's address, port 6454");
});

test("Port-Addresses that follow each other are one range, also across sub-nets", () => {
  assert.equal(inRanges(["0:0:14", "0:0:15", "0:1:0", "0:1:2", "0:1:3"]), "0:0:14 to 0:1:0, 0:1:2, 0:1:3");
  assert.equal(inRanges(["0:0:3", "0:0:2", "0:0:1"]), "0:0:3, 0:0:2, 0:0:1");
  assert.equal(inRanges(["0:15:15", "1:0:0", "1:0:1"]), "0:15:15 to 1:0:1");
  assert.equal(inRanges([]), "");
});
