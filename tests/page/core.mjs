// The core inside pages says what the terminal says: every scenario of the corpus, as JSON. Figures may differ in their last
// bits where a sensor's curve takes an exponential: browsers and systems round that differently.
// Usage: node core.mjs PATH_TO_KEYON
import { execFileSync } from "node:child_process";
import fs from "node:fs";
import path from "node:path";

const keyon = path.resolve(process.argv[2]);
const root = path.resolve(path.dirname(new URL(import.meta.url).pathname), "../..");
// The page's own gate to the core, so that it is tested too.
const web = path.join(root, "crates/keyon/web");
const { core } = new Function(`${fs.readFileSync(path.join(web, "core.js"), "utf8")}\nreturn { core };`)();
await core.start(fs.readFileSync(path.join(web, "core.wasm.gz")).toString("base64"));
const { ask } = core;

/** The same, figures within a billionth. */
const same = (a, b) => {
  if (typeof a === "number" && typeof b === "number") return Math.abs(a - b) <= 1e-9 * Math.max(1, Math.abs(a), Math.abs(b));
  if (a === null || b === null || typeof a !== "object" || typeof b !== "object") return a === b;
  const [k, l] = [Object.keys(a), Object.keys(b)];
  return k.length === l.length && k.every((key, i) => key === l[i] && same(a[key], b[key]));
};
let passed = 0;
let failed = 0;
const check = (ok, what) => { ok ? passed++ : (failed++, console.log(`FAIL ${what}`)); };
const corpus = path.join(root, "corpus");
const files = ["circuits", "sound"].flatMap((f) => fs.readdirSync(path.join(corpus, f)).filter((n) => n.endsWith(".keyon")).map((n) => path.join(f, n)));
const libraries = Object.fromEntries(fs.readdirSync(path.join(corpus, "parts")).filter((n) => n.endsWith(".keyon")).map((n) => [`parts/${n}`, fs.readFileSync(path.join(corpus, "parts", n), "utf8")]));
for (const name of fs.readdirSync(path.join(corpus, "sound"))) libraries[`sound/${name}`] ??= fs.readFileSync(path.join(corpus, "sound", name), "utf8");
for (const file of files) {
  const text = fs.readFileSync(path.join(corpus, file)).toString("utf8");
  const loaded = ask({ do: "load", name: file, text, libraries });
  if (loaded.library) continue;
  for (const scenario of ["", ...loaded.scenarios.map((s) => s.name)]) {
    const mine = ask({ do: "state", in: scenario });
    let theirs;
    try {
      theirs = execFileSync(keyon, ["state", path.join(corpus, file), "--format", "json", ...(scenario ? ["--in", scenario] : [])], { stdio: ["ignore", "pipe", "ignore"], maxBuffer: 1 << 28 });
    } catch (error) {
      theirs = error.stdout;
    }
    check(same(mine, JSON.parse(theirs)), `${file} ${scenario || "at rest"}: the page's core is not the terminal's (crates/web/build.sh makes it anew)`);
  }
  const drawn = ask({ do: "draw", in: loaded.scenarios[0]?.name ?? "", view: "plain" });
  const svg = execFileSync(keyon, ["draw", path.join(corpus, file), "--view", "plain"], { stdio: ["ignore", "pipe", "ignore"], maxBuffer: 1 << 28 }).toString();
  check(drawn.svg?.replace(/<path [^>]*data-at="[^"]*"\/>\n/g, "") === svg, `${file}: the page's drawing is not the terminal's`);
}
check(ask({ do: "nothing" }).error !== undefined, "an unknown question is refused");
check(ask("no object").error !== undefined, "a request that is no object is refused");
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed ? 1 : 0);
