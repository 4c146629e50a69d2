"""Every message of a long session, in both directions, is one of the protocol's published model (lsprotocol, generated from it);
then hostile and random sequences: no crash, no hang, no wrong state.

    python3 conformity.py KEYON
"""

import pathlib
import random
import sys

import cattrs
from lsprotocol import converters, types

from client import Client

ROOT = pathlib.Path(__file__).resolve().parents[2]
OWN = ("keyon/",)
passed = failed = 0


def check(ok, what):
    global passed, failed
    if ok:
        passed += 1
    else:
        failed += 1
        print(f"FAIL {what}")


def offset_position(text, offset):
    line = text.count("\n", 0, offset)
    start = text.rfind("\n", 0, offset) + 1
    return {"line": line, "character": len(text[start:offset].encode("utf-16-le")) // 2}


def session(keyon, capabilities, seed):
    """Asks everything at many places of the corpus; gives all that was said."""
    chance = random.Random(seed)
    client = Client(keyon)
    announced = client.initialize(capabilities=capabilities)
    for path in sorted((ROOT / "corpus/circuits").glob("*.keyon")) + sorted((ROOT / "corpus/rules").glob("*/wrong.keyon"))[:12]:
        text = path.read_bytes().decode("utf-8")
        uri = path.resolve().as_uri()
        client.open(uri, text)
        document = {"uri": uri}
        whole = {"start": {"line": 0, "character": 0}, "end": offset_position(text, len(text))}
        diagnostics = client.diagnostics(uri, 1)
        for method, params in [
            ("textDocument/documentSymbol", {}), ("textDocument/foldingRange", {}), ("textDocument/codeLens", {}),
            ("textDocument/documentLink", {}), ("textDocument/documentColor", {}), ("textDocument/inlayHint", {"range": whole}),
            ("textDocument/semanticTokens/full", {}), ("textDocument/semanticTokens/range", {"range": whole}),
            ("textDocument/semanticTokens/full/delta", {"previousResultId": "1"}),
            ("textDocument/formatting", {"options": {"tabSize": 2, "insertSpaces": True}}),
            ("textDocument/rangeFormatting", {"range": whole, "options": {"tabSize": 2, "insertSpaces": True}}),
            ("textDocument/codeAction", {"range": whole, "context": {"diagnostics": diagnostics}}),
        ]:
            client.ask(method, {"textDocument": document, **params})
        client.ask("workspace/symbol", {"query": "S1"})
        for _ in range(8):
            position = offset_position(text, chance.randrange(len(text)))
            at = {"textDocument": document, "position": position}
            for method, more in [
                ("textDocument/hover", {}), ("textDocument/definition", {}), ("textDocument/typeDefinition", {}),
                ("textDocument/references", {"context": {"includeDeclaration": True}}), ("textDocument/documentHighlight", {}),
                ("textDocument/completion", {}), ("textDocument/signatureHelp", {}), ("textDocument/prepareRename", {}),
                ("textDocument/linkedEditingRange", {}), ("textDocument/prepareCallHierarchy", {}),
                ("textDocument/onTypeFormatting", {"ch": "\n", "options": {"tabSize": 2, "insertSpaces": True}}),
                ("textDocument/rename", {"newName": "quite_new_name"}),
            ]:
                answer = client.ask(method, {**at, **more})
                if method == "textDocument/prepareCallHierarchy" and answer.get("result"):
                    for item in answer["result"]:
                        client.ask("callHierarchy/incomingCalls", {"item": item})
                        client.ask("callHierarchy/outgoingCalls", {"item": item})
            client.ask("textDocument/selectionRange", {"textDocument": document, "positions": [position]})
        client.notify("textDocument/didClose", {"textDocument": document})
    check(client.end() == 0, "the session ends properly")
    return client, announced


# What the pieces of an answer are, by the request that they answer: the first and the others.
PIECES = {
    "textDocument/references": (list[types.Location], list[types.Location]),
    "workspace/symbol": (list[types.SymbolInformation], list[types.SymbolInformation]),
    "textDocument/diagnostic": (types.RelatedFullDocumentDiagnosticReport, types.DocumentDiagnosticReportPartialResult),
    "workspace/diagnostic": (types.WorkspaceDiagnosticReport, types.WorkspaceDiagnosticReportPartialResult),
}


def pulling(keyon):
    """A client that asks for diagnostics, and for everything in pieces; each piece is held against the model too."""
    client = Client(keyon)
    client.initialize(rootUri=(ROOT / "corpus").resolve().as_uri(), capabilities={"textDocument": {"diagnostic": {}}}, initializationOptions={"diagnostics": "pull"})
    converter = converters.get_converter()
    path = ROOT / "corpus/parts/spray.keyon"
    text, uri = path.read_bytes().decode("utf-8"), path.resolve().as_uri()
    client.open(uri, text)
    circuit = (ROOT / "corpus/circuits/orchard_sprayer.keyon").resolve().as_uri()
    at = offset_position(text, text.index("part boom_valve") + 6)
    pieces = {}
    for method, params in [
        ("textDocument/diagnostic", {"textDocument": {"uri": circuit}}), ("workspace/symbol", {"query": "valve"}),
        ("textDocument/references", {"textDocument": {"uri": uri}, "position": at, "context": {"includeDeclaration": True}}),
        ("workspace/diagnostic", {"previousResultIds": []}),
    ]:
        before = len(client.received)
        rest = client.ask(method, {**params, "partialResultToken": method}, timeout=240)["result"]
        came = [m["params"]["value"] for m in client.received[before:] if m.get("method") == "$/progress" and m["params"]["token"] == method]
        check(came, f"{method}: pieces come before the answer")
        check(rest in ([], {"items": []}) or rest.get("kind") == "unchanged", f"{method}: an empty answer ends them: {str(rest)[:200]}")
        for i, piece in enumerate(came):
            try:
                converter.structure(piece, PIECES[method][min(i, 1)])
                check(True, method)
            except Exception as error:  # whatever the model says against it
                check(False, f"{method}: piece {i}: {error}: {str(piece)[:300]}")
        pieces[method] = came
        if method != "workspace/diagnostic":
            client.ask(method, params)
    reports = [report for piece in pieces["workspace/diagnostic"] for report in piece["items"]]
    known = [{"uri": r["uri"], "value": r["resultId"]} for r in reports]
    held = client.request("workspace/diagnostic", {"previousResultIds": known})
    client.ask("workspace/symbol", {"query": ""})
    check(not any(m.get("id") == held and "result" in m for m in client.received), "nothing is new: the answer is held")
    client.notify("textDocument/didChange", {"textDocument": {"uri": uri, "version": 2}, "contentChanges": [{"text": text + "\npart half"}]})
    news = client.wait(lambda m: m.get("id") == held and "method" not in m, 240)["result"]["items"]
    check([r["uri"] for r in news if r["kind"] == "full" and r["uri"] == uri], "and comes with what changes")
    check(client.end() == 0, "the session with pieces ends properly")
    return client


def validate(client, what, least=500):
    converter = converters.get_converter()
    asked = {}
    counts = [0, 0]
    for direction, messages in enumerate([client.sent, client.received]):
        for message in messages:
            method = message.get("method")
            if method and method.startswith(OWN):
                continue
            if method:
                if "id" in message:
                    asked[message["id"]] = method
                known = types.METHOD_TO_TYPES.get(method)
                if known is None:
                    check(False, f"{what}: {method} is not of the protocol")
                    continue
                kind = known[0]
            else:
                method = asked.get(message["id"])
                if method is None or "error" in message:
                    continue
                kind = types.METHOD_TO_TYPES[method][1]
            try:
                converter.structure(message, kind)
                counts[direction] += 1
            except (cattrs.errors.BaseValidationError, cattrs.errors.StructureHandlerNotFoundError, TypeError, ValueError, KeyError) as error:
                check(False, f"{what}: {method}: {cattrs.transform_error(error)[:2] if hasattr(error, 'exceptions') else error}: {str(message)[:300]}")
    check(counts[0] > least and counts[1] > least, f"{what}: {counts} messages were held against the model")


def hostile(keyon, seed):
    """Random sequences of right and wrong messages. In the end the server answers a plain question rightly."""
    chance = random.Random(seed)
    client = Client(keyon)
    client.initialize()
    text = (ROOT / "corpus/circuits/grain_dryer.keyon").read_text()
    uris = ["untitled:a.keyon", "untitled:b.keyon", "file:///no/such/note.md", "nonsense"]
    methods = sorted(m for m in types.METHOD_TO_TYPES if not m.startswith(("$", "window", "client", "initialize", "shutdown", "exit"))) + ["no/such"]

    def position():
        return chance.choice([
            {"line": chance.randrange(300), "character": chance.randrange(80)}, {"line": 2**31 - 1, "character": 0},
            {"line": 0, "character": 2**31 - 1}, {"line": -1, "character": 0}, {"line": "x"}, None, 7,
        ])

    pending = 0
    for step in range(400):
        uri = chance.choice(uris)
        match chance.randrange(8):
            case 0:
                client.open(uri, chance.choice([text, "", "{" * 500, text[: chance.randrange(len(text))], "\ud83d\ude00".encode("utf-16", "surrogatepass").decode("utf-16") * 50, "circuit a\r\n" * 100]), step)
            case 1:
                span = {"start": position(), "end": position()}
                client.notify("textDocument/didChange", {"textDocument": {"uri": uri, "version": chance.choice([step, -1, 0])}, "contentChanges": chance.choice([[{"text": text}], [{"range": span, "text": "x"}], [], None, [{"range": span, "text": text}]])})
            case 2:
                client.notify("textDocument/didClose", {"textDocument": {"uri": uri}})
            case 3:
                client.notify("$/cancelRequest", {"id": chance.choice([client.number, 99999, "x", None])})
            case 4:
                client.notify(chance.choice(methods), chance.choice([{}, [], None, {"textDocument": {"uri": uri}}]))
            case _:
                params = {"textDocument": {"uri": uri}, "position": position(), "range": {"start": position(), "end": position()}, "context": {"diagnostics": [], "includeDeclaration": True}, "positions": [position()], "newName": "x", "query": "", "options": {"tabSize": 2, "insertSpaces": True}, "ch": "\n", "previousResultId": "0"}
                client.request(chance.choice(methods), chance.choice([params, params, params, {}, [1], None]))
                pending += 1
    plain = "circuit z\nsupply b 12 V\nground G1\nlamp L 5 W 12 V\nwire 1 b -> L.1\nwire 2 L.2 -> G9\n"
    uri = "untitled:plain.keyon"
    client.open(uri, plain)
    found = client.diagnostics(uri, 1)
    check(any(d["code"] == "unknown-name" and d["range"]["start"] == {"line": 5, "character": 14} for d in found), f"after hostile sequence {seed}: {found}")
    check(client.process.poll() is None, f"hostile sequence {seed}: still there")
    check(client.end() == 0, f"hostile sequence {seed}: ends properly")


def main():
    keyon = sys.argv[1]
    rich = {
        "textDocument": {"documentSymbol": {"hierarchicalDocumentSymbolSupport": True}, "publishDiagnostics": {"relatedInformation": True, "versionSupport": True, "codeDescriptionSupport": True, "tagSupport": {"valueSet": [1, 2]}}},
        "workspace": {"didChangeWatchedFiles": {"dynamicRegistration": True}, "inlayHint": {"refreshSupport": True}},
    }
    for what, capabilities in [("a plain client", {}), ("a rich client", rich)]:
        client, _ = session(keyon, capabilities, 7)
        validate(client, what)
    validate(pulling(keyon), "a client that asks for pieces", 8)
    for seed in range(6):
        hostile(keyon, seed)
    print(f"{passed} passed, {failed} failed")
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
