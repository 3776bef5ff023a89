#!/usr/bin/env python3
"""Harmony against textbooks and real melodies: the figures of `underfoot targets` beside five simple rule sets.

  tests/outside/harmony.py PROGRAM [--resamples N] [--list]

Textbook: tests/fixtures/harmony/progressions.json (common practice, no source). Real tunes: open_tunes.jsonl, from
OpenEWLD (public-domain lead sheets, doi 10.5281/zenodo.4332855): a second counts where the melody decides it, a scale
by the share of melody time that it holds. Nothing of the program was fitted to these tunes by number; every rule is
stated in its own words in `targets --why`. Fails where a figure is below what is promised in DEVELOPERS.md.
"""
import argparse
import json
import random
import subprocess
import sys
from pathlib import Path

import baselines
from baselines import Chord

DATA = Path(__file__).resolve().parent.parent / "fixtures" / "harmony"
SUFFIX = {
    "major": "", "dominant": "7", "minor": "m", "minor-seventh": "m7", "major-seventh": "maj7", "diminished": "dim",
    "dominant-ninth": "9", "major-sixth": "6", "diminished-seventh": "dim7", "minor-sixth": "m6",
    "half-diminished": "m7b5", "augmented": "aug", "augmented-seventh": "7#5", "dominant-13th": "13",
    "minor-ninth": "m9", "suspended-fourth": "sus4", "major-ninth": "maj9", "dominant-11th": "11",
    "minor-major": "mMaj7", "major-minor": "mMaj7", "augmented-ninth": "9#5", "maj69": "6/9", "power": "5",
    "suspended-second": "sus2", "minor-11th": "m11", "minor-13th": "m13",
}
NAMES = "abcde"


def symbol(root, kind, changes=()):
    if kind not in SUFFIX:
        return "N.C."
    changes = [tuple(change) for change in changes]
    suffix = SUFFIX[kind]
    if kind == "suspended-fourth" and ("add", 7, 0) in changes:
        suffix = "9sus4" if ("add", 9, 0) in changes else "7sus4"
        changes = []
    for what, number, alter in changes:
        sign = "#" * alter if alter > 0 else "b" * -alter
        suffix += {"alter": sign, "add": sign or "add", "subtract": "no"}[what] + str(number)
    return root + suffix


def signature(fifths):
    if fifths is None:
        return None
    if fifths == 0:
        return "no sharps or flats"
    return f"{abs(fifths)} {'sharp' if fifths > 0 else 'flat'}{'s' if abs(fifths) > 1 else ''}"


def targets(program, symbols, key):
    """What the program says of each chord, one a bar."""
    declared = f"key = {json.dumps(key)}\n" if key else ""
    chart = f'title = "x"\n{declared}[[section]]\nname = "A"\nbars = {json.dumps(symbols)}\n'
    out = subprocess.run([program, "targets", "-", "--json"], input=chart, text=True, capture_output=True)
    if out.returncode:
        sys.exit(f"{out.stderr}\n{chart}")
    return [json.loads(line) for line in out.stdout.splitlines()]


PCS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def pc(name):
    return (PCS[name[0]] + name.count("#") - name.count("b")) % 12


def textbook(program):
    """Rows of each rule set: seconds right, diatonic seconds right, whole scales right, spelled right."""
    rows = {name: [0, 0, 0, 0] for name in ("ours", *NAMES)}
    count = diatonic = 0
    wrong = []
    for tune in json.loads((DATA / "progressions.json").read_text()):
        ours = targets(program, [c["symbol"] for c in tune["chords"]], tune["key"].removesuffix("m") + " " + tune["mode"])
        plain = [Chord(c["root"][0] + ("#" * c["root"][1] if c["root"][1] > 0 else "b" * -c["root"][1]), c["kind"])
                 for c in tune["chords"]]
        for at, (want, got) in enumerate(zip(tune["chords"], ours)):
            if want["confidence"] == "disputed":
                continue
            count += 1
            is_diatonic = want["confidence"] == "diatonic"
            diatonic += is_diatonic
            found = {"ours": (got["second_semitones"], sorted(map(pc, got["notes"])))}
            for name in NAMES:
                scale = baselines.scale(name, plain, at, tune["fifths"])
                found[name] = (scale[1], sorted({(plain[at].pc + s) % 12 for s in scale}))
            for name, (second, pcs) in found.items():
                right = second == want["second_semitones"]
                rows[name][0] += right
                rows[name][1] += right and is_diatonic
                rows[name][2] += pcs == want["scale_pcs"]
                if name == "ours" and pcs == want["scale_pcs"]:
                    rows[name][3] += got["notes"] == want["stages"]["scale"]
                if name == "ours" and not right:
                    wrong.append(f"{tune['key']} {tune['mode']}: {want['symbol']}, wanted {want['second_semitones']}")
    print(f"textbook: {count} rows, {diatonic} diatonic")
    for name, (seconds, own, scales, spelled) in rows.items():
        more = f", {spelled} of them spelled right" if name == "ours" else ""
        print(f"  {name:5} seconds {100 * seconds / count:6.2f}  diatonic {100 * own / diatonic:6.2f}  "
              f"whole scale {100 * scales / count:6.2f}{more}")
    print("\n".join(wrong))
    seconds, own, scales, spelled = rows["ours"]
    return own == diatonic and seconds >= 0.99 * count and scales >= 0.97 * count and spelled == scales


def measures(sums):
    """Second agreement, balanced, fit, non-chord fit."""
    flat, flats, whole, wholes, held, time, held_other, other = sums
    per = lambda part, of: 100 * part / of if of else 0.0
    return [per(flat + whole, flats + wholes), (per(flat, flats) + per(whole, wholes)) / 2, per(held, time),
            per(held_other, other)]


def tunes(program, resamples, listed):
    sums = {name: [] for name in ("ours", *NAMES)}
    differ = []
    for line in (DATA / "open_tunes.jsonl").open():
        tune = json.loads(line)
        if not tune["truth"]:
            continue
        chords = [Chord(*chord) for chord in tune["chords"]]
        ours = targets(program, [symbol(*chord) for chord in tune["chords"]], signature(tune["fifths"]))
        for row in sums.values():
            row.append([0.0] * 8)
        for at, root, melody, tones, *second in tune["truth"]:
            scales = {"ours": (ours[at]["second_semitones"], {pc(note) for note in ours[at]["notes"]})}
            for name in NAMES:
                scale = baselines.scale(name, chords, at, tune["fifths"] or 0)
                scales[name] = (scale[1], {(root + s) % 12 for s in scale})
            for name, (semitones, pcs) in scales.items():
                row = sums[name][-1]
                if second:
                    side = 0 if second[0] == 1 else 2
                    row[side] += semitones == second[0]
                    row[side + 1] += 1
                for above, time in melody.items():
                    note = (root + int(above)) % 12
                    row[4] += time * (note in pcs)
                    row[5] += time
                    if note not in tones:
                        row[6] += time * (note in pcs)
                        row[7] += time
            if second and (scales["ours"][0] != scales["e"][0] or second[0] == 1):
                right = (scales["ours"][0] == second[0], scales["e"][0] == second[0])
                around = [("[%s]" if j == at else "%s") % symbol(*tune["chords"][j])
                          for j in range(max(0, at - 4), min(len(chords), at + 4))]
                differ.append((right, second[0], tune["tune"], " ".join(around), ours[at]["scale"]))
    totals = {name: [sum(column) for column in zip(*rows)] for name, rows in sums.items()}
    print("real tunes: agreement, balanced, fit, non-chord fit; flat seconds found of all, flat seconds said")
    for name, total in totals.items():
        flat, flats, whole, wholes = total[:4]
        said = flat + wholes - whole
        print(f"  {name:5}", *(f"{value:6.2f}" for value in measures(total)),
              f" {flat:.0f}/{flats:.0f} recall {100 * flat / flats:.1f} precision {100 * flat / said if said else 0:.1f}")
    for (us, e), second, name, around, scale in sorted(differ, key=lambda row: (row[0], row[1])):
        if us != e or listed:
            verdict = {(1, 0): "won", (0, 1): "lost", (1, 1): "both", (0, 0): "neither"}[us, e]
            print(f"  {verdict:7} {'flat' if second == 1 else 'natural':7} {name}: {around} ({scale})")
    better, chance = 0, random.Random(1)
    pairs = list(zip(sums["ours"], sums["e"]))
    for _ in range(resamples):
        drawn = chance.choices(pairs, k=len(pairs))
        a, b = ([sum(column) for column in zip(*(pair[side] for pair in drawn))] for side in (0, 1))
        better += sum(measures(a)) > sum(measures(b))
    ours, e = measures(totals["ours"]), measures(totals["e"])
    print(f"  sum over e {sum(ours) - sum(e):+.2f}, better in {100 * better / max(1, resamples):.1f} % of {resamples} resamples by tune")
    return all(a >= b for a, b in zip(ours, e))


def main():
    options = argparse.ArgumentParser()
    options.add_argument("program")
    options.add_argument("--resamples", type=int, default=2000)
    options.add_argument("--list", action="store_true")
    options = options.parse_args()
    fine = textbook(options.program)
    return 0 if tunes(options.program, options.resamples, options.list) and fine else 1


if __name__ == "__main__":
    sys.exit(main())
