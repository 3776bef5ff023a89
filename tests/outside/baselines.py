"""Five simple rule sets for the second and the seven-note scale of each chord, for comparison with ours. They know
chord kinds (MusicXML 4.0 names), a key signature and the chords around, and nothing of function.

  a  second always a whole tone; scale from the chord's type alone
  b  every degree's letter as the signature has it; chord tones override
  c  as b; a dominant a fifth above a chord with a minor third gets b9 and b13; a half-diminished chord a flat second
  d  local key of the chord and two on either side among 12 tonics in major, harmonic and melodic minor
  e  as d, major and harmonic minor only, six chords on either side and the signature weighing heavily; a diminished
     triad that the signature does not have is a diminished seventh
"""
LETTERS = "CDEFGAB"
LETTER_PCS = [0, 2, 4, 5, 7, 9, 11]
MAJOR = [0, 2, 4, 5, 7, 9, 11]
KINDS = {
    "major": {1: 0, 3: 4, 5: 7}, "minor": {1: 0, 3: 3, 5: 7}, "augmented": {1: 0, 3: 4, 5: 8},
    "diminished": {1: 0, 3: 3, 5: 6}, "dominant": {1: 0, 3: 4, 5: 7, 7: 10}, "major-seventh": {1: 0, 3: 4, 5: 7, 7: 11},
    "minor-seventh": {1: 0, 3: 3, 5: 7, 7: 10}, "diminished-seventh": {1: 0, 3: 3, 5: 6, 7: 9},
    "augmented-seventh": {1: 0, 3: 4, 5: 8, 7: 10}, "half-diminished": {1: 0, 3: 3, 5: 6, 7: 10},
    "minor-major": {1: 0, 3: 3, 5: 7, 7: 11}, "major-minor": {1: 0, 3: 3, 5: 7, 7: 11},
    "major-sixth": {1: 0, 3: 4, 5: 7, 6: 9}, "minor-sixth": {1: 0, 3: 3, 5: 7, 6: 9},
    "dominant-ninth": {1: 0, 3: 4, 5: 7, 7: 10, 9: 2}, "major-ninth": {1: 0, 3: 4, 5: 7, 7: 11, 9: 2},
    "minor-ninth": {1: 0, 3: 3, 5: 7, 7: 10, 9: 2}, "augmented-ninth": {1: 0, 3: 4, 5: 8, 7: 10, 9: 2},
    "maj69": {1: 0, 3: 4, 5: 7, 6: 9, 9: 2}, "dominant-11th": {1: 0, 3: 4, 5: 7, 7: 10, 9: 2, 11: 5},
    "minor-11th": {1: 0, 3: 3, 5: 7, 7: 10, 9: 2, 11: 5}, "dominant-13th": {1: 0, 3: 4, 5: 7, 7: 10, 9: 2, 13: 9},
    "minor-13th": {1: 0, 3: 3, 5: 7, 7: 10, 9: 2, 13: 9}, "suspended-fourth": {1: 0, 4: 5, 5: 7},
    "suspended-second": {1: 0, 2: 2, 5: 7}, "power": {1: 0, 5: 7},
}
TYPES = {
    "maj": MAJOR, "6": MAJOR, "maj7": MAJOR, "7": [0, 2, 4, 5, 7, 9, 10], "m": [0, 2, 3, 5, 7, 9, 10],
    "m7": [0, 2, 3, 5, 7, 9, 10], "m6": [0, 2, 3, 5, 7, 9, 10], "mMaj7": [0, 2, 3, 5, 7, 9, 11],
    "m7b5": [0, 2, 3, 5, 6, 8, 10], "dim": [0, 2, 3, 5, 6, 8, 9], "dim7": [0, 2, 3, 5, 6, 8, 9],
    "aug": [0, 2, 4, 6, 8, 9, 11], "7#5": [0, 2, 4, 6, 8, 9, 10], "sus4": [0, 2, 4, 5, 7, 9, 10], "other": MAJOR,
}


def degrees(kind, changes):
    """Degree number -> semitones; None for a kind that is not known."""
    if kind not in KINDS:
        return None
    found = dict(KINDS[kind])
    for what, number, alter in changes:
        base = MAJOR[(number - 1) % 7] + alter
        if number == 7 and what == "add":
            base = 10 + alter
        if what == "alter" and number == 7:
            base = found.get(7, 10) + alter
        if what == "alter" and number == 5:
            base = 7 + alter
        if what == "subtract":
            found.pop(number, None)
            continue
        found[number] = base % 12
    return found


def family(d):
    third, fifth, seventh = d.get(3), d.get(5), d.get(7)
    if third is None:
        return "sus4" if 4 in d else "other"
    if third == 4:
        if seventh == 10:
            return "7#5" if fifth == 8 else "7"
        if seventh == 11:
            return "maj7"
        return "aug" if fifth == 8 else "6" if 6 in d else "maj"
    if fifth == 6:
        return {10: "m7b5", 9: "dim7"}.get(seventh, "dim")
    return {10: "m7", 11: "mMaj7"}.get(seventh, "m6" if 6 in d else "m")


class Chord:
    def __init__(self, root, kind, changes=()):
        self.letter = LETTERS.index(root[0])
        self.pc = (LETTER_PCS[self.letter] + root.count("#") - root.count("b")) % 12
        self.degrees = degrees(kind, changes)
        self.family = family(self.degrees) if self.degrees else "other"
        self.tones = {(self.pc + s) % 12 for s in self.degrees.values()} if self.degrees else set()


def alterations(fifths):
    alter = [0] * 7
    order = "FCGDAEB" if fifths > 0 else "BEADGCF"
    for at in range(abs(fifths)):
        alter[LETTERS.index(order[at % 7])] += 1 if fifths > 0 else -1
    return alter


def override(scale, d):
    scale = list(scale)
    for number, semitones in d.items():
        if number == 9 and semitones == 3:
            scale[1] = 1
        else:
            scale[(number - 1) % 7] = semitones
    return scale


def fixed(scale, d):
    scale = list(scale)
    if 2 not in d:
        scale[1] = min(2, max(1, scale[1]))
    return override(scale, d)


def by_letters(chord, alter):
    out = [0]
    for step in range(1, 7):
        letter = (chord.letter + step) % 7
        value = LETTER_PCS[letter] + alter[letter] - chord.pc
        out.append((value - MAJOR[step] + 6) % 12 - 6 + MAJOR[step])
    return out


def sane(scale, d):
    kept = {(k - 1) % 7 for k in d if not (k == 9 and d[k] == 3)} | {0}
    s = list(scale)
    limits = {1: (1, 2), 2: (3, 4), 3: (5, 6), 4: (6, 8), 5: (8, 9), 6: (9, 11)}
    for k in range(1, 7):
        if k in kept:
            continue
        low, high = limits[k]
        if k == 5 and 6 in kept and s[6] == 9:
            high = 8
        if k == 3 and 4 in kept and s[4] == 6:
            high = 5
        if k == 4 and 5 in kept and s[5] == 8:
            high = 7
        s[k] = min(high, max(low, s[k]))
        if k == 5 and s[4] == 8:
            s[5] = 9
        if k == 6:
            s[6] = max(10, min(11, s[6]))
    return s


FORMS = {"maj": MAJOR, "hm": [0, 2, 3, 5, 7, 8, 11], "mm": [0, 2, 3, 5, 7, 9, 11]}
COLLECTIONS = [(n, frozenset((t + x) % 12 for x in FORMS[n])) for t in range(12) for n in ("maj", "hm", "mm")]


def local(chords, at, collections, signature, shared, reach, weight):
    best = None
    for name, notes in collections:
        score = shared * len(notes & signature) + (0.1 if name == "maj" else 0)
        for j in range(max(0, at - reach), min(len(chords), at + reach + 1)):
            tones = chords[j].tones
            score += weight(abs(j - at)) * (len(tones & notes) - 2 * len(tones - notes))
        if best is None or score > best[0] + 1e-9:
            best = (score, notes)
    return best[1]


def scale(name, chords, at, fifths):
    """Seven semitones above the root of the chord at `at`."""
    chord = chords[at]
    d, alter = chord.degrees, alterations(fifths)
    signature = frozenset((LETTER_PCS[k] + alter[k]) % 12 for k in range(7))
    if name == "a":
        return sane(fixed(TYPES[chord.family], d), d)
    plain = sane(fixed(by_letters(chord, alter), d), d)
    if name == "b":
        return plain
    if name == "c":
        s = list(plain)
        after = next((c for c in chords[at + 1 : at + 6] if c.degrees and c.pc != chord.pc), None)
        to_minor = after and (after.pc - chord.pc) % 12 == 5 and after.degrees.get(3) == 3
        if chord.family in ("7", "7#5") and to_minor:
            if 9 not in d:
                s[1] = 1
            if 13 not in d and d.get(5) == 7:
                s[5] = 8
        if chord.family == "m7b5" and 9 not in d:
            s[1] = 1
        return s
    if name == "d":
        notes = local(chords, at, COLLECTIONS, signature, 0.25, 2, lambda far: 3 - far)
    else:
        some = [c for c in COLLECTIONS if c[0] != "mm"]
        notes = local(chords, at, some, signature, 6, 6, lambda far: 3 * 0.85**far)
    up = sorted((x - chord.pc) % 12 for x in notes)
    s = sane(fixed(up, d), d) if up[0] == 0 else plain
    triad = {(chord.pc + x) % 12 for x in (0, 3, 6)}
    if name == "e" and chord.family == "dim" and 7 not in d and not triad <= signature:
        s = s[:5] + [8, 9]
    return s
