import { defineConfig } from "vite";

export default defineConfig({
  oxc: { jsx: { runtime: "automatic", importSource: "preact" } },
  build: {
    outDir: "dist",
    emptyOutDir: true,
    target: "es2022",
    // Nothing may end up as a data: URL in a style or a script: the page's own policy forbids it.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
  },
});
