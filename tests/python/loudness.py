"""Measures the integrated loudness of files with pyloudnorm.

Standard input: a JSON list of paths. Standard output: a JSON list of LUFS, `null` for silence.

The filter class is "DeMan": the analogue parameters behind the coefficients that ITU-R BS.1770 prints
for 48 kHz, taken to every sample rate. pyloudnorm's default class rounds them and reads 0.05 LU low at
44.1 kHz and 0.12 LU low at 16 kHz on broadband material.

Only whole steps of 100 ms are measured: BS.1770 leaves out an incomplete gating block at the end,
pyloudnorm (0.2.0) counts it with its missing part as silence.
"""

import json
import math
import sys

import pyloudnorm
import soundfile


def loudness(path):
    samples, rate = soundfile.read(path, dtype="float64")
    step = rate // 10
    whole = samples[: len(samples) // step * step]
    lufs = pyloudnorm.Meter(rate, filter_class="DeMan").integrated_loudness(whole)
    return lufs if math.isfinite(lufs) else None


json.dump([loudness(path) for path in json.load(sys.stdin)], sys.stdout)
