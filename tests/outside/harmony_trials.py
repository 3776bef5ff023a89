#!/usr/bin/env python3
"""What the choices of the search for the local key are worth, on every set.

  tests/outside/harmony_trials.py PROGRAM [--data DIR] [--music21 PYTHON] [--cache DIR]

1. Each weight of the search a third smaller and larger, singly: agreement, balanced, scales and keys met, set by set.
2. Nested cross-validation of choosing among these: on four folds of tunes out of five, and on all sets but one, the best is
   chosen and measured on what was left out, beside what is built in. Where choosing by the data does not pay on data it
   has not seen, the round weights stand.
3. Each habit the other way, over school "textbook": seconds and scales that its value there wins and loses, by tune: what
   the table of habits in DEVELOPERS.md counts.
4. A published key finder (key_finder.py) on the analysts' pieces, and what this program's scales make of its keys.

Only the first part works without the data that may not be shipped. Fails where what was chosen by the data is better by
more than half a point on data it has not seen: then what is built in is not the best that is known.
"""

import argparse
import collections
import hashlib
import json
import os
import random
import subprocess
import sys
from pathlib import Path

import baselines
from harmony_pieces import Piece, ask, key_at, pieces, same_key
from harmony_rules import Support
from harmony_sets import module, pc, with_school

# As built in, in points (src/harmony/weights.rs). What is 0 is moved by half a point.
WEIGHTS = {
    "tonic": 3, "dominant_seventh": 3, "dominant_triad": 2, "predominant": 2, "other": 1, "other_in_minor": 0.5,
    "raised_sixth": 0, "relative_dominant": 0, "explained": 0, "parallel_tonic": -1, "stranger": -2, "cadence": 1,
    "change": 5, "far": 3, "at_home": 0.1, "at_home_in_minor": 0.6, "heard": 2,
}
# As school "textbook" has it, and the other way.
HABITS = {
    "flat_nine_to_two": (False, True), "flat_nine_to_four": (True, False), "flat_nine_to_dominant": (True, False),
    "flat_nine_after_half_diminished": ("never", "always"), "flat_two_rising": (False, True),
    "natural_two_on_six": (False, True), "three_chord": ("Phrygian", "Aeolian"),
    "minor_two": ("flat second", "natural second"), "minor_tonic": ("signature", "natural sixth"),
    "dominant_to_minor": ("Phrygian dominant", "altered"),
}
FOLDS = 5
TOLERANCE = 0.5


def candidates():
    """As built in, then each move of one weight."""
    found = {"as built in": ()}
    for name, points in WEIGHTS.items():
        step = round(abs(points) / 3, 1) or (0.1 if points else 0.5)
        step = max(step, 1) if name == "heard" else step
        for moved in (points - step, points + step):
            found[f"{name} {moved:g}"] = (f"{name}={moved:.1f}",)
    return found


def tally(all_pieces, said):
    """For each set and tune: kind and what is wanted -> [met, of]."""
    found = collections.defaultdict(lambda: collections.defaultdict(lambda: [0.0, 0.0]))
    for piece, lines in zip(all_pieces, said):
        for one in piece.outcomes(lines):
            cell = found[piece.set, piece.tune][one.kind, one.want]
            cell[0] += one.met
            cell[1] += one.of
    return found


def figures(tallied, chosen):
    """Agreement, balanced, scales met or melody held, keys met, over some tunes of one set; what is not asked is left out."""
    total = collections.defaultdict(lambda: [0.0, 0.0])
    for at in chosen:
        for kind, (met, of) in tallied[at].items():
            total[kind][0] += met
            total[kind][1] += of
    share = lambda *kinds: 100 * sum(total[k][0] for k in kinds) / sum(total[k][1] for k in kinds)
    seconds = [("second", want) for want in (1, 2) if total["second", want][1]]
    found = {}
    if seconds:
        found["agreement"] = share(*seconds)
        found["balanced"] = sum(share(one) for one in seconds) / len(seconds)
    for kind, word in (("scale", "scales"), ("key", "keys")):
        if total[kind, None][1]:
            found[word] = share((kind, None))
    return found


def worth(tallied, chosen):
    """One number to choose by: the mean over sets of the mean of all figures but agreement, which balanced has in it."""
    by_set = collections.defaultdict(list)
    for at in chosen:
        by_set[at[0]].append(at)
    each = []
    for some in by_set.values():
        found = figures(tallied, some)
        found.pop("agreement", None)
        each.append(sum(found.values()) / len(found))
    return sum(each) / len(each)


def table(tallied):
    sets = list(dict.fromkeys(at[0] for at in next(iter(tallied.values()))))
    built_in = tallied["as built in"]
    for name, mine in tallied.items():
        parts = []
        for one in sets:
            some = [at for at in mine if at[0] == one]
            here, there = figures(mine, some), figures(built_in, some)
            told = [f"{here[word]:.2f}" if mine is built_in else f"{here[word] - there[word]:+.2f}" for word in here]
            parts.append(f"{one} {' '.join(told)}")
        print(f"  {name:24} " + "; ".join(parts))


def nested(tallied, folds):
    """Chooses on all folds but one, measures on that one; the mean gain over what is built in, and what was chosen."""
    gains, chosen = [], collections.Counter()
    everything = set(tallied["as built in"])
    for fold in folds:
        rest = everything - set(fold)
        best = max(tallied, key=lambda name: worth(tallied[name], rest))
        gain = worth(tallied[best], fold) - worth(tallied["as built in"], fold)
        gains.append(gain)
        chosen[best] += 1
    return gains, chosen


def cross_validation(tallied):
    tunes = sorted(tallied["as built in"], key=str)
    random.Random(1).shuffle(tunes)
    # Folds of tunes have their part of every set.
    tunes.sort(key=lambda at: at[0])
    by_tune = [tunes[at::FOLDS] for at in range(FOLDS)]
    by_set = [[at for at in tunes if at[0] == one] for one in dict.fromkeys(at[0] for at in tunes)]
    fine = True
    for name, folds in (("a fifth of the tunes", by_tune), ("a set", by_set)):
        gains, chosen = nested(tallied, folds)
        mean = sum(gains) / len(gains)
        fine &= mean <= TOLERANCE
        told = ", ".join(f"{word} ({count})" for word, count in chosen.most_common())
        print(f"nested, leaving out {name}: chosen {told}; on what was left out {mean:+.2f} points ({', '.join(f'{gain:+.2f}' for gain in gains)})")
    return fine


def habits(program, all_pieces):
    """What each habit's value wins over the other one, where it decides."""
    plain = [list(piece.outcomes(lines)) for piece, lines in zip(all_pieces, ask(program, all_pieces, "textbook"))]
    school = 'school = "textbook"\n'
    for name, (value, other) in HABITS.items():
        flipped = [Piece(p.set, p.tune, lambda s, p=p: p.text(s).replace(school, f"{school}{name} = {json.dumps(other)}\n", 1), p.outcomes) for p in all_pieces]
        found = collections.defaultdict(Support)
        for piece, before, lines in zip(all_pieces, plain, ask(program, flipped, "textbook")):
            for one, less in zip(before, piece.outcomes(lines)):
                if abs(one.met - less.met) > 1e-9:
                    found[one.kind, piece.set].add(piece.tune, one.met - less.met)
        parts = [f"{kind} {where} {one.won}:{one.lost} in {one.better}:{one.worse} tunes" for (kind, where), one in sorted(found.items(), key=lambda pair: pair[0][0] != "second")]
        print(f"habit {name}, {json.dumps(value)} over {json.dumps(other)}: {'; '.join(parts) or 'decides nothing here'}")


def published(python, data, cache):
    """Keys a bar for each analysts' piece and window, by music21; kept, for they take minutes."""
    keys = module("localkeys_score", data / "localkeys" / "score.py")
    analysed = [json.loads(line) for line in (data / "localkeys" / "pieces_open.jsonl").open()]
    lines = []
    for piece in analysed:
        over, under = map(int, piece["time"].split("/"))
        whole = over * 4 / under
        starts = [(bar, after * 4 / under, symbol) for bar, after, symbol, *_ in piece["rows"]]
        bars, sounding = [], []
        for bar in range(1, len(piece["bars"]) + 1):
            here = [(after, symbol) for number, after, symbol in starts if number == bar]
            cells, at = [], 0.0
            for after, symbol in [*here, (whole, None)]:
                if after > at:
                    cells.append([sounding, after - at])
                    at = after
                if symbol is not None:
                    _, letter, alteration, kind, changes = piece["symbols"][symbol]
                    degrees = baselines.degrees(kind, [tuple(change) for change in changes]) or {}
                    root = 48 + (pc(letter) + alteration) % 12
                    sounding = sorted({root + above for above in degrees.values()})
            bars.append(cells)
        lines.append(json.dumps(bars))
    text = "\n".join(lines) + "\n"
    kept = cache / f"key-finder-{hashlib.sha256(text.encode()).hexdigest()[:16]}.jsonl"
    if not kept.exists():
        script = Path(__file__).with_name("key_finder.py")
        out = subprocess.run([python, script], input=text, text=True, stdout=subprocess.PIPE, check=True).stdout
        cache.mkdir(parents=True, exist_ok=True)
        kept.write_text(out)
    return keys, analysed, [json.loads(line) for line in kept.read_text().splitlines()]


def told(keys, piece, answers):
    """The piece's chart with the finder's keys written into it."""
    text, last = keys.toml(piece), None
    first = next(key for key in answers if key)
    text = text.replace(f"key = {json.dumps(piece['key'], ensure_ascii=False)}", f"key = {json.dumps(first)}", 1)
    last = first
    for bar, key in enumerate(answers, 1):
        if key and key != last:
            text += f"\n[[section.change]]\nbar = {bar}\nkey = {json.dumps(key)}\n"
            last = key
    return with_school(text, "textbook")


def beside(program, data, python, cache, all_pieces):
    """The published key finder beside: how often it meets the analyst's key, and what this program's scales make of it."""
    keys, analysed, answers = published(python, data, cache)
    some = [piece for piece in all_pieces if piece.set in ("choro", "classical")]
    for window, name in enumerate(("window 4, its default", "window 2, as for chorales")):
        met = collections.defaultdict(lambda: [0, 0])
        for piece, answer in zip(analysed, answers):
            for row, wanted in zip(piece["rows"], key_at(piece)):
                if row[5] > 0:
                    cell = met[piece["set"]]
                    cell[0] += bool(answer[window][row[0] - 1]) and same_key(answer[window][row[0] - 1], wanted)
                    cell[1] += 1
        texts = [told(keys, piece, answer[window]) for piece, answer in zip(analysed, answers)]
        for piece, text in zip(some, texts):
            piece.text = lambda school, t=text: t
        # No search inside the stretches of its keys: they are to stand as they are.
        tallied = tally(some, ask(program, some, "textbook", ("change=100",)))
        for one in met:
            found = figures(tallied, [at for at in tallied if at[0] == one])
            print(f"music21 ({name}), {one}: key met {100 * met[one][0] / met[one][1]:.1f} %; its keys with this program's scales: agreement {found['agreement']:.2f}, balanced {found['balanced']:.2f}, collection equal {found['scales']:.2f}")


def main():
    options = argparse.ArgumentParser()
    options.add_argument("program")
    options.add_argument("--data", default=os.environ.get("UNDERFOOT_HARMONY_DATA"))
    options.add_argument("--music21", default=os.environ.get("UNDERFOOT_MUSIC21"))
    options.add_argument("--cache", default="target/key-finder")
    options = options.parse_args()
    all_pieces = pieces(options.data)
    tallied = {name: tally(all_pieces, ask(options.program, all_pieces, "textbook", trial)) for name, trial in candidates().items()}
    print("weights: agreement, balanced, scales, keys; below the first line the difference")
    table(tallied)
    fine = cross_validation(tallied) if options.data else True
    habits(options.program, all_pieces)
    if options.data and options.music21:
        beside(options.program, Path(options.data), options.music21, Path(options.cache), all_pieces)
    return 0 if fine else 1


if __name__ == "__main__":
    sys.exit(main())
