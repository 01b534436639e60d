"""Statistics of a signal at a point, by numpy and scipy.

Standard input: a JSON object with `rate_hz`, `factor` (of oversampling at the analog points), `bus`, `line_out`
(raw float64 files of one channel, to find by how much the analog points are late), `late_back` (frames by
which the return is late) and `points`: a list of `{file, kind: bus|analog|back, volts (of 1.0), levels_dbu}`.
Standard output: a JSON list, for each: `peak_dbu true_peak_dbu p10_dbu p50_dbu p95_dbu max_dbu above_seconds`
(a list, one for each level of `levels_dbu`).

With `loudness`: a list of `{files, late}` instead, `rate_hz`: for each `p10 p50 p95 max` of the short-term
loudness, its filters by pyloudnorm.
"""

import json
import sys

import numpy as np
import pyloudnorm
import scipy.signal


def read(path):
    return np.fromfile(path, dtype="<f8")


def dbu(volts):
    return 20 * np.log10(volts / np.sqrt(0.6)) if volts > 0 else None


def windows(squares, rate):
    """Means over 3 s, every tenth of a second."""
    edges = np.round(np.arange(0, len(squares) / rate * 10 + 1) * rate / 10).astype(int)
    edges = edges[edges <= len(squares)]
    sums = np.concatenate([[0.0], np.cumsum(squares)])
    first, last = edges[:-30], edges[30:]
    return (sums[last] - sums[first]) / (last - first)


def percentiles(readings):
    return np.percentile(readings, [10, 50, 95], method="inverted_cdf").tolist()


def late_samples(bus, line_out, factor):
    """By correlation with the bus as scipy brings it to the higher rate."""
    fast = scipy.signal.resample_poly(bus, factor, 1) if factor > 1 else bus
    count = min(len(fast), len(line_out))
    correlation = scipy.signal.correlate(line_out[:count], fast[:count], method="fft")
    return int(np.argmax(np.abs(correlation))) - (count - 1)


def describe(point, late, rate, factor, frames):
    samples = read(point["file"]) * point["volts"]
    fine = rate * (factor if point["kind"] == "analog" else 1)
    samples = samples[late[point["kind"]] :]
    if point["kind"] != "analog":
        samples = samples[:frames]
    size = np.abs(samples)
    between = scipy.signal.resample_poly(samples, 8, 1)
    true_peak = max(size.max(), np.abs(between).max())
    low, middle, high = percentiles(10 * np.log10(windows(samples**2, fine) / 0.6))
    top = 10 * np.log10(windows(samples**2, fine).max() / 0.6)
    peaks = [np.sqrt(2 * 0.6) * 10 ** (level / 20) for level in point["levels_dbu"]]
    return {
        "late": late[point["kind"]],
        "peak_dbu": dbu(size.max() / np.sqrt(2)),
        "true_peak_dbu": dbu(true_peak / np.sqrt(2)),
        "p10_dbu": low,
        "p50_dbu": middle,
        "p95_dbu": high,
        "max_dbu": top,
        "above_seconds": [float(np.count_nonzero(size > peak) / fine) for peak in peaks],
    }


def loudness(job, rate):
    meter = pyloudnorm.Meter(rate)
    power = 0.0
    for path in job["files"]:
        samples = read(path)[job["late"] :]
        for stage in meter._filters.values():
            samples = stage.passband_gain * scipy.signal.lfilter(stage.b, stage.a, samples)
        power = power + windows(samples**2, rate)
    readings = -0.691 + 10 * np.log10(power)
    low, middle, high = percentiles(readings)
    return {"p10": low, "p50": middle, "p95": high, "max": float(readings.max())}


request = json.load(sys.stdin)
if "loudness" in request:
    answer = [loudness(job, request["rate_hz"]) for job in request["loudness"]]
else:
    bus = read(request["bus"])
    analog = late_samples(bus, read(request["line_out"]), request["factor"])
    late = {"bus": 0, "analog": analog, "back": request["late_back"]}
    frames = len(bus) - request["late_back"]
    rate, factor = request["rate_hz"], request["factor"]
    answer = [describe(point, late, rate, factor, frames) for point in request["points"]]
json.dump(answer, sys.stdout)
