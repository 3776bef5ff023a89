#!/usr/bin/env python3
"""How sure is the ear? Fits the chance that a name is right to what it rests on (the weights of src/listen/sure.rs), one instrument left out
in turn, and says how well that holds on the one left out; then how often a chance came true, by tenths.

  export UNDERFOOT_TOLD_NOTES=notes.jsonl UNDERFOOT_WAYS=60 UNDERFOOT_REAL_NOTES=FOLDER UNDERFOOT_EAR_LINES=LINES
  cargo test --release --test house listen::ways
  python sureness.py notes.jsonl

LINES is what `make_set.py` of a collection of recorded notes writes. What the ear does not tell (src/listen/naming.rs: LEAST_CHANCE, OF_BAND) is
not in the file: to fit anew, set the one to 0 and the other out of reach. Slid-in grace notes are left out: there a right name is no error of the
ear. Logistic regression by Newton's method. Brier: the mean of (chance - right)^2; ECE: how far the chances are from the shares that were right,
over ten bins with as many notes each. The price of a note: 10 if it is wrong and surer than 10/11, 1 if it is less sure; before: by how well the sound
repeats, over 0.6."""
import json, sys
import numpy as np

NAMES = ['nothing', 'unclear', 'late', 'slight', 'above', 'band', 'explained', 'added', 'struck', 'second', 'rival', 'also', 'nameless']
SURE = 10 / 11
def features(d):
    looked = d['struck'] and d['periods'] > 2; nameless = d['clarity'] <= 0
    return [1.0, -1.0 if nameless else np.log10(max(1e-3, 1 - d['clarity'])), d['age_ms'] > 100, d['slight'], np.clip(d['above_db'], -30, 0) / 10, min(d['band'], 1.0),
            d['explained'] if looked else .7, min(d['added'], 1.0) if looked else 1.0, d['struck'], min(d['second'], 1.0) if looked else .3, min(d['rival'], 1.0),
            d['also'] is not None, nameless]
def fit(X, y, ridge=1.0):
    w = np.zeros(X.shape[1])
    for _ in range(40):
        p = 1 / (1 + np.exp(-X @ w)); s = p * (1 - p) + 1e-9
        w -= np.linalg.solve(X.T @ (X * s[:, None]) + ridge * np.eye(len(w)), X.T @ (p - y) + ridge * w)
    return w
def ece(p, y):
    return sum(len(b) * abs(p[b].mean() - y[b].mean()) for b in np.array_split(np.argsort(p), 10) if len(b)) / len(p)
def price(p, y, sure):
    return (10 * ((p >= sure) & (y == 0)).sum() + (p < sure).sum()) / len(y)
def main():
    R = [json.loads(l) for l in open(sys.argv[1])]
    R = [d for d in R if not d['row'].startswith(('sung', 'grace')) and d['source'] != 'bass']
    X = np.array([features(d) for d in R], float); y = np.array([float(d['right']) for d in R]); src = np.array([d['source'] for d in R])
    told = np.array([d['confidence'] for d in R]); clear = np.array([d['clarity'] or .5 for d in R])
    print(f'{len(y)} notes, {100 * y.mean():.2f} % right; as told: Brier {((told - y) ** 2).mean():.4f} ECE {ece(told, y):.4f}')
    for s in sorted(set(src)):
        a = src != s; p = 1 / (1 + np.exp(-X[~a] @ fit(X[a], y[a]))); q = y[~a]; b = clear[~a]
        print(f"left out {s:10} {len(q):5} Brier {((b - q) ** 2).mean():.4f} -> {((p - q) ** 2).mean():.4f} ECE {ece(b, q):.4f} -> {ece(p, q):.4f} price {price(b, q, .6):.3f} -> {price(p, q, SURE):.3f}; "
              f"wrong ones that are sure {100 * ((p >= SURE) & (q == 0)).sum() / max(1, (q == 0).sum()):.0f} %, right ones that are not {100 * ((p < SURE) & (q == 1)).sum() / max(1, (q == 1).sum()):.1f} %")
    w = fit(X, y); print('all:', ', '.join(f'{n} {v:.3f}' for n, v in zip(NAMES, w)))
    print('as told, by tenths: ' + ', '.join(f'{t / 10:.1f}: {m.sum()} notes {100 * y[m].mean():.0f} %' for t in range(10) for m in [(told >= t / 10) & (told < t / 10 + .1 + (t == 9))] if m.any()))
if __name__ == '__main__': main()
