// Scopes of the TextMate grammar, the table's HTML, the manifest: what needs no editor.
import assert from "node:assert/strict";
import { test } from "node:test";
import fs from "node:fs";
import path from "node:path";
import { createRequire } from "node:module";
import { buildSync } from "esbuild";
const require = createRequire(import.meta.url);
const oniguruma = require("vscode-oniguruma");
const { Registry, INITIAL, parseRawGrammar } = require("vscode-textmate");

const here = path.dirname(new URL(import.meta.url).pathname);
const root = path.resolve(here, "../../..");
await oniguruma.loadWASM(fs.readFileSync(require.resolve("vscode-oniguruma/release/onig.wasm")).buffer);
const file = path.join(root, "grammar/textmate/keyon.tmLanguage.json");
const registry = new Registry({
  onigLib: Promise.resolve({ createOnigScanner: (p) => new oniguruma.OnigScanner(p), createOnigString: (s) => new oniguruma.OnigString(s) }),
  loadGrammar: async (scope) => (scope === "source.keyon" ? parseRawGrammar(fs.readFileSync(file, "utf8"), file) : null),
});
const grammar = await registry.loadGrammar("source.keyon");

/** Each word of a line with its innermost scope. */
function scopes(line, stack = INITIAL) {
  const { tokens } = grammar.tokenizeLine(line, stack);
  return tokens.map((t) => [line.slice(t.startIndex, t.endIndex).trim(), t.scopes.at(-1).replace(/\.keyon$/, "")]).filter(([w]) => w);
}
const has = (line, ...wanted) => {
  const found = scopes(line);
  for (const [word, scope] of wanted) {
    assert.ok(found.some(([w, s]) => w === word && s === scope), `${word} as ${scope} in ${JSON.stringify(found)}`);
  }
};

test("statements", () => {
  has('circuit a "Title"', ["circuit", "keyword.declaration"], ["a", "entity.name"], ["Title", "string.quoted.double"]);
  has("wire 441  left.2 -> SCU.A.4  0.75 mm2  OG/BK  3.1 m  # back", ["441", "variable.other.wire"], ["->", "keyword.operator.arrow"], ["0.75", "constant.numeric"], ["mm2", "keyword.other.unit"], ["OG/BK", "constant.other.colour"], ["# back", "comment.line.number-sign"]);
  has("    4  left_cmd  drives low  on 120 mohm  limit 2 A  clamp", ["4", "constant.numeric.cavity"], ["left_cmd", "variable.other.member"], ["drives", "storage.modifier.role"], ["mohm", "keyword.other.unit"]);
  has("## Documents what follows.", ["## Documents what follows.", "comment.line.documentation"]);
  has("  left_valve.2  fed via load", ["left_valve", "variable.other.object"], ["fed", "constant.language.state"], ["via", "keyword.other"]);
  has("  level_in  2.4 .. 2.5 V  with level 50 %", ["..", "keyword.operator.range"], ["%", "keyword.other.unit"]);
  has("fuse   F1  battery -> key.B  60 A", ["fuse", "keyword.declaration"], ["F1", "entity.name"], ["60", "constant.numeric"]);
});

test("a text that is not closed ends with its line", () => {
  const { ruleStack } = grammar.tokenizeLine('ground G1 "open', INITIAL);
  assert.ok(scopes("splice S1", ruleStack).some(([w, s]) => w === "splice" && s === "keyword.declaration"));
});

test("names are not taken for words of the language", () => {
  const found = scopes("  low_side.on_pin  fed");
  assert.ok(!found.some(([w]) => w === "low" || w === "on"), JSON.stringify(found));
});

test("every corpus file is tokenised whole, and nothing is left inside a text or comment", () => {
  const files = fs.readdirSync(path.join(root, "corpus"), { recursive: true }).filter((f) => f.endsWith(".keyon"));
  assert.ok(files.length > 200);
  for (const name of files) {
    let stack = INITIAL;
    for (const line of fs.readFileSync(path.join(root, "corpus", name), "utf8").split(/\r\n|\n|\r/)) {
      const done = grammar.tokenizeLine(line, stack);
      stack = done.ruleStack;
      assert.equal(done.tokens.at(-1).endIndex >= line.length, true, `${name}: ${line}`);
      assert.equal(stack.depth, 1, `${name}: something stays open behind ${line}`);
    }
  }
});

test("tables become HTML in which everything is text", () => {
  const built = buildSync({ entryPoints: [path.join(here, "../src/table.ts")], bundle: true, format: "cjs", write: false });
  const module = { exports: {} };
  new Function("module", "exports", built.outputFiles[0].text)(module, module.exports);
  const html = module.exports.tableHtml("| a\\_b | c |\n|---|---|\n| x \\| y | &lt;img src=x onerror=alert(1)> |\n\n* note <script>\n");
  assert.equal(html.includes("<script"), false);
  assert.equal(html.includes("<img"), false);
  assert.match(html, /<th>a_b<\/th>/);
  assert.match(html, /<td>x \| y<\/td>/);
});

test("the manifest names what is there", () => {
  const manifest = JSON.parse(fs.readFileSync(path.join(here, "../package.json"), "utf8"));
  const source = fs.readFileSync(path.join(here, "../src/extension.ts"), "utf8");
  for (const { command } of manifest.contributes.commands) {
    assert.ok(source.includes(`"${command}"`), `${command} is registered`);
  }
  for (const file of [manifest.main, "language-configuration.json", "snippets/keyon.json", ...manifest.contributes.walkthroughs[0].steps.map((s) => s.media.markdown), ...manifest.contributes.grammars.map((g) => g.path)]) {
    assert.ok(fs.existsSync(path.join(here, "..", file)), file);
  }
});

test("snippets are circuits without a finding", { skip: !process.env.KEYON && "KEYON names no program" }, async () => {
  const { execFileSync } = await import("node:child_process");
  const snippets = JSON.parse(fs.readFileSync(path.join(here, "../snippets/keyon.json"), "utf8"));
  const text = snippets["First circuit"].body.join("\n").replace(/\$\{\d+:([^}]*)\}/g, "$1").replace(/\$\d+/g, "");
  execFileSync(process.env.KEYON, ["check", "-", "--strict"], { input: text });
});
