"""Buys resistors for pads by trying everything.

Standard input: a JSON list of designs: `network`, `ideal` (values from left to right as drawn, of one leg),
`source_ohms load_ohms loss_db in_ohms out_ohms` and `exact`. Standard output: for each the cheapest values
and their cost. Every value of E96 within 30 % of the ideal one is tried with every other; what a pad does is
computed here by series and parallel resistances alone. Source of the series: IEC 60063 (E96 is
10^(i/96) rounded to two decimals).
"""

import itertools
import json
import sys

import numpy as np

E96 = [round(10 ** (i / 96), 2) for i in range(96)]
VALUES = np.array([m * 10.0**d for d in range(-2, 7) for m in E96])
LEGS = {"H": 2, "U": 2, "O": 2, "T": 1, "L": 1, "pi": 1}


def beside(a, b):
    return a * b / (a + b)


def behaviour(network, values, source, load):
    """Loss from terminal to load in dB, input and output impedance."""
    legs = LEGS[network]
    if network in "HT":
        one, shunt, two = legs * values[0], values[1], legs * values[2]
    elif network in "UL":
        one, shunt, two = legs * values[0], values[1], 0.0
    else:
        first, series, last = values[0], legs * values[1], values[2]
        inner = beside(last, load)
        input_ohms = beside(first, series + inner)
        output_ohms = beside(last, series + beside(first, source))
        return 20 * np.log10((series + inner) / inner), input_ohms, output_ohms
    branch = two + load
    joint = beside(shunt, branch)
    loss = 20 * np.log10((one + joint) / joint * branch / load)
    return loss, one + joint, two + beside(shunt, one + source)


def cheapest(design):
    network = design["network"]
    tried = [VALUES[np.abs(VALUES / ideal - 1) <= 0.3] for ideal in design["ideal"]]
    grid = np.meshgrid(*tried, indexing="ij")
    loss, input_ohms, output_ohms = behaviour(
        network, grid, design["source_ohms"], design["load_ohms"]
    )
    cost = ((loss - design["loss_db"]) / 0.1) ** 2
    off = np.log(input_ohms / design["in_ohms"])
    if not design["exact"]:
        off = np.minimum(off, 0.0)
    cost = cost + (off / 0.05) ** 2
    if not (design["exact"] and network in "UL"):
        cost = cost + (np.log(output_ohms / design["out_ohms"]) / 0.05) ** 2
    best = np.unravel_index(np.argmin(cost), cost.shape)
    return {"cost": float(cost[best]), "values": [float(axis[best]) for axis in grid]}


assert len(set(E96)) == 96 and all(a < b for a, b in itertools.pairwise(E96))
json.dump([cheapest(design) for design in json.load(sys.stdin)], sys.stdout)
