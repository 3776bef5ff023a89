"""Reads an exported score with music21 and compares it with the lines that `targets --form --json` gives.

    python score.py SCORE.musicxml LINES.jsonl

Every chord must have the same root, bass and place; the kind must have the tones of the line. Prints what differs and
ends with 1, else one line of counts.
"""

import json
import sys

from music21 import converter, harmony, pitch

LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def pitch_class(name):
    """The class of an ASCII note name."""
    return (LETTERS[name[0]] + name.count("#") - name.count("b")) % 12


def spelled(of):
    """A pitch of music21 as an ASCII name."""
    return of.name.replace("-", "b") if isinstance(of, pitch.Pitch) else None


def chords_of(path):
    """All harmonies of the score with their offsets, as they are played: repeats and endings are the reader's to follow."""
    part = converter.parse(path, format="musicxml").parts[0].expandRepeats()
    found = []
    for one in part.recurse().getElementsByClass(harmony.Harmony):
        found.append((float(one.getOffsetInHierarchy(part)), one))
    return found


def kind_differs(chord, tones):
    """Whether the kind does not have the tones of the line. Altered degrees may change all but the third."""
    ours = {pitch_class(tone) for tone in tones}
    root = chord.root().pitchClass
    if chord.chordStepModifications:
        steps = harmony.CHORD_TYPES[chord.chordKind][0].split(",")
        third = {"3": 4, "-3": 3}
        named = [third[step] for step in steps if step in third]
        edited = any(one.degree == 3 for one in chord.chordStepModifications)
        return not edited and any((root + step) % 12 not in ours for step in named)
    theirs = {one.pitchClass for one in chord.pitches if one.name != chord.bass().name or one.pitchClass in ours}
    if chord.chordKind.endswith("13th"):
        # Players leave the eleventh of a thirteenth chord out.
        theirs.discard((root + 5) % 12)
    return theirs != ours


def main(score, lines):
    """Compares; returns the exit code."""
    with open(lines, encoding="utf-8") as file:
        ours = [json.loads(line) for line in file]
    shift = -min(0.0, ours[0]["at_quarters"]) if ours else 0.0
    theirs = chords_of(score)
    wrong = []
    if len(ours) != len(theirs):
        wrong.append(f"{len(ours)} lines, {len(theirs)} harmonies")
    for line, (offset, chord) in zip(ours, theirs):
        where = f"{line['index']} {line['symbol']}"
        if abs(line["at_quarters"] + shift - offset) > 0.001:
            wrong.append(f"{where}: at {line['at_quarters']}, read at {offset - shift}")
        if line["root"] is None:
            if not isinstance(chord, harmony.NoChord):
                wrong.append(f"{where}: read as {chord}")
            continue
        if spelled(chord.root()) != line["root"]:
            wrong.append(f"{where}: root {chord.root()}")
        if spelled(chord.bass()) != line["bass"]:
            wrong.append(f"{where}: bass {chord.bass()}")
        if kind_differs(chord, line["tones"]):
            wrong.append(f"{where}: kind {chord.chordKind} {chord.chordStepModifications} {chord.pitches} {line['tones']}")
    print("\n".join(wrong) if wrong else f"{len(ours)} chords: roots, basses, kinds and places agree")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
