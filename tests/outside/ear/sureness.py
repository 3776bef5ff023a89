#!/usr/bin/env python3
"""How sure is the ear? Fits the chance that a name is right to what it rests on, one instrument left out in turn, and says how well
that holds on the one left out.

  UNDERFOOT_TOLD_NOTES=notes.jsonl UNDERFOOT_WAYS=60 UNDERFOOT_REAL_NOTES=FOLDER cargo test --release --test house listen::ways
  python sureness.py notes.jsonl

Logistic regression by Newton's method. Brier: the mean of (chance - right)^2; ECE: how far the chances are from the shares that were
right, over ten bins with as many notes each. The cost of a note: 10 if it was told wrongly and is judged, 1 if it is not judged."""
import json, sys
import numpy as np

NAMES = ['one', 'clarity', 'rival', 'better', 'age', 'slight', 'added', 'second', 'above']
def features(d):
    looked = d['struck'] and d['periods'] > 2
    return [1.0, np.log10(max(1e-3, 1 - d['clarity'])), d['rival'], min(d['better'], .2) * 10, min(d['age_ms'], 250) / 100, float(d['slight']),
            min(d['added'], 1.0) if looked else 1.0, min(d['second'], 1.0) if looked else 0.0, np.clip(d['above_db'], -30, 0) / 10]
def fit(X, y, ridge=1.0):
    w = np.zeros(X.shape[1])
    for _ in range(30):
        p = 1 / (1 + np.exp(-X @ w)); s = p * (1 - p) + 1e-9
        w -= np.linalg.solve(X.T @ (X * s[:, None]) + ridge * np.eye(len(w)), X.T @ (p - y) + ridge * w)
    return w
def ece(p, y):
    return sum(len(b) * abs(p[b].mean() - y[b].mean()) for b in np.array_split(np.argsort(p), 10) if len(b)) / len(p)
def threshold(p, y):
    grid = np.linspace(0, 1, 101); cost = [(10 * ((p >= t) & (y == 0)).sum() + (p < t).sum()) for t in grid]
    return grid[int(np.argmin(cost))]
def main():
    R = [json.loads(l) for l in open(sys.argv[1])]
    R = [d for d in R if not d['row'].startswith('sung')]
    X = np.array([features(d) for d in R]); y = np.array([float(d['right']) for d in R]); src = np.array([d['source'] for d in R]); old = np.array([d['confidence'] for d in R])
    print(f'{len(y)} notes, {100 * y.mean():.2f} % right; before: Brier {((old - y) ** 2).mean():.4f} ECE {ece(old, y):.4f}')
    for s in sorted(set(src)):
        a = src != s; w = fit(X[a], y[a]); p = 1 / (1 + np.exp(-X[~a] @ w)); t = threshold(1 / (1 + np.exp(-X[a] @ w)), y[a]); q = y[~a]; b = old[~a]
        cost = lambda p, t: (10 * ((p >= t) & (q == 0)).sum() + (p < t).sum()) / len(q)
        print(f"left out {s:10} {len(q):5} Brier {((b - q) ** 2).mean():.4f} -> {((p - q) ** 2).mean():.4f} ECE {ece(b, q):.4f} -> {ece(p, q):.4f} threshold {t:.2f} "
              f"cost a note at 0.6 before {cost(b, .6):.3f}, now {cost(p, t):.3f}, at 0.9 {cost(p, .9):.3f}; wrong judged {100 * ((p >= .9) & (q == 0)).sum() / max(1, (q == 0).sum()):.0f} %, right not judged {100 * ((p < .9) & (q == 1)).sum() / max(1, (q == 1).sum()):.2f} %")
    w = fit(X, y); print('all:', ', '.join(f'{n} {v:.3f}' for n, v in zip(NAMES, w)))
if __name__ == '__main__': main()
