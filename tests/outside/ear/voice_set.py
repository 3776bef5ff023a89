#!/usr/bin/env python3
"""A voice with exact labels: syllables spoken by espeak-ng, sung by a source and a filter of our own. It is made, not recorded.

  python voice_set.py --out SET [--files 8] [--seed 1]      SET/labels.json, SET/wav (44.1 kHz)

Of each spoken syllable the filters of its 10 ms pieces are taken (linear prediction: J. Makhoul, "Linear prediction: a tutorial review",
Proceedings of the IEEE 63, 1975; from memory); the consonant is kept as it is, the vowel's middle held as long as the note; pulses go through where
it is voiced, noise where not. The pitch of the pulses is ours and so known: scoops from below, glides from the note before, vibrato that comes late,
a pitch that strays by some cents; breath between phrases. A note begins where its vowel does; its pitch is the middle of its settled part.
Common practice of singers, no source: scoops to 1.5 semitones over 60 ms, glides over 80 ms, vibrato of 5 to 6 Hz to 40 cents."""
import argparse, json, os, random, subprocess, tempfile
import numpy as np, scipy.linalg, scipy.signal, soundfile as sf

RATE, SYLLABLES = 22050, ['la', 'da', 'no', 'mi', 'so', 'fa', 'ti', 'ba', 'shoo', 'ray', 'way', 'go', 'ah', 'ooh']
ORDER, HOP = 26, RATE // 100

def spoken(voice, text):
    with tempfile.NamedTemporaryFile(suffix='.wav') as f:
        subprocess.run(['espeak-ng', '-v', voice, '-s', '120', '-w', f.name, text], check=True); x, rate = sf.read(f.name)
    assert rate == RATE
    return x

def pieces(x):
    """Filter, gain and whether it is voiced, of each 10 ms in which something is said."""
    out = []; x = scipy.signal.lfilter([1, -.95], [1], x)
    for at in range(0, len(x) - 3 * HOP, HOP):
        w = x[at:at + 3 * HOP] * np.hanning(3 * HOP); r = np.correlate(w, w, 'full')[len(w) - 1:]
        if r[0] < 1e-4: continue
        a = scipy.linalg.solve_toeplitz(r[:ORDER] * np.r_[1.0001, np.ones(ORDER - 1)], r[1:ORDER + 1])
        lags = r[RATE // 400:RATE // 70]; voiced = lags.max() / r[0] > .35
        out.append((np.r_[1, -a], np.sqrt(max(r[0] - a @ r[1:ORDER + 1], 1e-9) / len(w)), voiced))
    return out

def syllable(parts, seconds, rng):
    """The pieces of a syllable as long as a note: what comes before the vowel's middle as it is, the middle held."""
    voiced = [i for i, p in enumerate(parts) if p[2]]; loud = max(voiced, key=lambda i: parts[i][1])
    begins = next((i for i in voiced if parts[i][1] > .3 * parts[loud][1]), voiced[0])
    return parts[:loud], parts[loud], begins * HOP

def between(phase, hz):
    """A pulse where the phase turns, between two samples where it does: else it would tremble, by a hundredth of a high note's period."""
    pulses = np.zeros(len(phase) + 1); at = np.flatnonzero(np.diff(np.floor(phase)) > 0) + 1
    late = (phase[at] - np.floor(phase[at])) * RATE / hz[at]; loud = np.sqrt(RATE / hz[at])
    np.add.at(pulses, at, (1 - late) * loud); np.add.at(pulses, at - 1, late * loud)
    return pulses[:-1]

def sing(rng, r, voice, low, high):
    quarter = 60 / r.uniform(70, 130); notes = []; t = .8; midi = r.randrange(low + 4, high - 4)
    while len(notes) < 24:
        long = quarter * r.choice([.5, .5, 1, 1, 1.5]); midi = min(high, max(low, midi + r.choice([-4, -3, -2, -1, 0, 1, 2, 2, 3, 5])))
        legato = r.random() < .7; notes.append((t, long * (.97 if legato else .7), midi + r.gauss(0, .08), r.choice(SYLLABLES)))
        t += long + (r.uniform(.5, .9) if len(notes) % 6 == 0 else 0)
    total = int((t + .6) * RATE); y = np.zeros(total); labels = []; before = None
    for t, long, midi, text in notes:
        lead, vowel, begins = syllable(pieces(spoken(voice, text)), long, rng)
        # The consonant comes before the beat, the vowel on it.
        start = int(t * RATE) - begins; count = int(long * RATE) + begins; n = np.arange(count); s = (n - begins) / RATE
        scoop = -r.uniform(0, 1.5) * np.exp(-np.maximum(s, 0) / .025) if r.random() < .5 else 0
        if before is not None and r.random() < .3: scoop = (before - midi) * np.clip(1 - (s + .02) / .08, 0, 1)
        vibrato = r.uniform(0, .4) * np.clip((s - .15) / .2, 0, 1) * np.sin(2 * np.pi * r.uniform(5, 6) * s)
        pitch = midi + scoop + vibrato; hz = 440 * 2 ** ((pitch - 69) / 12); phase = np.cumsum(hz) / RATE
        pulses = between(phase, hz)
        noise = rng.normal(0, 1, count); zi = np.zeros(ORDER); out = np.zeros(count)
        for k in range(0, count, HOP):
            a, gain, voiced = lead[k // HOP] if k // HOP < len(lead) else vowel
            e = (.98 * pulses[k:k + HOP] + .02 * noise[k:k + HOP] if voiced else noise[k:k + HOP]) * gain
            out[k:k + HOP], zi = scipy.signal.lfilter([1], a, e, zi=zi)
        out *= np.minimum(1, np.minimum(n / (.008 * RATE), (count - n) / (.03 * RATE)))
        out = scipy.signal.lfilter([1], [1, -.95], out); end = min(total, start + count); y[start:end] += out[:end - start] * 10 ** (r.uniform(-6, 0) / 20)
        labels.append(dict(onset_ac=round(t, 4), off=round(t + long, 4), midi=round(midi), hz=round(440 * 2 ** ((midi - 69) / 12), 3))); before = midi
    y += 3e-4 * scipy.signal.lfilter(*scipy.signal.butter(2, .2), rng.normal(0, 1, total))
    for i in range(5, len(notes) - 1, 6):
        # A breath before the next phrase.
        a = int((notes[i + 1][0] - .4) * RATE); b = a + int(.25 * RATE); y[a:b] += .02 * np.hanning(b - a) * rng.normal(0, 1, b - a) * np.abs(y).max()
    return scipy.signal.resample_poly(y * (.4 / np.abs(y).max()), 2, 1), labels

def main():
    p = argparse.ArgumentParser(); p.add_argument('--out', required=True); p.add_argument('--files', type=int, default=8); p.add_argument('--seed', type=int, default=1); a = p.parse_args()
    os.makedirs(a.out + '/wav', exist_ok=True); items = []
    for f in range(a.files):
        r, rng = random.Random(f'{a.seed}/{f}'), np.random.default_rng([a.seed, f])
        voice, low, high = [('en-us', 45, 60), ('en-us+f3', 55, 72), ('de+m3', 43, 58), ('it+f2', 57, 74)][f % 4]
        y, labels = sing(rng, r, voice, low, high); name = f'wav/voice_{f}.wav'; sf.write(f'{a.out}/{name}', y, 2 * RATE, subtype='PCM_16')
        items.append(dict(file=name, set='voice', source=voice, bleed=None, dur=round(len(y) / (2 * RATE), 3), notes=labels))
    json.dump(dict(sr=2 * RATE, seed=a.seed, items=items), open(a.out + '/labels.json', 'w'))
    print(len(items), 'files,', sum(len(i['notes']) for i in items), 'sung notes')
if __name__ == '__main__': main()
