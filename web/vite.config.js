import { readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { brotliCompressSync, constants } from "node:zlib";
import { defineConfig } from "vite";

const TEXT = /\.(css|html|js|svg)$/;

/** Lays a brotli copy beside every text file: the daemon embeds that one. */
function compressed() {
  let out = "";
  return {
    name: "compressed",
    apply: "build",
    configResolved(config) {
      out = join(config.root, config.build.outDir);
    },
    closeBundle() {
      for (const name of readdirSync(out, { recursive: true })) {
        if (!TEXT.test(name)) continue;
        const bytes = readFileSync(join(out, name));
        const params = { [constants.BROTLI_PARAM_SIZE_HINT]: bytes.length };
        writeFileSync(join(out, `${name}.br`), brotliCompressSync(bytes, { params }));
      }
    },
  };
}

export default defineConfig({
  plugins: [compressed()],
  oxc: { jsx: { runtime: "automatic", importSource: "preact" } },
  // `npm run dev`: pages from the sources, everything else from a daemon.
  server: { proxy: { "/api": { target: process.env.DAEMON ?? "http://127.0.0.1:8080", ws: true, changeOrigin: true, rewriteWsOrigin: true } } },
  build: {
    outDir: "dist",
    emptyOutDir: true,
    target: "es2022",
    // Nothing may end up as a data: URL in a style or a script: the page's own policy forbids it.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
  },
});
