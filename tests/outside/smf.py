"""The MIDI file as mido reads it: notes with times in milliseconds by the file's own tempo map."""

from dataclasses import dataclass
from fractions import Fraction

import mido

CHANNELS = {"comping": 0, "bass": 1, "model": 2, "drums": 9, "click": 9}


@dataclass
class Note:
    part: str
    channel: int
    key: int
    velocity: int
    at_ms: Fraction
    end_ms: Fraction | None     # None: never let go
    on: tuple                   # (track, index) of the note-on in the file


class File:
    def __init__(self, midi):
        self.midi = midi
        self.notes, self.faults = [], []
        self.tempos, self.meters = [], []
        for track in midi.tracks:
            tick = 0
            for message in track:
                tick += message.time
                if message.type == "set_tempo":
                    self.tempos.append((tick, message.tempo))
                elif message.type == "time_signature":
                    self.meters.append((tick, f"{message.numerator}/{message.denominator}"))
        for index, track in enumerate(midi.tracks):
            self.read_track(index, track)
        self.notes.sort(key=lambda note: (note.at_ms, note.channel, note.key))
        self.end_ms = max(self.ms(sum(m.time for m in track)) for track in midi.tracks)

    def ms(self, tick):
        total, last, tempo = Fraction(0), 0, 500_000
        for at, new in sorted(self.tempos):
            if at >= tick:
                break
            total += Fraction((at - last) * tempo, 1000 * self.midi.ticks_per_beat)
            last, tempo = at, new
        return total + Fraction((tick - last) * tempo, 1000 * self.midi.ticks_per_beat)

    def read_track(self, index, track):
        tick, sounding = 0, {}
        for place, message in enumerate(track):
            tick += message.time
            if message.type not in ("note_on", "note_off"):
                continue
            at, key = self.ms(tick), (message.channel, message.note)
            before = sounding.pop(key, None)
            if message.type == "note_on" and message.velocity > 0:
                if before:
                    self.faults.append(f"{track.name}: {key} struck again at {float(at):.1f} ms before it was let go")
                note = Note(track.name, *key, message.velocity, at, None, (index, place))
                sounding[key] = note
                self.notes.append(note)
            elif before:
                before.end_ms = at
            else:
                self.faults.append(f"{track.name}: {key} let go at {float(at):.1f} ms without being struck")
        for note in sounding.values():
            self.faults.append(f"{track.name}: {note.key} struck at {float(note.at_ms):.1f} ms is never let go")

    def part(self, name):
        return [note for note in self.notes if note.part == name]
