#!/usr/bin/env python3
"""A player with a list of its own against the verdicts: right, wrong, early, late, missed, another octave, pushed, others,
with a hand's spread of 15 ms, on a SoundFont guitar over the demo charts at 60, 120 and 200 quarters a minute.

  python player.py --listen target/release/underfoot [--font FILE] [--keep DIR]

The list is made from the program's `targets` (what is to be played) and the tempo alone; windows as the trade has them:
early by 10 % of a beat, 35 to 80 ms, late by 1.4 times that (common practice, no source)."""
import argparse, json, os, random, subprocess, sys, tempfile
import numpy as np, soundfile as sf
import make_set
PC = {'C': 0, 'D': 2, 'E': 4, 'F': 5, 'G': 7, 'A': 9, 'B': 11}
def pc(name): return (PC[name[0]] + name.count('#') - name[1:].count('b')) % 12
DRILL = '''title = "roots"
[[stage]]
name = "one"
degrees = ["1"]
figure = ["1"]
places = ["1"]
cycle = { listen = 0, sing = 0, play = 1, breathe_bars = 0 }
'''
SPREAD = 15.0

def plan(targets, qpm, seed, bars_s):
    """What is played and what that is: a list of dictionaries of chord (its place in ms), at (s), midi or None, result, time."""
    r = random.Random(seed); beat = 60 / qpm; early = min(80, max(35, 100 * beat)) / 1e3; late = 1.4 * early; out = []
    kinds = ['right'] * 9 + ['wrong', 'early', 'late', 'missed', 'octave', 'other', 'pushed']
    # A repeated bar is a line of its own for `targets`, and the same chord going on for the band.
    new = [t for b, t in zip([None] + targets, targets) if b is None or b['symbol'] != t['symbol'] or b['section'] != t['section']]
    for t in new:
        if not t['target'] or t['at_quarters'] < 0 or t['at_quarters'] * beat >= bars_s: continue
        at = t['at_quarters'] * beat; long = t['quarters'] * beat; root = pc(t['target'][0])
        midi = 43 + (root - 43) % 12 + r.choice([0, 12]); kind = r.choice(kinds); hand = max(-0.9 * early, min(0.9 * early, r.gauss(0, SPREAD / 1e3)))
        if kind in ('other', 'pushed') and (long < 3.5 * beat or at == 0): kind = 'right'
        if kind == 'pushed' and 0.45 * beat < 2.2 * early: kind = 'right'
        note = dict(chord=round(at * 1e3), at=at + hand, midi=midi, result='right', time='in time', more=[])
        if kind == 'wrong': note.update(midi=midi + r.choice([1, 2, -1, -2, 3]), result='wrong')
        if kind == 'early': note.update(at=at - 1.5 * early, time='early')
        if kind == 'late': note.update(at=at + 1.5 * late, time='late')
        if kind == 'missed': note.update(midi=None, result='missed', time=None)
        if kind == 'octave': note.update(midi=midi + 12)
        if kind == 'pushed': note.update(at=at - 0.45 * beat, time='pushed')
        if kind == 'other': note['more'] = [(at + 2 * beat, midi + r.choice([1, 3, 6]))]
        note['long'] = min(0.45 * long, 1.2) if kind == 'other' else min(0.7 * long, 1.2); out.append(note)
    return out

def sound(font, notes, seconds, lead):
    ev = [(lead + n['at'], n['long'], n['midi']) for n in notes if n['midi']] + [(lead + t, 0.4, m) for n in notes for t, m in n['more']]
    ev.sort(); return make_set.guitar(font, 25, [(t, d, m, 90) for t, d, m in ev], lead + seconds + 1.0)

def main():
    p = argparse.ArgumentParser(); p.add_argument('--listen', required=True); p.add_argument('--keep')
    p.add_argument('--font', default='/usr/share/sounds/sf2/TimGM6mb.sf2'); p.add_argument('--charts', default='configs/charts'); a = p.parse_args()
    good = total = strays = 0
    with tempfile.TemporaryDirectory() as d:
        d = a.keep or d; os.makedirs(d, exist_ok=True); drill = d + '/roots.toml'; open(drill, 'w').write(DRILL)
        for chart in sorted(os.listdir(a.charts)):
            path = a.charts + '/' + chart
            rows = [json.loads(l) for l in subprocess.run([a.listen, 'targets', path, '--drill', drill, '--form', '--json'], check=True, capture_output=True, text=True).stdout.splitlines()]
            for qpm in (60, 120, 200):
                length = max(r['at_quarters'] + r['quarters'] for r in rows) * 60 / qpm; seconds = min(length, 90); lead = 1.0
                notes = plan(rows, qpm, f'{chart}/{qpm}', seconds - 4); x = sound(a.font, notes, seconds, lead); wav = d + f'/{chart}-{qpm}.wav'
                sf.write(wav, x * (0.5 / np.abs(x).max()), 48000, subtype='PCM_16')
                lines = [json.loads(l) for l in subprocess.run([a.listen, 'listen', wav, '--json', '--chart', path, '--drill', drill, '--form', '--tempo', str(qpm), '--first-bar', str(lead)], check=True, capture_output=True, text=True).stdout.splitlines()]
                verdicts = [l for l in lines if l.get('kind') == 'verdict' ]
                got = {}
                for v in verdicts:
                    if v['result'] != 'other': got.setdefault(round(v['at_ms']), v)
                here = 0
                for n in notes:
                    v = got.get(n['chord']); ok = v is not None and v['result'] == n['result'] and v['time'] == n['time']
                    here += ok
                    if not ok: print('  differs', chart, qpm, 'at ms', n['chord'], 'played', n['result'], n['time'], 'judged', v and (v['result'], v['time'], v['got'], v['late_ms']))
                others = sum(len(n['more']) for n in notes); told = sum(v['result'] == 'other' and v['at_ms'] < (seconds - 4) * 1e3 for v in verdicts)
                good += here + min(others, told); total += len(notes) + others; strays += max(0, told - others)
                print(f'{chart} at {qpm}: {here} of {len(notes)} verdicts, {told} of {others} others')
    share = 100 * good / max(1, total); print(f'{good} of {total} verdicts right: {share:.1f} %; strays {strays}')
    sys.exit(share < 98)
if __name__ == '__main__': main()
