"""One note by the letter of the SoundFont standard (2.04), slowly and in plain numpy: the judge where two synths differ.

Sections: 7 (zones; a preset's generators add to an instrument's), 8.1.2 (what each generator does, in its units), 8.4.1 (from
velocity to attenuation), 9.1.7 (envelopes: an attack rises evenly in amplitude, a decay and a release fall evenly in decibels, 100
dB in the time that is named). As players do, an attenuation generator counts four tenths, and 8.4.2 (from velocity to the low-pass)
is left out; both synths agree on these two.
"""

import struct

import numpy as np
from scipy.signal import lfilter

from font import records

RATE = 48000
BLOCK = 64
DEFAULTS = {8: 13500, 21: -12000, 23: -12000, 25: -12000, 26: -12000, 27: -12000, 28: -12000, 30: -12000, 33: -12000,
            34: -12000, 35: -12000, 36: -12000, 38: -12000, 46: -1, 47: -1, 56: 100, 58: -1}
# Only an instrument may say these (8.1.2): addresses, modes, class, root, key and velocity that are always the same.
INSTRUMENT_ONLY = {0, 1, 2, 3, 4, 12, 45, 46, 47, 50, 54, 57, 58}


def signed(amount):
    return amount - 65536 if amount > 32767 else amount


def seconds(timecents):
    return 0.0 if timecents <= -12000 else 2 ** (timecents / 1200)


def hertz(cents):
    return 8.176 * 2 ** (cents / 1200)


class Font:
    """The tables of a file."""

    def __init__(self, path):
        data = open(path, "rb").read()
        table = lambda name, form: records(data, name, form)[1]
        self.presets, self.instruments = table(b"phdr", "<20sHHH12x"), table(b"inst", "<20sH")
        self.preset_bags, self.bags = table(b"pbag", "<HH"), table(b"ibag", "<HH")
        self.preset_generators, self.generators = table(b"pgen", "<HH"), table(b"igen", "<HH")
        self.headers = table(b"shdr", "<20sIIIIIBbHH")
        at = data.index(b"smpl", data.index(b"sdta"))
        (length,) = struct.unpack_from("<I", data, at + 4)
        self.samples = np.frombuffer(data, "<i2", length // 2, at + 8)

    def zones(self, bags, generators, first, after, last, note):
        """The zones that sound, each over the global one."""
        common = {}
        for index in range(first, after):
            own = dict(generators[bags[index][0] : bags[index + 1][0]])
            if last not in own:
                common = own if index == first else common
                continue
            zone = {**common, **own}
            if all(zone.get(which, 0x7F00) & 255 <= value <= zone.get(which, 0x7F00) >> 8 for which, value in zip((43, 44), note)):
                yield zone

    def sounding(self, bank, program, note):
        """The sums of generators of each zone, with its sample."""
        place = next(at for at, preset in enumerate(self.presets) if preset[1:3] == (program, bank))
        first, after = self.presets[place][3], self.presets[place + 1][3]
        for preset in self.zones(self.preset_bags, self.preset_generators, first, after, 41, note):
            inner = (self.instruments[preset[41] + more][1] for more in (0, 1))
            for zone in self.zones(self.bags, self.generators, *inner, 53, note):
                sums = {**DEFAULTS, **{which: signed(amount) for which, amount in zone.items()}}
                for which, amount in preset.items():
                    if which not in INSTRUMENT_ONLY | {41, 43, 44}:
                        sums[which] = sums.get(which, 0) + signed(amount)
                yield sums, self.headers[zone[53]]


def envelope(of, key, first, count, hold, levels_fall):
    """An envelope at each of some times: 25 to 30 or 33 to 38. `levels_fall`: the volume's, in decibels; else from 0 to 1."""
    delay, attack, held, decay, sustain, release = (of.get(first + step, 0) for step in range(6))
    key_to_hold, key_to_decay = of.get(first + 6, 0), of.get(first + 7, 0)
    delay, attack = seconds(delay), seconds(attack)
    held = seconds(held + key_to_hold * (60 - key)) if held > -12000 else 0.0
    decay = seconds(decay + key_to_decay * (60 - key))
    floor = -min(sustain, 1440) / 10 if levels_fall else 1 - min(max(sustain, 0), 1000) / 1000
    times = np.arange(count) / RATE

    def before_release(time):
        rising = np.clip((time - delay) / max(attack, 1e-9), 0, 1)
        after = np.maximum(time - delay - attack - held, 0) / max(decay, 1e-9)
        if levels_fall:
            return np.where(after > 0, np.maximum(-100 * after, floor), 20 * np.log10(rising + 1e-9))
        return np.where(after > 0, np.maximum(1 - after, floor), rising)

    level, at_release = before_release(times), before_release(np.array([hold]))[0]
    gone = np.maximum(times - hold, 0) / max(seconds(release), 1e-9)
    fallen = at_release - gone * (100 if levels_fall else 1)
    level = np.where(times > hold, fallen, level)
    return 10 ** (level / 20) * (level > -100) if levels_fall else np.maximum(level, 0)


def oscillator(of, first, count):
    """A low-frequency oscillator: a triangle from 0 up, after its delay (21 and 22, 23 and 24)."""
    time = np.maximum(np.arange(count) / RATE - seconds(of.get(first, -12000)), 0) * hertz(of.get(first + 1, 0))
    return 1 - 4 * np.abs((time + 0.25) % 1 - 0.5)


def zone_sound(font, of, header, note, hold, count):
    """One zone: both sides."""
    _, start, end, loop_from, loop_to, rate, root, correction, _, _ = header
    key = of[46] if of[46] >= 0 else note[0]
    velocity = of[47] if of[47] > 0 else note[1]
    start += of.get(0, 0) + 32768 * of.get(4, 0)
    loop_from += of.get(2, 0) + 32768 * of.get(45, 0)
    loop_to += of.get(3, 0) + 32768 * of.get(50, 0)
    end += of.get(1, 0) + 32768 * of.get(12, 0)
    root = of[58] if of[58] >= 0 else root
    wobble, vibrato = oscillator(of, 21, count), oscillator(of, 23, count)
    bend = envelope(of, key, 25, count, hold, False)
    cents = (key - root) * of[56] + 100 * of.get(51, 0) + of.get(52, 0) + correction
    cents = cents + of.get(7, 0) * bend + of.get(5, 0) * wobble + of.get(6, 0) * vibrato
    place = np.concatenate([[0.0], np.cumsum(2 ** (cents / 1200))[:-1]]) * rate / RATE
    place, loops = place + start, of.get(54, 0) & 3 in (1, 3)
    if loops and loop_to > loop_from:
        place = np.where(place >= loop_to, loop_from + (place - loop_from) % (loop_to - loop_from), place)
    whole = np.floor(place).astype(int)
    part = place - whole
    tap = lambda by: font.samples[np.clip(np.where(loops & (whole + by >= loop_to), whole + by - (loop_to - loop_from), whole + by), 0, len(font.samples) - 1)] / 32768
    a, b, c, d = tap(-1), tap(0), tap(1), tap(2)
    sound = b + part / 2 * (c - a + part * (2 * a - 5 * b + 4 * c - d + part * (3 * (b - c) + d - a)))
    sound = np.where(loops | (place < end - 1), sound, 0)
    sound = low_pass(sound, of, of[8] + of.get(11, 0) * bend + of.get(10, 0) * wobble)
    decibels = -0.4 * of.get(48, 0) / 10 + 40 * np.log10(velocity / 127) + of.get(13, 0) / 10 * wobble
    sound = sound * envelope(of, key, 33, count, hold, True) * 10 ** (decibels / 20)
    angle = (np.clip(of.get(17, 0), -500, 500) + 500) / 1000 * np.pi / 2
    return np.column_stack([sound * np.cos(angle), sound * np.sin(angle)])


def low_pass(sound, of, cents):
    """Two poles; a resonance in decibels above what is at zero, which sinks by half of it (8.1.2, generator 9)."""
    resonance = np.clip(of.get(9, 0), 0, 960) / 10
    out, state = np.empty_like(sound), np.zeros(2)
    for at in range(0, len(sound), BLOCK):
        hz = min(hertz(np.clip(cents[at], 1500, 13500)), 0.45 * RATE)
        if cents[at] >= 13500 and resonance == 0 and not state.any():
            out[at : at + BLOCK] = sound[at : at + BLOCK]
            continue
        turn = 2 * np.pi * hz / RATE
        alpha = np.sin(turn) / 2 / 10 ** ((resonance - 3.01) / 20)
        gain = 10 ** (-resonance / 40) * (1 - np.cos(turn))
        b = np.array([gain / 2, gain, gain / 2]) / (1 + alpha)
        a = np.array([1 + alpha, -2 * np.cos(turn), 1 - alpha]) / (1 + alpha)
        out[at : at + BLOCK], state = lfilter(b, a, sound[at : at + BLOCK], zi=state)
    return out


def note(font, bank, program, key, velocity, hold, length):
    """A note of a preset, both sides, at full scale 1 before any gain."""
    count = int(length * RATE)
    zones = font.sounding(bank, program, (key, velocity))
    return sum(zone_sound(font, of, header, (key, velocity), hold, count) for of, header in zones)
