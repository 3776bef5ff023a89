#!/usr/bin/env python3
"""Hours of practice: does the memory stay, do the descriptors, is anything late?

    soak.py render UNDERFOOT CHART DRILL [--hours 8]      hours of music through the renderer, its memory sampled
    soak.py run UNDERFOOT CHART DRILL [--minutes 30]      the daemon beside a dummy JACK server that is killed now and then,
                                                          with a foot that never rests and a guitar that comes and goes

The kernel tells private memory (RssAnon) and descriptors (proc(5)); `status --json` the counters. The first sixth is for what is
filled once; a drill of many stages goes on filling what is kept of speech (up to 4 MiB), so the daemon gets a short one. Fails where
the memory then grows by more than a MiB or the descriptors change; for the daemon also where it ends, or a click, a reference note or
a word came too late.
"""

import argparse
import json
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

MOST_GROWTH_KIB = 1024
SERVER = "underfoot-soak"
# What the foot presses: taps and holds, by chance.
SWITCHES = (1, 2, 3)


def apart():
    """Begins anew in name spaces of its own: servers share a registry in /dev/shm that has eight places."""
    if not os.environ.get("UNDERFOOT_APART"):
        script = 'mount -t tmpfs none /dev/shm && exec "$0" "$@"'
        os.environ.update(UNDERFOOT_APART="1", JACK_DEFAULT_SERVER=SERVER, JACK_NO_AUDIO_RESERVATION="1", JACK_NO_START_SERVER="1")
        os.execvp("unshare", ["unshare", "-Urm", "sh", "-c", script, sys.executable, *sys.argv])


def memory_kib(pid):
    """RssAnon; 0 where the process is over."""
    try:
        return int(Path(f"/proc/{pid}/status").read_text().split("RssAnon:")[1].split()[0])
    except (OSError, IndexError):
        return 0


def descriptors(pid):
    return len(list(Path(f"/proc/{pid}/fd").iterdir()))


def judge(samples):
    """Says how a row of samples in KiB grew after its first sixth; 1 where that is too much."""
    settled = samples[len(samples) // 6:]
    first, last = max(settled[:max(1, len(settled) // 8)]), max(settled[-max(1, len(settled) // 8):])
    print(f"RssAnon {first} to {last} KiB, at most {max(samples)}, {len(samples)} samples")
    return int(last - first > MOST_GROWTH_KIB)


def render(options):
    command = [options.underfoot, "render", options.chart, "--drill", options.drill, "--form", "--silent-voice",
               "--seconds", str(int(options.hours * 3600)), "--wav", "/dev/null"]
    began, samples = time.monotonic(), []
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True) as process:
        while process.poll() is None:
            time.sleep(0.25)
            samples.append(memory_kib(process.pid))
        told = process.stderr.read()
    if process.returncode:
        sys.exit(told)
    print(f"{options.hours} hours of music in {time.monotonic() - began:.0f} s")
    return judge([kib for kib in samples if kib])


class Server:
    """The dummy server, and what comes into the guitar's input."""

    def __init__(self):
        self.jackd = self.guitar = None

    def start(self):
        command = ["jackd", "-r", "-p", "128", "-n", SERVER, "-d", "dummy", "-r", "48000", "-p", "1024"]
        self.jackd = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)

    def kill(self):
        self.unplug()
        self.jackd.kill()
        self.jackd.wait()

    def plug_in(self):
        self.guitar = subprocess.Popen(["jack_metro", "-b", "160", "-n", "guitar"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(1)
        subprocess.run(["jack_connect", "guitar:160_bpm", "underfoot:guitar_in"], check=False, capture_output=True)

    def unplug(self):
        if self.guitar:
            self.guitar.terminate()
            self.guitar.wait()
        self.guitar = None


def foot_script(minutes, choose):
    """Presses for longer than it lasts: taps and holds."""
    beat, lines = 8.0, []
    while beat < minutes * 60 * 5:
        switch, held = choose.choice(SWITCHES), choose.choice([0.2, 0.2, 0.2, 2.5])
        lines += [f"{beat:.2f} {switch} down", f"{beat + held:.2f} {switch} up"]
        beat += held + choose.uniform(0.5, 8)
    return "\n".join(lines) + "\n"


def run(options):
    apart()
    choose, server = random.Random(options.seed), Server()
    with tempfile.TemporaryDirectory() as place:
        home = Path(place)
        config, foot, errors, socket = (home / name for name in ("underfoot.toml", "foot.txt", "stderr", "socket"))
        config.write_text(f'[foot]\nswitches = {len(SWITCHES)}\n[[display.screen]]\nkind = "terminal"\nsize = "128x64"\n')
        foot.write_text(foot_script(options.minutes, choose))
        command = [options.underfoot, "run", "--chart", options.chart, "--drill", options.drill, "--config", str(config), "--fresh",
                   "--socket", str(socket), "--state-dir", str(home / "state"), "--foot", str(foot)]
        server.start()
        time.sleep(1)
        daemon = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=errors.open("w"))
        samples, opened, kills, last = [], [], 0, {}
        try:
            end, step = time.monotonic() + options.minutes * 60, 0
            while time.monotonic() < end:
                time.sleep(5)
                step += 1
                if daemon.poll() is not None:
                    print(errors.read_text()[-2000:])
                    sys.exit(f"the daemon ended with {daemon.returncode}")
                samples.append(memory_kib(daemon.pid))
                if step % 48 == 0:
                    server.kill()
                    time.sleep(choose.uniform(0.5, 5))
                    server.start()
                    kills += 1
                elif step % 12 == 3:
                    server.plug_in()
                elif step % 12 == 9:
                    server.unplug()
                elif step % 12 == 1 and step % 48 > 12:
                    opened.append(descriptors(daemon.pid))
                told = subprocess.run([options.underfoot, "status", "--json", "--socket", str(socket)], capture_output=True, text=True, check=False)
                if told.returncode == 0:
                    last = json.loads(told.stdout)
            daemon.send_signal(signal.SIGTERM)
            code = daemon.wait(20)
        finally:
            daemon.kill()
            server.kill()
    counters = last.get("counters") or {}
    print(f"{options.minutes} minutes, {kills} servers killed, exit {code}; counters {json.dumps(counters)}")
    print(f"RssAnon by the minute: {' '.join(str(kib) for kib in samples[11::12])}")
    late, worst_ms = counters.get("late_cues"), (counters.get("worst_late_cue_us") or 0) / 1000
    print(f"late cues {late}, the worst by {worst_ms:.1f} ms")
    settled = opened[len(opened) // 6:]
    print(f"descriptors {min(settled)} to {max(settled)}")
    return judge(samples) or int(max(settled) - min(settled) > 0) or int(code != 0) or int(late != 0)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("kind", choices=["render", "run"])
    parser.add_argument("underfoot")
    parser.add_argument("chart")
    parser.add_argument("drill")
    parser.add_argument("--hours", type=float, default=8)
    parser.add_argument("--minutes", type=float, default=30)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    sys.exit({"render": render, "run": run}[options.kind](options))


if __name__ == "__main__":
    main()
