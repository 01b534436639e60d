"""Converts and describes audio files with libsndfile.

Standard input: a JSON object with `convert`, a list of `{from, to, format, subtype}` in libsndfile's
terms (`WAV`/`PCM_24`, `FLAC`/`PCM_16`, `AIFF`/`PCM_16`, ...), done in order, and `describe`, a list of paths.
Standard output: a JSON list, one object for each described path: `frames channels sample_rate_hz
subtype peak rms` (rms over all samples of all channels).
"""

import json
import sys

import numpy as np
import soundfile


def describe(path):
    samples, rate = soundfile.read(path, dtype="float64", always_2d=True)
    return {
        "frames": samples.shape[0],
        "channels": samples.shape[1],
        "sample_rate_hz": rate,
        "subtype": soundfile.info(path).subtype,
        "peak": float(np.max(np.abs(samples), initial=0.0)),
        "rms": float(np.sqrt(np.mean(samples**2))) if samples.size else 0.0,
    }


request = json.load(sys.stdin)
for job in request.get("convert", []):
    samples, rate = soundfile.read(job["from"], dtype="float64", always_2d=True)
    soundfile.write(job["to"], samples, rate, format=job["format"], subtype=job["subtype"])
json.dump([describe(path) for path in request.get("describe", [])], sys.stdout)
