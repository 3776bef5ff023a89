#!/usr/bin/env python3
"""The renderer on another processor: the same music, the same samples within a ten-thousandth of full scale.

The program for arm64 runs under qemu-user (GPL-2.0, from Debian), which has floating point as IEEE 754 wants it; what may
differ is what the compiler makes of the same source. MIDI and event log must be equal to the byte.

    arm64.py OURS OTHER CHART DRILL [SECONDS]

OTHER is started by qemu-aarch64. Fails where anything differs by more.
"""

import subprocess
import sys
import tempfile
import wave
from array import array
from pathlib import Path

LIMIT = 1e-4
# The libraries that Debian's cross compiler brings.
QEMU = ["qemu-aarch64", "-L", "/usr/aarch64-linux-gnu"]


def render(command, chart, drill, seconds, work):
    """Renders; gives the samples and the bytes of MIDI and event log."""
    work.mkdir()
    files = {name: work / name for name in ("music.wav", "music.mid", "events.jsonl")}
    options = ["--drill", drill, "--seconds", seconds, "--silent-voice", "--form"]
    outputs = ["--wav", files["music.wav"], "--midi", files["music.mid"], "--events", files["events.jsonl"]]
    subprocess.run([*command, "render", chart, *options, *outputs], check=True, stdout=subprocess.DEVNULL)
    with wave.open(str(files["music.wav"])) as sound:
        assert sound.getsampwidth() == 2, "samples of 16 bits"
        samples = array("h", sound.readframes(sound.getnframes()))
    return samples, files["music.mid"].read_bytes(), files["events.jsonl"].read_bytes()


def main():
    ours, other, chart, drill, *rest = sys.argv[1:]
    seconds = rest[0] if rest else "60"
    with tempfile.TemporaryDirectory() as work:
        one = render([ours], chart, drill, seconds, Path(work) / "ours")
        two = render([*QEMU, other], chart, drill, seconds, Path(work) / "other")
    assert len(one[0]) == len(two[0]) > 0, "as many samples"
    differences = [abs(a - b) for a, b in zip(one[0], two[0])]
    worst, peak = max(differences) / 32768, max(map(abs, one[0])) / 32768
    unequal = sum(difference > 0 for difference in differences)
    print(f"{len(one[0])} samples, peak {peak:.3f}: greatest difference {worst:.6f} (at most {LIMIT}), {unequal} unequal; "
          f"MIDI {'equal' if one[1] == two[1] else 'DIFFERS'}, events {'equal' if one[2] == two[2] else 'DIFFER'}")
    sys.exit(0 if worst <= LIMIT and peak > 0.01 and one[1:] == two[1:] else 1)


if __name__ == "__main__":
    main()
