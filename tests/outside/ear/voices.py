#!/usr/bin/env python3
"""Singing: the choirs and the synthetic voice of General MIDI SoundFonts (programs 53 to 55 counted from 1), a chromatic
scale from A2 to E5 that swings by 0, 30 and 60 cents 5.5 times a second, through `listen --instrument voice`.

  python voices.py --listen target/release/underfoot

A note is right if what is named in its time is that note in any octave, and nothing else. Exit code 1 under 97 %."""
import argparse, json, math, os, subprocess, sys, tempfile
import numpy as np, soundfile as sf
import make_set

NOTES = [(.3 + 1.5 * i, n) for i, n in enumerate(range(45, 77))]

def sing(font, program, cents):
    ev = [(0, -1, bytes([0xC0, program]))]
    for t, n in NOTES:
        make_set.note(ev, 0, n, 90, t, 1.1)
        for k in range(110):
            bend = int(8192 + 8191 * cents / 200 * math.sin(2 * math.pi * 5.5 * k * .01)); ev.append((t + k * .01, 2, bytes([0xE0, bend & 127, bend >> 7])))
    return make_set.render(font, ev, .3 + 1.5 * len(NOTES) + .5)

def named(listen, wav, more=()):
    out = subprocess.run([listen, 'listen', wav, '--instrument', 'voice', '--json', *more], check=True, capture_output=True, text=True)
    return [json.loads(line) for line in out.stdout.splitlines()]

def right_readings(frames, cents):
    right = total = 0
    for t, n in NOTES:
        for f in frames:
            if t + .2 < f['t_s'] < t + 1.05 and f['hz']:
                off = (1200 * math.log2(f['hz'] / (440 * 2 ** ((n - 69) / 12))) + 600) % 1200 - 600
                total += 1; right += abs(off) < cents + 50
    return right, total

def main():
    p = argparse.ArgumentParser(); p.add_argument('--listen', required=True)
    p.add_argument('--fonts', default='/usr/share/sounds/sf2/TimGM6mb.sf2,/usr/share/sounds/sf2/FluidR3_GM.sf2'); a = p.parse_args()
    good = total = read = reads = 0; delays = []
    for font in filter(os.path.exists, a.fonts.split(',')):
        for program in (52, 53, 54):
            for cents in (0, 30, 60):
                with tempfile.TemporaryDirectory() as d:
                    x = sing(font, program, cents); wav = d + '/voice.wav'; sf.write(wav, x * (.5 / np.abs(x).max()), 48000, subtype='PCM_16')
                    events = named(a.listen, wav); r, n = right_readings(named(a.listen, wav, ['--frames']), cents); read += r; reads += n
                here = 0
                for t, n in NOTES:
                    told = [e for e in events if t - .1 < e['onset_s'] < t + 1]
                    ok = bool(told) and all((e['midi'] - n) % 12 == 0 for e in told); here += ok
                    if ok: delays.append(told[0]['known_s'] - t)
                    else: print('  differs', os.path.basename(font), program, cents, 'sung', n, 'named', [e['midi'] for e in told])
                good += here; total += len(NOTES)
    share = 100 * good / max(1, total)
    print(f'{good} of {total} sung notes right: {share:.1f} %; readings {100 * read / max(1, reads):.2f} %; named after {np.median(delays):.2f} s')
    sys.exit(share < 97)
if __name__ == '__main__': main()
