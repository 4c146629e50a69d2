#!/usr/bin/env python3
"""Several language servers, driven alike over stdio: `servers.py [--rounds N] [--lines N,N] KEYON [SERVER ...]`.

SERVER is the path of a general-purpose language server whose file name says which it is: `ruff`, `pyright-langserver`,
`basedpyright-langserver`, `clangd`, `typescript-language-server`, `tsc` (7 or later), `rust-analyzer`, `gopls`. Each works, with the settings that it comes with, on a
generated file of its own language, of as many lines for all. Milliseconds, median and 95th percentile:

- open: from opening the file, right after the handshake, until an unknown name in its last lines is reported;
- name told, name gone: from the keystroke that makes a name in the middle of the file an unknown one until the server has told of it, and from
  the one that takes it back until the server has told that it is gone;
- type told: the same for an edit that leaves the text readable, but wrong in what it means (a type; ours: a fuse that is too small for what flows),
  there and back together;
- name asked: the unknown name, there and back, where the client asks (`textDocument/diagnostic`) rather than waits;
- hover, completion, tokens, symbols: each asked right behind an edit of a number, so each includes what the edit made necessary;
- MiB: most memory of the server and its children together.

`--features` prints, in place of all that, what each server announces in its answer to `initialize`.
"""

import argparse
import os
import pathlib
import queue
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent))
sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "server"))
import libraries
from client import Client

# --- files: the same shape in each language, functions that call one another

PYTHON = (
    'def scale(step: int, by: int) -> int:\n    return step * by\n\n\ndef station_0(level: int, flow: int) -> int:\n    return level + flow\n',
    '''

def station_{n}(level: int, flow: int) -> int:
    """Station {n}: what a level and a flow come to."""
    total = station_{m}(level, flow)
    for step in range(level):
        if step % 3 == 0:
            total += scale(step, 12)
        else:
            total -= flow + 7
    return scale(total, level)
''',
    "\n\nlast = station_{n}(1, lost)\n",
)
C = (
    "static int scale(int step, int by) {\n  return step * by;\n}\n\nint station_0(int level, int flow) {\n  return level + flow;\n}\n",
    """
/* Station {n}: what a level and a flow come to. */
int station_{n}(int level, int flow) {{
  int total = station_{m}(level, flow);
  for (int step = 0; step < level; step++) {{
    if (step % 3 == 0) {{
      total += scale(step, 12);
    }} else {{
      total -= flow + 7;
    }}
  }}
  return scale(total, level);
}}
""",
    "\nint last(void) {{\n  return station_{n}(1, lost);\n}}\n",
)
TYPESCRIPT = (
    "function scale(step: number, by: number): number {\n  return step * by;\n}\n\nfunction station_0(level: number, flow: number): number {\n  return level + flow;\n}\n",
    """
/** Station {n}: what a level and a flow come to. */
export function station_{n}(level: number, flow: number): number {{
  let total = station_{m}(level, flow);
  for (let step = 0; step < level; step++) {{
    if (step % 3 === 0) {{
      total += scale(step, 12);
    }} else {{
      total -= flow + 7;
    }}
  }}
  return scale(total, level);
}}
""",
    "\nexport const last = station_{n}(1, lost);\n",
)
RUST = (
    "fn scale(step: i32, by: i32) -> i32 {\n    step * by\n}\n\nfn station_0(level: i32, flow: i32) -> i32 {\n    level + flow\n}\n",
    """
/// Station {n}: what a level and a flow come to.
pub fn station_{n}(level: i32, flow: i32) -> i32 {{
    let mut total = station_{m}(level, flow);
    for step in 0..level {{
        if step % 3 == 0 {{
            total += scale(step, 12);
        }} else {{
            total -= flow + 7;
        }}
    }}
    return scale(total, level);
}}
""",
    "\npub fn last() -> i32 {{\n    station_{n}(1, lost)\n}}\n",
)
GO = (
    "package big\n\nfunc scale(step int, by int) int {\n\treturn step * by\n}\n\nfunc station_0(level int, flow int) int {\n\treturn level + flow\n}\n",
    """
// Station {n}: what a level and a flow come to.
func station_{n}(level int, flow int) int {{
	total := station_{m}(level, flow)
	for step := 0; step < level; step++ {{
		if step%3 == 0 {{
			total += scale(step, 12)
		}} else {{
			total -= flow + 7
		}}
	}}
	return scale(total, level)
}}
""",
    "\nfunc last() int {{\n\treturn station_{n}(1, lost)\n}}\n",
)


class Language:
    """A file and the places in it that are edited, each a line and a column."""

    def __init__(self, name, file, source, beside=()):
        self.name, self.file, self.source, self.beside = name, file, source, dict(beside)

    def write(self, folder, lines):
        head, block, tail = self.source
        each = len(block.format(n=1, m=0).splitlines())
        count = (lines - len(head.splitlines()) - len(tail.splitlines())) // each
        text = head + "".join(block.format(n=n, m=n - 1) for n in range(1, count + 1)) + tail.format(n=count)
        path = folder / self.file
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
        for other, content in self.beside.items():
            (folder / other).write_text(content)
        return path, text

    def sites(self, rows):
        """Unknown names: behind `total`. Wrong types: a text in place of 12. Numbers: behind 12."""
        names = [(i, row.index("total") + 5) for i, row in enumerate(rows) if "scale(total" in row]
        types = [(i, row.index("12"), row.index("12") + 2, '""') for i, row in enumerate(rows) if "scale(step, 12)" in row]
        return names, types, [(i, to) for i, _, to, _ in types]

    last = "lost"


class Ours(Language):
    def __init__(self):
        super().__init__("keyon", "", None)

    def write(self, folder, lines):
        libraries.library(folder, 1, lines)
        path = folder / "bench_1.keyon"
        text = path.read_text() + "\nwire 1 G1 -> lost\n"
        path.write_text(text)
        return path, text

    def sites(self, rows):
        """Unknown names: behind `G1` in a wire. Wrong values: a fuse of 1 A in place of 10 A. Numbers: behind a wire's length."""
        names = [(i, row.index("-> G1") + 5) for i, row in enumerate(rows) if row.startswith("wire") and "-> G1 " in row]
        values = [(i, row.index("10 A"), row.index("10 A") + 2, "1") for i, row in enumerate(rows) if row.startswith("fuse") and "10 A" in row]
        length = re.compile(r"\d+\.\d+(?= m( |$))")
        return names, values, [(i, length.search(row).end()) for i, row in enumerate(rows) if row.startswith("wire") and length.search(row)]


LANGUAGES = {
    "python": Language("python", "big.py", PYTHON),
    "c": Language("c", "big.c", C, {"compile_flags.txt": "-std=c11\n"}),
    "typescript": Language("typescript", "big.ts", TYPESCRIPT, {"tsconfig.json": '{"compilerOptions": {"strict": true, "types": []}, "files": ["big.ts"]}\n'}),
    "rust": Language("rust", "src/lib.rs", RUST, {"Cargo.toml": '[package]\nname = "big"\nversion = "0.1.0"\nedition = "2021"\n'}),
    "go": Language("go", "big.go", GO, {"go.mod": "module big\n\ngo 1.19\n"}),
    "keyon": Ours(),
}


# --- servers: arguments, language, whether types are its business, options


class Server:
    def __init__(self, path):
        name = pathlib.Path(path).name
        kinds = {
            "ruff": (["server"], "python", False, {}),
            "pyright-langserver": (["--stdio"], "python", True, {}),
            "basedpyright-langserver": (["--stdio"], "python", True, {}),
            "clangd": ([], "c", True, {}),
            "typescript-language-server": (["--stdio"], "typescript", True, {}),
            # This one tells nothing to a client that does not ask.
            "tsc": (["--lsp", "--stdio"], "typescript", True, {}),
            # Without its runs of the compiler, and with its own finding of unknown names, which it counts among its trials.
            "rust-analyzer": ([], "rust", True, {"checkOnSave": False, "diagnostics": {"experimental": {"enable": True}}}),
            "gopls": ([], "go", True, {}),
        }
        arguments, language, self.types, self.options = kinds.get(name, (["lsp"], "keyon", True, {}))
        self.name = name if name in kinds else "keyon"
        self.tells = name != "tsc"
        self.command = [str(pathlib.Path(shutil.which(path) or path).absolute()), *arguments]
        self.language = LANGUAGES[language]


class Memory:
    """Most memory of a process and its children, looked at fifty times a second."""

    def __init__(self, pid):
        self.pid, self.most, self.ended = pid, 0, threading.Event()
        self.thread = threading.Thread(target=self._watch, daemon=True)
        self.thread.start()

    def _watch(self):
        while not self.ended.wait(0.02):
            parents, resident = {}, {}
            for entry in os.scandir("/proc"):
                if entry.name.isdigit():
                    try:
                        stat = pathlib.Path(entry.path, "stat").read_text().rsplit(")", 1)[1].split()
                    except OSError:
                        continue
                    parents[int(entry.name)], resident[int(entry.name)] = int(stat[1]), int(stat[21])
            family, grown = {self.pid}, True
            while grown:
                more = {pid for pid, parent in parents.items() if parent in family} - family
                family, grown = family | more, bool(more)
            self.most = max(self.most, sum(resident.get(pid, 0) for pid in family) * os.sysconf("SC_PAGE_SIZE") / 2**20)

    def peak(self):
        self.ended.set()
        self.thread.join()
        return self.most


CAPABILITIES = {
    "textDocument": {
        "publishDiagnostics": {"versionSupport": True, "relatedInformation": True},
        "hover": {"contentFormat": ["markdown", "plaintext"]},
        "completion": {"completionItem": {"snippetSupport": True, "resolveSupport": {"properties": ["documentation", "detail"]}}, "contextSupport": True},
        "documentSymbol": {"hierarchicalDocumentSymbolSupport": True},
        "semanticTokens": {"requests": {"range": True, "full": {"delta": True}}, "tokenTypes": ["namespace", "type", "class", "enum", "interface", "struct", "typeParameter", "parameter", "variable", "property", "enumMember", "event", "function", "method", "macro", "keyword", "modifier", "comment", "string", "number", "regexp", "operator"], "tokenModifiers": ["declaration", "definition", "readonly", "static"], "formats": ["relative"]},
        "codeAction": {"codeActionLiteralSupport": {"codeActionKind": {"valueSet": ["", "quickfix", "refactor", "source"]}}, "resolveSupport": {"properties": ["edit"]}, "dataSupport": True},
        "rename": {"prepareSupport": True},
        "foldingRange": {}, "inlayHint": {"resolveSupport": {"properties": ["tooltip"]}}, "callHierarchy": {}, "typeHierarchy": {}, "linkedEditingRange": {}, "codeLens": {}, "colorProvider": {}, "moniker": {}, "inlineValue": {}, "selectionRange": {}, "documentLink": {}, "onTypeFormatting": {}, "declaration": {}, "implementation": {}, "typeDefinition": {},
    },
    "workspace": {"configuration": True, "workspaceFolders": True, "workspaceEdit": {"documentChanges": True}, "fileOperations": {"willRename": True, "didRename": True}},
    "window": {"workDoneProgress": True},
}


class Session:
    def __init__(self, server, folder, asking=False):
        self.server = server
        self.client = Client(server.command, cwd=folder)
        self.memory = Memory(self.client.process.pid)
        capabilities = {**CAPABILITIES, "textDocument": dict(CAPABILITIES["textDocument"])}
        options = dict(server.options)
        self.client.settings = server.options or None
        if asking:
            capabilities["textDocument"]["diagnostic"] = {"dynamicRegistration": False, "relatedDocumentSupport": False}
            if server.name == "keyon":
                options["diagnostics"] = "pull"
        root = folder.as_uri()
        start = {"processId": os.getpid(), "rootUri": root, "rootPath": str(folder), "workspaceFolders": [{"uri": root, "name": "bench"}], "capabilities": capabilities, "initializationOptions": options}
        answer = self.client.ask("initialize", start, 120)["result"]
        self.can, self.info = answer["capabilities"], answer.get("serverInfo", {})
        self.client.notify("initialized", {})

    def open(self, path, text):
        self.uri, self.version, self.rows = path.as_uri(), 1, text.split("\n")
        self.document = {"uri": self.uri}
        self.client.notify("textDocument/didOpen", {"textDocument": {"uri": self.uri, "languageId": self.server.language.name, "version": 1, "text": text}})

    def edit(self, line, start, end, text):
        self.version += 1
        span = {"start": {"line": line, "character": start}, "end": {"line": line, "character": end}}
        self.client.notify("textDocument/didChange", {"textDocument": {"uri": self.uri, "version": self.version}, "contentChanges": [{"range": span, "text": text}]})
        row = self.rows[line]
        self.rows[line] = row[:start] + text + row[end:]

    def told(self, line, wanted):
        """Until the server has told, of this version where it tells which, that something is wrong in the line, or nothing."""

        def fits(message):
            if message.get("method") != "textDocument/publishDiagnostics":
                return False
            params = message["params"]
            of_now = params.get("version") in (None, self.version) and params["uri"].replace("%3A", ":") == self.uri
            return of_now and wrong(params["diagnostics"], line) == wanted

        self.client.wait(fits, 120)

    def settle(self, silence=2, most=120):
        """Until nothing is told for a while and all that was begun with progress has ended: some still read their libraries."""
        begun, end = set(), time.monotonic() + most
        while time.monotonic() < end:
            try:
                message = self.client.wait(lambda m: True, silence)
            except queue.Empty:
                if not begun:
                    return
                continue
            if message.get("method") == "$/progress":
                token, kind = message["params"]["token"], message["params"]["value"].get("kind")
                (begun.add if kind != "end" else begun.discard)(token)

    def asked(self, line, wanted):
        deadline = time.monotonic() + 120
        while time.monotonic() < deadline:
            answer = self.client.ask("textDocument/diagnostic", {"textDocument": self.document})
            if wrong((answer.get("result") or {}).get("items", []), line) == wanted:
                return
        raise queue.Empty

    def ask(self, method, params):
        """An answer, asked for again where the server lets go of what an edit has overtaken."""
        while True:
            answer = self.client.ask(method, {"textDocument": self.document, **params})
            if answer.get("error", {}).get("code") not in (-32801, -32802):
                return answer

    def end(self):
        peak = self.memory.peak()
        self.client.process.kill()
        self.client.process.wait()
        return peak


def wrong(diagnostics, line):
    return any(d["range"]["start"]["line"] <= line <= d["range"]["end"]["line"] and d.get("severity", 1) <= 2 for d in diagnostics)


ASKED = {"hover": ("textDocument/hover", "hoverProvider"), "completion": ("textDocument/completion", "completionProvider"), "tokens": ("textDocument/semanticTokens/full", "semanticTokensProvider"), "symbols": ("textDocument/documentSymbol", "documentSymbolProvider")}
COLUMNS = ["open", "name told", "name gone", "type told", "name asked", *ASKED]


def size(name, result):
    if not result:
        return 0
    if name == "hover":
        return 1
    if name == "tokens":
        return len(result["data"]) // 5
    return len(result["items"] if isinstance(result, dict) else result)


def middle(sites, n, of):
    """The nth place of a few in the middle of the file."""
    return sites[len(sites) // 2 - of // 2 + n] if len(sites) > of else sites[n % len(sites)]


def timed(times, act):
    start = time.perf_counter()
    act()
    times.append(time.perf_counter() - start)


def run(session, server, path, text, edits, asking, times, counts):
    """All that is measured in one session."""
    await_ = session.asked if asking else session.told
    main = asking != server.tells  # the session in which everything else is measured
    last = max(i for i, row in enumerate(text.split("\n")) if "lost" in row)

    def opened():
        session.open(path, text)
        await_(last, True)

    timed(times["open"] if main else [], opened)
    row = session.rows[last]
    session.edit(last, 0, len(row), "" if server.name == "keyon" else row.replace("lost", "2"))
    session.settle()
    names, types, numbers = server.language.sites(session.rows)
    for n in range(edits):
        line, column = middle(names, n, edits)
        time.sleep(0.2)

        def typed():
            session.edit(line, column, column, "x")
            await_(line, True)

        def taken():
            session.edit(line, column, column + 1, "")
            await_(line, False)

        timed(times["name asked" if asking else "name told"], typed)
        time.sleep(0.2)
        timed(times["name asked" if asking else "name gone"], taken)
    for n in range(edits if server.types and not asking else 0):
        line, start, end, text = middle(types, n, edits)
        held = session.rows[line][start:end]

        def turned():
            session.edit(line, start, end, text)
            await_(line, True)

        def back():
            session.edit(line, start, start + len(text), held)
            await_(line, False)

        time.sleep(0.2)
        timed(times["type told"], turned)
        time.sleep(0.2)
        timed(times["type told"], back)
    for n in range(edits if main else 0):
        line, column = middle(numbers, n, edits)
        at = middle(names, n, edits)
        for what, (method, capability) in ASKED.items():
            if not session.can.get(capability):
                continue
            params = {"position": {"line": at[0], "character": at[1]}} if what in ("hover", "completion") else {}
            time.sleep(0.1)
            session.edit(line, column, column, "1")
            answer = {}
            timed(times[what], lambda: answer.update(session.ask(method, params)))
            counts[what] = size(what, answer.get("result"))
            session.edit(line, column, column + 1, "")


def round_of(server, lines, edits, times, counts):
    """One session that is told, one that asks where the server can; most memory of the two. What gets no right answer in two minutes
    ends its session, and is said."""
    peaks, version = [], ""
    for asking in [False, True] if server.tells else [True]:
        with tempfile.TemporaryDirectory() as name:
            folder = pathlib.Path(name).resolve() / "bench"
            folder.mkdir()
            path, text = server.language.write(folder, lines)
            session = Session(server, folder, asking)
            version = f"{session.info.get('name', server.name)} {session.info.get('version', '')}".strip()
            if asking and not session.can.get("diagnosticProvider"):
                session.end()
                continue
            try:
                run(session, server, path, text, edits, asking, times, counts)
            except queue.Empty:
                print(f"{server.name}, {lines} lines, {'asked' if asking else 'told'}: no right answer in two minutes", file=sys.stderr, flush=True)
            peaks.append(session.end())
    return max(peaks, default=0), version


def spread(times):
    if not times:
        return "–"
    times = sorted(1000 * t for t in times)
    show = lambda t: f"{t:.1f}" if t < 10 else f"{t:,.0f}"
    return f"{show(statistics.median(times))}, {show(times[min(len(times) - 1, int(len(times) * 0.95))])}"


def measure(servers, sizes, rounds, edits):
    answers = []
    print(f"| lines | server | {' | '.join(COLUMNS)} | MiB |\n|{'---|' * (len(COLUMNS) + 3)}")
    for lines in sizes:
        found = [({column: [] for column in COLUMNS}, {}, []) for _ in servers]
        versions = {}
        # Round by round, so that what else the machine does falls on all.
        for _ in range(rounds):
            for server, (times, counts, peaks) in zip(servers, found):
                peak, versions[server.name] = round_of(server, lines, edits, times, counts)
                peaks.append(peak)
        for server, (times, counts, peaks) in zip(servers, found):
            print(f"| {lines:,} | {server.name} | {' | '.join(spread(times[c]) for c in COLUMNS)} | {statistics.median(peaks):,.0f} |", flush=True)
            answers.append(f"{lines:,} lines, {server.name} ({versions[server.name]}): " + ", ".join(f"{what} {count:,}" for what, count in counts.items()))
    print("\nWhat came in the last answers, each in its own count:\n" + "\n".join(answers))


FEATURES = {
    "diagnostics asked for": "diagnosticProvider", "hover": "hoverProvider", "completion": "completionProvider", "… resolved": "completionProvider.resolveProvider",
    "signature help": "signatureHelpProvider", "declaration": "declarationProvider", "definition": "definitionProvider", "type definition": "typeDefinitionProvider",
    "implementation": "implementationProvider", "references": "referencesProvider", "highlights": "documentHighlightProvider", "document symbols": "documentSymbolProvider",
    "workspace symbols": "workspaceSymbolProvider", "code actions": "codeActionProvider", "code lenses": "codeLensProvider", "links": "documentLinkProvider",
    "colours": "colorProvider", "formatting": "documentFormattingProvider", "… of a range": "documentRangeFormattingProvider", "… while typing": "documentOnTypeFormattingProvider",
    "rename": "renameProvider", "… prepared": "renameProvider.prepareProvider", "… of files": "workspace.fileOperations.willRename", "folding": "foldingRangeProvider",
    "selection ranges": "selectionRangeProvider", "linked editing": "linkedEditingRangeProvider", "call hierarchy": "callHierarchyProvider", "type hierarchy": "typeHierarchyProvider",
    "semantic tokens": "semanticTokensProvider", "… of a range of it": "semanticTokensProvider.range", "… what changed": "semanticTokensProvider.full.delta",
    "inlay hints": "inlayHintProvider", "inline values": "inlineValueProvider", "monikers": "monikerProvider", "commands": "executeCommandProvider",
    "diagnostics of the workspace": "diagnosticProvider.workspaceDiagnostics", "workspace folders": "workspace.workspaceFolders.supported", "position encoding": "positionEncoding",
}


def features(servers):
    print(f"| | {' | '.join(s.name for s in servers)} |\n|{'---|' * (len(servers) + 1)}")
    columns = []
    for server in servers:
        with tempfile.TemporaryDirectory() as name:
            folder = pathlib.Path(name).resolve()
            path, text = server.language.write(folder, 100)
            session = Session(server, folder, True)
            # Some are announced only afterwards, by registration.
            session.open(path, text)
            registered = set()
            deadline = time.monotonic() + 3
            while time.monotonic() < deadline:
                try:
                    session.client.wait(lambda m: m.get("method") == "client/registerCapability", max(0.1, deadline - time.monotonic()))
                    registered |= {r["method"] for r in session.client.received[-1]["params"]["registrations"]}
                except queue.Empty:
                    break
            columns.append((session.can, registered))
            session.end()
    for row, path in FEATURES.items():
        cells = []
        for can, registered in columns:
            value = can
            for key in path.split("."):
                value = value.get(key) if isinstance(value, dict) else None
            cells.append("–" if value in (None, False) else value if isinstance(value, str) else "yes")
        print(f"| {row} | {' | '.join(cells)} |")
    for server, (_, registered) in zip(servers, columns):
        if registered:
            print(f"{server.name}, registered afterwards: {', '.join(sorted(registered))}")


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("servers", nargs="+")
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--edits", type=int, default=8)
    parser.add_argument("--lines", default="1000,10000")
    parser.add_argument("--features", action="store_true")
    options = parser.parse_args()
    servers = [Server(path) for path in options.servers]
    if options.features:
        return features(servers)
    measure(servers, [int(n) for n in options.lines.split(",")], options.rounds, options.edits)


if __name__ == "__main__":
    main()
