"""What a bandleader hears at once, asked of the file. Every rule is a function that yields faults as text.

How things are counted:
- Grid: a bar's places are its eighths. Where eighths swing (swing, shuffle, waltz, ballad; not in meters of eighths) the
  half of a quarter lies `r / (1 + r)` after its beat, for all parts: `r` is `clamp((beat_ms - 105) / 105, 1, 2.2)`,
  `beat_ms` the length of a quarter. No rounding to ticks here. With time feel everything may be as far from its
  place, either way, as the options say.
- A stroke is all comping notes that start together. It belongs to the chord it stands over; on the last eighth of
  a bar it is a push and belongs to the chord that begins on the next bar's first beat, if one does.
- The top voice is the highest key of a chord's first stroke. A move is from chord to chord, through all choruses,
  so the seam is among them; strokes of the same chord again are not counted as moves of 0.
"""

from bisect import bisect_right
from fractions import Fraction
from statistics import median

from chart import count_in
from smf import CHANNELS

TOLERANCE_MS = 1
RIDE, FOOT = 51, 44
HALF = Fraction(1, 2)


class Listener:
    def __init__(self, chart, file, options):
        self.chart, self.file, self.options = chart, file, options
        self.count_quarters, self.clicks = count_in(chart)
        self.zero_ms = self.count_quarters * chart.quarter_ms
        until = (file.end_ms - self.zero_ms) / chart.quarter_ms
        bars, chords = chart.lay_out(until + 1)
        self.all_bars = bars
        # What the end of the file cuts off is no fault.
        self.bars = [bar for bar in bars if bar.end <= until]
        self.chords = [c for c in chords if c.end <= until and c.end <= self.bars[-1].end]
        self.bar_starts = [bar.start for bar in bars]
        self.chord_starts = [chord.start for chord in chords]
        self.all_chords = chords
        self.figures = {}
        beat_ms = float(chart.quarter_ms)
        ride = min(max((beat_ms - 105) / 105, 1.0), 2.2)
        self.ratio = {"ride": ride, "straighter": 1 + 0.6 * (ride - 1)}
        self.strokes = self.read_strokes()

    # ---- places --------------------------------------------------------------------------------------------

    def ms(self, quarters):
        return self.zero_ms + quarters * self.chart.quarter_ms

    def quarters(self, ms):
        return (ms - self.zero_ms) / self.chart.quarter_ms

    def swings(self, meter):
        return self.chart.feel in ("swing", "shuffle", "waltz", "ballad") and meter.unit <= 4

    def played(self, place, meter, part):
        """Where a written place of a bar sounds, in quarters from the bar's start."""
        if self.swings(meter) and place % 1 == HALF:
            ratio = self.ratio["ride"]
            return float(place - HALF) + ratio / (1 + ratio)
        return float(place)

    def bar_at(self, quarters):
        """The bar around a place; a little before a bar's start counts as its start."""
        index = bisect_right(self.bar_starts, quarters + Fraction(1, 50)) - 1
        return self.all_bars[index] if index >= 0 else None

    def written(self, note, part):
        """(bar, written place, distance in ms) of the nearest place of the grid."""
        at = self.quarters(note.at_ms)
        bar = self.bar_at(at)
        if bar is None:
            meter, start = self.chart.meter, -self.chart.meter.quarters
        else:
            meter, start = bar.meter, bar.start
        best = None
        for half in range(int(meter.quarters * 2)):
            place = Fraction(half, 2)
            off = float(at - start) - self.played(place, meter, part)
            if best is None or abs(off) < abs(best[1]):
                best = (place, off)
        return bar, best[0], best[1] * float(self.chart.quarter_ms)

    def chord_at(self, quarters):
        index = bisect_right(self.chord_starts, quarters) - 1
        if index < 0 or quarters >= self.all_chords[index].end:
            return None
        return self.all_chords[index]

    def read_strokes(self):
        """(chord, bar, written place, keys) of each stroke of the comping, in order."""
        together = {}
        for note in self.file.part("comping"):
            together.setdefault(note.at_ms, []).append(note)
        strokes = []
        for notes in together.values():
            bar, place, _ = self.written(notes[0], "comping")
            start = bar.start if bar else -self.chart.meter.quarters
            meter = bar.meter if bar else self.chart.meter
            chord = self.chord_at(start + place)
            after = self.chord_at(start + meter.quarters)
            if place == meter.quarters - HALF and after and after.start == start + meter.quarters:
                chord = after
            strokes.append((chord, bar, place, sorted(n.key for n in notes)))
        return strokes

    def name(self, quarters):
        """A place as a bandleader says it."""
        bar = self.bar_at(quarters)
        if bar is None:
            return f"{float(quarters):.2f} quarters before the first bar"
        number = self.all_bars.index(bar) + 1
        return f"bar {number} beat {float((quarters - bar.start) / bar.meter.beat) + 1:.2f}"

    # ---- rules ---------------------------------------------------------------------------------------------

    def rule_file(self):
        yield from self.file.faults
        for note in self.file.notes:
            if CHANNELS.get(note.part) != note.channel:
                yield f"{note.part} on channel {note.channel + 1}"
        if self.file.midi.ticks_per_beat != 960:
            yield f"{self.file.midi.ticks_per_beat} ticks a quarter"
        wanted = 1e6 * 60 / float(self.chart.tempo)
        if len(self.file.tempos) != 1 or abs(self.file.tempos[0][1] - wanted) > 0.5:
            yield f"tempos {self.file.tempos[:3]}, wanted one of {wanted:.1f} us"

    def rule_meters(self):
        said = [(self.file.ms(tick), text) for tick, text in self.file.meters]
        wanted, now = [(Fraction(0), self.chart.meter.text)], self.chart.meter.text
        for bar in self.all_bars:
            if bar.meter.text != now and self.ms(bar.start) <= self.file.end_ms:
                now = bar.meter.text
                wanted.append((self.ms(bar.start), now))
        if [text for _, text in said] != [text for _, text in wanted]:
            yield f"time signatures {[t for _, t in said][:6]}, wanted {[t for _, t in wanted][:6]}"
        for (at, text), (want, _) in zip(said, wanted):
            if abs(at - want) > TOLERANCE_MS:
                yield f"{text} at {float(at):.1f} ms, wanted {float(want):.1f}"

    def rule_count_in(self):
        clicks = [note.at_ms for note in self.file.part("click") if note.at_ms < self.zero_ms - TOLERANCE_MS]
        wanted = [place * self.chart.quarter_ms for place in self.clicks]
        if len(clicks) != len(wanted):
            yield f"{len(clicks)} clicks before the first bar, wanted {len(wanted)}"
        for got, want in zip(clicks, wanted):
            if abs(got - want) > TOLERANCE_MS:
                yield f"a click at {float(got):.1f} ms, wanted {float(want):.1f}"

    def rule_grid(self):
        worst, late = 0.0, {}
        for note in self.file.notes:
            if note.part == "click":
                continue
            bar, place, off_ms = self.written(note, note.part)
            worst = max(worst, abs(off_ms))
            late.setdefault(note.part, {})[note.at_ms] = (off_ms, bar is not None and place == 0)
            if abs(off_ms) > self.options.feel_ms + TOLERANCE_MS:
                yield f"{note.part} {note.key}: {off_ms:+.2f} ms off place {float(place)} at {self.name(self.quarters(note.at_ms))}"
        if self.options.feel_ms:
            yield from self.feel(late)
        self.figures["onsets"] = len(self.file.notes)
        self.figures["worst_ms"] = round(worst, 3)
        self.figures["minutes"] = round(float(self.file.end_ms) / 60000, 2)

    def feel(self, late):
        """How late each part is: people drift, and do not jump about; the ride has the grid for its middle."""
        for part, by_time in sorted(late.items()):
            row = [float(by_time[at][0]) for at in sorted(by_time)]
            # On the first beat of a bar people wait for each other: how they drift is seen between these.
            between = [float(by_time[at][0]) for at in sorted(by_time) if not by_time[at][1]] or row
            middle, aside = sum(row) / len(row), sum(between) / len(between)
            around = [one - aside for one in between]
            power = sum(one * one for one in around)
            lag_one = sum(a * b for a, b in zip(around, around[1:])) / power if power else 0.0
            fours = {low: sum(low <= one < low + 4 for one in row) for low in range(-20, 20, 4)}
            self.figures[f"late_{part}"] = {
                "mean_ms": round(middle, 2), "between_ms": round(aside, 2), "least_ms": round(min(row), 2), "most_ms": round(max(row), 2),
                "lag_one": round(lag_one, 2), "by_4_ms": {low: count for low, count in fours.items() if count},
            }
            if part in ("comping", "bass", "drums") and len(row) > 50:
                if power / len(between) < 0.5:
                    yield f"{part} is a machine: {power / len(between):.2f} ms2 around its place"
                if lag_one < 0.2:
                    yield f"{part} jumps about: lag-one correlation {lag_one:.2f}"
        places = {part: self.figures[f"late_{part}"]["between_ms"] for part in late if f"late_{part}" in self.figures}
        if "bass" in places and "drums" in places and places["bass"] > places["drums"]:
            yield "the bass drags behind the ride"
        if abs(places.get("drums", 0.0)) > 1.5:
            yield f"the drums stand {places['drums']} ms off the grid"
        if "comping" in places and "drums" in places and places["comping"] < places["drums"]:
            yield "the comping rushes ahead of the ride"

    def rule_pulse(self):
        """The ride has every beat and the foot its back beats; nothing of the pulse goes missing."""
        if self.options.drums != "ride" or self.chart.feel not in ("swing", "shuffle", "waltz"):
            return
        have = {(round(self.quarters(n.at_ms) * 2), n.key) for n in self.file.part("drums")}
        for bar in self.bars:
            back = range(1, bar.meter.beats, 2)
            for beat in range(bar.meter.beats) if bar.meter.unit == 4 else ():
                at = bar.start + beat
                if (round(at * 2), RIDE) not in have:
                    yield f"no ride at {self.name(at)}"
                if beat in back and (round(at * 2), FOOT) not in have:
                    yield f"no hi-hat at {self.name(at)}"

    def rule_comping(self):
        if self.options.comping == "off":
            if self.strokes:
                yield "comping where there should be none"
            return
        stated = set()
        for chord, _, _, keys in self.strokes:
            if chord is None or chord.symbol is None:
                yield f"{keys} in silence"
                continue
            pcs = {key % 12 for key in keys}
            stated.add(id(chord))
            where = f"{chord.symbol.text} at {self.name(chord.start)}: {keys}"
            wanted = chord.symbol.guides() - self.hidden(chord)
            if not wanted <= pcs:
                yield f"{where} lacks third, seventh or what stands for them"
            if not pcs <= chord.symbol.pcs(chord.symbol.quality.voicing):
                yield f"{where} has a note that is not the chord's"
            if keys[0] < 50 or keys[-1] > 70:
                yield f"{where} out of range"
            if self.options.comping == "inside" and keys[-1] % 12 in self.targets(chord):
                yield f"{where} has the target on top"
        for chord in self.chords:
            # Nothing is left where every note of a chord is a target.
            full = self.options.comping == "full"
            silent = chord.symbol is None or (
                not full and chord.symbol.pcs(chord.symbol.quality.voicing) <= self.targets(chord)
            )
            if not silent and not chord.pickup and id(chord) not in stated:
                yield f"{chord.symbol.text} at {self.name(chord.start)} is not stated"

    def targets(self, chord):
        return chord.symbol.degrees(self.options.degrees) if chord and chord.symbol else set()

    def hidden(self, chord):
        return self.targets(chord) if self.options.comping == "without-target" else set()

    def rule_ringing(self):
        """What sounds on over a change counts: no target where it is hidden, nothing at all in silence."""
        for note in self.file.part("comping") + self.file.part("bass"):
            if note.end_ms is None:
                continue
            start, end = self.quarters(note.at_ms), self.quarters(note.end_ms)
            first = max(bisect_right(self.chord_starts, start) - 1, 0)
            for chord in self.all_chords[first:first + 3]:
                over = min(end, chord.end) - max(start, chord.start)
                if over <= Fraction(1, 400):
                    continue
                if chord.symbol is None:
                    yield f"{note.part} {note.key} in the silence at {self.name(chord.start)}"
                elif note.part == "comping" and note.key % 12 in self.hidden(chord):
                    yield f"the target {note.key} over {chord.symbol.text} at {self.name(start)}"

    def rule_bass(self):
        if self.options.bass == "off":
            if self.file.part("bass"):
                yield "bass where there should be none"
            return
        played = {}
        for note in self.file.part("bass"):
            bar, place, _ = self.written(note, "bass")
            if bar:
                played[bar.start + place] = note.key
            if not 28 <= note.key <= 50:
                yield f"bass {note.key} out of range"
        firsts = {bar.start for bar in self.bars} | {chord.start for chord in self.chords if not chord.pickup}
        for at in sorted(firsts):
            chord = self.chord_at(at)
            if chord is None or chord.symbol is None:
                continue
            key = played.get(at)
            # A chord's second bar may start on its third or fifth.
            may = {chord.symbol.bass} | (chord.symbol.degrees(["3", "5"]) if chord.start != at else set())
            if key is None or key % 12 not in may:
                yield f"bass {key} under {chord.symbol.text} at {self.name(at)}"
        keys = [note.key for note in self.file.part("bass")]
        leaps = [abs(b - a) for a, b in zip(keys, keys[1:])]
        if max(leaps, default=0) > 12:
            yield f"a leap of {max(leaps)} in the bass"

    def rule_top_voice(self):
        tops, last = [], None
        for chord, _, _, keys in self.strokes:
            if chord is not None and chord is not last and chord.symbol is not None:
                tops.append((keys[-1], chord))
            last = chord
        moves = [abs(b[0] - a[0]) for a, b in zip(tops, tops[1:])]
        if not moves:
            return
        self.figures["top_median"], self.figures["top_worst"] = median(moves), max(moves)
        if self.options.comping != "full":
            return    # Where the top is told what not to be, a leap can be all that is left.
        if median(moves) > 2:
            yield f"the top voice moves by {median(moves)} in the median"
        for move, (_, chord) in zip(moves, tops[1:]):
            if move > 5:
                yield f"the top voice leaps by {move} into {chord.symbol.text} at {self.name(chord.start)}"

    def rule_rhythms(self):
        if self.options.comping == "off":
            return
        of = {id(bar): [] for bar in self.bars}
        for _, bar, place, _ in self.strokes:
            if bar is not None and id(bar) in of:
                of[id(bar)].append(place)
        rhythms = [tuple(of[id(bar)]) for bar in self.bars]
        for i in range(len(rhythms) - 2):
            if rhythms[i] and rhythms[i] == rhythms[i + 1] == rhythms[i + 2] and not self.options.learning:
                yield f"the rhythm {[float(p) for p in rhythms[i]]} three bars running from {self.name(self.bars[i].start)}"
        counts = [len(set(rhythms[i:i + 32]) - {()}) for i in range(len(rhythms) - 31)]
        self.figures["rhythms"] = min(counts, default=None)
        fours = all(bar.meter.text == "4/4" for bar in self.bars)
        wanted = self.chart.feel in ("swing", "shuffle", "bossa") and fours and not self.options.learning
        if wanted and min(counts, default=8) < 8:
            yield f"only {min(counts)} rhythms in 32 bars"


def listen(chart, file, options):
    """The faults by rule, and the figures."""
    listener = Listener(chart, file, options)
    rules = [name for name in dir(listener) if name.startswith("rule_")]
    faults = {name[5:]: list(getattr(listener, name)()) for name in rules}
    return {name: found for name, found in faults.items() if found}, listener.figures
