"""Judges renders against golden clips.

Standard input: a JSON object with `folder` (of the clips) and `pairs`, a list of objects with `name`,
`render` (a mono WAV), `full_scale_volts` (peak volts of its full scale) and `hz` (of a tone, else null).
Standard output: a JSON list, an object for each pair:
  null_db       RMS of the difference over that of the clip, both from the clip's first frame to its
                last and through the same filter below
  level_db      RMS of the render over that of the clip, likewise
  harmonics     for a tone, of orders 2 to 5: `order`, `clip_db`, `render_db` re their own fundamental
"""

import json
import pathlib
import sys

import numpy as np
import soundfile
from scipy import signal

RATE = 48_000


def limiter():
    """Linear phase, nothing from 20 kHz on; beyond that the two sides never were the same."""
    length, beta = signal.kaiserord(140, 500 / (RATE / 2))
    return signal.firwin(length | 1, 19_750, window=("kaiser", beta), fs=RATE)


LIMITER = limiter()


def limited(samples):
    """All of it: what surrounds a clip is silence on both sides."""
    return signal.oaconvolve(samples, LIMITER)


def decibels(ratio):
    return float(20 * np.log10(max(ratio, 1e-15)))


def rms(samples):
    return np.sqrt(np.mean(samples**2))


def harmonics(samples, hz):
    """Levels of orders 2 to 5 in whole periods at the end, after the slow start has faded."""
    periods = 200 if hz == 1000 else 6
    part = samples[-round(periods * RATE / hz) :]
    window = signal.windows.blackmanharris(len(part), sym=False)
    bins = np.abs(np.fft.rfft(part * window))
    return [decibels(bins[order * periods] / bins[periods]) for order in range(2, 6)]


def judge(folder, pair):
    clip = np.fromfile(folder / f"{pair['name']}.f32", "<f4").astype("f8")
    samples, rate = soundfile.read(pair["render"], dtype="float64")
    assert rate == RATE and samples.ndim == 1 and len(samples) >= len(clip)
    render = samples[: len(clip)] * pair["full_scale_volts"]
    answer = {
        "name": pair["name"],
        "null_db": decibels(rms(limited(render - clip)) / rms(limited(clip))),
        "level_db": decibels(rms(limited(render)) / rms(limited(clip))),
        "harmonics": [],
    }
    if pair["hz"]:
        both = zip(harmonics(clip, pair["hz"]), harmonics(render, pair["hz"]))
        orders = enumerate(both, 2)
        answer["harmonics"] = [{"order": n, "clip_db": a, "render_db": b} for n, (a, b) in orders]
    return answer


request = json.load(sys.stdin)
folder = pathlib.Path(request["folder"])
json.dump([judge(folder, pair) for pair in request["pairs"]], sys.stdout)
