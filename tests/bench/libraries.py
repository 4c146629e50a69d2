#!/usr/bin/env python3
"""Writes libraries of invented circuits for measuring: `libraries.py FOLDER FILES LINES`.

Each file is one circuit of about LINES lines, with the mix that hand-written ones have: a key, fuses, splices, switched and driven
loads, sensors on a module, comments, scenarios, expectations. Every block is sound, so that a checker has to look at all
of it and finds nothing. The same arguments give the same bytes.
"""

import pathlib
import sys

PARTS = """# Parts of the benchmark circuits. All values are invented.

part key_switch "Key switch" {
  pins B, R
  positions off, run
  contact B -> R  closed in run
}

part valve(coil: resistance = 24 ohm) "Valve" {
  pins 1, 2
  coil 1 -> 2  coil  rated 12 V
}

part sweep_sensor(ends: resistance = 5 kohm) "Three-wire sensor" {
  pins 1, 2, 3
  track 1 -> 3  ends  wiper 2  travel 5 .. 95 %
}

part ntc_sensor "Two-wire temperature sensor" {
  pins 1, 2
  thermistor 1 -> 2  2.5 kohm at 25 degC  beta 3500 K  span -20 .. 90 degC
}
"""

# One block: two driven valves, a switched lamp, two sensors, one module of its own. 44 lines.
BLOCK = """
# Station {n}: two valves, a lamp, a level and a temperature.

fuse   F{n}  key.R -> S{n}  10 A
splice S{n}  where "in the loom of station {n}"
splice R{n}  shared by level{n}, temp{n}

device left{n}  "Left valve {n}"  : valve                    where "left arm of station {n}"
device right{n} "Right valve {n}" : valve(coil = {ohm} ohm)  where "right arm of station {n}"
device level{n} "Level {n}"       : sweep_sensor
device temp{n}  "Temperature {n}" : ntc_sensor
switch arm{n}   "Lamp switch {n}"
lamp   lamp{n}  "Station lamp {n}"  10 W 12 V

wire {n}01  S{n} -> left{n}.1      0.75 mm2  OG     2.{d} m
wire {n}02  S{n} -> right{n}.1     0.75 mm2  OG     1.{d} m
wire {n}03  left{n}.2 -> U{n}.A.3  0.75 mm2  OG/BK  2.1 m   # to its driver
wire {n}04  right{n}.2 -> U{n}.A.4 0.75 mm2  OG/WH  2.6 m
wire {n}05  S{n} -> U{n}.A.1       1.0 mm2   RD     0.8 m
wire {n}06  U{n}.A.2 -> G1         1.5 mm2   BK     0.6 m
wire {n}07  S{n} -> arm{n}.1       0.75 mm2  VT     0.4 m
wire {n}08  arm{n}.2 -> lamp{n}.1  0.75 mm2  VT/WH  0.9 m
wire {n}09  lamp{n}.2 -> G1        0.75 mm2  BK     1.2 m
wire {n}10  U{n}.A.5 -> level{n}.1 0.5 mm2   GY     2.2 m
wire {n}11  U{n}.A.6 -> R{n}       0.5 mm2   BN     1.4 m
wire {n}12  R{n} -> level{n}.3     0.5 mm2   BN     0.8 m
wire {n}13  R{n} -> temp{n}.2      0.5 mm2   BN     1.1 m
wire {n}14  level{n}.2 -> U{n}.A.7 0.5 mm2   GN     2.2 m
wire {n}15  temp{n}.1 -> U{n}.A.8  0.5 mm2   YE     2.5 m

module U{n} "Station unit {n}" {{
  connector A "8-way grey" {{
    1  bplus{n}  feed
    2  gnd{n}    ground
    3  left_cmd{n}   drives low  on 120 mohm  limit 2 A  clamp
    4  right_cmd{n}  drives low  on 120 mohm  limit 2 A  clamp
    5  vref{n}   reference 5 V  inner 5 ohm  limit 50 mA
    6  lo_ref{n} return  shared by level{n}, temp{n}
    7  level_in{n}  senses  pull_down 220 kohm
    8  temp_in{n}   senses  pull_up 2.2 kohm to 5 V
  }}
}}
"""

HEAD = """circuit {name} "Benchmark circuit"

use "parts.keyon"

supply battery  12.6 V  inner 15 mohm  range 11.0 .. 14.8 V
ground G1 "rear stud"
device key : key_switch
fuse   F0  battery -> key.B  {fuse} A
"""

TAIL = """
scenario ready    "Key on" { key run }
scenario spraying "First left valve on" { key run, left_cmd1 on }

expect in ready {
  left1  rests
}

expect in spraying {
  left1   operates
  right1  rests
}
"""


def circuit(name: str, lines: int) -> str:
    fixed = len((HEAD + TAIL).splitlines())
    blocks = max(1, round((lines - fixed) / len(BLOCK.splitlines())))
    rating = next((r for r in (30, 40, 60, 80, 100, 200, 500) if r >= 4 * blocks), 500)
    text = [HEAD.format(name=name, fuse=rating)]
    text += [BLOCK.format(n=n, d=n % 10, ohm=20 + n % 9) for n in range(1, blocks + 1)]
    return "".join(text) + TAIL


def library(folder: pathlib.Path, files: int, lines: int) -> int:
    """Writes the library and returns its lines."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "parts.keyon").write_text(PARTS)
    total = len(PARTS.splitlines())
    for i in range(1, files + 1):
        text = circuit(f"bench_{i}", lines)
        (folder / f"bench_{i}.keyon").write_text(text)
        total += len(text.splitlines())
    return total


if __name__ == "__main__":
    print(library(pathlib.Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])), "lines")
