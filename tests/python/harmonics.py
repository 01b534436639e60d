"""Measures the harmonics of a rendered tone.

Standard input: a JSON object with `files` (paths), `hz` (the tone, a whole number of hertz) and
`settle_seconds`. Standard output: a JSON list, for the first channel of each file, of
`fundamental_dbfs` (by AES17: a full-scale sine is 0 dBFS), `harmonics_db` (second to tenth, against
the fundamental) and `thd_percent` (root of the sum of squares of these over the fundamental).
Source: a discrete Fourier transform (numpy) over a whole second, so that every harmonic below half
the sample rate falls on a bin.
"""

import json
import sys

import numpy as np
import soundfile


def measure(path, hz, settle_seconds):
    samples, rate = soundfile.read(path, dtype="float64", always_2d=True)
    start = int(settle_seconds * rate)
    second = samples[start : start + rate, 0]
    assert len(second) == rate, f"{path} is too short"
    amplitudes = np.abs(np.fft.rfft(second)) * 2 / rate
    lines = [amplitudes[n * hz] for n in range(1, 11) if n * hz < rate / 2]
    ratios = np.array(lines[1:]) / lines[0]
    return {
        "fundamental_dbfs": 20 * np.log10(lines[0]),
        "harmonics_db": list(20 * np.log10(np.maximum(ratios, 1e-15))),
        "thd_percent": 100 * np.sqrt(np.sum(ratios**2)),
    }


request = json.load(sys.stdin)
json.dump(
    [measure(path, request["hz"], request["settle_seconds"]) for path in request["files"]],
    sys.stdout,
)
