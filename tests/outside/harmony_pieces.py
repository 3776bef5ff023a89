"""What harmony is measured on, a piece at a time: the chart that the program gets, and what came out of each place.

Five sets: textbook progressions and tunes with their melodies (tests/fixtures/harmony), and where the directory is named
that has them, analysts' keys (choro, classical) and solos. Charts are asked for once, two at a time.
"""

import json
import os
import subprocess
import sys
from collections import namedtuple
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Callable

from harmony_sets import chart, module, pc, signature, symbol, with_school

FIXTURES = Path(__file__).resolve().parent.parent / "fixtures" / "harmony"
# A decision and what came out: kind "second", "scale" or "key"; the place in the piece; what is wanted (1 or 2 for a
# second); how much of it was met, and out of how much.
Outcome = namedtuple("Outcome", "kind place want met of")


@dataclass
class Piece:
    set: str
    # Near-copies share it.
    tune: object
    text: Callable[[str], str]
    outcomes: Callable[[list], list]


def textbook():
    def outcomes(rows):
        def of(lines):
            for at, (want, line) in enumerate(zip(rows, lines)):
                if want["confidence"] != "disputed":
                    yield Outcome("second", at, want["second_semitones"], line["second_semitones"] == want["second_semitones"], 1)
                    yield Outcome("scale", at, None, sorted(map(pc, line["notes"])) == want["scale_pcs"], 1)
        return of

    for tune in json.loads((FIXTURES / "progressions.json").read_text()):
        key = tune["key"].removesuffix("m") + " " + tune["mode"]
        symbols = [row["symbol"] for row in tune["chords"]]
        yield Piece("textbook", tune["id"], lambda school, s=symbols, k=key: chart(s, k, school), outcomes(tune["chords"]))


def tunes():
    def outcomes(truth):
        def of(lines):
            for at, root, melody, _, *second in truth:
                line = lines[at]
                if second:
                    yield Outcome("second", at, second[0], line["second_semitones"] == second[0], 1)
                notes = set(map(pc, line["notes"]))
                held = sum(time for above, time in melody.items() if (root + int(above)) % 12 in notes)
                yield Outcome("scale", at, None, held, sum(melody.values()))
        return of

    for line in (FIXTURES / "open_tunes.jsonl").open():
        tune = json.loads(line)
        if tune["truth"]:
            symbols, key = [symbol(*one) for one in tune["chords"]], signature(tune["fifths"])
            yield Piece("tunes", tune["tune"], lambda school, s=symbols, k=key: chart(s, k, school), outcomes(tune["truth"]))


def key_at(piece):
    """The analyst's key at each row."""
    keys, at = [], 0
    for row in range(len(piece["rows"])):
        while at + 1 < len(piece["keys"]) and piece["keys"][at + 1][0] <= row:
            at += 1
        keys.append(piece["keys"][at][1])
    return keys


def same_key(one, other):
    one, other = one.split()[:2], other.split()[:2]
    return pc(one[0]) == pc(other[0]) and one[1] == other[1]


def analysts(data):
    keys = module("localkeys_score", data / "localkeys" / "score.py")

    def outcomes(piece):
        wanted = key_at(piece)

        def of(lines):
            at = {(line["bar"], round(float(line["beat"]) - 1, 3)): line for line in lines}
            for row, (bar, after, _, _, _, want, collection) in enumerate(piece["rows"]):
                line = at[bar, round(float(after), 3)]
                if want > 0:
                    yield Outcome("second", row, want, line["second_semitones"] == want, 1)
                    yield Outcome("key", row, None, same_key(line["key"], wanted[row]), 1)
                if collection >= 0:
                    notes = sum(1 << note for note in set(map(pc, line["notes"])))
                    yield Outcome("scale", row, None, notes == piece["colls"][collection][0], 1)
        return of

    for line in (data / "localkeys" / "pieces_open.jsonl").open():
        piece = json.loads(line)
        yield Piece(piece["set"], piece["group"], lambda school, p=piece: with_school(keys.toml(p), school), outcomes(piece))


def solos(data):
    charts = [json.loads(line) for line in (data / "solos" / "charts_open.jsonl").open()]
    played = {}
    for line in (data / "solos" / "truth_open.jsonl").open():
        row = json.loads(line)
        if row["usable"] and row["trust"]:
            played.setdefault(row["tune"], []).append(row)

    def outcomes(one):
        places = {chord["i"]: (measure["m"] + 1, chord["off"] + 1) for measure in one["measures"] for chord in measure["chords"]}

        def of(lines):
            at = {(line["bar"], line["beat"]): line for line in lines}
            for row in played.get(one["tune"], []):
                line = at[places[row["chord_index"]]]
                if "2" in (row["t"] or {}):
                    yield Outcome("second", row["chord_index"], row["t"]["2"], line["second_semitones"] == row["t"]["2"], 1)
                notes = set(map(pc, line["notes"]))
                held = sum(time for above, time in row["mel"].items() if (row["root"] + int(above)) % 12 in notes)
                yield Outcome("scale", row["chord_index"], None, held, sum(row["mel"].values()))
        return of

    for one in charts:
        yield Piece("solos", one["group"], lambda school, o=one: with_school(o["toml"], school), outcomes(one))


def pieces(data):
    """All of them; without the directory those that are shipped."""
    found = [*textbook(), *tunes()]
    return found + [*analysts(Path(data)), *solos(Path(data))] if data else found


def ask(program, pieces, school, trial=()):
    """What the program says of each piece, under changes that a measurement makes (`targets --trial`)."""
    changes = [word for change in trial for word in ("--trial", change)]

    def one(piece):
        command = [program, "targets", "-", "--json", *changes]
        text = piece.text(school)
        out = subprocess.run(command, input=text, text=True, capture_output=True)
        if out.returncode:
            sys.exit(f"{' '.join(command)}: {out.stderr}\n{text}")
        return [json.loads(line) for line in out.stdout.splitlines()]

    with ThreadPoolExecutor(os.cpu_count()) as threads:
        return list(threads.map(one, pieces))


def outcomes(program, pieces, school, trial=()):
    """A list of outcomes for each piece."""
    return [list(piece.outcomes(lines)) for piece, lines in zip(pieces, ask(program, pieces, school, trial))]
