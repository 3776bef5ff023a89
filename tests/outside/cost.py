#!/usr/bin/env python3
"""What the renderer costs beside a known synthesizer, and what the running daemon keeps for itself.

The peer is `fluidsynth -F` (LGPL-2.1, from Debian), given our own Standard MIDI File of the same music, the same
SoundFont, rate, block size and effects. User and system time of whole processes, alternating, the median of five: only
the ratio means anything on a machine that others use.

    cost.py UNDERFOOT CHART SOUNDFONT [seconds]
"""

import os
import resource
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

RUNS = 5
LIMITS = {"dry": 0.95, "wet": 1.0}


def cpu_s(command):
    """User and system seconds of a command."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def ratio(underfoot, chart, font, seconds, wet, work):
    """The renderer's time over the peer's."""
    effects = "true" if wet else "false"
    config = work / f"{effects}.toml"
    config.write_text(f"[audio]\nreverb = {effects}\nchorus = {effects}\n")
    ours = [underfoot, "render", chart, "--config", str(config), "--form", "--silent-voice"]
    ours += ["--seconds", str(seconds), "--soundfont", font]
    smf, switch = work / "music.mid", str(int(wet))
    subprocess.run([*ours, "--midi", str(smf)], check=True, stdout=subprocess.DEVNULL)
    ours += ["--wav", str(work / "ours.wav")]
    peer = ["fluidsynth", "-ni", "-F", str(work / "peer.wav"), "-r", "48000", "-z", "64", "-O", "s16", "-T", "wav"]
    peer += ["-R", switch, "-C", switch, font, str(smf)]
    pairs = [(cpu_s(ours), cpu_s(peer)) for _ in range(RUNS)]
    ours_s, peer_s = (statistics.median(times) for times in zip(*pairs))
    lengths = [(work / name).stat().st_size / 4 / 48000 for name in ("ours.wav", "peer.wav")]
    print(f"{'wet' if wet else 'dry'}: {ours_s:.2f} s to {peer_s:.2f} s for {lengths[0]:.0f} and {lengths[1]:.0f} s", end="")
    return ours_s / peer_s


def main():
    underfoot, chart, font = sys.argv[1:4]
    seconds = int(sys.argv[4]) if len(sys.argv) > 4 else 300
    too_dear = False
    with tempfile.TemporaryDirectory() as work:
        for name, limit in LIMITS.items():
            found = ratio(underfoot, chart, font, seconds, name == "wet", Path(work))
            too_dear |= found > limit
            print(f": {found:.2f} (at most {limit})")
    sys.exit(1 if too_dear else 0)


if __name__ == "__main__":
    os.environ.pop("UNDERFOOT_CONFIG", None)
    main()
