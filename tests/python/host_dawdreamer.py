"""Runs the VST3 in DawDreamer (on JUCE) as told on standard input; prints what came of it.

{"bundle": path, "jobs": [job, ...]}, a job being {"block": frames, "input": WAV, "output": WAV,
"steps": [[frame, {name: 0..1}], ...]}: a fresh instance gets the whole audio, with the values of
each step from its frame on as automation (a step at frame 0 sets them before). The result is
written as 32-bit float, as late as the plugin. Answers for each job the texts of all parameters
after it and the latency in frames.
"""

import json
import sys

import dawdreamer
import numpy
import soundfile


def automate(plugin, numbers, steps, frames):
    for name, number in numbers.items():
        curve = numpy.full(frames, plugin.get_parameter(number), dtype=numpy.float32)
        moves = [(frame, values[name]) for frame, values in steps if name in values]
        for frame, value in moves:
            curve[frame:] = value
            if frame == 0:
                plugin.set_parameter(number, value)
        if any(frame > 0 for frame, _ in moves):
            plugin.set_automation(number, curve)


def done(bundle, job):
    audio, rate = soundfile.read(job["input"], dtype="float32", always_2d=True)
    frames, channels = audio.shape
    engine = dawdreamer.RenderEngine(rate, job["block"])
    plugin = engine.make_plugin_processor("plugin", bundle)
    if not plugin.can_set_bus(channels, channels):
        raise ValueError(f"the plugin does not take {channels} channels")
    plugin.set_bus(channels, channels)
    count = plugin.get_plugin_parameter_size()
    numbers = {plugin.get_parameter_name(number): number for number in range(count)}
    automate(plugin, numbers, job["steps"], frames)
    source = engine.make_playback_processor("source", numpy.ascontiguousarray(audio.T))
    engine.load_graph([(source, []), (plugin, ["source"])])
    engine.render(frames / rate)
    result = engine.get_audio().T[:frames]
    soundfile.write(job["output"], result, int(rate), subtype="FLOAT")
    return {
        "texts": {name: plugin.get_parameter_text(number) for name, number in numbers.items()},
        "latency": plugin.get_latency_samples(),
    }


def main():
    task = json.load(sys.stdin)
    print(json.dumps({"jobs": [done(task["bundle"], job) for job in task["jobs"]]}))


main()
