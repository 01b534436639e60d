"""Judges half-band filters by scipy.

Standard input: a JSON list of objects with `taps`, `rate_hz` (the lower rate), `pass_hz` and
`stop_band_db` (what the Kaiser window was designed for). Standard output, for each: the largest
difference from scipy.signal.firwin with scipy's own Kaiser beta, and by scipy.signal.freqz the
stop-band in dB and the pass-band error in dB.
"""

import json
import sys

import numpy as np
from scipy import signal


def judge(filter):
    taps = np.array(filter["taps"])
    high = 2 * filter["rate_hz"]
    beta = signal.kaiser_beta(filter["stop_band_db"])
    firwin = signal.firwin(len(taps), 0.5, window=("kaiser", beta), scale=False)
    stop_hz = filter["rate_hz"] - filter["pass_hz"]
    _, stop = signal.freqz(taps, worN=np.linspace(stop_hz, high / 2, 20001), fs=high)
    _, passed = signal.freqz(taps, worN=np.linspace(20, filter["pass_hz"], 20001), fs=high)
    return {
        "difference": float(np.max(np.abs(taps - firwin))),
        "stop_db": float(20 * np.log10(np.max(np.abs(stop)))),
        "pass_error_db": float(np.max(np.abs(20 * np.log10(np.abs(passed))))),
    }


json.dump([judge(filter) for filter in json.load(sys.stdin)], sys.stdout)
