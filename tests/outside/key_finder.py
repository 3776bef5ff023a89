#!/usr/bin/env python3
"""A published key finder on the same chords: music21's windowed key analysis, with its defaults.

  key_finder.py < PIECES > KEYS        run by the interpreter that has music21 (tests/outside/venv)

A piece is a line: a list of bars, each a list of [[MIDI notes], quarters]. An answer is a line: for each window asked for,
a key a bar ("C major"; null where a bar is silent). music21 weighs each bar's notes against key profiles (B. Aarden and C.
Essen's, its default) and smooths over the bars around (analysis.floatingKey.KeyAnalyzer; window 4 by default, 2 in its
own example for chorales).
"""

import functools
import json
import sys

from music21 import chord, note, stream
from music21.analysis import floatingKey

WINDOWS = (4, 2)


def score(bars):
    part = stream.Part()
    for at, bar in enumerate(bars):
        measure = stream.Measure(number=at + 1)
        for notes, quarters in bar:
            one = chord.Chord(notes) if notes else note.Rest()
            one.quarterLength = quarters
            measure.append(one)
        part.append(measure)
    return part


def name(key):
    return f"{key.tonic.name.replace('-', 'b')} {key.mode}"


@functools.cache
def raw_key(bar):
    measure = score([json.loads(bar)])
    return measure.analyze("key") if any(notes for notes, _ in json.loads(bar)) else None


for line in sys.stdin:
    bars = json.loads(line)
    analyser = floatingKey.KeyAnalyzer(score(bars))
    # Bars of the same chords have the same raw key; each is asked for once.
    raw = analyser.rawKeyByMeasure = [raw_key(bar) for bar in map(json.dumps, bars)]
    answers = []
    for window in WINDOWS:
        analyser.windowSize = window
        # A silent bar has no key, and is left out of the answer.
        smoothed = iter(analyser.smoothInterpretationByMeasure())
        answers.append([name(next(smoothed)) if key else None for key in raw])
    print(json.dumps(answers), flush=True)
