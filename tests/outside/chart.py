"""A small reader of charts: bars and chords on a line of quarters, round and round.

Quarters are exact (fractions); the first full bar begins at 0, a pickup and the count before it lie below.
"""

import tomllib
from dataclasses import dataclass
from fractions import Fraction

import symbols

COMPOUND = ("6/8", "9/8", "12/8")


@dataclass(frozen=True)
class Meter:
    text: str

    @property
    def beats(self):
        return int(self.text.split("/")[0])

    @property
    def unit(self):
        return int(self.text.split("/")[1])

    @property
    def compound(self):
        return self.text in COMPOUND

    @property
    def beat(self):
        """Quarters of a beat of the chart: the denominator's note."""
        return Fraction(4, self.unit)

    @property
    def quarters(self):
        return self.beats * self.beat

    @property
    def count(self):
        """Quarters of what is counted: dotted quarters in compound meters."""
        return Fraction(3, 2) if self.compound else self.beat

    @property
    def counts(self):
        return int(self.quarters / self.count)


@dataclass
class Bar:
    start: Fraction
    meter: Meter
    chorus: int

    @property
    def end(self):
        return self.start + self.meter.quarters


@dataclass
class Chord:
    start: Fraction
    end: Fraction
    symbol: symbols.Symbol | None   # None: silence
    pickup: bool = False


class Chart:
    def __init__(self, path):
        with open(path, "rb") as file:
            self.raw = tomllib.load(file)
        self.tempo = Fraction(str(self.raw["tempo"]))
        self.feel = self.raw["feel"]
        self.meter = Meter(self.raw["time"])

    @property
    def quarter_ms(self):
        return 60000 / self.tempo

    def lay_out(self, until):
        """Bars and chords of chorus after chorus of the whole form, up to `until` quarters."""
        bars, chords = [], []
        if "pickup" in self.raw:
            layout = bar_layout(self.raw["pickup"], self.meter)
            add_chords(chords, layout, -self.meter.quarters, pickup=True)
        at, chorus = Fraction(0), 0
        while at < until:
            for meter, layout in self.form():
                bars.append(Bar(at, meter, chorus))
                add_chords(chords, layout, at)
                at += meter.quarters
            chorus += 1
        return bars, chords

    def form(self):
        """Once through: the meter and the layout of each bar."""
        sections = {section["name"]: section for section in self.raw["section"]}
        seen = {}
        for name in self.raw.get("form", [self.raw["section"][0]["name"]]):
            seen[name] = seen.get(name, 0) + 1
            yield from self.section(sections[name], seen[name])

    def section(self, section, number):
        texts = list(section["bars"])
        endings = section.get("ending", [])
        if endings:
            named = [e for e in endings if e["pass"] == number]
            texts += (named or endings[-1:])[0]["bars"]
        times = {c["bar"]: c["time"] for c in section.get("change", []) if "time" in c}
        meter, layout = self.meter, None
        for index, text in enumerate(texts, 1):
            meter = Meter(times[index]) if index in times else meter
            layout = layout if text == "%" else bar_layout(text, meter)
            yield meter, layout


def bar_layout(bar, meter):
    """(symbol or None to go on, quarters) after the rules of a bar."""
    if isinstance(bar, list):
        return [(symbol, Fraction(str(beats)) * meter.beat) for symbol, beats in bar]
    tokens = bar.split()
    if "/" in tokens:
        assert len(tokens) == meter.beats, bar
        return [(None if token == "/" else token, meter.beat) for token in tokens]
    assert len(tokens) in (1, 2, meter.beats), bar
    return [(token, meter.quarters / len(tokens)) for token in tokens]


def add_chords(chords, layout, at, pickup=False):
    for token, quarters in layout:
        if token is None and chords:
            chords[-1].end += quarters
        elif token is not None:
            chords.append(Chord(at, at + quarters, symbols.read(token), pickup))
        at += quarters


def count_in(chart):
    """Quarters of the count before the first full bar, and the places of its clicks, counted from its start.

    Below 90 counts a minute one bar; else two: "1 - 2 - | 1 2 3 4" where a bar has four counts and more, every
    count of both where it has fewer. Bars of one or two counts are always counted twice. A pickup replaces the
    last counts from where it begins.
    """
    meter = chart.meter
    per_minute = chart.tempo / meter.count
    bar = [meter.count * i for i in range(meter.counts)]
    if per_minute < 90 and meter.counts > 2:
        bars = [bar]
    elif meter.counts >= 4:
        bars = [bar[::2], bar]
    else:
        bars = [bar, bar]
    if "pickup" in chart.raw:
        starts, at = [], Fraction(0)
        for token, quarters in bar_layout(chart.raw["pickup"], meter):
            if token is not None:
                starts.append(at)
            at += quarters
        if len(bars) == 1 and starts[0] < meter.quarters / 2:
            bars.insert(0, bar)
        bars[-1] = [place for place in bars[-1] if place < starts[0]]
    clicks = [i * meter.quarters + place for i, places in enumerate(bars) for place in places]
    return len(bars) * meter.quarters, clicks
