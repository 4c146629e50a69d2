"""All of one circuit's answers: brings modules, relays and fuses to rest, then reads the meter everywhere.

A value that the definition leaves open (a diode without current, a state on its very threshold) is left out, so that
nothing is compared there.
"""

from . import dense, trace
from .dense import Ambiguous

METER = 10e6
CODES = {
    "fed": "F", "grounded": "G", "referenced": "R", "fed via load": "f", "grounded via load": "g", "between": "b",
    "open": "o", "clash": "c",
}
OPEN = object()


def closed(b, phase, energised):
    """Whether a branch conducts as far as its control and its coil go."""
    if b.get("unplugged"):
        return False
    if b.get("pulsed") and phase == "off":
        return b.get("rests", False)
    return (b["coil"] in energised) == b["when"] if b.get("coil") else b["on"]


def lively(circuit, branches):
    """Sets of conducting diodes, living modules and transducers: from all dead upwards."""
    alive, outputs = set(), set()
    for _ in range(30):
        living = [b for b in branches if not b["module"] or b["module"] in alive]
        living = [b for b in living if b["kind"] != "output" or b["name"] in outputs]
        sets = dense.with_diodes(living)
        lives = []
        for s in sets:
            here = with_set(living, s[0])
            all_of_it = here + [b for b in branches if b["kind"] == "output" and b["name"] not in outputs]
            lives.append((trace.living(circuit.modules, here), trace.outputs(all_of_it)))
        if any(l != lives[0] for l in lives):
            raise Ambiguous("a module behind an idle diode")
        if lives[0] == (alive, outputs):
            return living, sets, alive
        alive, outputs = lives[0]
    raise Ambiguous("a module that dies of its own life")


def settle(circuit, phase):
    """Branches that conduct, diodes excepted, in one phase of the pulse: from rest to a fixed point."""
    energised, blown, turning = set(), [], set()
    for _ in range(60):
        branches = [b for b in circuit.branches if closed(b, phase, energised) and b["name"] not in blown]
        branches = [dict(b, ohms=b["turning"]) if b["name"] in turning else b for b in branches]
        conducting, sets, alive = lively(circuit, branches)
        amps = sets[0][2]
        for b in conducting:
            # Ideal diodes side by side share a current in any way: what hangs on the share is no test.
            hangs = b.get("fuse") or b.get("drops_out") or b.get("turning")
            if hangs and agree(s[2][b["name"]] for s in sets) is OPEN:
                raise Ambiguous("a share of a current that nothing decides")
        starting = set()
        for b in conducting:
            if b.get("turning") and b["name"] not in turning:
                least = b.get("threshold") or 0.7 * b["rated"]
                if abs(abs(amps[b["name"]]) / least - 1) < 1e-6:
                    raise Ambiguous("a motor on its threshold")
                if abs(amps[b["name"]]) >= least:
                    starting.add(b["name"])
        if starting:
            turning |= starting
            continue
        over = [(abs(amps[b["name"]]) / b["fuse"], b["name"]) for b in conducting if b.get("fuse")]
        over = [(x, name) for x, name in over if x > 1.3]
        if any(1.34 < x < 1.36 for x, _ in over):
            raise Ambiguous("a fuse on its limit")
        over = [(x, name) for x, name in over if x > 1.35]
        next_coils = set()
        for b in circuit.branches:
            if b.get("drops_out"):
                here = abs(amps.get(b["name"], 0.0))
                least = b["drops_out"] if b["name"] in energised else b["threshold"]
                if abs(here / least - 1) < 1e-6:
                    raise Ambiguous("a relay on its limit")
                if here >= least:
                    next_coils.add(b["name"])
        if next_coils != energised:
            energised, turning = next_coils, set()
            continue
        if over:
            worst = sorted(x for x, _ in over)[-2:]
            if len(worst) == 2 and worst[1] - worst[0] < 1e-6:
                raise Ambiguous("two fuses of one load")
            here = [with_set(conducting, s[0]) for s in sets]
            if any("clash" in trace.states(h, sorted(set(circuit.node_of.values()))).values() for h in here):
                raise Ambiguous("a fuse beside a short circuit that leaves it nothing")
            blown.append(max(over)[1])
            energised, turning = set(), set()
            continue
        # What has pulled in or begun to turn operates, whatever it carries now.
        return conducting, sets, alive, blown, turning | energised
    raise Ambiguous("a circuit that does not settle")


def with_set(conducting, diodes):
    return [b for b in conducting if b["kind"] != "diode" or b["name"] in diodes]


def agree(values):
    """The one value that all have, or OPEN."""
    values = list(values)
    first = values[0]
    for v in values[1:]:
        same = v == first if not (isinstance(v, float) and isinstance(first, float)) else abs(v - first) < 1e-9
        if not same:
            return OPEN
    return first


def phase_answer(circuit, phase, nodes, metered=True):
    conducting, sets, alive, blown, going = settle(circuit, phase)
    state_sets = [trace.states(with_set(conducting, s[0]), nodes) for s in sets]
    states = {n: agree(s[n] for s in state_sets) for n in nodes}
    unloaded = {n: agree(s[1].get(n) for s in sets) for n in nodes}
    # What floats behind a diode without a current, or stands there at its drop: the definition says neither.
    states.update({n: OPEN for n in nodes if len({s[1].get(n) is None for s in sets}) > 1})
    amps = {b["name"]: 0.0 for b in circuit.branches}
    amps.update({name: agree(s[2][name] for s in sets) for name in sets[0][2]})
    volts = {}
    for n in nodes if metered else []:
        meter = dict(name="meter", a=n, b="0", kind="r", ohms=METER, load=True, module=None, on=True)
        read = dense.with_diodes(conducting + ([meter] if n != "0" else []))
        volts[n] = agree(s[1].get(n, 0.0) for s in read)
    clash = any(s == "clash" for s in states.values())
    for b in conducting:
        # One supply reached directly and over a diode's drop: loads between, current flows, and yet only a supply. The
        # definition says both `between` and `fed via load`.
        value = amps[b["name"]]
        if metered and (value is OPEN or abs(value) > 1e-9):
            for n in (b["a"], b["b"]):
                states[n] = OPEN if states.get(n) == "fed via load" else states.get(n)
    news = True
    while news:  # what hangs there without a current has the state of what it hangs on
        news = False
        for b in conducting:
            ends = (b["a"], b["b"])
            if any(states.get(n) is OPEN for n in ends):
                for n in ends:
                    if states.get(n) == "fed via load":
                        states[n], news = OPEN, True
    return dict(states=states, unloaded=unloaded, volts=volts, amps=amps, alive=alive, blown=blown, clash=clash,
                going=going)


def word(branch, amps, goes):
    """What a load does with this mean current. `goes`: it has pulled in, or begun to turn."""
    at = branch.get("threshold") or 0.7 * branch["rated"]
    weak = 0.2 * (branch.get("threshold") or branch["rated"])
    here = abs(amps)
    if not goes and min(abs(here / at - 1), abs(here / weak - 1)) < 1e-6:
        return OPEN
    if here >= at or goes:
        if branch.get("directed"):
            return "operates forward" if amps > 0 else "operates reverse"
        return "operates"
    return "weak" if here >= weak else "rests"


def mean(on, off, duty):
    if on is OPEN or off is OPEN or on is None or off is None:
        return on if on is off else OPEN
    return duty * on + (1 - duty) * off


def answer(circuit, duty=None, numeric=True):
    """Expected values by name of point, element and device. Raises Ambiguous where the circuit is no good test."""
    nodes = sorted(set(circuit.node_of.values()))
    on = phase_answer(circuit, "on", nodes, numeric)
    off = phase_answer(circuit, "off", nodes, numeric) if duty is not None else on
    share = 1.0 if duty is None else duty
    if numeric and (on["clash"] or off["clash"]):
        raise Ambiguous("a clash has no volts")
    if on["blown"] != off["blown"] or on["alive"] != off["alive"]:
        raise Ambiguous("fuses and modules differ over the pulse")
    amps = {b["name"]: mean(on["amps"][b["name"]], off["amps"][b["name"]], share) for b in circuit.branches}
    result = {"points": {}, "amps": {}, "devices": {}, "blown": on["blown"], "alive": sorted(on["alive"])}
    for point in circuit.points:
        node = circuit.node_of[point]
        # State, volts with the meter, volts without it where that is not the same.
        entry = [CODES[on["states"][node]] if on["states"][node] is not OPEN else "?"]
        if numeric:
            volts = mean(on["volts"][node], off["volts"][node], share)
            bare = mean(on["unloaded"][node], off["unloaded"][node], share)
            entry += ["?" if v is OPEN else v for v in (volts, bare)]
        result["points"][point] = entry
    if numeric:
        bare = lambda n: mean(on["unloaded"][n], off["unloaded"][n], share)
        result["inputs"] = {}
        for node, ground in circuit.inputs:
            here, base = bare(node), bare(ground)
            if here is None or base is None:
                result["inputs"][node] = None
            elif here is not OPEN and base is not OPEN:
                result["inputs"][node] = here - base
        for b in circuit.branches:
            value = amps[b["name"]]
            if value is not OPEN and b.get("label", True):
                result["amps"][b["name"]] = value
        for device, elements in circuit.devices.items():
            branch = next(b for b in circuit.branches if b["name"] == elements[0])
            value = amps[branch["name"]]
            state = OPEN if value is OPEN else word(branch, value, branch["name"] in on["going"])
            if state is not OPEN:
                result["devices"][device] = state
    return result
