#!/usr/bin/env python3
"""The ear beside other ears, on a set that make_set.py rendered: readings, notes, onsets, causality, CPU; one table,
and a line for everything that falls short. Exit code 1 if anything does.

  python evaluate.py SET --listen target/release/underfoot [--mcleod BINARY]

Notes and onsets by mir_eval (50 ms, 50 cents, no offsets). Readings count from 80 ms after
the acoustic onset to the note's end; the delay is that from the acoustic onset to the third agreeing right reading.
"A note" takes the middle of a note's readings from 100 ms on as one reading, right in its own count: milder, for neither
the stroke nor a few wrong readings weigh in it.
aubio (yinfft and yinfast 2048, hop 256; hfc 512, hop 128) and the crate pitch-detection (McLeod 2048) stand beside it."""
import argparse, json, os, random, resource, subprocess, sys, tempfile
import mir_eval, numpy as np, soundfile as sf

def cents(a, b): return 1200 * np.log2(a / b)
def child_cpu():
    r = resource.getrusage(resource.RUSAGE_CHILDREN); return r.ru_utime + r.ru_stime

class Set:
    def __init__(self, path):
        self.path = path; self.items = json.load(open(path + '/labels.json'))['items']
        self.seconds = sum(i['dur'] for i in self.items)
    def wav(self, item): return self.path + '/' + item['file']
    def of(self, kind, bleed): return [i for i in self.items if i['set'] == kind and i['bleed'] == bleed]

def run(listen, item, S, frames, band):
    a = [listen, 'listen', S.wav(item), '--json'] + (['--frames'] if frames else [])
    if band and item['bleed']: a += ['--bleed', S.path + '/' + item['band']]
    return [json.loads(l) for l in subprocess.run(a, check=True, capture_output=True, text=True).stdout.splitlines()]

def ear(listen, S, band):
    before = child_cpu(); readings = {}; notes = {}
    for i in S.items:
        f = run(listen, i, S, True, band)
        readings[i['file']] = np.array([(r['t_s'], r['hz'] or 0.0) for r in f]).reshape(-1, 2)
    cpu = (child_cpu() - before) / S.seconds
    for i in S.items: notes[i['file']] = run(listen, i, S, False, band)
    return readings, notes, cpu

def aubio_pitch(S, method):
    import aubio, time
    out = {}; before = time.process_time()
    for i in S.items:
        x, sr = sf.read(S.wav(i), dtype='float32'); p = aubio.pitch(method, 2048, 256, sr); p.set_unit('Hz')
        out[i['file']] = np.array([((k + 256) / sr, float(p(x[k:k + 256])[0])) for k in range(0, len(x) - 255, 256)])
    return out, (time.process_time() - before) / S.seconds

def aubio_onsets(S):
    import aubio
    out = {}
    for i in S.items:
        x, sr = sf.read(S.wav(i), dtype='float32'); o = aubio.onset('hfc', 512, 128, sr)
        out[i['file']] = [(o.get_last_s(), (k + 128) / sr) for k in range(0, len(x) - 127, 128) if o(x[k:k + 128])[0]]
    return out

def mcleod(S, binary):
    before = child_cpu(); subprocess.run([binary] + [S.wav(i) for i in S.items], check=True)
    cpu = (child_cpu() - before) / S.seconds
    return {i['file']: np.loadtxt(S.wav(i) + '.mcleod', ndmin=2)[:, :2] for i in S.items}, cpu

def delay(frames, note, nxt):
    """Seconds to the third agreeing right reading, and whether the first three that agreed were right."""
    a = frames[(frames[:, 0] > note['onset_ac']) & (frames[:, 0] <= min(note['off'], nxt))]
    run, before, first = 0, 0.0, None
    for t, hz in a:
        run = run + 1 if hz > 0 and before > 0 and abs(cents(hz, before)) <= 50 else int(hz > 0)
        if run >= 3:
            good = abs(cents(hz, note['hz'])) <= 50
            first = good if first is None else first
            if good: return t - note['onset_ac'], bool(first)
        before = hz
    return 9.0, bool(first)

def readings(S, frames, kind, bleed):
    total = given = right = octaves = 0; off = []; delays = []; low = []; first = []
    for i in S.of(kind, bleed):
        f, ns = frames[i['file']], i['notes']
        for k, n in enumerate(ns):
            nxt = ns[k + 1]['onset_ac'] if k + 1 < len(ns) else i['dur']
            a = f[(f[:, 0] > n['onset_ac'] + 0.08) & (f[:, 0] <= min(n['off'], nxt))]
            v = a[a[:, 1] > 0]; total += len(a); given += len(v); c = np.abs(cents(v[:, 1], n['hz'])); ok = c <= 50
            right += ok.sum(); off += list(c[ok]); w = c[~ok] % 1200; octaves += (np.minimum(w, 1200 - w) <= 50).sum()
            d, good = delay(f, n, nxt); delays.append(d); first.append(good)
            if n['midi'] <= 51: low.append(d)
    ms = lambda v, q: 1e3 * np.percentile(v, q) if len(v) else float('nan')
    return dict(right=100 * right / max(1, given), cover=100 * given / max(1, total), octave=100 * octaves / max(1, given),
                c50=np.median(off), c95=np.percentile(off, 95), d50=ms(delays, 50), d95=ms(delays, 95), low=ms(low, 50), first=100 * np.mean(first))

def by_note(S, frames, kind, bleed):
    """The median reading of each note from 100 ms after its onset to its end: right, octave errors, cents."""
    off = []
    for i in S.of(kind, bleed):
        f, ns = frames[i['file']], i['notes']
        for k, n in enumerate(ns):
            nxt = ns[k + 1]['onset_ac'] if k + 1 < len(ns) else i['dur']
            hz = f[(f[:, 0] > n['onset_ac'] + 0.1) & (f[:, 0] <= min(n['off'], nxt)) & (f[:, 1] > 0), 1]
            off.append(abs(np.median(cents(hz, n['hz']))) if len(hz) else 600.0)
    off = np.array(off); ok = off <= 50; w = off[~ok] % 1200
    return dict(right=100 * np.mean(ok), octave=100 * (np.minimum(w, 1200 - w) <= 50).sum() / len(off), c50=np.median(off[ok]), c95=np.percentile(off[ok], 95))

def f_measure(tp, fp, fn): return 2 * tp / max(1, 2 * tp + fp + fn)
def notes(S, found, kind, bleed):
    n = [0, 0, 0]; o = [0, 0, 0]; bias = []; report = []; minutes = 0
    for i in S.of(kind, bleed):
        g, e = i['notes'], found[i['file']]; minutes += i['dur'] / 60
        go = np.array([x['onset_ac'] for x in g]); eo = np.array([x['onset_s'] for x in e])
        m = mir_eval.util.match_events(go, eo, 0.05) if len(e) else []
        o[0] += len(m); o[1] += len(e) - len(m); o[2] += len(g) - len(m)
        bias += [eo[b] - go[a] for a, b in m]; report += [e[b]['onset_known_s'] - go[a] for a, b in m]
        if e and 'midi' in e[0]:
            gi = np.array([[x['onset_ac'], max(x['off'], x['onset_ac'] + .01)] for x in g]); ei = np.stack([eo, eo + .1], 1)
            gh = np.array([x['hz'] for x in g]); eh = np.array([440 * 2 ** ((x['midi'] + x['cents'] / 100 - 69) / 12) for x in e])
            m = mir_eval.transcription.match_notes(gi, gh, ei, eh, onset_tolerance=.05, pitch_tolerance=50, offset_ratio=None)
        n[0] += len(m); n[1] += len(e) - len(m); n[2] += len(g) - len(m)
    return dict(note=f_measure(*n), other=n[1] / max(1e-9, minutes), onset=f_measure(*o), bias=1e3 * np.mean(bias), report=1e3 * np.median(report))

def causal(listen, S, cuts):
    """The lines of an input cut short are those of the whole that were known by then; an end not yet known is null."""
    r = random.Random(1); bad = 0
    with tempfile.TemporaryDirectory() as d:
        for _ in range(cuts):
            i = r.choice(S.items); x, sr = sf.read(S.wav(i), dtype='int16'); n = r.randrange(sr // 2, len(x)); sf.write(d + '/cut.wav', x[:n], sr, subtype='PCM_16')
            for frames in ([], ['--frames']):
                lines = lambda f: [json.loads(l) for l in subprocess.run([listen, 'listen', f, '--json'] + frames, check=True, capture_output=True, text=True).stdout.splitlines()]
                whole, cut = lines(S.wav(i)), lines(d + '/cut.wav'); known = [l for l in whole if l['t_s' if frames else 'known_s'] <= n / sr]
                for a, b in zip(known, cut):
                    if not frames and b['off_s'] is None: a = dict(a, off_s=None)
                    bad += a != b
                bad += len(known) != len(cut)
    return bad

def main():
    p = argparse.ArgumentParser(); p.add_argument('set'); p.add_argument('--listen', required=True); p.add_argument('--mcleod')
    p.add_argument('--cuts', type=int, default=20); a = p.parse_args(); S = Set(a.set); short = []
    ears = {}; cpu = {}
    for m in ('yinfft', 'yinfast'): ears['aubio ' + m], cpu['aubio ' + m] = aubio_pitch(S, m)
    if a.mcleod: ears['McLeod'], cpu['McLeod'] = mcleod(S, a.mcleod)
    ears['ear'], ear_notes, cpu['ear'] = ear(a.listen, S, False); ears['ear, band given'], band_notes, cpu['ear, band given'] = ear(a.listen, S, True)
    lists = {'aubio hfc': aubio_onsets(S), 'ear': ear_notes, 'ear, band given': band_notes}
    lists['aubio hfc'] = {f: [dict(onset_s=x, onset_known_s=y) for x, y in v] for f, v in lists['aubio hfc'].items()}
    for name, c in cpu.items(): print(f'{name:16} CPU {c:.4f} s a second of sound')
    table = {}
    for kind in ('single', 'line'):
        for bleed in (False, True):
            if not S.of(kind, bleed): continue
            for name, f in ears.items():
                r = table[name, kind, bleed] = readings(S, f, kind, bleed)
                print(f"{name:16} {kind:6} {'bleed' if bleed else 'clean'} right {r['right']:6.2f} % (of {r['cover']:5.1f} % told) octave {r['octave']:5.2f} cents {r['c50']:.1f}/{r['c95']:.1f} "
                      f"delay ms {r['d50']:.1f}/{r['d95']:.1f} low {r['low']:.1f} first right {r['first']:.1f} %")
                r = by_note(S, f, kind, bleed); print(f"{name:16} {kind:6} {'bleed' if bleed else 'clean'} a note: right {r['right']:.2f} % octave {r['octave']:.2f} cents {r['c50']:.1f}/{r['c95']:.1f}")
            for name, l in lists.items():
                r = table[name, kind, bleed, 'notes'] = notes(S, l, kind, bleed)
                note = f"note F {r['note']:.4f} others a minute {r['other']:.2f} " if name != 'aubio hfc' else ''
                print(f"{name:16} {kind:6} {'bleed' if bleed else 'clean'} {note}onset F {r['onset']:.4f} bias {r['bias']:+.2f} ms reported after {r['report']:.1f} ms")
    def want(what, have, least=None, most=None):
        if (least is not None and have < least) or (most is not None and have > most): short.append(f'{what}: {have:.4g} (wanted {least if least is not None else most})')
    for kind in ('single', 'line'):
        for bleed in (False, True):
            key = kind, bleed; r = table.get(('ear',) + key); y = table.get(('aubio yinfast',) + key)
            if not r: continue
            n = table['ear', kind, bleed, 'notes']; name = f"{kind} {'bleed' if bleed else 'clean'}"
            want(name + ' notes', n['note'], least=(.95 if kind == 'line' else .88) if bleed else .99); want(name + ' onsets', n['onset'], least=(.95 if kind == 'line' else .85) if bleed else .99)
            want(name + ' bias', abs(n['bias']), most=2); want(name + ' report', n['report'], most=14)
            if bleed: want(name + ' notes, band given', table['ear, band given', kind, True, 'notes']['note'], least=.97 if kind == 'line' else .93)
            want(name + ' right', r['right'], least=98 if bleed else 99.5); want(name + ' octave', r['octave'], most=.3); want(name + ' cents', r['c50'], most=2.5)
            want(name + ' delay', r['d50'] / y['d50'], most=.55); want(name + ' delay p95', r['d95'] / y['d95'], most=.85); want(name + ' low', r['low'] / y['low'], most=.7); want(name + ' first', r['first'], least=95)
            want(name + ' cents p95', r['c95'], most=5)
    if a.mcleod: want('CPU against McLeod', cpu['ear'] / cpu['McLeod'], most=.5)
    bad = causal(a.listen, S, a.cuts); print(f'causality: {bad} lines differ in {a.cuts} cuts'); want('causality', bad, most=0)
    for s in short: print('SHORT', s)
    sys.exit(bool(short))
if __name__ == '__main__': main()
