"""Measures the noise of recordings from 20 Hz to 20 kHz.

Standard input: a JSON object with `files` (paths) and `settle_seconds`. Standard output: a JSON list,
for the first channel of each file, of the RMS in dBFS (by AES17: a full-scale sine is 0 dBFS).
Source: a discrete Fourier transform (numpy), its lines summed by Parseval's theorem.
"""

import json
import sys

import numpy as np
import soundfile


def measure(path, settle_seconds):
    samples, rate = soundfile.read(path, dtype="float64", always_2d=True)
    noise = samples[int(settle_seconds * rate) :, 0]
    hertz = np.fft.rfftfreq(len(noise), 1 / rate)
    lines = np.abs(np.fft.rfft(noise) / len(noise)) ** 2
    power = 2 * np.sum(lines[(hertz >= 20) & (hertz <= 20_000)])
    return 10 * np.log10(2 * power)


request = json.load(sys.stdin)
json.dump([measure(path, request["settle_seconds"]) for path in request["files"]], sys.stdout)
