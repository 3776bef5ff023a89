#!/usr/bin/env python3
"""A long lesson: how many times faster than it lasts it is made, how much memory that takes, and that one which is killed on its way and
begun again has the same bytes.

  tests/outside/lesson_long.py BINARY [--format wav] [--minutes 45] [--dir DIR]

Times are wall time and processor time of the program and of what it runs; the last one says what a machine with nothing else to
do takes on two processors, at the best.
"""

import argparse
import hashlib
import json
import os
import pathlib
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time

FASTEST = 250
MOST_MIB = 150


def made(folder):
    """The files of a folder and their hashes; the record may tell of them in another order of time."""
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("binary", type=pathlib.Path)
    parser.add_argument("--format", default="wav")
    parser.add_argument("--minutes", type=float, default=45.0)
    parser.add_argument("--passes", default="4")
    parser.add_argument("--dir", type=pathlib.Path)
    options = parser.parse_args()
    top = options.dir or pathlib.Path(tempfile.mkdtemp(prefix="lesson-"))
    root = pathlib.Path(__file__).resolve().parents[2]
    command = [str(options.binary), "lesson", str(root / "configs/drills/ladder.toml"), str(root / "configs/charts/ferry-at-six.toml"),
               "--passes", options.passes, "--format", options.format, "-o"]
    # What the voice says is kept, as it is on any machine that has made a lesson before.
    subprocess.run([*command[:-3], "--format", "wav", "-o", str(top / "warm")], check=True)
    shutil.rmtree(top / "warm")
    before, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
    process = subprocess.Popen([*command, str(top / "whole")])
    _, status, usage = os.wait4(process.pid, 0)
    wall = time.monotonic() - begun
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    own = usage.ru_utime + usage.ru_stime
    cpu = max(own, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    record = json.loads((top / "whole/lesson.json").read_text(encoding="utf-8"))
    lasts = sum(track["seconds"] for track in record["tracks"].values())
    memory = usage.ru_maxrss / 1024
    print(f"{options.format}: {lasts / 60:.1f} minutes in {wall:.1f} s ({lasts / wall:.0f} times), {cpu:.1f} s of a processor "
          f"({2 * lasts / cpu:.0f} times on two), {memory:.0f} MiB at the most")
    # Killed where about two fifths are made.
    process = subprocess.Popen([*command, str(top / "stopped")])
    tracks = len(record["tracks"])
    while process.poll() is None and len(list((top / "stopped/tracks").glob("*.mid"))) < tracks * 2 // 5:
        time.sleep(0.02)
    process.send_signal(signal.SIGKILL)
    process.wait()
    kept = {path.name: path.stat().st_mtime_ns for path in (top / "stopped/tracks").glob("*.mid")}
    subprocess.run([*command, str(top / "stopped")], check=True)
    anew = [name for name, at in kept.items() if (top / "stopped/tracks" / name).stat().st_mtime_ns != at]
    same = made(top / "whole") == made(top / "stopped")
    print(f"killed with {len(kept)} of {tracks} tracks made and begun again: {'the same bytes' if same else 'OTHER BYTES'}, "
          f"{len(anew)} of these made anew")
    if not options.dir:
        shutil.rmtree(top)
    # A track whose record was not written yet when it was killed is made anew: at most one a thread.
    return int(status != 0 or not same or len(anew) > 8 or memory > MOST_MIB or lasts < options.minutes * 60
               or (options.format == "wav" and 2 * lasts / cpu < FASTEST))


if __name__ == "__main__":
    sys.exit(main())
