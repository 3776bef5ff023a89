#!/usr/bin/env python3
"""The ear beside other ears, on labelled recordings, in one run: aubio (onsets hfc, pitch yinfft) and a neural transcriber
(basic-pitch, its model by onnxruntime) as their packages set them.

  python peers.py SET... --listen target/release/underfoot [--json FILE] [--goal KIND=F]...

SET is a folder with `labels.json` (items: file, set, dur, bleed, band, notes with onset_ac, off, hz) and the sounds: recorded
notes that were put together (make_set.py of such a collection). Every file is heard by each ear;
one with the band in it by ours twice, without and with the band given.

F, right, octave: mir_eval, 50 ms and 50 cents, ends do not count; octave: the beginning is right, the name whole octaves off;
false: notes told that match none, a minute. Sung syllables begin within 80 ms. aubio: a note at each onset, its pitch the median from 30 ms
on to 250 ms or the next onset. The transcriber hears whole files at once, both ways in time, and several notes at a time."""
import argparse, collections, contextlib, io, json, os, subprocess, sys
import mir_eval, numpy as np, soundfile as sf

ONSET_S = {'voice': 0.08}

def ours(listen, path, instrument, band=None):
    a = [listen, 'listen', path, '--json', '--instrument', instrument] + (['--bleed', band] if band else [])
    told = map(json.loads, subprocess.run(a, check=True, capture_output=True, text=True).stdout.splitlines())
    return [(n['onset_s'], 440 * 2 ** ((n['midi'] + n['cents'] / 100 - 69) / 12)) for n in told]

def aubio_notes(path):
    import aubio
    x, rate = sf.read(path, dtype='float32'); x = x if x.ndim == 1 else x.mean(1); hop = 128
    onset = aubio.onset('hfc', 512, hop, rate); onset.set_threshold(.3); onset.set_silence(-60)
    pitch = aubio.pitch('yinfft', 2048, hop, rate); pitch.set_unit('Hz'); pitch.set_silence(-60)
    begins, hz = [], []
    for k in range(len(x) // hop):
        block = x[k * hop:(k + 1) * hop]; hz.append(float(pitch(block)[0]))
        if onset(block)[0]: begins.append(onset.get_last_s())
    hz = np.array(hz); t = (np.arange(len(hz)) + 1) * hop / rate; notes = []
    for i, begin in enumerate(begins):
        end = min(begin + .25, begins[i + 1] if i + 1 < len(begins) else np.inf)
        heard = hz[(t > begin + .03) & (t <= end)]; heard = heard[heard > 20]
        if len(heard): notes.append((begin, float(np.median(heard))))
    return notes

class Transcriber:
    """Loaded once; says nothing."""
    def __init__(self):
        import logging; logging.disable(logging.WARNING)
        with contextlib.redirect_stdout(io.StringIO()):
            from basic_pitch import ICASSP_2022_MODEL_PATH, inference
            self.predict = inference.predict; self.model = inference.Model(ICASSP_2022_MODEL_PATH)
    def notes(self, path):
        with contextlib.redirect_stdout(io.StringIO()): told = self.predict(path, self.model)[2]
        return sorted((n[0], 440 * 2 ** ((n[2] - 69) / 12)) for n in told)

def count(item, told, into):
    notes = item['notes']; within = ONSET_S.get(item['set'], .05)
    on = np.array([n['onset_ac'] for n in notes]); hz = np.array([n['hz'] for n in notes])
    off = np.array([max(n['off'], n['onset_ac'] + .02) for n in notes])
    begins = np.array([t for t, _ in told]); pitch = np.array([h for _, h in told]); hits = []
    if len(told): hits = mir_eval.transcription.match_notes(np.column_stack([on, off]), hz, np.column_stack([begins, begins + .05]), pitch, onset_tolerance=within, offset_ratio=None)
    into['notes'] += len(on); into['told'] += len(told); into['right'] += len(hits); into['minutes'] += item['dur'] / 60
    done, used = {a for a, _ in hits}, {b for _, b in hits}
    for a in set(range(len(on))) - done:
        off_by = [12 * np.log2(pitch[b] / hz[a]) for b in range(len(told)) if b not in used and abs(begins[b] - on[a]) <= within]
        into['octave'] += any(round(s / 12) and abs(s - 12 * round(s / 12)) < .5 for s in off_by)

def figures(c):
    return dict(notes=int(c['notes']), right=100 * c['right'] / max(1, c['notes']), octave=100 * c['octave'] / max(1, c['notes']),
                F=2 * c['right'] / max(1, c['notes'] + c['told']), false=(c['told'] - c['right']) / max(1e-9, c['minutes']))

def main():
    p = argparse.ArgumentParser(); p.add_argument('sets', nargs='+'); p.add_argument('--listen', required=True); p.add_argument('--json')
    p.add_argument('--goal', action='append', default=[], help='KIND=F: ours must reach it without a band'); a = p.parse_args()
    neural = Transcriber(); groups = collections.defaultdict(lambda: collections.defaultdict(float))
    for folder in a.sets:
        for item in json.load(open(folder + '/labels.json'))['items']:
            path = os.path.join(folder, item['file']); kind = item['set']
            instrument = item.get('instrument') or {'bass': 'bass', 'voice': 'voice'}.get(kind, 'guitar')
            cond = f"{item['bleed']} dB" if item.get('bleed') else 'clean'
            told = {'ours': ours(a.listen, path, instrument), 'aubio': aubio_notes(path), 'basic-pitch': neural.notes(path)}
            if item.get('bleed'): told['ours, band known'] = ours(a.listen, path, instrument, os.path.join(folder, item['band']))
            for who, notes in told.items():
                count(item, notes, groups[kind, cond, who])
                if kind in ('single', 'legato', 'gap'): count(item, notes, groups['guitar lines', cond, who])
    table = {k: figures(c) for k, c in groups.items()}; order = ['ours', 'ours, band known', 'aubio', 'basic-pitch']
    print(f"{'set':14} {'':7} {'ear':18} {'notes':>5} {'right %':>8} {'octave %':>8} {'F':>6} {'false/min':>9}")
    loud = lambda cond: (cond != 'clean', cond)
    for k in sorted(table, key=lambda k: (k[0] != 'guitar lines', k[0], loud(k[1]), order.index(k[2]))):
        x = table[k]; print(f"{k[0]:14} {k[1]:>7} {k[2]:18} {x['notes']:5} {x['right']:8.2f} {x['octave']:8.2f} {x['F']:6.3f} {x['false']:9.1f}")
    if a.json: json.dump({'|'.join(k): x for k, x in table.items()}, open(a.json, 'w'), indent=1)
    short = [(k, f) for k, f in (g.split('=') for g in a.goal) if table.get((k, 'clean', 'ours'), {'F': 0})['F'] < float(f)]
    for kind, f in short: print(f'falls short: {kind} {f}')
    sys.exit(bool(short))
if __name__ == '__main__': main()
