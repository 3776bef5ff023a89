#!/usr/bin/env python3
"""From the start to the first press: how long until the daemon is ready, until the click of a first press sounds, and until the
band's sound is there; with Debian's small SoundFont and with a large one.

    boot.py UNDERFOOT CHART [--mib 500]

The press comes on a pseudo terminal, as from a foot board; what sounds is told by the event log, whose notes are the callback's.
Fails where the daemon takes more than two seconds with the small font (its own part, the server is there before), or where the large
font is there before the click.
"""

import argparse
import json
import os
import pty
import socket
import struct
import subprocess
import sys
import tempfile
import time
import tty
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent / "synth"))
from font import made  # noqa: E402

SERVER = "underfoot-boot"
SMALL = "/usr/share/sounds/sf2/TimGM6mb.sf2"
READY_S = 2.0
LIMIT_S = 120.0


def apart():
    """Begins anew in name spaces of its own: servers share a registry in /dev/shm that has eight places."""
    if not os.environ.get("UNDERFOOT_APART"):
        script = 'mount -t tmpfs none /dev/shm && exec "$0" "$@"'
        os.environ.update(UNDERFOOT_APART="1", JACK_DEFAULT_SERVER=SERVER, JACK_NO_AUDIO_RESERVATION="1", JACK_NO_START_SERVER="1")
        os.execvp("unshare", ["unshare", "-Urm", "sh", "-c", script, sys.executable, *sys.argv])


def write_large(path, mib):
    """The made font with a sample of so many MiB: what follows its loop goes on."""
    data = bytearray(made())
    at = data.index(b"smpl")
    (length,) = struct.unpack_from("<I", data, at + 4)
    more = (mib << 20) - length & ~1
    header = data.index(b"shdr") + 8
    for place in (4, data.index(b"sdta") - 4, at + 4):
        struct.pack_into("<I", data, place, struct.unpack_from("<I", data, place)[0] + more)
    # The end of the sample: four numbers after its name.
    struct.pack_into("<I", data, header + 24, struct.unpack_from("<I", data, header + 24)[0] + more // 2)
    with open(path, "wb") as file:
        file.write(data[: at + 8])
        # As noise, so that no file system leaves it out.
        block = os.urandom(1 << 20)
        left = more
        # What begins the sample stays at its beginning: the loop lies there.
        file.write(data[at + 8 : at + 8 + length - 92])
        while left:
            left -= file.write(block[:left])
        file.write(data[at + 8 + length - 92 :])


def asked(path):
    try:
        with socket.socket(socket.AF_UNIX) as line:
            line.connect(str(path))
            return json.loads(line.makefile().read())
    except (OSError, ValueError):
        return {}


def wait_for(what, test, daemon):
    began = time.monotonic()
    while not test():
        if time.monotonic() - began > LIMIT_S or daemon.poll() is not None:
            sys.exit(f"{what}: not within {LIMIT_S} s")
        time.sleep(0.002)


def measure(options, font):
    master, line = pty.openpty()
    tty.setraw(line)
    with tempfile.TemporaryDirectory() as place:
        home = Path(place)
        config, status, events, errors = (home / name for name in ("underfoot.toml", "socket", "events", "stderr"))
        config.write_text(f'[speech]\nengine = "none"\n[audio]\nsoundfont = "{font}"\n[foot.serial]\nport = "{os.ttyname(line)}"\n')
        events.touch()
        command = [options.underfoot, "run", "--chart", options.chart, "--config", config, "--fresh", "--socket", status,
                   "--state-dir", home / "state", "--events", events]
        environment = os.environ | {"HOME": place, "XDG_CACHE_HOME": place, "XDG_RUNTIME_DIR": place}
        began = time.monotonic()
        daemon = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=errors.open("w"), env=environment)
        try:
            def is_ready():
                told = asked(status)
                there = [device for device in told.get("devices", []) if device["state"] == "present"]
                return told.get("jack", {}).get("state") == "present" and told["state"] == "stopped" and there
            wait_for("ready", is_ready, daemon)
            ready = time.monotonic() - began
            os.write(master, b"1 down\n1 up\n")
            wait_for("click", lambda: '"part":"click"' in events.read_text(), daemon)
            click = time.monotonic() - began
            band_is_there = "band sound loaded" in errors.read_text()
            wait_for("band", lambda: "band sound loaded" in errors.read_text(), daemon)
            band = time.monotonic() - began
            wait_for("the band's first bar", lambda: '"part":"bass"' in events.read_text(), daemon)
            counters = asked(status)["counters"]
        finally:
            daemon.kill()
            daemon.wait()
            os.close(master)
            os.close(line)
    print(f"{Path(font).name} ({Path(font).stat().st_size >> 20} MiB): ready {ready:.2f} s, click {click:.2f} s, band sound {band:.2f} s; "
          f"starved {counters['starved']}, slow turns {counters['slow_turns']}, worst {counters['worst_turn_us']} us", flush=True)
    return ready, band_is_there


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("underfoot")
    parser.add_argument("chart")
    parser.add_argument("--mib", type=int, default=500)
    options = parser.parse_args()
    apart()
    jackd = subprocess.Popen(["jackd", "-r", "-p", "128", "-n", SERVER, "-d", "dummy", "-r", "48000", "-p", "256"],
                             stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        wait_for("a server", lambda: subprocess.run(["jack_lsp"], capture_output=True, check=False).returncode == 0, jackd)
        with tempfile.TemporaryDirectory() as place:
            large = Path(place) / "large.sf2"
            write_large(large, options.mib)
            ready, _ = measure(options, SMALL)
            _, was_there = measure(options, large)
    finally:
        jackd.kill()
        jackd.wait()
    if ready > READY_S:
        sys.exit(f"ready after {ready:.2f} s, and {READY_S} s are allowed")
    if was_there:
        sys.exit("the large font was there before the click")


if __name__ == "__main__":
    main()
