//! Passes that are over, put before the judge.

use crate::judging::choice::{choice, clear_notes};
use crate::judging::judge::{HeardNote, Judged, Rules, Verdict, Wanted, judge_on};
use crate::judging::passes::{BEFORE_MS, GIVE_UP_MS, JudgedPass, PassRecord, PassRecords, Target};
use crate::judging::trading::{Reentry, came_back};
use crate::time::Frame;

impl PassRecords {
    /// The next pass that can be judged by `now`, with its verdicts; a pass in which nothing was heard has none: the
    /// player rested, or no guitar is there.
    pub(crate) fn judge_due(&mut self, now: Frame, rules: &Rules) -> Option<JudgedPass> {
        while let Some(front) = self.stretches.front() {
            let due_ms = due_ms(front, self.ms(front.ends?), rules);
            let heard = self.ms(self.upto) >= due_ms;
            if !heard && self.ms(now) < due_ms + GIVE_UP_MS {
                return None;
            }
            let stretch = self.stretches.pop_front()?;
            if let Some(done) = self.judge(stretch, rules) {
                return Some(done);
            }
        }
        None
    }

    /// Judges everything that is over, whether the ear is done with it or not.
    pub(crate) fn judge_now(&mut self, rules: &Rules) -> Option<JudgedPass> {
        self.judge_due(Frame(u64::MAX / 2), rules)
    }

    fn judge(&mut self, stretch: PassRecord, rules: &Rules) -> Option<JudgedPass> {
        let ends_ms = stretch.ends.map_or(0.0, |ends| self.ms(ends));
        let own = stretch.targets.len();
        if own == 0 {
            return self.count(stretch, rules);
        }
        let backs = self.backs(&stretch, rules);
        let first = stretch.targets.first().map(|target| &target.wanted)?;
        self.forget_before(first.at_ms - BEFORE_MS);
        let next = self.stretches.front().filter(|next| {
            next.key.take == stretch.key.take
                && next.sung == stretch.sung
                && !next.targets.is_empty()
        });
        // What comes next is there to take its own notes: a push over the seam is not a stranger.
        let ahead = next.map_or(&[][..], |next| &next.targets);
        let near = |target: &&Target| target.wanted.at_ms < ends_ms + 2.0 * target.wanted.beat_ms;
        let all = stretch.targets.iter().chain(ahead.iter().filter(near));
        let wanted: Vec<Wanted> = all.map(|target| target.wanted.clone()).collect();
        let until_ms = wanted[wanted.len() - 1].at_ms.max(ends_ms) + 2.0 * first.beat_ms;
        let count = self.notes.partition_point(|note| note.onset_ms <= until_ms);
        let last_ms = ends_ms + rules.late_times * rules.early_ms.1;
        let last_ms = last_ms.max(back_by_ms(&stretch));
        let here = |note: &HeardNote| note.onset_ms < last_ms;
        if !self.notes[..count].iter().any(here) {
            return None;
        }
        let rules = match stretch.sung {
            true => Rules {
                cents: rules.cents.max(VOICE_CENTS),
                ..rules.clone()
            },
            false => rules.clone(),
        };
        let mut judged = judge_on(&wanted, &self.notes[..count], &rules, &mut self.bearing);
        let is_next = |verdict: &&Verdict| verdict.target.is_some_and(|target| target >= own);
        let of_next = judged.verdicts.iter().filter(is_next);
        let of_next: Vec<usize> = of_next.filter_map(|verdict| verdict.played).collect();
        // A stray note from before the pass says nothing about it, either.
        let push_ms = rules.push_beats * first.beat_ms;
        let within = self.ms(stretch.begins) - push_ms..ends_ms;
        let own_notes = self.notes[..count].iter().enumerate();
        let notes = own_notes
            .filter(|(index, note)| within.contains(&note.onset_ms) && !of_next.contains(index))
            .count();
        judged.verdicts.retain(|verdict| match verdict.target {
            Some(target) => target < own,
            None => verdict.at_ms < ends_ms,
        });
        // Whatever stands before the next place and is not its own is done with.
        let used: Vec<usize> = judged
            .verdicts
            .iter()
            .filter_map(|verdict| verdict.played)
            .collect();
        if notes == 0 && used.is_empty() {
            // Who came in with the next pass rested in this one.
            judged = Judged::default();
            if backs.iter().all(|back| back.beats.is_none()) {
                return None;
            }
        }
        let heard = |verdict: &Verdict| {
            let note = &self.notes[verdict.played?];
            Some(self.frame_of(note.onset_ms))
        };
        let heard = judged.verdicts.iter().map(heard).collect();
        let mut index = 0;
        self.notes.retain(|note| {
            index += 1;
            !used.contains(&(index - 1)) && note.onset_ms >= ends_ms - push_ms.max(BEFORE_MS)
        });
        Some(JudgedPass {
            stretch,
            judged,
            heard,
            notes,
            choice: None,
            backs,
        })
    }

    /// Counts what was chosen in a pass that asks for no notes.
    fn count(&mut self, stretch: PassRecord, rules: &Rules) -> Option<JudgedPass> {
        let (from_ms, to_ms) = (self.ms(stretch.begins), self.ms(stretch.ends?));
        self.forget_before(from_ms - BEFORE_MS);
        let chosen = choice(
            &stretch.spans,
            &self.notes,
            rules.grace_ms,
            rules.confidence,
        );
        let backs = self.backs(&stretch, rules);
        self.forget_before(to_ms - BEFORE_MS);
        let is_heard = chosen.notes > 0 || backs.iter().any(|back| back.beats.is_some());
        is_heard.then(|| JudgedPass {
            stretch,
            judged: Judged::default(),
            heard: Vec::new(),
            notes: 0,
            choice: Some(chosen),
            backs,
        })
    }

    /// Where the player came back.
    fn backs(&self, stretch: &PassRecord, rules: &Rules) -> Vec<Reentry> {
        let clear = clear_notes(&self.notes, rules.grace_ms, rules.confidence);
        let returns = stretch.returns.iter();
        returns.map(|band| came_back(band, &clear)).collect()
    }
}

/// A voice may be so far off.
const VOICE_CENTS: f64 = 60.0;
/// A note has its name so long after its beginning: a string, a voice.
const NAMED_MS: (f64, f64) = (300.0, 500.0);

/// When the last note that may belong to a pass has its name.
fn due_ms(stretch: &PassRecord, ends_ms: f64, rules: &Rules) -> f64 {
    let last = stretch.targets.last().map_or(ends_ms, |target| {
        let late = 2.0 * rules.window_ms(target.wanted.beat_ms).1;
        target.wanted.at_last_ms + late + rules.offset_ms
    });
    let named = if stretch.sung { NAMED_MS.1 } else { NAMED_MS.0 };
    last.max(ends_ms).max(back_by_ms(stretch)) + named
}

/// Until when a player may come back to the band.
fn back_by_ms(stretch: &PassRecord) -> f64 {
    let last = stretch.returns.last();
    last.map_or(0.0, |band| band.at_ms + band.bar_ms + band.beat_ms)
}
