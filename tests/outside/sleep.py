#!/usr/bin/env python3
"""Who wakes how often, and what it costs: the daemon beside a dummy JACK server, thread by thread.

The kernel counts (proc(5)): voluntary_ctxt_switches, how often a thread slept and woke, and schedstat, how long it had a
processor. Stopped, playing, and playing with something that sounds in `guitar_in` (jack_metro of Debian's jackd2). The threads
that JACK's library makes have no name of their own; they are told apart and do not count as ours.

    sleep.py UNDERFOOT CHART [--seconds N] [--period FRAMES] [--only STATE]

Fails where ours wake more often, or take more of a core, than LIMITS says. The memory is told before and after each state.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

# Wake-ups a second and share of a core in per cent.
LIMITS = {"stopped": (20, 0.3), "playing": (150, 2.0), "guitar": (150, 2.0)}
SCREEN = '[[display.screen]]\nkind = "terminal"\nsize = "128x64"\n'


def apart():
    """Begins anew in name spaces of its own: servers share a registry in /dev/shm that has eight places."""
    if os.environ.get("UNDERFOOT_APART"):
        return
    script = 'mount -t tmpfs none /dev/shm && exec "$0" "$@"'
    os.environ.update(UNDERFOOT_APART="1", JACK_DEFAULT_SERVER="underfoot-sleep", JACK_NO_AUDIO_RESERVATION="1", JACK_NO_START_SERVER="1")
    os.execvp("unshare", ["unshare", "-Urm", "sh", "-c", script, sys.executable, *sys.argv])


def wait_for_ports(*ports):
    """Waits until they are all there."""
    for _ in range(100):
        listing = subprocess.run(["jack_lsp"], capture_output=True, text=True, check=False).stdout
        if all(port in listing for port in ports):
            return
        time.sleep(0.1)
    sys.exit(f"no port {' '.join(ports)}")


def threads(pid):
    """Name, wake-ups and nanoseconds of each thread."""
    found = {}
    for task in Path(f"/proc/{pid}/task").iterdir():
        status = (task / "status").read_text()
        name = (task / "comm").read_text().strip()
        name = "main" if int(task.name) == pid else "JACK's" if name.startswith("jack") else name
        wakes = int(status.split("\nvoluntary_ctxt_switches:")[1].split()[0])
        found[task.name] = (name, wakes, int((task / "schedstat").read_text().split()[0]))
    return found


def memory_kib(pid):
    """RssAnon."""
    return int(Path(f"/proc/{pid}/status").read_text().split("RssAnon:")[1].split()[0])


def difference(before, after, seconds):
    """Wake-ups a second and per cent of a core, by name."""
    rows = {}
    for task, (name, wakes, took_ns) in after.items():
        _, wakes_before, took_before = before.get(task, (name, 0, 0))
        row = rows.setdefault(name, [0.0, 0.0])
        row[0] += (wakes - wakes_before) / seconds
        row[1] += (took_ns - took_before) / seconds / 1e7
    return rows


def measure(state, options, home):
    """Starts the daemon, waits until it is as wanted, and counts."""
    config, foot = home / "underfoot.toml", home / "foot.txt"
    config.write_text(SCREEN)
    foot.write_text("")
    command = [options.underfoot, "run", "--chart", options.chart, "--config", str(config), "--fresh"]
    command += ["--socket", str(home / "socket"), "--state-dir", str(home / "state")]
    command += [] if state == "stopped" else ["--foot", str(foot)]
    others = []
    daemon = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=(home / "stderr").open("w"))
    try:
        if state == "guitar":
            others.append(subprocess.Popen(["jack_metro", "-b", "160", "-n", "guitar"], stdout=subprocess.DEVNULL))
            wait_for_ports("guitar:160_bpm", "underfoot:guitar_in")
            subprocess.run(["jack_connect", "guitar:160_bpm", "underfoot:guitar_in"], check=True)
        time.sleep(options.settle)
        if daemon.poll() is not None:
            sys.exit((home / "stderr").read_text())
        before, began, held = threads(daemon.pid), time.monotonic(), memory_kib(daemon.pid)
        time.sleep(options.seconds)
        after, took = threads(daemon.pid), time.monotonic() - began
        return difference(before, after, took), (held, memory_kib(daemon.pid))
    finally:
        for process in [*others, daemon]:
            process.terminate()
            process.wait()


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("underfoot")
    parser.add_argument("chart")
    parser.add_argument("--seconds", type=float, default=20)
    parser.add_argument("--settle", type=float, default=12)
    parser.add_argument("--period", type=int, default=256)
    parser.add_argument("--only", choices=LIMITS)
    options = parser.parse_args()
    apart()
    server = ["jackd", "-r", "-p", "128", "-n", "underfoot-sleep", "-d", "dummy", "-r", "48000", "-p", str(options.period)]
    jackd = subprocess.Popen(server, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    is_over = False
    try:
        wait_for_ports("system:")
        for state in [options.only] if options.only else LIMITS:
            with tempfile.TemporaryDirectory() as home:
                rows, held = measure(state, options, Path(home))
            ours = [sum(values) for values in zip(*(row for name, row in rows.items() if name != "JACK's"))]
            most = LIMITS[state]
            is_over |= any(found > limit for found, limit in zip(ours, most))
            print(f"{state}: {ours[0]:.1f} wake-ups a second (at most {most[0]}), {ours[1]:.2f} % of a core (at most {most[1]}); "
                  f"RssAnon {held[0]} to {held[1]} KiB", flush=True)
            for name, (wakes, share) in sorted(rows.items(), key=lambda row: -row[1][0]):
                print(f"    {name:18} {wakes:7.1f} /s {share:6.2f} %", flush=True)
    finally:
        jackd.terminate()
        jackd.wait()
    sys.exit(1 if is_over else 0)


if __name__ == "__main__":
    main()
