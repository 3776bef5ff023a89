#!/usr/bin/env python3
"""What a peer makes of the same notes: how well the next note is foretold by the scheduler FSRS (PyPI `fsrs`; J. Ye and others, KDD
2022), beside underfoot's estimator, the share of right notes so far and an exponential average.

  UNDERFOOT_SKILL_NOTES=notes.jsonl cargo test --test house journal::skills::the_notes
  tests/outside/skills.py notes.jsonl         (in tests/outside/venv target/outside-skills requirements-skills.txt)

Each line of the file is a note of a made-up player: model, player, day, skill, the true chance, whether it was right, and what
underfoot foretold. The peer takes one skill as one card, a right note as "good" and a wrong one as "again", and foretells by the
card's retrievability; since it was made for one review a day, it is also asked for the first note of each day alone. Players whose
seeds were never tried stand apart ("new"). Each must be better by Brier's score, and by 15 % in the part of it that is avoidable.
"""

import collections
import datetime
import json
import math
import sys

from fsrs import Card, Rating, Scheduler

NEW = 900_000  # as in tests/house/journal/skills.rs
BEGINS = datetime.datetime(2026, 1, 1, tzinfo=datetime.timezone.utc)


class Score:
    def __init__(self):
        self.brier = self.loss = self.avoidable = self.count = 0

    def add(self, foretold, note):
        chance, came = min(max(foretold, 0.001), 0.999), float(note["right"])
        self.brier += (chance - came) ** 2
        self.loss -= math.log(chance if note["right"] else 1 - chance)
        self.avoidable += (chance - note["chance"]) ** 2
        self.count += 1

    def means(self):
        return [total / max(self.count, 1) for total in (self.brier, self.loss, self.avoidable)]


def main():
    notes = collections.defaultdict(list)
    for line in open(sys.argv[1], encoding="utf-8"):
        note = json.loads(line)
        notes[note["model"], note["player"]].append(note)
    scores = collections.defaultdict(Score)
    scheduler = Scheduler(enable_fuzzing=False)
    for (model, player), played in notes.items():
        model = f"{model} new" if player >= NEW else model
        cards, shares, averages, days = {}, collections.Counter(), {}, {}
        for note in played:
            skill, at = note["skill"], BEGINS + datetime.timedelta(days=note["day"])
            card = cards.get(skill) or Card()
            first = days.get(skill) != int(note["day"])
            days[skill] = int(note["day"])
            peer = scheduler.get_card_retrievability(card, at) if skill in cards else 0.5
            foretold = {
                "underfoot": note["foretold"],
                "fsrs": peer,
                "share": (shares[skill, True] + 1) / (shares[skill, True] + shares[skill, False] + 2),
                "average": averages.get(skill, 0.5),
                "oracle": note["chance"],
            }
            for name, chance in foretold.items():
                scores[model, name, "all notes"].add(chance, note)
                if first:
                    scores[model, name, "first of a day"].add(chance, note)
            cards[skill], _ = scheduler.review_card(card, Rating.Good if note["right"] else Rating.Again, at)
            shares[skill, note["right"]] += 1
            averages[skill] = foretold["average"] + 0.1 * (note["right"] - foretold["average"])
    worse = []
    for (model, name, which), score in sorted(scores.items()):
        brier, loss, avoidable = score.means()
        print(f"{model:15} {which:15} {name:10} Brier {brier:.4f}  log loss {loss:.4f}  avoidable {avoidable:.4f}")
        ours = scores[model, "underfoot", which].means()
        if name in ("fsrs", "share", "average") and (ours[0] >= brier or ours[2] > 0.85 * avoidable):
            worse.append(f"{model}, {which}, {name}")
    print("not better:", "; ".join(worse) or "none")
    return int(bool(worse))


if __name__ == "__main__":
    sys.exit(main())
