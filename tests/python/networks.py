"""Analyses pads with scikit-rf.

Standard input: a JSON list of pads, each with `r1_ohms r2_ohms r3_ohms` (the equivalent unbalanced
T) or with `shunt_in_ohms series_ohms shunt_out_ohms` (a pi), `source_ohms` and `load_ohms`. Standard output: a JSON list of what scikit-rf makes of them.
Source: scikit-rf's networks, cascades and renormalisation; no formula of an attenuator is used here.
"""

import json
import sys

import numpy as np
import skrf
from skrf.media import DefinedGammaZ0

BAND = skrf.Frequency(1000, 1000, 1, unit="Hz")


def decibels(ratio):
    return 20 * np.log10(abs(ratio))


def analyse(pad):
    source, load = pad["source_ohms"], pad["load_ohms"]
    # A reference impedance near the pad's own keeps the S-parameters well conditioned.
    reference = np.sqrt(source * load)
    line = DefinedGammaZ0(BAND, z0=reference, gamma=0)

    def series(ohms):
        return line.resistor(ohms)

    def one_port(ohms):
        return line.resistor(ohms) ** line.short()

    def shunt(ohms):
        return line.shunt(one_port(ohms))

    if "series_ohms" in pad:
        network = (
            shunt(pad["shunt_in_ohms"])
            ** series(pad["series_ohms"])
            ** shunt(pad["shunt_out_ohms"])
        )
    else:
        network = series(pad["r1_ohms"]) ** shunt(pad["r3_ohms"]) ** series(pad["r2_ohms"])
    a, b, c, d = network.a[0].reshape(4).real
    in_ohms = (network ** one_port(load)).z[0, 0, 0].real
    out_ohms = (network.flipped() ** one_port(source)).z[0, 0, 0].real
    # Volts at the input over volts at the load, and the same from the source's EMF.
    loaded = decibels(a + b / load)
    with_source = (series(source) ** network).a[0].real
    unloaded = decibels(with_source[0, 0] + with_source[0, 1] / load)
    matched = network.copy()
    matched.renormalize([np.sqrt(a * b / (c * d)), np.sqrt(d * b / (c * a))])
    return {
        "in_ohms": in_ohms,
        "out_ohms": out_ohms,
        "loss_loaded_db": loaded,
        "loss_unloaded_db": unloaded,
        "loss_matched_power_db": -decibels(matched.s[0, 1, 0]),
        "loss_open_circuit_db": decibels(a),
    }


json.dump([analyse(pad) for pad in json.load(sys.stdin)], sys.stdout)
