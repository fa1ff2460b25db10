/** The build step that writes `sw.js`: the worker's source with the list of built files and their hashes in it. */
import { createHash } from "node:crypto";
import { readdirSync, readFileSync } from "node:fs";
import type { Plugin } from "vite";

export function serviceWorker(): Plugin {
  return {
    name: "plumbmark-service-worker",
    apply: "build",
    generateBundle: {
      order: "post",
      handler(_options, bundle) {
        const publicFiles = readdirSync(new URL("public", import.meta.url)).map(
          (name): [string, string | Uint8Array] => [name, readFileSync(new URL(`public/${name}`, import.meta.url))],
        );
        const built = Object.values(bundle).map((file): [string, string | Uint8Array] => [
          file.fileName,
          file.type === "chunk" ? file.code : file.source,
        ]);
        const listed = [...built, ...publicFiles]
          .map(([name, data]) => [name, hash(data)] as const)
          .sort(([a], [b]) => (a < b ? -1 : 1));
        const source = readFileSync(new URL("src/worker/sw.js", import.meta.url), "utf8");
        this.emitFile({
          type: "asset",
          fileName: "sw.js",
          source: source
            .replace("__FILES__", JSON.stringify(listed.map(([name]) => name)))
            .replace("__VERSION__", JSON.stringify(hash(JSON.stringify(listed)))),
        });
      },
    },
  };
}

function hash(data: string | Uint8Array): string {
  return createHash("sha256").update(data).digest("hex").slice(0, 16);
}
