#!/usr/bin/env python3
"""Harmony against textbooks, real melodies, analysts' keys and solos: the figures of `underfoot targets` beside five
simple rule sets, for each school, and what each rule rests on.

  tests/outside/harmony.py PROGRAM [--resamples N] [--list] [--data DIR]

Textbook: tests/fixtures/harmony/progressions.json (common practice, no source). Real tunes: open_tunes.jsonl, from
OpenEWLD (public-domain lead sheets, doi 10.5281/zenodo.4332855): a second counts where the melody decides it, a scale
by the share of melody time that it holds. Analysts' keys and solos may be measured but not shipped (their licences:
README.md in the data): --data, or UNDERFOOT_HARMONY_DATA, names the directory that has localkeys/ and solos/.

The search for the local key has no number fitted to these data. Fails where textbook rows are not met, where agreement or
balanced of a school lie significantly below the best simple rule set, where what is told as certain is not, and where a
rule wins on fewer than three tunes and does not stand in the textbook table (harmony_rules.py).
"""
import argparse
import json
import os
import random
import sys
from pathlib import Path

import baselines
import harmony_rules
import harmony_sets
from baselines import Chord
from harmony_sets import Decision, chart, pc, second_of, signature, symbol, targets

DATA = Path(__file__).resolve().parent.parent / "fixtures" / "harmony"
NAMES = "abcde"
SCHOOLS = ["textbook", "melody", "improviser"]

def textbook(program):
    """Whether the textbook rows come out: seconds accepted, strict, whole scales, spelling."""
    count = diatonic = accepted = strict = own = scales = spelled = 0
    decisions = []
    for tune in json.loads((DATA / "progressions.json").read_text()):
        key = tune["key"].removesuffix("m") + " " + tune["mode"]
        ours = targets(program, chart([c["symbol"] for c in tune["chords"]], key))
        for want, got in zip(tune["chords"], ours):
            if want["confidence"] == "disputed":
                continue
            second = got["second_semitones"]
            right = sorted(map(pc, got["notes"])) == want["scale_pcs"]
            count += 1
            diatonic += want["confidence"] == "diatonic"
            accepted += second in want["second_accepted"]
            strict += second == want["second_semitones"]
            own += want["confidence"] == "diatonic" and second == want["second_semitones"]
            scales += right
            spelled += right and got["notes"] == want["stages"]["scale"]
            if second not in want["second_accepted"]:
                print(f"  {tune['key']} {tune['mode']}: {want['symbol']}, wanted {want['second_accepted']}")
            decisions.append(Decision("textbook", tune["id"], want["second_semitones"], got))
    per = lambda part: f"{100 * part / count:.2f}"
    print(f"textbook: {count} rows: accepted {per(accepted)}, strict {per(strict)}, whole scale {per(scales)}, {spelled} of {scales} spelled right")
    fine = accepted == count and own == diatonic and strict >= 0.99 * count
    return fine and scales >= 0.97 * count and spelled == scales, decisions


def measures(sums):
    """Second agreement, balanced, fit, non-chord fit."""
    flat, flats, whole, wholes, held, time, held_other, other = sums
    per = lambda part, of: 100 * part / of if of else 0.0
    return [per(flat + whole, flats + wholes), (per(flat, flats) + per(whole, wholes)) / 2, per(held, time),
            per(held_other, other)]


def tunes(program, school, listed):
    """Sums by tune of the program and of each simple rule set, and our decisions."""
    sums, decisions = {name: [] for name in ("ours", *NAMES)}, []
    for line in (DATA / "open_tunes.jsonl").open():
        tune = json.loads(line)
        if not tune["truth"]:
            continue
        chords = [Chord(*chord) for chord in tune["chords"]]
        text = chart([symbol(*one) for one in tune["chords"]], signature(tune["fifths"]), school)
        ours = targets(program, text)
        for row in sums.values():
            row.append([0.0] * 8)
        for at, root, melody, tones, *second in tune["truth"]:
            found = {"ours": (second_of(ours[at]), {pc(note) for note in ours[at]["notes"]})}
            for name in NAMES:
                scale = baselines.scale(name, chords, at, tune["fifths"] or 0)
                found[name] = (scale[1], {(root + s) % 12 for s in scale})
            for name, (semitones, pcs) in found.items():
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
            if second:
                decisions.append(Decision("tunes", tune["tune"], second[0], ours[at]))
                if listed and (found["ours"][0] != second[0] or found["e"][0] != second[0]):
                    around = [("[%s]" if j == at else "%s") % symbol(*tune["chords"][j])
                              for j in range(max(0, at - 4), min(len(chords), at + 4))]
                    verdict = {(1, 0): "won", (0, 1): "lost", (0, 0): "neither"}[
                        (found["ours"][0] == second[0], found["e"][0] == second[0])]
                    print(f"  {verdict:7} {second[0]} {tune['tune']}: {' '.join(around)} ({ours[at]['scale']})")
    return sums, decisions


def beside(name, school, sums, resamples, figures):
    """Prints the program beside each simple rule set, with a paired bootstrap by tune; whether agreement and balanced are
    not significantly below the best. The first line of a figure has the best rule set, the second all five differences."""
    totals = {who: measures([sum(column) for column in zip(*rows)]) for who, rows in sums.items()}
    chance, fine, told, all_five = random.Random(1), True, [], []
    count = len(sums["ours"])
    draws = [chance.choices(range(count), k=count) for _ in range(resamples)]
    drawn = {who: [measures([sum(column) for column in zip(*(rows[i] for i in draw))]) for draw in draws] for who, rows in sums.items()}
    for at, figure in enumerate(figures):
        best, parts = max(NAMES, key=lambda who: totals[who][at]), []
        for who in NAMES:
            spread = sorted(mine[at] - theirs[at] for mine, theirs in zip(drawn["ours"], drawn[who]))
            within = lambda share: spread[min(len(spread) - 1, int(len(spread) * share))]
            low, high = within(0.025), within(0.975)
            gain = totals["ours"][at] - totals[who][at]
            parts.append(f"{who} {gain:+.2f} [{low:+.2f}, {high:+.2f}]")
            if who == best:
                word = " above" if low > 0 else " BELOW" if high < 0 else ""
                told.append(f"{figure} {totals['ours'][at]:.2f} ({who} {totals[who][at]:.2f}, {gain:+.2f} [{low:+.2f}, {high:+.2f}]{word})")
                # 99 % to fail: held against the best of five rule sets, chosen after the fact, on eight figures.
                fine &= at > 1 or within(0.995) >= 0
        all_five.append(f"    {figure}: " + ", ".join(parts))
    print(f"{name}, {school}: " + ", ".join(told) + ("" if fine else ": SIGNIFICANTLY BELOW"))
    print("\n".join(all_five))
    return fine


def reliability(decisions):
    """How often what is told as certain is right, and by margin."""
    fine = True
    for name in dict.fromkeys(one.set for one in decisions):
        mine = [one for one in decisions if one.set == name]
        sure = [one for one in mine if one.certain]
        right = sum(one.second == one.want for one in sure)
        parts = []
        for low, high in ((0, 1), (1, 3), (3, 5), (5, 8), (8, 10), (10, 11)):
            some = [one for one in mine if low <= one.margin < high]
            parts.append(f"{low} to {high}: {sum(one.second == one.want for one in some)}/{len(some)}")
        per = 100 * right / max(1, len(sure))
        print(f"certain, {name}: {100 * len(sure) / len(mine):.1f} %, of these right {per:.2f} %; by margin {', '.join(parts)}")
        # Melodies and solos decide few seconds and contradict each other; analysts and textbooks are to be met.
        if name not in ("tunes", "solos"):
            fine &= per >= 99 and len(sure) >= 0.8 * len(mine)
    return fine


def main():
    options = argparse.ArgumentParser()
    options.add_argument("program")
    options.add_argument("--resamples", type=int, default=1000)
    options.add_argument("--list", action="store_true")
    options.add_argument("--data", default=os.environ.get("UNDERFOOT_HARMONY_DATA"))
    options = options.parse_args()
    fine, rows = textbook(options.program)
    for school in SCHOOLS:
        sums, decisions = tunes(options.program, school, options.list and school == "textbook")
        fine &= beside("tunes", school, sums, options.resamples, ("agreement", "balanced", "fit", "non-chord fit"))
        if options.data:
            for name, sums, more in harmony_sets.outside(options.program, Path(options.data), school):
                figures = ("agreement", "balanced", "fit" if name == "solos" else "collection equal")
                fine &= beside(name, school, sums, options.resamples, figures)
                decisions += more
        if school == "textbook":
            fine &= reliability(decisions + rows)
        fine &= harmony_rules.ablation(options.program, options.data, school)
    return 0 if fine else 1


if __name__ == "__main__":
    sys.exit(main())
