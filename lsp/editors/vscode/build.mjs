// Puts into out/ what is packaged: the extension in one file, the TextMate grammar, the licences.

import { copyFileSync, mkdirSync, rmSync } from "node:fs";
import { build } from "esbuild";

rmSync("out", { recursive: true, force: true });
mkdirSync("out");
await build({
  entryPoints: ["src/extension.ts"],
  outfile: "out/extension.js",
  bundle: true,
  minify: true,
  platform: "node",
  format: "cjs",
  // What VS Code 1.82 runs on.
  target: "node18",
  external: ["vscode"],
  legalComments: "eof",
  logLevel: "warning",
});
copyFileSync("../textmate/trim.tmLanguage.json", "out/trim.tmLanguage.json");
for (const licence of ["LICENSE-MIT", "LICENSE-APACHE"]) copyFileSync(`../../../${licence}`, `out/${licence}`);
