#!/usr/bin/env python3
"""How long the language server takes, driven over stdio: `latency.py KEYON [LINES ...]`.

For files of 1,000, 10,000 and 50,000 lines: opening to first findings; each keystroke to the findings of that version, where a zero
is typed behind a wire's gauge and taken back (nothing that flows changes), where a digit of a wire's length is (every current
does), and where a letter is typed behind the name of a point, by which the wire leads nowhere: until that is shown, and until all is
judged; hover, completion, semantic tokens and symbols, each asked right behind an edit; peak memory. Median and 95th percentile,
milliseconds.
"""

import pathlib
import re
import statistics
import sys
import tempfile
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent))
sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "server"))
import libraries
from client import Client


def spread(times):
    times = sorted(times)
    return f"{statistics.median(times) * 1e3:8.1f} {times[int(len(times) * 0.95)] * 1e3:8.1f}"


def measure(keyon, lines):
    with tempfile.TemporaryDirectory() as folder:
        root = pathlib.Path(folder) / "library"
        libraries.library(root, 1, lines)
        path = max(root.rglob("*.keyon"), key=lambda p: p.stat().st_size)
        text = path.read_text()
        client = Client(keyon)
        client.initialize(initializationOptions={"debounce": 0})
        uri = path.resolve().as_uri()
        start = time.perf_counter()
        client.open(uri, text)
        first = client.diagnostics(uri, 1)
        opened = time.perf_counter() - start
        rows = text.split("\n")
        wires = [i for i, row in enumerate(rows) if row.startswith("wire") and " mm2 " in row]
        length = re.compile(r"\d+\.\d+(?= m( |$))")
        version, keystrokes, values = 1, [], []
        asked = {name: [] for name in ["hover", "completion", "semanticTokens/full", "documentSymbol"]}
        rounds = 30 if lines <= 10_000 else 10

        def edit(line, typed, digit="0"):
            nonlocal version
            version += 1
            column = rows[line].index("mm2") - 1 if digit == "0" else length.search(rows[line]).end()
            end = column if typed else column + 1
            span = {"start": {"line": line, "character": column}, "end": {"line": line, "character": end}}
            change = {"range": span, "text": digit if typed else ""}
            client.notify("textDocument/didChange", {"textDocument": {"uri": uri, "version": version}, "contentChanges": [change]})

        def settle(line):
            client.ask("textDocument/codeAction", {"textDocument": {"uri": uri}, "range": {"start": {"line": line, "character": 0}, "end": {"line": line, "character": 1}}, "context": {"diagnostics": []}})

        for n in range(2 * rounds):
            line = wires[(n * 7919) % len(wires)]
            times, digit = (keystrokes, "0") if n < rounds else (values, str(1 + n % 9))
            for typed in [True, False]:
                start = time.perf_counter()
                edit(line, typed, digit)
                # Findings are published when they differ; a request behind the edit is answered from the same state.
                settle(line)
                times.append(time.perf_counter() - start)
        named = [i for i in wires if ".1 " in rows[i]]
        shown, judged = [], []

        for n in range(rounds):
            line = named[(n * 7919) % len(named)]
            column = rows[line].index(".1 ")
            for letter in ["x", ""]:
                version += 1
                span = {"start": {"line": line, "character": column}, "end": {"line": line, "character": column + (letter == "")}}
                start = time.perf_counter()
                client.notify("textDocument/didChange", {"textDocument": {"uri": uri, "version": version}, "contentChanges": [{"range": span, "text": letter}]})
                client.diagnostics(uri, version)
                shown.append(time.perf_counter() - start)
                settle(line)
                judged.append(time.perf_counter() - start)
        for n in range(rounds):
            line = wires[(n * 104729) % len(wires)]
            for name in asked:
                edit(line, True)
                start = time.perf_counter()
                params = {"textDocument": {"uri": uri}}
                if name in ("hover", "completion"):
                    params["position"] = {"line": line, "character": rows[line].index("->") + 4}
                client.ask(f"textDocument/{name}", params)
                asked[name].append(time.perf_counter() - start)
                edit(line, False)
        peak = max(int(row.split()[1]) for row in open(f"/proc/{client.process.pid}/status") if row.startswith("VmHWM")) / 1024
        client.process.kill()
        print(f"{lines:7} {len(first):4} {opened * 1e3:8.0f} | {spread(keystrokes)} | {spread(values)} | {spread(shown)} | {spread(judged)} | " + " | ".join(spread(asked[n]) for n in asked) + f" | {peak:6.0f}", flush=True)


def main():
    keyon = sys.argv[1]
    print("  lines find    open | keystroke p95     | new value p95     | name shown p95    | name judged p95   | hover p95         | completion p95    | tokens p95        | symbols p95       |   MiB")
    for lines in [int(n) for n in sys.argv[2:]] or [1_000, 10_000, 50_000]:
        measure(keyon, lines)


if __name__ == "__main__":
    main()
