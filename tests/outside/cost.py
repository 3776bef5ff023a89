#!/usr/bin/env python3
"""What the renderer costs beside a known synthesizer.

The peer is `fluidsynth -F` (LGPL-2.1, from Debian), given our own Standard MIDI File of the same music, the same
SoundFont, rate, block size and effects. User and system time of whole processes, alternating, the medians of five with
their range: only the ratio means anything on a machine that others use. What is added by a second of music is the difference
of a long and a short rendering, so that neither start counts.

    cost.py UNDERFOOT CHART SOUNDFONT...

Fails where a ratio is above its limit.
"""

import os
import resource
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

RUNS = 5
LIMIT = 0.5
SECONDS = (60, 300)
# Reverb and chorus, as the configuration and the peer have them.
EFFECTS = {"dry": (False, False), "wet": (True, True), "default": (True, False)}


def cpu_s(command):
    """User and system seconds of a command."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def commands(underfoot, chart, font, seconds, effects, work):
    """Ours and the peer's, on the same music."""
    switches = [str(int(switch)) for switch in effects]
    reverb, chorus = (str(switch).lower() for switch in effects)
    config, smf = work / "config.toml", work / f"music-{seconds}.mid"
    config.write_text(f"[audio]\nreverb = {reverb}\nchorus = {chorus}\n")
    ours = [underfoot, "render", chart, "--config", str(config), "--form", "--silent-voice"]
    ours += ["--seconds", str(seconds), "--soundfont", font]
    subprocess.run([*ours, "--midi", str(smf)], check=True, stdout=subprocess.DEVNULL)
    ours += ["--wav", str(work / "ours.wav")]
    peer = ["fluidsynth", "-ni", "-F", str(work / "peer.wav"), "-r", "48000", "-z", "64", "-O", "s16", "-T", "wav"]
    peer += ["-R", switches[0], "-C", switches[1], font, str(smf)]
    return ours, peer


def measure(underfoot, chart, font, effects, work):
    """The ratios of a whole rendering and of an added second: median, least and most."""
    short, long = (commands(underfoot, chart, font, seconds, effects, work) for seconds in SECONDS)
    pairs = []
    for _ in range(RUNS):
        ours_s, peer_s = ([cpu_s(which[index]) for which in (short, long)] for index in (0, 1))
        pairs.append((ours_s, peer_s))
    for name, of in (("whole", lambda times: times[1]), ("added", lambda times: times[1] - times[0])):
        ours_s, peer_s = (sorted(of(pair[index]) for pair in pairs) for index in (0, 1))
        found = statistics.median(ours_s) / statistics.median(peer_s)
        cells = [f"{statistics.median(times):.2f} s ({times[0]:.2f} to {times[-1]:.2f})" for times in (ours_s, peer_s)]
        yield name, found, cells


def main():
    underfoot, chart, *fonts = sys.argv[1:]
    too_dear = False
    with tempfile.TemporaryDirectory() as work:
        for font in fonts:
            for effects, switches in EFFECTS.items():
                for name, found, (ours, peer) in measure(underfoot, chart, font, switches, Path(work)):
                    too_dear |= found > LIMIT
                    print(f"{Path(font).stem:12} {effects:8} {name}: {ours} to {peer}: {found:.2f} (at most {LIMIT})", flush=True)
    sys.exit(1 if too_dear else 0)


if __name__ == "__main__":
    os.environ.pop("UNDERFOOT_CONFIG", None)
    main()
