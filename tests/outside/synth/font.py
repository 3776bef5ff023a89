"""A SoundFont made for the comparison (SoundFont 2.04, section 7): a saw of 441 Hz, looped, and one preset for each thing that
a generator can do. The names of the generators are the standard's (section 8.1.2)."""

import math
import struct

NUMBERS = {
    "modLfoToPitch": 5, "vibLfoToPitch": 6, "modEnvToPitch": 7, "initialFilterFc": 8, "initialFilterQ": 9,
    "modLfoToFilterFc": 10, "modEnvToFilterFc": 11, "modLfoToVolume": 13, "pan": 17, "delayModLFO": 21,
    "freqModLFO": 22, "delayVibLFO": 23, "freqVibLFO": 24, "delayModEnv": 25, "attackModEnv": 26, "holdModEnv": 27,
    "decayModEnv": 28, "sustainModEnv": 29, "releaseModEnv": 30, "delayVolEnv": 33, "attackVolEnv": 34,
    "holdVolEnv": 35, "decayVolEnv": 36, "sustainVolEnv": 37, "releaseVolEnv": 38, "keynumToVolEnvHold": 39,
    "keynumToVolEnvDecay": 40, "instrument": 41, "keyRange": 43, "velRange": 44, "initialAttenuation": 48,
    "coarseTune": 51, "fineTune": 52, "sampleID": 53, "sampleModes": 54, "scaleTuning": 56, "exclusiveClass": 57,
    "overridingRootKey": 58,
}
PERIOD, PERIODS, TAIL = 100, 40, 22050


def timecents(seconds):
    return round(1200 * math.log2(seconds))


def cents(hz):
    return round(1200 * math.log2(hz / 8.1757989))


LOOP = {"sampleModes": 1, "releaseVolEnv": timecents(0.2)}
# Program: the instrument's zones, and what the preset adds.
PRESETS = [
    ("plain", [LOOP], {}),
    ("attack", [LOOP | {"attackVolEnv": timecents(0.5)}], {}),
    ("decay", [LOOP | {"decayVolEnv": timecents(2), "sustainVolEnv": 400}], {}),
    ("release", [LOOP | {"releaseVolEnv": timecents(2)}], {}),
    ("delay and hold", [LOOP | {"delayVolEnv": timecents(0.2), "holdVolEnv": timecents(0.3),
                                "decayVolEnv": timecents(2), "sustainVolEnv": 1000}], {}),
    ("key to decay", [LOOP | {"decayVolEnv": timecents(2), "sustainVolEnv": 1000, "keynumToVolEnvDecay": 50}], {}),
    ("low-pass", [LOOP | {"initialFilterFc": cents(1000)}], {}),
    ("resonance", [LOOP | {"initialFilterFc": cents(1500), "initialFilterQ": 150}], {}),
    ("filter envelope", [LOOP | {"initialFilterFc": cents(600), "modEnvToFilterFc": 3600,
                                 "attackModEnv": timecents(0.3), "decayModEnv": timecents(1), "sustainModEnv": 700}], {}),
    ("pitch envelope", [LOOP | {"modEnvToPitch": 700, "attackModEnv": timecents(0.2),
                                "holdModEnv": timecents(0.2), "decayModEnv": timecents(0.5), "sustainModEnv": 1000}], {}),
    # Under its peak, where the reference adds nothing.
    ("tremolo", [LOOP | {"decayVolEnv": timecents(0.1), "sustainVolEnv": 75, "modLfoToVolume": 60, "freqModLFO": cents(4), "delayModLFO": timecents(0.3)}], {}),
    ("vibrato", [LOOP | {"vibLfoToPitch": 50, "freqVibLFO": cents(5), "delayVibLFO": timecents(0.2)}], {}),
    ("filter oscillator", [LOOP | {"initialFilterFc": cents(1500), "modLfoToFilterFc": 1200, "freqModLFO": cents(3)}], {}),
    ("loop until let go", [LOOP | {"sampleModes": 3, "releaseVolEnv": timecents(3)}], {}),
    ("no loop", [{"sampleModes": 0}], {}),
    ("scale", [LOOP | {"scaleTuning": 50, "coarseTune": -5, "fineTune": 30}], {}),
    ("preset adds", [LOOP | {"initialFilterFc": cents(3000), "initialAttenuation": 60, "pan": -100}],
     {"initialAttenuation": 40, "initialFilterFc": -1200, "pan": -200, "fineTune": 20}),
    ("exclusive", [LOOP | {"keyRange": (0, 63), "exclusiveClass": 1}, LOOP | {"keyRange": (64, 127), "exclusiveClass": 1}], {}),
    ("velocity layers", [LOOP | {"velRange": (0, 63)}, LOOP | {"velRange": (64, 127), "initialAttenuation": 100, "coarseTune": 12}], {}),
    ("two sides", [LOOP | {"pan": -500}, LOOP | {"pan": 500}], {}),
]


def chunk(name, body):
    return name.encode() + struct.pack("<I", len(body)) + body + b"\0" * (len(body) & 1)


def generators(settings, last):
    # The ranges stand first, what the zone ends with last (sections 7.5 and 7.9).
    ranged = [name for name in ("keyRange", "velRange") if name in settings]
    rest = sorted(name for name in settings if name not in ranged)
    data = b""
    for name in ranged:
        data += struct.pack("<HBB", NUMBERS[name], *settings[name])
    for name in rest:
        data += struct.pack("<Hh", NUMBERS[name], settings[name])
    return data + struct.pack("<HH", NUMBERS[last[0]], last[1])


def name(text):
    return text.encode()[:19].ljust(20, b"\0")


def saw(n):
    """A saw with 20 partials, which no rate of the comparison folds back."""
    turn = 2 * math.pi * n / PERIOD
    return sum(math.sin(turn * k) / k for k in range(1, 21)) / 2


def made():
    count = PERIOD * PERIODS
    wave = [round(16000 * saw(n)) for n in range(count)]
    # What follows the loop fades out.
    wave += [round(16000 * saw(n) * (1 - n / TAIL)) for n in range(TAIL)]
    samples = struct.pack(f"<{len(wave)}h", *wave) + b"\0" * 92
    phdr = pbag = pgen = inst = ibag = igen = b""
    for number, (title, zones, added) in enumerate(PRESETS):
        phdr += name(title) + struct.pack("<HHHIII", number, 0, len(pbag) // 4, 0, 0, 0)
        pbag += struct.pack("<HH", len(pgen) // 4, 0)
        pgen += generators(added, ("instrument", number))
        inst += name(title) + struct.pack("<H", len(ibag) // 4)
        for zone in zones:
            ibag += struct.pack("<HH", len(igen) // 4, 0)
            igen += generators(zone, ("sampleID", 0))
    phdr += name("EOP") + struct.pack("<HHHIII", 0, 0, len(pbag) // 4, 0, 0, 0)
    inst += name("EOI") + struct.pack("<H", len(ibag) // 4)
    pbag += struct.pack("<HH", len(pgen) // 4, 0)
    ibag += struct.pack("<HH", len(igen) // 4, 0)
    # 441 Hz is 4 cents above key 69.
    shdr = name("saw") + struct.pack("<IIIIIBbHH", 0, len(wave), 10 * PERIOD, count, 44100, 69, -4, 0, 1)
    shdr += name("EOS") + bytes(26)
    info = chunk("ifil", struct.pack("<HH", 2, 4)) + chunk("isng", b"EMU8000\0") + chunk("INAM", b"made\0\0")
    tables = [("phdr", phdr), ("pbag", pbag), ("pmod", bytes(10)), ("pgen", pgen + bytes(4)), ("inst", inst),
              ("ibag", ibag), ("imod", bytes(10)), ("igen", igen + bytes(4)), ("shdr", shdr)]
    body = b"sfbk" + chunk("LIST", b"INFO" + info) + chunk("LIST", b"sdta" + chunk("smpl", samples))
    body += chunk("LIST", b"pdta" + b"".join(chunk(*table) for table in tables))
    return chunk("RIFF", body)


# ---- fonts with one layer of a preset ------------------------------------------------------------------------


def records(data, name, form):
    """Where a table lies, and what is in it."""
    at = data.index(name, data.index(b"pdta"))
    (length,) = struct.unpack_from("<I", data, at + 4)
    return at + 8, list(struct.iter_unpack(form, data[at + 8 : at + 8 + length]))


def layers(path, program):
    """A copy of a font for each instrument of a preset of bank 0 that has more than one, with the others all but silent: their
    zones that name an attenuation get the highest. Instruments without one are heard in all."""
    data = open(path, "rb").read()
    _, presets = records(data, b"phdr", "<20sHHH12x")
    _, preset_bags = records(data, b"pbag", "<HH")
    _, preset_generators = records(data, b"pgen", "<Hh")
    _, instruments = records(data, b"inst", "<20sH")
    _, bags = records(data, b"ibag", "<HH")
    start, generators_of = records(data, b"igen", "<Hh")
    place = next((at for at, preset in enumerate(presets) if preset[1:3] == (program, 0)), None)
    if place is None:
        return
    zones = range(presets[place][3], presets[place + 1][3])
    chosen = [pair for zone in zones for pair in preset_generators[preset_bags[zone][0] : preset_bags[zone + 1][0]]]
    chosen = sorted({amount for number, amount in chosen if number == NUMBERS["instrument"]})
    for kept in chosen if len(chosen) > 1 else []:
        changed = bytearray(data)
        for other in chosen:
            first, end = (bags[instruments[index][1]][0] for index in (other, other + 1))
            for at in range(first, end) if other != kept else []:
                if generators_of[at][0] == NUMBERS["initialAttenuation"]:
                    struct.pack_into("<h", changed, start + 4 * at + 2, 1440)
        yield bytes(changed)
