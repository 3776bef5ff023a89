//! One pass that is over, put before the judge.
//!
//! # Why is a pass in which nothing was heard not judged?
//!
//! The player rested, or nothing is plugged in. Neither is eight
//! missed notes. A note that belongs to the next pass says nothing about this one.

use crate::judging::bias::PlayerBias;
use crate::judging::choice::{Choice, choice};
use crate::judging::judge::judge_on;
use crate::judging::notes::clear_notes;
use crate::judging::pass_record::{PassRecord, Target};
use crate::judging::reentry::{Reentry, came_back};
use crate::judging::rules::Rules;
use crate::judging::verdict::{HeardNote, Judged, Wanted};
use crate::time::Frame;
use std::ops::Range;

/// Notes this long before the first place belong to nothing.
pub(super) const BEFORE_MS: f64 = 1000.0;

/// A pass that was judged.
pub(crate) struct JudgedPass {
    pub(crate) record: PassRecord,
    /// Where the player was each time the band came back.
    pub(crate) reentries: Vec<Reentry>,
    pub(crate) result: PassResult,
    /// What was chosen in a rhythm that was judged.
    pub(crate) chosen: Option<Choice>,
}

/// What a pass came to.
pub(crate) enum PassResult {
    /// Notes were asked for.
    Judged {
        judged: Judged,
        /// When each verdict's note was heard.
        heard: Vec<Option<Frame>>,
        /// How many notes were played in it.
        notes: usize,
    },
    /// The stage leaves the choice.
    Chosen(Choice),
    /// The player rested, and came back to the band.
    Rested,
}

/// What a pass is judged by.
pub(super) struct PassJudge<'a> {
    /// What was heard and belongs to no pass yet; what this one uses, or what is too old for the next, is taken out.
    pub(super) notes: &'a mut Vec<HeardNote>,
    pub(super) bias: &'a mut PlayerBias,
    pub(super) rules: &'a Rules,
    pub(super) rate: u32,
}

impl PassJudge<'_> {
    /// Judges a pass that is over, `next` being the one after it. `None` where nothing was heard in it: the player rested,
    /// or no guitar is there.
    pub(super) fn judge(
        mut self,
        record: PassRecord,
        next: Option<&PassRecord>,
    ) -> Option<JudgedPass> {
        let over_ms = record.begins.ms(self.rate)..record.ends?.ms(self.rate);
        let chosen = (!record.targets.is_empty() && !record.spans.is_empty())
            .then(|| choice(&record.spans, self.notes, self.rules));
        let (reentries, result) = match record.targets.is_empty() {
            true => self.count(&record, over_ms),
            false => self.verdicts(&record, next, over_ms),
        }?;
        Some(JudgedPass {
            record,
            reentries,
            result,
            chosen,
        })
    }

    /// Counts what was chosen in a pass that asks for no notes.
    fn count(
        &mut self,
        record: &PassRecord,
        over_ms: Range<f64>,
    ) -> Option<(Vec<Reentry>, PassResult)> {
        self.forget_before(over_ms.start - BEFORE_MS);
        let chosen = choice(&record.spans, self.notes, self.rules);
        let reentries = self.reentries(record);
        self.forget_before(over_ms.end - BEFORE_MS);
        let is_heard = chosen.notes > 0 || has_come_back(&reentries);
        is_heard.then_some((reentries, PassResult::Chosen(chosen)))
    }

    fn verdicts(
        &mut self,
        record: &PassRecord,
        next: Option<&PassRecord>,
        over_ms: Range<f64>,
    ) -> Option<(Vec<Reentry>, PassResult)> {
        let reentries = self.reentries(record);
        let first = &record.targets.first()?.wanted;
        self.forget_before(first.at_ms - BEFORE_MS);
        let wanted = with_those_ahead(record, next, over_ms.end);
        let last_ms = wanted.last()?.at_ms.max(over_ms.end) + 2.0 * first.beat_ms;
        let count = self.notes.partition_point(|note| note.onset_ms <= last_ms);
        let heard = &self.notes[..count];
        let late_ms = self.rules.late_times * self.rules.early_ms.1;
        let here_until_ms = (over_ms.end + late_ms).max(record.back_by_ms());
        if !heard.iter().any(|note| note.onset_ms < here_until_ms) {
            return None;
        }
        let rules = self.rules.for_pass(record.sung);
        let mut judged = judge_on(&wanted, heard, &rules, self.bias);
        let push_ms = rules.push_beats * first.beat_ms;
        let own = record.targets.len();
        // A stray note from before the pass says nothing about it, either.
        let own_ms = over_ms.start - push_ms..over_ms.end;
        let notes = heard_in(own_ms, heard, &judged, own);
        judged.verdicts.retain(|verdict| match verdict.target {
            Some(target) => target < own,
            None => verdict.at_ms < over_ms.end,
        });
        let mut used = vec![false; self.notes.len()];
        let played = judged.verdicts.iter().filter_map(|verdict| verdict.played);
        played.for_each(|index| used[index] = true);
        let is_rest = notes == 0 && !used.contains(&true);
        if is_rest && !has_come_back(&reentries) {
            // Who came in with the next pass rested in this one.
            return None;
        }
        let frame = |index: usize| Frame(0).plus_ms(heard[index].onset_ms, self.rate);
        let verdicts = judged.verdicts.iter();
        let heard = verdicts.map(|verdict| verdict.played.map(frame)).collect();
        // Whatever stands before the next place and is not its own is done with.
        let from_ms = over_ms.end - push_ms.max(BEFORE_MS);
        let mut used = used.into_iter();
        self.notes
            .retain(|note| used.next() == Some(false) && note.onset_ms >= from_ms);
        let result = match is_rest {
            true => PassResult::Rested,
            false => PassResult::Judged {
                judged,
                heard,
                notes,
            },
        };
        Some((reentries, result))
    }

    fn forget_before(&mut self, ms: f64) {
        self.notes.retain(|note| note.onset_ms >= ms);
    }

    fn reentries(&self, record: &PassRecord) -> Vec<Reentry> {
        let clear = clear_notes(self.notes, self.rules);
        let returns = record.returns.iter();
        returns.map(|band| came_back(band, &clear)).collect()
    }
}

fn has_come_back(reentries: &[Reentry]) -> bool {
    reentries.iter().any(|reentry| reentry.beats.is_some())
}

/// What a pass asks for, and the first of what the next one does. That is there to take its own notes: a push over the
/// seam is not a stranger.
fn with_those_ahead(record: &PassRecord, next: Option<&PassRecord>, ends_ms: f64) -> Vec<Wanted> {
    let is_of_take =
        |next: &&PassRecord| next.key.take == record.key.take && next.sung == record.sung;
    let ahead = next
        .filter(is_of_take)
        .map_or(&[][..], |next| &next.targets);
    let near = |target: &&Target| target.wanted.at_ms < ends_ms + 2.0 * target.wanted.beat_ms;
    let all = record.targets.iter().chain(ahead.iter().filter(near));
    all.map(|target| target.wanted.clone()).collect()
}

/// How many notes were heard within some time that are not those of targets after the first `own` ones.
fn heard_in(within_ms: Range<f64>, heard: &[HeardNote], judged: &Judged, own: usize) -> usize {
    let is_next = |target: Option<usize>| target.is_some_and(|target| target >= own);
    let of_next = |index: usize| {
        let mut verdicts = judged.verdicts.iter();
        verdicts.any(|verdict| verdict.played == Some(index) && is_next(verdict.target))
    };
    let heard = heard.iter().enumerate();
    heard
        .filter(|(index, note)| within_ms.contains(&note.onset_ms) && !of_next(*index))
        .count()
}
