"""What each rule wins and loses: it is left out, the next rule speaks, at last the key's own notes, and every decision that
comes out differently is counted, by tune, on each set: seconds, and scales (an analyst's collection or a textbook's scale met,
melody time held).
"""

import collections

from harmony_pieces import ask, pieces

# What stands in tables of functional harmony (tests/fixtures/harmony/tables.json), row by row.
TABLE = {
    "to minor": "V7 of minor; V7/iii, V7/vi",
    "after half-diminished": "ii m7b5 of minor, V7 of minor",
    "half-diminished two": "ii m7b5 (borrowed): Locrian",
    "diminished": "diminished seventh as passing chord: natural",
    "augmented": "aug: whole tone; maj7#5: Lydian augmented",
    "minor tonic": "i m6, i mMaj7: melodic minor",
    "borrowed four": "iv m6: melodic minor; iv m7: Dorian",
    "hint": "the chart's own word",
}
# What each school goes by.
OWN = {"textbook": ("textbook", "choro", "classical"), "melody": ("tunes",), "improviser": ("solos",)}
LEAST_TUNES = 3


class Support:
    """Decisions won and lost, and tunes that gain and lose, of one rule on one set."""

    def __init__(self):
        self.won = self.lost = 0
        self.by_tune = collections.Counter()

    def add(self, tune, gain):
        self.won += gain > 0
        self.lost += gain < 0
        self.by_tune[tune] += gain

    better = property(lambda self: sum(gain > 1e-9 for gain in self.by_tune.values()))
    worse = property(lambda self: sum(gain < -1e-9 for gain in self.by_tune.values()))


def left_out(program, all_pieces, said, rule, school):
    """Support by kind and set. Only charts in which the rule spoke can change: no rule moves the key."""
    spoke = [at for at, lines in enumerate(said) if any(line["rule"] == rule for line in lines)]
    some = [all_pieces[at] for at in spoke]
    found = collections.defaultdict(Support)
    for at, piece, less in zip(spoke, some, ask(program, some, school, [f"without={rule}"])):
        with_rule = piece.outcomes(said[at])
        for one, other in zip(with_rule, piece.outcomes(less)):
            if abs(one.met - other.met) > 1e-9:
                found[one.kind, piece.set].add(piece.tune, one.met - other.met)
    return found


def rests(found, school):
    """Whether the net gain rests on enough tunes: of seconds or of scales, of all sets or of those the school goes by."""
    for kind in ("second", "scale"):
        for only in (OWN[school], None):
            some = [support for (what, name), support in found.items() if what == kind and (only is None or name in only)]
            better, worse = sum(one.better for one in some), sum(one.worse for one in some)
            if better >= LEAST_TUNES and better > worse:
                return True
    return False


def ablation(program, data, school):
    """Prints a line a rule; whether every rule rests on enough, or stands in the table."""
    all_pieces = pieces(data)
    said = ask(program, all_pieces, school)
    rules = sorted({line["rule"] for lines in said for line in lines if line.get("rule")} - {"own notes"})
    fine = True
    for rule in rules:
        found = left_out(program, all_pieces, said, rule, school)
        parts = [
            f"{kind} {name} {one.won}:{one.lost} in {one.better}:{one.worse} tunes"
            for (kind, name), one in sorted(found.items(), key=lambda pair: pair[0][0] != "second")
        ]
        # Without the sets that are not shipped, too little is left to judge by.
        firm = not found or rests(found, school) or not data
        word = "" if firm else f" (stands in the table: {TABLE[rule]})" if rule in TABLE else ": RESTS ON TOO FEW"
        fine &= firm or rule in TABLE
        print(f"  rule {rule}, {school}: {'; '.join(parts) or 'decides nothing here'}{word}")
    return fine
