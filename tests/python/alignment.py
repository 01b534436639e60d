"""Measures by how many frames one file lags another, and with which polarity.

Standard input: a JSON list of `[reference, other]` paths of equal length. Standard output: a JSON
list of `{lag_frames, sign}` for the first channel: the place of the largest magnitude of their
cross-correlation (numpy.fft, 16 points a frame, then a parabola through three of them), positive when
the second file is late, and whether the correlation is positive there (+1) or negative (-1).
"""

import json
import sys

import numpy as np
import soundfile

FINE = 16
LONGEST_LAG_FRAMES = 300


def first_channel(path):
    samples, _ = soundfile.read(path, dtype="float64", always_2d=True)
    return samples[:, 0]


def align(pair):
    reference, other = (first_channel(path) for path in pair)
    size = 2 * max(len(reference), len(other))
    spectrum = np.fft.rfft(other, size) * np.conj(np.fft.rfft(reference, size))
    fine = np.fft.irfft(np.append(spectrum, np.zeros(size * (FINE - 1) // 2)), size * FINE)
    reach = LONGEST_LAG_FRAMES * FINE
    near = np.concatenate([fine[-reach:], fine[: reach + 1]])
    top = int(np.argmax(np.abs(near[1:-1]))) + 1
    left, middle, right = np.abs(near[top - 1 : top + 2])
    bend = 0.5 * (left - right) / (left - 2 * middle + right)
    return {"lag_frames": (top - reach + bend) / FINE, "sign": float(np.sign(near[top]))}


json.dump([align(pair) for pair in json.load(sys.stdin)], sys.stdout)
