"""Takes a picture of the plugin's window in a VST3 host, while sound runs through it.

Arguments: the bundle, the picture to write, `light` or `dark`, the zoom in percent, and perhaps a size as
WIDTHxHEIGHT in points. The look is set
as a host sets it, by loading a state: the one the plugin gives, with the field `view` changed.
The screen is the one DISPLAY names; it needs a window manager, xdotool and ImageMagick.
Standard output: a JSON object `window colours sound_s`: width and height of the host's window in
pixels, how many colours the picture has, how much sound had passed when it was taken.
"""

import json
import os
import struct
import subprocess
import sys
import threading
import time

import numpy as np
import pedalboard

RATE_HZ = 48000
BLOCK_FRAMES = 480
# Ceilings and harmonics are found by then, on a machine that does nothing else.
SOUND_S = 8.0
# A window that is mapped but not yet drawn is of one colour; text alone makes some dozens of grey.
COLOURS = 64
PATIENCE_S = 60.0


def with_view(preset, change):
    """The preset with its component's JSON field `view` changed (VST3 SDK, vstpresetfile.h)."""
    head = struct.Struct("<4si32sq")
    entry = struct.Struct("<4sqq")
    mark, version, identity, at = head.unpack_from(preset)
    assert mark == b"VST3" and preset[at : at + 4] == b"List"
    (count,) = struct.unpack_from("<i", preset, at + 4)
    body, entries = b"", b""
    for index in range(count):
        name, start, size = entry.unpack_from(preset, at + 8 + index * entry.size)
        chunk = preset[start : start + size]
        if name == b"Comp":
            state = json.loads(chunk)
            view = json.loads(state["fields"]["view"])
            view.update(change)
            state["fields"]["view"] = json.dumps(view)
            chunk = json.dumps(state).encode()
        entries += entry.pack(name, head.size + len(body), len(chunk))
        body += chunk
    head = head.pack(mark, version, identity, head.size + len(body))
    return head + body + b"List" + struct.pack("<i", count) + entries


def speech_like(seconds, level_dbfs):
    """Noise with the long-term slope of speech, in syllables of a quarter second; two channels."""
    frames = int(seconds * RATE_HZ)
    noise = np.random.default_rng(1).standard_normal((2, frames))
    hz = np.fft.rfftfreq(frames, 1.0 / RATE_HZ)
    slope = (hz / 500.0) ** 2 / (1.0 + (hz / 500.0) ** 3)
    noise = np.fft.irfft(np.fft.rfft(noise) * slope, frames)
    noise *= 0.2 + np.sin(np.pi * 4.0 * np.arange(frames) / RATE_HZ) ** 2
    noise *= 10.0 ** (level_dbfs / 20.0) / np.sqrt(np.mean(noise**2))
    return noise.astype(np.float32)


class Sound(threading.Thread):
    """Runs sound through the plugin at the pace of the clock until told to stop."""

    def __init__(self, plugin):
        super().__init__(daemon=True)
        self.plugin = plugin
        self.passed_s = 0.0
        self.stop = threading.Event()

    def run(self):
        sound = speech_like(4.0, -18.0)
        at, start = 0, time.monotonic()
        while not self.stop.is_set():
            block = sound[:, at : at + BLOCK_FRAMES]
            self.plugin.process(block, RATE_HZ, BLOCK_FRAMES, reset=False)
            at = (at + BLOCK_FRAMES) % (sound.shape[1] - BLOCK_FRAMES)
            self.passed_s += BLOCK_FRAMES / RATE_HZ
            time.sleep(max(0.0, start + self.passed_s - time.monotonic()))


def ask(*command):
    """What a program says; empty when it fails, as it does before there is a window."""
    answer = subprocess.run(command, capture_output=True, text=True, timeout=PATIENCE_S)
    return answer.stdout if answer.returncode == 0 else ""


def windows(name):
    """Size and number of every visible window of this name, the largest first."""
    found = []
    for number in ask("xdotool", "search", "--onlyvisible", "--name", name).split():
        lines = ask("xdotool", "getwindowgeometry", "--shell", number).splitlines()
        told = dict(line.split("=", 1) for line in lines if "=" in line)
        if "WIDTH" in told:
            found.append((int(told["WIDTH"]), int(told["HEIGHT"]), number))
    return sorted(found, key=lambda window: -window[0] * window[1])


def watch(picture, sound, result, close):
    """Waits for the window, its drawing and the sound; takes the picture and closes the window."""
    aside = f"{picture}.part.png"
    until = time.monotonic() + PATIENCE_S
    try:
        while time.monotonic() < until and "window" not in result:
            time.sleep(0.1)
            seen = windows("Penstock")
            if not seen or sound.passed_s < SOUND_S:
                continue
            width, height, number = seen[0]
            ask("import", "-window", number, aside)
            colours = int(ask("identify", "-format", "%k", aside) or 0)
            if colours >= COLOURS:
                os.replace(aside, picture)
                result.update(window=[width, height], colours=colours, sound_s=sound.passed_s)
    finally:
        close.set()


def main():
    bundle, picture, look, zoom_percent, *size = sys.argv[1:]
    plugin = pedalboard.load_plugin(bundle)
    change = {"dark": look == "dark", "zoom_percent": int(zoom_percent)}
    for text in size:
        change["size"] = [float(points) for points in text.split("x")]
    plugin.preset_data = with_view(plugin.preset_data, change)
    state = plugin.preset_data
    for key, value in change.items():
        text = json.dumps(value, separators=(",", ":"))
        assert f'\\"{key}\\":{text}'.encode() in state, f"{key} was not taken: {state}"
    sound, close, result = Sound(plugin), threading.Event(), {}
    sound.start()
    watcher = threading.Thread(target=watch, args=(picture, sound, result, close), daemon=True)
    watcher.start()
    plugin.show_editor(close)
    watcher.join()
    sound.stop.set()
    sound.join()
    if not result:
        sys.exit(f"no drawn window within {PATIENCE_S:.0f} s; windows: {windows('')}")
    print(json.dumps(result))


main()
