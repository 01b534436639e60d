"""Runs the VST3 in pedalboard (on JUCE) as told on standard input; prints what came of it.

{"bundle": path, "jobs": [job, ...]}, a job being {"block": frames, "state": base64,
"phases": [{"values": {name: 0..1}, "input": WAV, "output": WAV}, ...]}: a fresh instance takes the
state, then for each phase the values and then the audio in blocks, never reset between. Results
are written as 32-bit float, as late as the plugin. Everything but "phases" and "block" may be left
out. Answers for each job the texts of all parameters, the latency in frames and the state.
"""

import base64
import json
import sys

import numpy
import pedalboard
import soundfile


def run(plugin, phase, block):
    audio, rate = soundfile.read(phase["input"], dtype="float32", always_2d=True)
    # Without a reset pedalboard takes no latency off.
    pieces = [
        plugin.process(
            numpy.ascontiguousarray(audio[start : start + block].T),
            rate,
            buffer_size=block,
            reset=False,
        )
        for start in range(0, len(audio), block)
    ]
    if "output" in phase:
        result = numpy.concatenate(pieces, axis=1).T
        soundfile.write(phase["output"], result, rate, subtype="FLOAT")


def done(bundle, job):
    plugin = pedalboard.load_plugin(bundle)
    if "state" in job:
        plugin.raw_state = base64.b64decode(job["state"])
    by_name = {parameter.name: parameter for parameter in plugin.parameters.values()}
    for phase in job["phases"]:
        for name, value in phase.get("values", {}).items():
            by_name[name].raw_value = value
        if "input" in phase:
            run(plugin, phase, job["block"])
    return {
        "texts": {name: parameter.string_value for name, parameter in by_name.items()},
        "latency": plugin.reported_latency_samples,
        "state": base64.b64encode(plugin.raw_state).decode("ascii"),
    }


def main():
    task = json.load(sys.stdin)
    answer = {"version": pedalboard.__version__}
    answer["jobs"] = [done(task["bundle"], job) for job in task["jobs"]]
    print(json.dumps(answer))


main()
