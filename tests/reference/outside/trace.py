"""Node states from the definition (computation.md, decisions 18 to 23), with networkx."""

import networkx as nx

STATES = {(True, True): "between", (True, False): "fed via load", (False, True): "grounded via load", (False, False): "open"}


def graphs(branches):
    """Two directed graphs of continuity without loads: the way a source spreads, and the way a ground does."""
    source, ground = nx.DiGraph(), nx.DiGraph()
    for b in branches:
        for graph in (source, ground):
            graph.add_nodes_from((b["a"], b["b"]))
        if b["load"] or b["kind"] == "source":
            continue
        source.add_edge(b["a"], b["b"])
        ground.add_edge(b["b"], b["a"])
        if b["kind"] != "diode":
            source.add_edge(b["b"], b["a"])
            ground.add_edge(b["a"], b["b"])
    return source, ground


def reached(graph, start):
    return nx.descendants(graph, start) | {start} if start in graph else {start}


def spread(branches):
    """For each node the set of potentials it has continuity to: ("supply", volts), ("reference", volts), "ground".

    The common ground, with the studs that are one with it, is what all volts are told against: it stays at its potential whatever is joined to it, so that no
    other potential passes through it. A short clashes where it is, and not at every ground stud of the machine.
    """
    source, ground = graphs(branches)
    studs = {b["a"] for b in branches if b["kind"] == "joint" and b["b"] == "0"}
    source.remove_nodes_from({"0"} | studs)
    potentials = {}
    for b in branches:
        if b["kind"] == "source":
            for node in reached(source, b["b"]):
                # Of a supply on another one, both together.
                potentials.setdefault(node, set()).add((b["origin"], b.get("potential", b["volts"])))
    for node in reached(ground, "0"):
        potentials.setdefault(node, set()).add("ground")
    return potentials


def living(modules, branches):
    """Modules whose described feed reaches a supply and whose described ground reaches ground."""
    potentials = spread(branches)
    alive = set()
    for name, (feeds, grounds) in modules.items():
        fed = not feeds or any(isinstance(p, tuple) and p[0] == "supply" for f in feeds for p in potentials.get(f, ()))
        grounded = not grounds or any("ground" in potentials.get(g, ()) for g in grounds)
        if fed and grounded:
            alive.add(name)
    return alive


def outputs(branches):
    """Transducers that have a supply or reference and a ground."""
    potentials = spread(branches)
    fed = lambda n: any(isinstance(p, tuple) for p in potentials.get(n, ()))
    grounded = lambda n: "ground" in potentials.get(n, ())
    return {b["name"] for b in branches if b["kind"] == "output" and fed(b["feed"]) and grounded(b["a"])}


def states(branches, nodes):
    """The state of each node. `branches` are those that conduct."""
    potentials = spread(branches)
    result = {}
    # Ways through loads end at nets that have a potential. A source is looked for against the current, a ground with it.
    to_source, to_ground = nx.DiGraph(), nx.DiGraph()
    for b in branches:
        if b["kind"] == "source":
            continue
        ends = [(b["a"], b["b"], False), (b["b"], b["a"], True)]
        if b["kind"] == "output":  # it hangs on what feeds it as on its return, each through the load that it is
            ends += [(b["feed"], b["b"], False), (b["b"], b["feed"], True)]
        for a, z, back in ends:
            if a in potentials:
                continue
            diode = b["kind"] == "diode"
            if not diode or back:
                to_source.add_edge(a, z)
            if not diode or not back:
                to_ground.add_edge(a, z)
    for node in nodes:
        here = potentials.get(node, set())
        if here:
            values = {p if p == "ground" else p[1] for p in here}
            if len(values) > 1:
                result[node] = "clash"
            elif "ground" in here:
                result[node] = "grounded"
            else:
                result[node] = "fed" if any(p[0] == "supply" for p in here) else "referenced"
            continue
        sources = {p[1] for n in reached(to_source, node) for p in potentials.get(n, ()) if p != "ground"}
        grounded = any("ground" in potentials.get(n, ()) for n in reached(to_ground, node))
        # Two sources of different volts with loads between: current flows.
        result[node] = "between" if len(sources) > 1 else STATES[bool(sources), grounded]
    return result
