"""Charts for the program, what it says of them, and the sets of decisions that may be measured but not shipped."""

import importlib.util
import json
import subprocess
import sys
from dataclasses import dataclass

SUFFIX = {
    "major": "", "dominant": "7", "minor": "m", "minor-seventh": "m7", "major-seventh": "maj7", "diminished": "dim",
    "dominant-ninth": "9", "major-sixth": "6", "diminished-seventh": "dim7", "minor-sixth": "m6",
    "half-diminished": "m7b5", "augmented": "aug", "augmented-seventh": "7#5", "dominant-13th": "13",
    "minor-ninth": "m9", "suspended-fourth": "sus4", "major-ninth": "maj9", "dominant-11th": "11",
    "minor-major": "mMaj7", "major-minor": "mMaj7", "augmented-ninth": "9#5", "maj69": "6/9", "power": "5",
    "suspended-second": "sus2", "minor-11th": "m11", "minor-13th": "m13",
}
PCS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


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


def chart(symbols, key, school=None):
    """A chart of one chord a bar."""
    declared = f"key = {json.dumps(key)}\n" if key else ""
    habits = f"[harmony]\nschool = {json.dumps(school)}\n" if school else ""
    return f'title = "x"\n{declared}{habits}[[section]]\nname = "A"\nbars = {json.dumps(symbols)}\n'


def with_school(text, school):
    """A whole chart with the school in it."""
    return text.replace("[[section]]", f"[harmony]\nschool = {json.dumps(school)}\n\n[[section]]", 1)


def targets(program, text):
    """What the program says of each chord."""
    out = subprocess.run([program, "targets", "-", "--json"], input=text, text=True, capture_output=True)
    if out.returncode:
        sys.exit(f"{out.stderr}\n{text}")
    return [json.loads(line) for line in out.stdout.splitlines()]


def pc(name):
    return (PCS[name[0]] + name.count("#") - name.count("b")) % 12


def second_of(line):
    return line["second_semitones"]


@dataclass
class Decision:
    """A second that something outside decides, and what the program says there."""

    set: str
    tune: object
    want: int
    line: dict

    second = property(lambda self: self.line["second_semitones"])
    certain = property(lambda self: self.line["certain"])
    margin = property(lambda self: self.line["margin"])


def module(name, path):
    """A scorer that lies beside its data."""
    spec = importlib.util.spec_from_file_location(name, path)
    found = importlib.util.module_from_spec(spec)
    ours = sys.modules.pop("baselines", None)
    spec.loader.exec_module(found)
    if ours:
        sys.modules["baselines"] = ours
    return found


def outside(program, data, school):
    """Name, sums by piece of the program and of each simple rule set, and decisions: analysts' keys (choro, classical),
    then solos."""
    keys = module("localkeys_score", data / "localkeys" / "score.py")
    pieces = [json.loads(line) for line in (data / "localkeys" / "pieces_open.jsonl").open()]
    for name in dict.fromkeys(piece["set"] for piece in pieces):
        yield analysts(program, keys, name, [piece for piece in pieces if piece["set"] == name], school)
    yield solos(program, data / "solos", school)


def analysts(program, keys, name, pieces, school):
    decisions, ours = [], {}
    for piece in pieces:
        at = {(line["bar"], round(float(line["beat"]) - 1, 3)): line for line in targets(program, with_school(keys.toml(piece), school))}
        for row, (bar, after, _, _, _, want, _) in enumerate(piece["rows"]):
            line = at[(bar, round(float(after), 3))]
            scale = sum(1 << note for note in {pc(note) for note in line["notes"]})
            ours[piece["piece"], row] = (line["second_semitones"], scale, line["key"])
            if want > 0:
                decisions.append(Decision(name, piece["group"], want, line))
    sums, told = {}, {}
    for who, answers in {"ours": ours, **{who: keys.base(pieces, who) for who in "abcde"}}.items():
        groups = keys.tally(pieces, answers)
        sums[who] = [[group[k] for k in ("r1", "n1", "r2", "n2", "eq", "sn")] + [0.0, 0.0] for _, group in sorted(groups.items())]
        told[who] = keys.figures(keys.total(groups))
    best = max("abcde", key=lambda who: told[who]["equal"])
    print(f"{name}, {school}: analyst's key met {told['ours']['key']:.1f} %, collection equal {told['ours']['equal']:.1f} ({best} {told[best]['equal']:.1f}), inside {told['ours']['inside']:.1f}")
    return name, sums, decisions


def solos(program, data, school):
    scorer = module("solos_score", data / "score.py")
    charts = [json.loads(line) for line in (data / "charts_open.jsonl").open()]
    truth = [json.loads(line) for line in (data / "truth_open.jsonl").open()]
    lines = {}
    for one in charts:
        at = {(line["bar"], line["beat"]): line for line in targets(program, with_school(one["toml"], school))}
        for measure in one["measures"]:
            for chord in measure["chords"]:
                lines[one["tune"], chord["i"]] = at[(measure["m"] + 1, chord["off"] + 1)]
    for row in truth:
        scorer.ROOT[row["tune"], row["chord_index"]] = row["root"]
    ours = {at: (line["second_semitones"], frozenset(map(pc, line["notes"]))) for at, line in lines.items()}
    sums = {}
    for who, answers in {"ours": ours, **{who: scorer.base(charts, who) for who in "abcde"}}.items():
        groups = scorer.tally(truth, answers)
        sums[who] = [[group[k] for k in ("r1", "n1", "r2", "n2", "c7", "t")] + [0.0, 0.0] for _, group in sorted(groups.items())]
    decided = [row for row in truth if row["usable"] and row["trust"] and "2" in (row["t"] or {})]
    decisions = [Decision("solos", row["group"], row["t"]["2"], lines[row["tune"], row["chord_index"]]) for row in decided]
    return "solos", sums, decisions
