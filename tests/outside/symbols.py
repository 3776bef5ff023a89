"""A small table of chord symbols, written for this reader: it shares nothing with what it reads.

Semitones over the root. What may stand in a voicing is the table of rootless voicings that piano accompanists
use (common practice, no source), both forms of a chord together with its own tones.
"""

from dataclasses import dataclass

LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


@dataclass(frozen=True)
class Quality:
    third: int | None      # the fourth in a sus chord
    fifth: int
    seventh: int | None    # the sixth where the symbol has one instead
    voicing: frozenset     # everything the comping may hold


def quality(third, fifth, seventh, *voicing):
    return Quality(third, fifth, seventh, frozenset(voicing))


QUALITIES = {
    "": quality(4, 7, None, 0, 4, 7),
    "m": quality(3, 7, None, 0, 3, 7),
    "6": quality(4, 7, 9, 0, 2, 4, 7, 9),
    "m6": quality(3, 7, 9, 0, 2, 3, 7, 9),
    "maj7": quality(4, 7, 11, 0, 2, 4, 7, 11),
    "m7": quality(3, 7, 10, 0, 2, 3, 7, 10),
    # A dominant takes its colours from the tune: whole or flat ninth, thirteenth or flat thirteenth, the raised
    # fourth; never the natural fourth, the minor third or the major seventh.
    "7": quality(4, 7, 10, 0, 1, 2, 4, 6, 7, 8, 9, 10),
    "7b9": quality(4, 7, 10, 0, 1, 4, 7, 8, 9, 10),
    "7alt": quality(4, 8, 10, 0, 1, 3, 4, 6, 8, 10),
    "7sus": quality(5, 7, 10, 0, 2, 5, 7, 9, 10),
    "sus": quality(5, 7, None, 0, 5, 7),
    "m7b5": quality(3, 6, 10, 0, 3, 6, 10),
    "dim7": quality(3, 6, 9, 0, 3, 6, 9),
}


@dataclass(frozen=True)
class Symbol:
    text: str
    root: int
    bass: int
    quality: Quality

    def pcs(self, semitones):
        """Pitch classes of these semitones over the root; None is left out."""
        return {(self.root + s) % 12 for s in semitones if s is not None}

    def guides(self):
        """Third (fourth in sus) and seventh or sixth, as far as the symbol has them."""
        return self.pcs([self.quality.third, self.quality.seventh])

    def degrees(self, names):
        """Pitch classes of the degrees "1", "3", "5" of this chord."""
        of = {"1": 0, "3": self.quality.third, "5": self.quality.fifth}
        return self.pcs([of[name] for name in names])


def pitch_class(name):
    return (LETTERS[name[0]] + name.count("#") - name[1:].count("b")) % 12


def read(text):
    """The symbol of `text`; None for silence."""
    if text == "N.C.":
        return None
    upper, _, under = text.partition("/")
    signs = 1
    while signs < len(upper) and upper[signs] in "b#":
        signs += 1
    root = pitch_class(upper[:signs])
    return Symbol(text, root, pitch_class(under) if under else root, QUALITIES[upper[signs:]])
