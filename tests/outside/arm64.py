#!/usr/bin/env python3
"""The program on another processor: the same words, the same music, the same samples within a ten-thousandth of full scale.

The program for arm64 runs under qemu-user (GPL-2.0, from Debian), which has floating point as IEEE 754 wants it; what may
differ is what the compiler makes of the same source. What `check`, `symbols` and `listen` write, and the MIDI, events and
pages of `render`, must be equal to the byte.

    arm64.py OURS OTHER CONFIGS [--libraries DIR] [--seconds 60]

OTHER is started by qemu-aarch64; where it wants libraries that the cross compiler does not bring, DIR has them. CONFIGS is
the project's folder of charts and drills. Fails where anything differs by more.
"""

import argparse
import math
import random
import subprocess
import sys
import tempfile
import wave
from array import array
from pathlib import Path

LIMIT = 1e-4
RATE = 48000
# The libraries that Debian's cross compiler brings.
QEMU = ["qemu-aarch64", "-L", "/usr/aarch64-linux-gnu"]
ROOTS = ("C", "Db", "F#", "Bb", "A")
SUFFIXES = ("", "m", "6", "m6", "maj7", "m7", "7", "7b9", "7alt", "7sus", "m7b5", "dim7", "7#11", "m9", "maj9", "13", "x")


def said(command, *arguments, given=""):
    """What a command wrote, and how it ended: an error is to be the same, too."""
    done = subprocess.run([*command, *arguments], input=given, capture_output=True, text=True, check=False)
    return done.returncode, done.stdout, done.stderr


def samples_of(path):
    with wave.open(str(path)) as sound:
        assert sound.getsampwidth() == 2, "samples of 16 bits"
        return array("h", sound.readframes(sound.getnframes()))


def render(command, chart, drill, seconds, work):
    """Renders; gives the samples, and the bytes of MIDI and event log."""
    work.mkdir()
    files = {name: work / name for name in ("music.wav", "music.mid", "events.jsonl")}
    options = ["--drill", drill, "--seconds", seconds, "--silent-voice", "--form"]
    outputs = ["--wav", files["music.wav"], "--midi", files["music.mid"], "--events", files["events.jsonl"]]
    subprocess.run([*command, "render", chart, *options, *outputs], check=True, stdout=subprocess.DEVNULL)
    return samples_of(files["music.wav"]), files["music.mid"].read_bytes(), files["events.jsonl"].read_bytes()


def plucked(path):
    """A string that is plucked twelve times (K. Karplus, A. Strong, "Digital Synthesis of Plucked-String and Drum Timbres",
    Computer Music Journal 7/2, 1983), a semitone or more apart, for `listen`."""
    draw, sound = random.Random(1), array("h")
    for midi in (40, 45, 50, 55, 59, 64, 67, 62, 58, 53, 48, 43):
        period = round(RATE / (440 * 2 ** ((midi - 69) / 12)))
        string = [draw.uniform(-1, 1) for _ in range(period)]
        for at in range(RATE // 2):
            here = at % period
            sound.append(round(12000 * string[here] * math.exp(-2 * at / RATE)))
            string[here] = 0.5 * (string[here] + string[(here + 1) % period])
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, RATE, 0, "NONE", ""))
        file.writeframes(sound.tobytes())


def compare_words(ours, other, configs, work):
    """What is written, command by command; the commands that differ."""
    charts, drills = sorted((configs / "charts").glob("*.toml")), sorted((configs / "drills").glob("*.toml"))
    recording = work / "plucked.wav"
    plucked(recording)
    symbols = "".join(f"{root}{suffix}\n" for root in ROOTS for suffix in SUFFIXES)
    told = [str(chart) for chart in charts]
    runs = [(["check", *told, str(drill)], "") for drill in drills]
    runs += [(["check", str(configs / "underfoot.toml")], ""), (["symbols", "-", "--keep-going"], symbols)]
    judged = ["--chart", told[0], "--drill", str(drills[0])]
    runs += [(["listen", str(recording), "--json", *more], "") for more in ([], ["--frames"], judged)]
    different, lines = [], {}
    for arguments, given in runs:
        one, two = (said(command, *arguments, given=given) for command in (ours, other))
        lines[arguments[0]] = lines.get(arguments[0], 0) + one[1].count("\n")
        if one != two:
            different.append(" ".join(arguments))
            for here, there in zip(one[1].splitlines(), two[1].splitlines()):
                if here != there:
                    print(f"ours  {here[:300]}\nother {there[:300]}")
                    break
    for name, count in lines.items():
        print(f"{name}: {count} lines, {sum(text.startswith(name) for text in different)} commands differ")
        assert count > 10, f"{name} writes something"
    return different


def main():
    parser = argparse.ArgumentParser(usage=__doc__)
    parser.add_argument("ours", type=Path)
    parser.add_argument("other", type=Path)
    parser.add_argument("configs", type=Path)
    parser.add_argument("--libraries", type=Path)
    parser.add_argument("--seconds", default="60")
    told = parser.parse_args()
    qemu = [*QEMU, "-E", f"LD_LIBRARY_PATH={told.libraries.resolve()}"] if told.libraries else QEMU
    ours, other = [told.ours.resolve()], [*qemu, told.other.resolve()]
    chart, drill = told.configs / "charts/ferry-at-six.toml", told.configs / "drills/ladder.toml"
    with tempfile.TemporaryDirectory() as work:
        different = compare_words(ours, other, told.configs, Path(work))
        one = render(ours, chart, drill, told.seconds, Path(work) / "ours")
        two = render(other, chart, drill, told.seconds, Path(work) / "other")
    assert len(one[0]) == len(two[0]) > 0, "as many samples"
    differences = [abs(a - b) for a, b in zip(one[0], two[0])]
    worst, peak = max(differences) / 32768, max(map(abs, one[0])) / 32768
    unequal = sum(difference > 0 for difference in differences)
    print(f"{len(one[0])} samples, peak {peak:.3f}: greatest difference {worst:.6f} (at most {LIMIT}), {unequal} unequal; "
          f"MIDI {'equal' if one[1] == two[1] else 'DIFFERS'}, events {'equal' if one[2] == two[2] else 'DIFFER'}")
    sys.exit(0 if not different and worst <= LIMIT and peak > 0.01 and one[1:] == two[1:] else 1)


if __name__ == "__main__":
    main()
