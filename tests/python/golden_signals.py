"""The signals of the golden clips, each at 48 kHz with an RMS of 1 while it is steady.

`1k` and `30` are tones that the deck holds as a formula; the others are recordings that both sides
read from one file, well below 20 kHz, silent before their start and at their end.
"""

import numpy as np
import soundfile
from scipy import signal

RATE = 48_000
START = 0.02
STOP = 0.01
REST = 0.005
TONES = {"1k": 1_000.0, "30": 30.0}
RECORDED = ("tones", "pair", "speech")
SPEECH = "/usr/share/pocketsphinx/test/data/librivox/sense_and_sensibility_01_austen_64kb-0870.wav"


def seconds(name):
    """How long its clips are."""
    return 0.3 if name == "30" else 0.25


def frames(name):
    return round(seconds(name) * RATE)


def envelope(time, end):
    """Half a cosine at both ends, as the deck's tones start, and silence after it."""
    rise = 0.5 - 0.5 * np.cos(np.pi * np.clip(time / START, 0, 1))
    fall = 0.5 - 0.5 * np.cos(np.pi * np.clip((end - REST - time) / STOP, 0, 1))
    return rise * fall


def sum_of(hertz, phases):
    """Sines of equal strength, together of RMS 1."""
    length = seconds("tones")
    time = np.arange(frames("tones")) / RATE
    both = np.outer(time, 2 * np.pi * np.asarray(hertz)) + phases
    return np.sqrt(2 / len(hertz)) * np.sin(both).sum(axis=1) * envelope(time, length)


def speech():
    """The loudest quarter of a second of a read book."""
    samples, rate = soundfile.read(SPEECH)
    up = signal.resample_poly(samples, RATE // rate, 1)
    length = frames("speech")
    power = np.convolve(up**2, np.ones(length), "valid")
    first = int(np.argmax(power))
    part = up[first : first + length] * envelope(np.arange(length) / RATE, seconds("speech"))
    return part / np.sqrt(np.mean(part**2))


def recorded(name):
    """The samples of one of RECORDED."""
    if name == "tones":
        # The phases turn by the golden section, so that no two tones start alike.
        phases = 2 * np.pi * (np.arange(20) * (np.sqrt(5) - 1) / 2 % 1)
        made = sum_of(np.geomspace(41, 16_000, 20), phases)
    elif name == "pair":
        made = sum_of([18_000, 19_000], [0.0, 0.0])
    else:
        made = speech()
    return made.astype("<f4")
