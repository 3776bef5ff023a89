#!/usr/bin/env python3
"""A labelled solo of a horn over a band, ten seconds and 35 notes: what the package pymus 0.2.5 (PyPI; MIT by its metadata) carries
for its own tests, a recording with the notes that somebody transcribed from it. Measured, not shipped.

  python solo_set.py --out SET      downloads the package by pip; SET/labels.json, SET/wav

The notes count from equal temperament at the tuning that the package gives; the band is not known, and plays 20 dB and less under the horn."""
import argparse, glob, json, os, subprocess, sys, tarfile, tempfile
import numpy as np, soundfile as sf

WHAT = 'pymus==0.2.5'
HOME = 'pymus-0.2.5/pymus/test/data/'

def main():
    p = argparse.ArgumentParser(); p.add_argument('--out', required=True); a = p.parse_args()
    os.makedirs(a.out + '/wav', exist_ok=True)
    with tempfile.TemporaryDirectory() as d:
        subprocess.run([sys.executable, '-m', 'pip', 'download', '--quiet', '--disable-pip-version-check', '--no-deps', '--no-binary', ':all:', '--no-build-isolation', '--dest', d, WHAT], check=True)
        with tarfile.open(glob.glob(d + '/*.tar.gz')[0]) as t: t.extractall(d, filter='data')
        read = lambda name: [float(v) for v in open(f'{d}/{HOME}{name}.txt').read().split(',')]
        x, rate = sf.read(f'{d}/{HOME}test_sisa.wav'); pitch, onset, long, a4 = read('pitch'), read('onset'), read('duration'), read('tuning_freq')[0]
    # The recording is longer than what was transcribed of it.
    begin = onset[0] - .4; x = x[int(begin * rate):]
    notes = [dict(onset_ac=o - begin, off=o - begin + l, midi=int(m), hz=a4 * 2 ** ((m - 69) / 12)) for m, o, l in zip(pitch, onset, long)]
    sf.write(a.out + '/wav/solo.wav', x, rate, subtype='PCM_16')
    items = [dict(file='wav/solo.wav', set='solo', source='horn', bleed=None, dur=len(x) / rate, notes=notes)]
    json.dump(dict(sr=rate, items=items), open(a.out + '/labels.json', 'w')); print(len(notes), 'notes')
if __name__ == '__main__': main()
