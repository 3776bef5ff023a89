"""Minor ninths between the parts of a rendered file: which there are, and which could have been avoided.

    ninths.py CHART MIDI [MIDI ...]      prints a list by where they come from; fails where one could have been avoided

A minor ninth is 13 semitones, or octaves more, from a note up to one of another part, both sounding for longer than a
sixteenth. Common practice, no source, says that it is avoided but for three:
- own: over the root of a dominant, its flat nine;
- passing: a note of the bass off the first beat of bar and chord, no longer than a beat, that goes on by a step or a fifth: the ear
  hears the line;
- next: where a chord is anticipated, over the chord that still sounds, up to the beat.
"""

import sys
from collections import Counter

import mido

from chart import Chart, count_in
from smf import File

PARTS = ["bass", "comping", "melody"]
SHORTEST = 0.25     # quarters


def pairs(notes):
    """Two notes of different parts with the quarters for which both sound, the lower first."""
    for i, one in enumerate(notes):
        for other in notes[i + 1:]:
            if other[1] >= one[2]:
                break
            if one[0] != other[0]:
                low, high = sorted((one, other), key=lambda note: note[3])
                yield low, high, max(one[1], other[1]), min(one[2], other[2])


def kind(low, high, start, end, chord, following, bars, line):
    """Why this one may be, or None."""
    if chord is None or chord.symbol is None:
        return None
    symbol = chord.symbol
    over = (high[3] - symbol.root) % 12
    dominant = symbol.quality.third in (4, 5) and symbol.quality.seventh == 10
    if low[3] % 12 == symbol.root and over == 1 and dominant:
        return "own"
    if following and following.start - start <= 0.6 and following.symbol:
        return "next"
    bass = next((note for note in (low, high) if note[0] == "bass"), None)
    if bass:
        place = round(float(bass[1]) * 2) / 2
        strong = any(abs(place - at) < 0.1 for at in bars) or abs(place - float(chord.start)) < 0.1
        after = next((note for note in line if note[1] > bass[1]), None)
        moves = after and (abs(after[3] - bass[3]) <= 2 or (after[3] - bass[3]) % 12 == 5)
        if not strong and bass[2] - bass[1] <= 1.1 and moves:
            return "passing"
    return None


def look(chart_path, midi_path):
    chart, file = Chart(chart_path), File(mido.MidiFile(midi_path))
    zero = count_in(chart)[0] * chart.quarter_ms
    quarters = lambda ms: float((ms - zero) / chart.quarter_ms)
    notes = [(note.part, quarters(note.at_ms), quarters(note.end_ms), note.key)
             for note in file.notes if note.part in PARTS and note.end_ms is not None and note.at_ms >= zero]
    notes.sort(key=lambda note: note[1])
    line = [note for note in notes if note[0] == "bass"]
    bars, chords = chart.lay_out(quarters(file.end_ms) + 1)
    starts = [float(bar.start) for bar in bars]
    found, avoidable = Counter(), Counter()
    for low, high, start, end in pairs(notes):
        apart = high[3] - low[3]
        if apart < 13 or apart % 12 != 1 or end - start <= SHORTEST:
            continue
        # By the middle of what sounds together: time feel moves the ends.
        middle = start + 0.1
        index = next((i for i, chord in enumerate(chords) if chord.start <= middle < chord.end), None)
        chord = chords[index] if index is not None else None
        following = chords[index + 1] if index is not None and index + 1 < len(chords) else None
        why = kind(low, high, start, end, chord, following, starts, line)
        found[why or "avoidable"] += 1
        if why is None:
            name = chord.symbol.text if chord and chord.symbol else "silence"
            root = chord.symbol.root if chord and chord.symbol else 0
            avoidable[f"{name}: {low[0]} {(low[3] - root) % 12} under {high[0]} {(high[3] - root) % 12}"
                      f" (beat {round(start % 4, 1)} for {round(end - start, 1)})"] += 1
    return found, avoidable, len(notes)


def main(chart, midis):
    found, avoidable, notes = Counter(), Counter(), 0
    for midi in midis:
        one, two, count = look(chart, midi)
        found, avoidable, notes = found + one, avoidable + two, notes + count
    print(f"{chart}: {notes} notes, minor ninths {dict(found)}")
    for what, count in avoidable.most_common(12):
        print(f"  {count} {what}")
    return 1 if avoidable else 0


if __name__ == "__main__":
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    sys.exit(main(sys.argv[1], sys.argv[2:]))
