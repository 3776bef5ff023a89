"""Known faults put into a good file, to prove that each is noticed, and by which rule."""

import copy

import checks
from smf import File


def prove(chart, midi, options):
    asked = {
        None: True,
        "swing": chart.feel in ("swing", "shuffle", "waltz") and options.drums == "ride",
        "bass": options.bass == "on",
        "full": options.comping == "full",
        "free": options.comping != "off" and not options.learning,
    }
    missed = 0
    for name, rule, change, where in SPOILS:
        if not asked[where]:
            continue
        spoiled = copy.deepcopy(midi)
        change(spoiled, chart, options)
        faults, _ = checks.listen(chart, File(spoiled), options)
        missed += rule not in faults
        others = ", ".join(sorted(set(faults) - {rule}))
        print(f"{'noticed' if rule in faults else 'MISSED '}  {name}: {rule}{others and ', also ' + others}")
    return hidden_targets(chart, midi, options, missed)


def hidden_targets(chart, midi, options, missed):
    """A file in which everything sounds, taken for one that hides its thirds, then for one that keeps them inside."""
    if options.comping == "full":
        for comping, rule in (("without-target", "ringing"), ("inside", "comping")):
            other = copy.copy(options)
            other.comping, other.degrees = comping, ["3"]
            faults, _ = checks.listen(chart, File(midi), other)
            missed += rule not in faults
            print(f"{'noticed' if rule in faults else 'MISSED '}  full comping taken for {comping}: {rule}")
    return 1 if missed else 0


def track(midi, part):
    return next(t for t in midi.tracks if t.name == part)


def nth_on(midi, part, number):
    """Index in its track of a note-on from the middle of the file."""
    ons = [i for i, m in enumerate(track(midi, part)) if m.type == "note_on" and m.velocity > 0]
    return ons[len(ons) // 2 + number]


def retime(midi, part, moved):
    """Gives the messages of a part other ticks: `moved(index, message, tick)`."""
    timed, tick = [], 0
    for index, message in enumerate(track(midi, part)):
        tick += message.time
        timed.append((moved(index, message, tick), message))
    timed.sort(key=lambda pair: pair[0])
    last = 0
    for at, message in timed:
        message.time, last = at - last, at
    track(midi, part)[:] = [message for _, message in timed]


def shift(part, ms):
    """One onset in the middle of a part later by so many ms."""
    def change(midi, chart, options):
        ticks, one = round(ms / float(chart.quarter_ms) * 960), nth_on(midi, part, 0)
        retime(midi, part, lambda index, _, tick: tick + ticks if index == one else tick)
    return change


def wrong_bass(midi, chart, options):
    """The bass of one first beat a semitone up."""
    listener = checks.Listener(chart, File(midi), options)
    written = [(note, *listener.written(note, "bass")) for note in listener.file.part("bass")]
    firsts = [note for note, bar, place, _ in written if bar and place == 0]
    raise_key(midi, firsts[len(firsts) // 2], 1)


def other_swing(part, mine, other):
    """All off-beats of a part with the ratio of another."""
    def change(midi, chart, options):
        ratio = checks.Listener(chart, File(midi), options).ratio
        right, wrong = (round(960 * ratio[which] / (1 + ratio[which])) for which in (mine, other))
        retime(midi, part, lambda _, __, tick: tick + wrong - right if tick % 960 == right else tick)
    return change


def drop_off(midi, chart, options):
    events = track(midi, "bass")
    index = next(i for i in range(nth_on(midi, "bass", 0), len(events)) if events[i].type == "note_off")
    events[index + 1].time += events[index].time
    del events[index]


def other_cymbal(midi, chart, options):
    for message in track(midi, "drums"):
        if getattr(message, "note", None) == checks.RIDE:
            message.note = 53


def wrong_channel(midi, chart, options):
    for message in track(midi, "bass"):
        if message.type in ("note_on", "note_off"):
            message.channel = 5


def other_tempo(midi, chart, options):
    for message in midi.tracks[0]:
        if message.type == "set_tempo":
            message.tempo += 2


def other_meter(midi, chart, options):
    for message in midi.tracks[0]:
        if message.type == "time_signature":
            message.numerator += 1


def count_off(midi, chart, options):
    events = track(midi, "click")
    first = next(m for m in events if m.type == "note_on")
    first.time += 20


def one_rhythm(midi, chart, options):
    """Three bars running with one stroke each, on the first beat."""
    listener = checks.Listener(chart, File(midi), options)
    bars = {bar.start: [] for bar in listener.bars}
    for note in listener.file.part("comping"):
        bar, place, _ = listener.written(note, "comping")
        if bar and bar.start in bars:
            bars[bar.start].append((place, note))
    starts = sorted(bars)
    runs = (starts[i:i + 3] for i in range(len(starts) // 2, len(starts) - 2))
    run = next(run for run in runs if all(bars[start] for start in run))
    earlier = {}
    for start in run:
        first = min(place for place, _ in bars[start])
        for place, note in bars[start]:
            if place == first:
                ticks = (listener.quarters(note.at_ms) - start) * 960
                earlier[note.on[1]] = round(ticks)
    retime(midi, "comping", lambda index, _, tick: tick - earlier.get(index, 0))
    # The messages have other numbers now, so the other strokes are found by where they stand.
    again = checks.Listener(chart, File(midi), options)
    remove(midi, {
        note.on for note in again.file.part("comping")
        for bar, place, _ in [again.written(note, "comping")] if bar and bar.start in run and place != 0
    })


def remove(midi, drop):
    """Takes notes out, their ends too."""
    for index, events in enumerate(midi.tracks):
        gone, carried, out = set(), 0, []
        for place, message in enumerate(events):
            key = getattr(message, "note", None)
            take = (index, place) in drop
            if take:
                gone.add(key)
            elif message.type == "note_off" and key in gone:
                gone.discard(key)
                take = True
            if take:
                carried += message.time
            else:
                message.time += carried
                carried = 0
                out.append(message)
        events[:] = out


def drop_guides(midi, chart, options):
    """One chord without its third."""
    listener = checks.Listener(chart, File(midi), options)
    drop = set()
    for note in listener.file.part("comping"):
        chord = listener.chord_at(listener.quarters(note.at_ms))
        if chord and chord.symbol and note.key % 12 in chord.symbol.degrees(["3"]):
            drop.add(note.on)
            if len(drop) == 6:
                break
    remove(midi, drop)


def leap(midi, chart, options):
    """The comping of two bars up by an octave."""
    listener = checks.Listener(chart, File(midi), options)
    first, second = listener.bars[len(listener.bars) // 2:][:2]
    for note in listener.file.part("comping"):
        if first.start <= listener.quarters(note.at_ms) < second.end:
            raise_key(midi, note, 12)


def raise_key(midi, note, semitones):
    events = midi.tracks[note.on[0]]
    on = events[note.on[1]]
    off = next(m for m in events[note.on[1] + 1:] if m.type in ("note_on", "note_off") and m.note == on.note)
    on.note += semitones
    off.note += semitones


SPOILS = [
    # what, which rule must notice, how, where it can be asked
    ("a stroke 3 ms late", "grid", shift("comping", 3), None),
    ("a drum 3 ms late", "grid", shift("drums", 3), None),
    ("the comping swings less than the ride", "grid", other_swing("comping", "ride", "straighter"), "swing"),
    ("the ride swings less than the comping", "grid", other_swing("drums", "ride", "straighter"), "swing"),
    ("a wrong bass on a first beat", "bass", wrong_bass, "bass"),
    ("a note never let go", "file", drop_off, "bass"),
    ("the bass on channel 6", "file", wrong_channel, "bass"),
    ("the tempo 2 us off", "file", other_tempo, None),
    ("a beat more in the meter", "meters", other_meter, None),
    ("a click 20 ticks late", "count_in", count_off, None),
    ("another cymbal", "pulse", other_cymbal, "swing"),
    ("a chord without its third", "comping", drop_guides, "full"),
    ("two bars of comping an octave up", "top_voice", leap, None),
    ("the same rhythm all the time", "rhythms", one_rhythm, "free"),
]
