// Bundles the extension, and brings the grammar and (where one is given or built) the program beside it.
import { build } from "esbuild";
import { copyFileSync, existsSync, mkdirSync } from "node:fs";

mkdirSync("syntaxes", { recursive: true });

copyFileSync("../../grammar/textmate/keyon.tmLanguage.json", "syntaxes/keyon.tmLanguage.json");
copyFileSync("../../grammar/textmate/keyon-markdown.tmLanguage.json", "syntaxes/keyon-markdown.tmLanguage.json");
// The package is refused without one.
copyFileSync("../../LICENSE-MIT", "LICENSE.txt");
await build({
  entryPoints: ["src/extension.ts"],
  bundle: true,
  platform: "node",
  target: "node20",
  external: ["vscode"],
  outfile: "dist/extension.js",
  minify: true,
  logLevel: "warning",
});
// KEYON_BUNDLE=/path/to/keyon puts the program into the package.
const program = process.env.KEYON_BUNDLE;
if (program) {
  if (!existsSync(program)) throw new Error(`no program at ${program}`);
  mkdirSync("server", { recursive: true });
  copyFileSync(program, `server/keyon${process.platform === "win32" ? ".exe" : ""}`);
}
