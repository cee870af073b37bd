/** Turns the unit tests into JavaScript (Node 20 can't read TypeScript) and runs them with node:test. */
import { spawnSync } from "node:child_process";
import { readdirSync, rmSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { build } from "vite";

const here = fileURLToPath(new URL(".", import.meta.url));
const out = fileURLToPath(new URL("../node_modules/.cache/unit", import.meta.url));
rmSync(out, { recursive: true, force: true });
const names = readdirSync(`${here}unit`).filter((name) => name.endsWith(".test.ts"));
await build({
  configFile: false,
  logLevel: "warn",
  root: here,
  build: {
    ssr: true,
    outDir: out,
    target: "node20",
    rollupOptions: {
      input: Object.fromEntries(names.map((name) => [name.replace(".ts", ""), `${here}unit/${name}`])),
      output: { entryFileNames: "[name].mjs", chunkFileNames: "[name]-[hash].mjs" },
    },
  },
});
const files = names.map((name) => `${out}/${name.replace(".ts", ".mjs")}`);
const { status } = spawnSync(process.execPath, ["--test", ...files], { stdio: "inherit" });
process.exit(status ?? 1);
