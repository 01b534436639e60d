"""Keeps the VST3's window open in pedalboard (on JUCE) as told, while sound runs through it.

Argument: the bundle. Standard input, a command a line: `open`; `close`; `text NAME`, answered by the
parameter's value in words; `frames`, answered by how many have passed. `open` is answered by `closed` once
the window is closed. Ends with its input.
"""

import queue
import sys
import threading
import time

import numpy as np
import pedalboard

RATE_HZ = 48000
BLOCK_FRAMES = 480


class Sound(threading.Thread):
    """Runs noise through the plugin at the pace of the clock."""

    def __init__(self, plugin):
        super().__init__(daemon=True)
        self.plugin = plugin
        self.frames = 0

    def run(self):
        noise = np.random.default_rng(1).standard_normal((2, BLOCK_FRAMES)) * 0.1
        noise = noise.astype(np.float32)
        while True:
            self.plugin.process(noise, RATE_HZ, BLOCK_FRAMES, reset=False)
            self.frames += BLOCK_FRAMES
            time.sleep(0.008)


def say(text):
    print(text, flush=True)


def listen(plugin, sound, wanted, close):
    named = {parameter.name: parameter for parameter in plugin.parameters.values()}
    for line in sys.stdin:
        command, _, name = line.strip().partition(" ")
        if command == "open":
            wanted.put(True)
        elif command == "close":
            close.set()
        elif command == "text":
            say(named[name].string_value)
        elif command == "frames":
            say(sound.frames)
    wanted.put(False)
    close.set()


def main():
    plugin = pedalboard.load_plugin(sys.argv[1])
    sound, wanted, close = Sound(plugin), queue.Queue(), threading.Event()
    sound.start()
    threading.Thread(target=listen, args=(plugin, sound, wanted, close), daemon=True).start()
    while wanted.get():
        close.clear()
        plugin.show_editor(close)
        say("closed")


main()
