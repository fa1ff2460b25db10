import { defineConfig } from "vitest/config";
import { serviceWorker } from "./worker.ts";

export default defineConfig({
  plugins: [serviceWorker()],
  oxc: { jsx: { runtime: "automatic", importSource: "preact" } },
  build: {
    outDir: "../src/plumbmark/web/static",
    emptyOutDir: true,
    target: "es2022",
    sourcemap: false,
    assetsInlineLimit: 0, // the page's rules allow nothing inline
    modulePreload: { polyfill: false },
  },
  server: { proxy: { "/api": "http://127.0.0.1:8000" } },
  test: { environment: "happy-dom", include: ["src/**/*.test.{ts,tsx}"] },
});
