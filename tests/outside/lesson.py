#!/usr/bin/env python3
"""A lesson's folder, judged from outside: loudness and true peak by ffmpeg's meter (EBU R 128), the MIDI files by two readers (mido and
music21) that must agree with each other and with the sound, and the page in a browser, opened from the file system.

  tests/outside/lesson.py FOLDER [--lufs -18] [--music21 PYTHON] [--no-browser] [--out DIR]

PYTHON is an interpreter that has music21 (`tests/outside/venv target/outside-scores requirements-scores.txt`). Needs mido, ffmpeg and
chromium.
"""

import argparse
import base64
import json
import pathlib
import re
import subprocess
import sys

import mido

from browsing import Browser

# Prints tempos, markers and notes of a file as music21's own reader has them, in ticks.
READER = """
import json, sys
from music21 import midi
file = midi.MidiFile()
file.open(sys.argv[1]); file.read(); file.close()
told = {"tempos": [], "marks": [], "notes": [], "ppq": file.ticksPerQuarterNote}
for track in file.tracks:
    at = 0
    for event in track.events:
        if event.isDeltaTime():
            at += event.time
        elif event.type == midi.MetaEvents.SET_TEMPO:
            told["tempos"].append([at, int.from_bytes(event.data, "big")])
        elif event.type == midi.MetaEvents.MARKER:
            told["marks"].append([at, event.data.decode("utf-8") if isinstance(event.data, bytes) else event.data])
        elif event.isNoteOn() and event.velocity:
            told["notes"].append([at, event.channel - 1, event.pitch, event.velocity])
print(json.dumps(told))
"""

# Every player plays from its last mark; one at a time.
PLAY = """
(async () => {
  const played = [];
  const players = [...document.querySelectorAll('audio')];
  const happens = (player, kind, ms) => new Promise(done => {
    player.addEventListener(kind, () => done(true), {once: true});
    setTimeout(() => done(false), ms);
  });
  for (const player of players) {
    const button = player.closest('li, section').querySelector('button:last-of-type');
    const begins = happens(player, 'playing', 60000);
    button.click();
    await begins;
    const before = player.currentTime;
    await happens(player, 'timeupdate', 30000);
    await happens(player, 'timeupdate', 30000);
    played.push({source: player.currentSrc, lasts: player.duration, mark: Number(button.dataset.at), before, after: player.currentTime,
                 fault: player.error && player.error.message});
  }
  return {played, alone: players.filter(player => !player.paused).length};
})()
"""
LOOK = """
(async () => {
  for (const shown of document.querySelectorAll('details')) shown.open = true;
  const pictures = [];
  for (const node of document.querySelectorAll('img')) {
    node.loading = 'eager';
    await node.decode().catch(() => {});
    pictures.push(node.naturalWidth);
  }
  const usable = [...document.querySelectorAll('button, a, summary, audio')];
  const wide = [...document.querySelectorAll('main *')].filter(node => node.getBoundingClientRect().right > window.innerWidth + 1);
  const light = color => {
    const [r, g, b] = color.match(/[\\d.]+/g).map(n => n / 255).map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  // Contrast as WCAG 2.2 reckons it.
  const ground = light(getComputedStyle(document.body).backgroundColor);
  const contrast = color => { const [a, b] = [light(color), ground].sort((a, b) => b - a); return (a + 0.05) / (b + 0.05); };
  return {
    pictures, width: window.innerWidth, wide: wide.map(node => node.tagName),
    keys: usable.every(node => { node.focus(); return document.activeElement === node; }),
    nameless: usable.filter(node => !(node.textContent.trim() || node.getAttribute('aria-label'))).length,
    contrast: Math.min(...[...document.querySelectorAll('h1, p, a')].map(node => contrast(getComputedStyle(node).color))),
  };
})()
"""


def loudness(path):
    run = ["ffmpeg", "-hide_banner", "-nostats", "-i", str(path), "-af", "ebur128=peak=true:framelog=verbose", "-f", "null", "-"]
    told = subprocess.run(run, capture_output=True, text=True, check=True).stderr
    number = lambda name: float(re.findall(rf"{name}:\s+(-?[\d.]+|-inf)", told)[-1])
    return number("I"), number("Peak")


def with_mido(path):
    told = {"tempos": [], "marks": [], "notes": [], "ppq": 0}
    file = mido.MidiFile(path, charset="utf-8")
    told["ppq"] = file.ticks_per_beat
    for track in file.tracks:
        at = 0
        for event in track:
            at += event.time
            if event.type == "set_tempo":
                told["tempos"].append([at, event.tempo])
            elif event.type == "marker":
                told["marks"].append([at, event.text])
            elif event.type == "note_on" and event.velocity:
                told["notes"].append([at, event.channel, event.note, event.velocity])
    return told


def seconds(told, tick):
    """Where a tick sounds, by the tempo map."""
    at, since, tempo = 0.0, 0, 500_000
    for begins, next_tempo in told["tempos"]:
        if begins >= tick:
            break
        at, since, tempo = at + (begins - since) * tempo / 1e6 / told["ppq"], begins, next_tempo
    return at + (tick - since) * tempo / 1e6 / told["ppq"]


def check_sound(folder, lufs, faults):
    worst = [0.0, -99.0]
    for form in ("wav", "flac", "opus", "mp3"):
        for path in sorted(folder.glob(f"tracks/*.{form}")) + sorted(folder.glob(f"lesson.{form}")):
            integrated, peak = loudness(path)
            worst = [max(worst[0], abs(integrated - lufs)), max(worst[1], peak)]
            # A small form may round a peak up a little: what is promised is of the forms that keep every sample.
            most = -1.0 if form in ("wav", "flac") else 0.0
            if abs(integrated - lufs) > 0.5 or peak > most:
                faults.append(f"{path.name}: {integrated} LUFS, {peak} dBTP")
    print(f"loudness: at most {worst[0]:.2f} LU off {lufs} LUFS, true peak at most {worst[1]:.1f} dBTP")


def check_midi(folder, music21, faults):
    record = json.loads((folder / "lesson.json").read_text(encoding="utf-8"))["tracks"]
    start, worst, counted = 0.0, 0.0, 0
    whole_marks, whole_notes = [], 0
    for stem in sorted(record):
        told = with_mido(folder / f"tracks/{stem}.mid")
        marks = record[stem]["marks"]
        for (tick, words), mark in zip(told["marks"], marks, strict=True):
            worst = max(worst, abs(seconds(told, tick) - mark["at_s"]))
            if not words.endswith(mark["words"]):
                faults.append(f"{stem}: marker {words!r}, the track has {mark['words']!r}")
        whole_marks += [(start + mark["at_s"], mark["words"]) for mark in marks]
        whole_notes += len(told["notes"])
        start += record[stem]["seconds"]
    whole = with_mido(folder / "lesson.mid")
    for (tick, words), (at, wanted) in zip(whole["marks"], whole_marks, strict=True):
        worst = max(worst, abs(seconds(whole, tick) - at))
        if not words.endswith(wanted):
            faults.append(f"lesson.mid: marker {words!r}, not {wanted!r}")
    if len(whole["notes"]) != whole_notes:
        faults.append(f"lesson.mid has {len(whole['notes'])} notes, its tracks {whole_notes}")
    if worst > 0.002:
        faults.append(f"a marker is {worst:.4f} s off the sound")
    for path in sorted(folder.glob("**/*.mid")) if music21 else []:
        done = subprocess.run([music21, "-c", READER, str(path)], capture_output=True, text=True, check=True)
        other, own = json.loads(done.stdout), with_mido(path)
        counted += len(own["notes"])
        for kind in ("ppq", "tempos", "marks", "notes"):
            if sorted(other[kind]) != sorted(own[kind]) if kind != "ppq" else other[kind] != own[kind]:
                faults.append(f"{path.name}: the readers differ in {kind}")
    print(f"midi: {len(whole['marks'])} markers, at most {worst * 1000:.2f} ms off; {counted} notes equal to both readers")


def check_page(folder, out, faults):
    out.mkdir(parents=True, exist_ok=True)
    with Browser() as browser:
        browser.screen(1000, 1400)
        browser.open((folder / "index.html").resolve().as_uri())
        found = browser.run(PLAY)
        for one in found["played"]:
            if one["fault"] or not one["lasts"] or one["after"] <= one["before"] or one["before"] < one["mark"] - 0.1:
                faults.append(f"does not play from its mark: {one}")
        if found["alone"] != 1:
            faults.append(f"{found['alone']} play at a time")
        for name, size, dark in (("desk", (1000, 1400), False), ("dark", (1000, 1400), True), ("telephone", (360, 740), False)):
            browser.screen(*size, dark=dark)
            seen = browser.run(LOOK)
            if seen["wide"] or not seen["keys"] or seen["nameless"] or not all(seen["pictures"]) or seen["contrast"] < 4.5:
                faults.append(f"page on {name}: {seen}")
            (out / f"{name}.png").write_bytes(base64.b64decode(browser.picture()))
        faults += [f"console: {told}" for told in browser.console()]
        outside = [address for address in browser.requests() if not address.startswith(("file:", "data:", "about:"))]
        faults += [f"request: {address}" for address in outside]
    print(f"page: {len(found['played'])} players play from their marks, {len(seen['pictures'])} pictures, no request outside")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=pathlib.Path)
    parser.add_argument("--lufs", type=float, default=-18.0)
    parser.add_argument("--music21")
    parser.add_argument("--no-browser", action="store_true")
    parser.add_argument("--out", type=pathlib.Path, default=pathlib.Path("target/outside-lesson"))
    options = parser.parse_args()
    faults = []
    check_sound(options.folder, options.lufs, faults)
    check_midi(options.folder, options.music21, faults)
    if not options.no_browser:
        check_page(options.folder, options.out, faults)
    print(*faults, sep="\n")
    return int(bool(faults))


if __name__ == "__main__":
    sys.exit(main())
