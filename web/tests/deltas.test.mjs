/** What changed of a picture makes the plan what the daemon shows. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { stage, stillPicture } from "./mock-floor.mjs";
import { planShows, until, visit } from "./visit.mjs";

for (const white of [false, true]) {
  test(`a plan drawn from changes alone shows every pixel as it is${white ? ", with white" : ""}`, () => {
    const model = stage({ watchOnly: true, white });
    const { channels } = model;
    let picture = stillPicture(model);
    /** Every seventh pixel changes far and the next a little, each time from another one on. */
    const change = (round) => {
      picture = picture.slice();
      for (let at = (round % 7) * channels; at < picture.length; at += 7 * channels) {
        picture.fill((at + 11 * round) % 256, at, at + channels - 1);
        for (let next = at + channels; next < Math.min(at + 2 * channels, picture.length); next++) picture[next] = Math.max(0, picture[next] - (round % 5));
      }
    };
    return visit({ mock: { model, picture: () => picture } }, async (page, mock) => {
      await planShows(page, model, picture);
      for (let round = 1; round <= 20; round++) {
        const { changes } = mock.pictures;
        change(round);
        await until(page, () => mock.pictures.changes > changes);
      }
      const { whole } = mock.pictures;
      change(21);
      await planShows(page, model, picture);
      assert.equal(mock.pictures.whole, whole, "a whole picture came");
    });
  });
}
