/** The mock with 100,000 pixels that all move. Pictures and their sums are made before, so that only sending is work. */
import { huge, movingPicture, reckon } from "../tests/mock-floor.mjs";
import { startMock } from "../tests/mock-server.mjs";

const model = huge();
const made = Array.from({ length: 16 }, (_, i) => movingPicture(model, 700 + i / 4));
const reckoned = new WeakMap(made.map((picture) => [picture, reckon(model, picture)]));
const mock = await startMock({ model, picture: (_, t) => made[Math.floor(t * 30) % made.length], reckoned, most_fps: 30 });
process.send(mock.url);
