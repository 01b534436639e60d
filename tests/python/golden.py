"""Makes the golden clips: what ngspice says of the decks that the program prints.

Recipe: the deck at fixed steps of 1/32 and 1/64 of a sample at 48 kHz; both, by a spline of fifth
order, on the grid of the finer; Richardson's (4 fine - coarse)/3, since the trapezoidal rule errs with the
square of the step; then a linear-phase filter, exact to 20 kHz, and every 64th sample.

Standard input: a JSON object with `do`, `folder` (of `clips.txt`, `index.txt`, the clips), `program`
(penstock), and optionally `clips` (names; otherwise all).
  make    makes what `index.txt` lacks or has for another deck; it can be interrupted and goes on later
  check   compares the hash of every deck, and makes the named clips again, on the side
Standard output of `check`: `stale` (names whose deck is not the one of the index), `null_db` by name.
"""

import hashlib
import json
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import time

import numpy as np
from scipy import interpolate, signal

import golden_signals as signals

RATE = signals.RATE
COARSE, FINE = 32, 64
# Simulated beyond the clip, so that the filter's end lies outside it.
BEYOND_SECONDS = 0.002
SEND_FULL_SCALE_DBU = 22.0
# Lines that do not sound: comments, and the resistors that only make the tubes' noise.
SILENT = re.compile(r"\*|RN")
# Lines that bring the signal, which has its own columns in the index.
SIGNAL = re.compile(r"Bsend |Afile |\.model file |Rfile ")
INDEX = """\
# Source: ngspice, by the recipe in tests/python/golden.py; remade by `cargo xtask golden`.
# A clip is NAME.f32: volts at the output, in phase with the bus, 48 kHz, 32-bit float, little-endian.
# Its signal at RMS 1, when recorded, is signal-SIGNAL.f32. The hash is of the circuit's part of the deck.
"""


def table(path):
    """Rows of a text table as dictionaries."""
    if not path.is_file():
        return []
    lines = [line.split() for line in path.read_text().splitlines() if line[:1] not in ("#", "")]
    return [dict(zip(lines[0], line)) for line in lines[1:]]


def plan(clip):
    """The plan's changes, as arguments."""
    keys = {
        "rig.converters_clip": "false",
        # Every resistor the nearest to its ideal value.
        "pad.parts": "nearest",
        "rig.return.in_ohms": clip["load_ohms"],
        "pad.network": clip["network"],
        "pad.loss_db": clip["loss"],
        "pad.series": clip["series"],
        "preamp.gain_db": clip["gain"],
        "preamp.attenuator_db": clip["attenuator"],
    }
    return [word for key, value in keys.items() for word in ("--set", f"{key}={value}")]


def deck(program, clip, steps, recording=None, folder=None):
    """What the program prints; without a recording, a tone stands in for one."""
    level = float(clip["line_dbu"]) - SEND_FULL_SCALE_DBU
    hertz = signals.TONES.get(clip["signal"], 1_000.0)
    source = ["--wav", recording] if recording else ["--tone-hz", str(hertz), "--level-dbfs", str(level)]
    length = signals.seconds(clip["signal"]) + BEYOND_SECONDS
    command = [program, "netlist", *source, "--seconds", str(length), "--data", "data.txt"]
    command += ["--steps-per-second", str(steps * RATE), *plan(clip)]
    return subprocess.run(command, cwd=folder, check=True, capture_output=True, text=True).stdout


def circuit_hash(text):
    """SHA-256 of the lines up to the controls that sound and do not depend on the signal."""
    lines = text.partition(".control")[0].splitlines()
    kept = [line for line in lines if not (SILENT.match(line) or SIGNAL.match(line))]
    return hashlib.sha256("\n".join(kept).encode()).hexdigest()


def scaled(base, line_dbu):
    """A recording of RMS 1 as bus samples for a line level."""
    return (base.astype("f8") * 10 ** ((line_dbu - SEND_FULL_SCALE_DBU) / 20) / np.sqrt(2)).astype("f4")


def simulate(text, folder, seconds):
    """Runs a deck and gives time and volts."""
    path = pathlib.Path(folder)
    (path / "deck.cir").write_text(text)
    run = subprocess.run(["ngspice", "-b", "deck.cir"], cwd=folder, capture_output=True, text=True)
    data = np.loadtxt(path / "data.txt").T
    # An aborted run ends with 0 too.
    if run.returncode != 0 or data[0][-1] < seconds * (1 - 1e-9):
        raise RuntimeError(f"ngspice ended with {run.returncode} at {data[0][-1]} s: {run.stderr}")
    return data


def on_grid(data, grid, step):
    """By a spline of fifth order; the tiny first steps of a run are left out."""
    at, volts = data
    kept = np.concatenate([[True], np.diff(at) > 1e-3 * step])
    return interpolate.make_interp_spline(at[kept], volts[kept], k=5)(grid)


def decimated(fine, count):
    """The band below 20 kHz, exact, at 48 kHz."""
    high = FINE * RATE
    length, beta = signal.kaiserord(150, (28_000 - 20_000) / (high / 2))
    length |= 1
    taps = signal.firwin(length, 24_000, window=("kaiser", beta), fs=high)
    whole = signal.oaconvolve(fine, taps)
    return whole[length // 2 :: FINE][:count]


def made(program, clip, base):
    """One clip, and the hash of its deck."""
    name = clip["signal"]
    with tempfile.TemporaryDirectory() as folder:
        recording = None
        if name in signals.RECORDED:
            import soundfile

            bus = scaled(base, float(clip["line_dbu"]))
            soundfile.write(f"{folder}/bus.wav", bus, RATE, subtype="FLOAT")
            recording = "bus.wav"
        count = signals.frames(name)
        high = FINE * RATE
        seconds = signals.seconds(name) + BEYOND_SECONDS
        grid = np.arange(int(seconds * high)) / high
        runs = []
        for steps in (COARSE, FINE):
            text = deck(program, clip, steps, recording, folder)
            runs.append(on_grid(simulate(text, folder, seconds), grid, 1 / (steps * RATE)))
        coarse, fine = runs
        volts = decimated((4 * fine - coarse) / 3, count)
    return volts.astype("<f4"), circuit_hash(text)


def base_of(folder, name):
    """A recorded signal, kept beside the clips so that both sides read the same samples."""
    if name not in signals.RECORDED:
        return None
    path = folder / f"signal-{name}.f32"
    if not path.is_file():
        signals.recorded(name).tofile(path)
    return np.fromfile(path, "<f4")


def simulator():
    text = subprocess.run(["ngspice", "--version"], check=True, capture_output=True, text=True).stdout
    return re.search(r"ngspice-\S+", text).group()


def write_index(folder, clips, rows):
    """In the order of the list of clips."""
    columns = [*clips[0], "frames", "simulator", "deck_sha256"]
    lines = [" ".join(columns)]
    for clip in clips:
        if row := rows.get(clip["name"]):
            lines.append(" ".join(str(row[column]) for column in columns))
    (folder / "index.txt.new").write_text(INDEX + "\n".join(lines) + "\n")
    (folder / "index.txt.new").rename(folder / "index.txt")


def same(row, clip):
    return row is not None and all(row[key] == value for key, value in clip.items())


def stale(program, folder, clips, rows):
    """Clips that are missing or were made from another deck."""
    old = []
    for clip in clips:
        row = rows.get(clip["name"])
        there = same(row, clip) and (folder / f"{clip['name']}.f32").is_file()
        if not there or row["deck_sha256"] != circuit_hash(deck(program, clip, FINE)):
            old.append(clip)
    return old


def main():
    if shutil.which("ngspice") is None:
        sys.exit("ngspice is missing: run `cargo xtask setup`, which installs what the tests need")
    request = json.load(sys.stdin)
    program, folder = request["program"], pathlib.Path(request["folder"])
    clips = table(folder / "clips.txt")
    rows = {row["name"]: row for row in table(folder / "index.txt")}
    named = [clip for clip in clips if clip["name"] in request.get("clips", [])]
    if request["do"] == "check":
        answer = {"stale": [clip["name"] for clip in stale(program, folder, clips, rows)], "null_db": {}}
        for clip in named:
            volts, _ = made(program, clip, base_of(folder, clip["signal"]))
            kept = np.fromfile(folder / f"{clip['name']}.f32", "<f4").astype("f8")
            null = np.sqrt(np.mean((volts - kept) ** 2) / np.mean(kept**2))
            answer["null_db"][clip["name"]] = 20 * np.log10(max(null, 1e-15))
        json.dump(answer, sys.stdout)
        return
    wanted = named or stale(program, folder, clips, rows)
    print(f"golden: {len(wanted)} of {len(clips)} clips to make", file=sys.stderr, flush=True)
    for clip in wanted:
        started = time.monotonic()
        volts, digest = made(program, clip, base_of(folder, clip["signal"]))
        volts.tofile(folder / f"{clip['name']}.f32")
        rows[clip["name"]] = clip | {"frames": len(volts), "simulator": simulator(), "deck_sha256": digest}
        write_index(folder, clips, rows)
        print(f"{clip['name']}: {time.monotonic() - started:.0f} s", file=sys.stderr, flush=True)


main()
