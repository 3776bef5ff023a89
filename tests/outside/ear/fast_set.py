#!/usr/bin/env python3
"""Fast lines put together from recorded notes, with a band under them that is not known: as in a solo notes of 85 to 420 ms, each cut by the
next, some hammered on, and rests in which only the band plays.

  python fast_set.py NOTES --binary UNDERFOOT --out SET [--seed N]     SET/labels.json, SET/wav

NOTES is a folder of recorded notes with its own maker of lines (make_set.py), whose parts are used: the notes, the band's four charts, the room.
The band is 8, 12 and 18 dB under the guitar, by their mean squares."""
import argparse, json, os, random, sys
import numpy as np, soundfile as sf

STEPS = [-4, -3, -2, -2, -1, -1, 1, 1, 2, 2, 3, 4]

def line(notes, r):
    """What is played, and when, for how long, how loud."""
    picked = {}; [picked.setdefault(n['midi'], []).append(n) for n in notes if n['articulation'] == 'picked']
    hammered = {n['midi']: n for n in notes if n['articulation'] == 'hammer'}; keys = sorted(picked)
    at, key, shortest, played = .4, len(keys) // 2, r.choice([.085, .1, .12, .14]), []
    for phrase in range(4):
        for j in range(r.randint(6, 11)):
            old = key
            if j and r.random() > 1 / 8: key = min(len(keys) - 1, max(0, key + r.choice(STEPS)))
            note = r.choice(picked[keys[key]])
            if j and key > old and keys[key] in hammered and r.random() < .5: note = hammered[keys[key]]
            long = shortest * r.choice([1, 1, 1, 1, 2, 3])
            played.append((note, at, long, 10 ** (-r.uniform(0, 6) / 20))); at += long
        at += r.uniform(.6, 1.6)
    return played, at + 1

def main():
    p = argparse.ArgumentParser(); p.add_argument('notes'); p.add_argument('--binary', required=True); p.add_argument('--out', required=True); p.add_argument('--seed', default='1')
    a = p.parse_args(); sys.path.insert(0, a.notes); import make_set as maker
    os.makedirs(a.out + '/wav', exist_ok=True); collection, bands, rate, items = maker.Notes(a.notes), maker.bands(a.binary), maker.SR, []
    guitars = sorted({n['source'] for n in collection.L if n['source'] != 'bass'})
    for number, (guitar, take) in enumerate((g, t) for g in guitars for t in range(4)):
        r = random.Random(f'{a.seed}/{guitar}/{take}'); played, seconds = line([n for n in collection.L if n['source'] == guitar], r)
        sound, notes = np.zeros(int(seconds * rate)), []
        for note, at, long, gain in played:
            begin = int(round(at * rate)); off = maker.place(sound, collection.audio(note), begin, begin + int(long * rate), gain, int(.005 * rate))
            notes.append(maker.lab(note, begin / rate, off))
        sound *= .5 / np.abs(sound).max(); band = bands[number % len(bands)]; begin = r.randrange(0, len(band) - len(sound))
        band = maker.room(band[begin:begin + len(sound)], r); level = maker.sounding(sound, notes) / np.sqrt((band ** 2).mean())
        for under in (8, 12, 18):
            mixed = sound + band * level * 10 ** (-under / 20); name = f'wav/{guitar}_{take}_{under}.wav'
            sf.write(f'{a.out}/{name}', mixed * min(1, .95 / np.abs(mixed).max()), rate, subtype='PCM_16')
            items.append(dict(file=name, set=f'fast, {under} dB', source=guitar, bleed=None, notes=notes, dur=len(sound) / rate))
    json.dump(dict(sr=rate, items=items), open(a.out + '/labels.json', 'w')); print(len(items), 'files,', sum(len(i['notes']) for i in items) // 3, 'notes')
if __name__ == '__main__': main()
