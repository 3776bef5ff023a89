//! The judge: what was to be played against what was heard.
//!
//! In this order: the take's own tuning is taken out, notes too short to count are left out, a steady offset is found and
//! taken out, then notes and targets are paired and each target gets its verdict.

use crate::judging::align::{Fit, Pair, pair};
use crate::judging::bias::PlayerBias;
use crate::judging::notes::{TunedNote, tuned};
use crate::judging::rules::Rules;
use crate::judging::verdict::{HeardNote, Judged, Outcome, Timing, Verdict, Wanted};

/// Judges `played` against `wanted`, both in the order of time.
pub fn judge(wanted: &[Wanted], played: &[HeardNote], rules: &Rules) -> Judged {
    judge_on(wanted, played, rules, &mut PlayerBias::default())
}

/// Judges a stretch of a take that goes on: offset and tuning also go by what was played before, and what was played
/// here is kept in mind.
pub fn judge_on(
    wanted: &[Wanted],
    played: &[HeardNote],
    rules: &Rules,
    bias: &mut PlayerBias,
) -> Judged {
    let tuning_cents = bias.tuning_cents(played, rules);
    let mut notes = tuned(played, tuning_cents, rules);
    let first = pair(wanted, &notes, rules);
    // Notes that were brought forward on purpose say nothing about an offset.
    let in_place = first.iter().filter(|pair| pair.fit == Fit::Right);
    let late_ms = in_place.map(|pair| notes[pair.note].lateness_ms(&wanted[pair.wanted], true));
    let offset_ms = bias.offset_ms(late_ms, rules);
    notes.iter_mut().for_each(|note| note.move_by(-offset_ms));
    let pairs = pair(wanted, &notes, rules);
    Judged {
        verdicts: verdicts(wanted, &notes, &pairs, rules),
        offset_ms,
        tuning_cents,
    }
}

fn verdicts(wanted: &[Wanted], notes: &[TunedNote], pairs: &[Pair], rules: &Rules) -> Vec<Verdict> {
    let mut of_wanted = vec![None; wanted.len()];
    let mut is_free = vec![true; notes.len()];
    for pair in pairs {
        of_wanted[pair.wanted] = Some(*pair);
        is_free[pair.note] = false;
    }
    let free = notes.iter().zip(is_free);
    let free: Vec<&TunedNote> = free
        .filter_map(|(note, free)| free.then_some(note))
        .collect();
    let mut verdicts = Vec::with_capacity(wanted.len());
    for (target, (want, pair)) in wanted.iter().zip(of_wanted).enumerate() {
        let verdict = match pair {
            Some(pair) => paired(want, &notes[pair.note], pair.fit, rules),
            None => missed(want),
        };
        verdicts.push(Verdict {
            target: Some(target),
            found: verdict.outcome == Outcome::Wrong && is_put_right(want, &free, rules),
            ..verdict
        });
    }
    // What the pitch of a right note came from.
    let came_from = |note: &&&TunedNote| {
        let mut pairs = pairs.iter().filter(|pair| pair.fit == Fit::Right);
        pairs.any(|pair| {
            let right = &notes[pair.note];
            let from = right.stroke_ms.is_some_and(|at_ms| note.at_ms >= at_ms);
            from && note.at_ms < right.at_ms
        })
    };
    let strange = free.iter().filter(|note| !came_from(note));
    verdicts.extend(strange.filter_map(|note| other(wanted, note, rules)));
    verdicts.sort_by(|a, b| a.at_ms.total_cmp(&b.at_ms));
    verdicts
}

/// Whether one of the notes without a target puts a wrong one right.
fn is_put_right(want: &Wanted, free: &[&TunedNote], rules: &Rules) -> bool {
    let until_ms = want.at_ms + rules.found_beats * want.beat_ms;
    let is_it = |note: &&TunedNote| {
        let in_time = note.at_ms > want.at_ms && note.at_ms <= until_ms;
        in_time && !want.choice && note.meets(want)
    };
    free.iter().any(is_it)
}

fn missed(want: &Wanted) -> Verdict {
    Verdict {
        want: (!want.choice).then_some(want.name),
        ..Verdict::blank(want.chord, want.at_ms, Outcome::Missed)
    }
}

fn paired(want: &Wanted, note: &TunedNote, fit: Fit, rules: &Rules) -> Verdict {
    let right = fit != Fit::Wrong;
    let late_ms = note.lateness_ms(want, right);
    let (early, late) = rules.window_ms(want.beat_ms);
    let timing = match late_ms {
        _ if fit == Fit::Pushed => Timing::Pushed,
        late_ms if late_ms < -early => Timing::Early,
        late_ms if late_ms > late => Timing::Late,
        _ => Timing::InTime,
    };
    let outcome = match () {
        () if !note.clear || !right && !note.sure => Outcome::NotJudged,
        () if !right => Outcome::Wrong,
        () if want.fixed && note.midi != i32::from(want.midi) => Outcome::Octave,
        () => Outcome::Right,
    };
    let told = outcome != Outcome::NotJudged;
    // Of two at once the one that was asked for.
    let class = match right && !want.choice {
        true => want.midi % 12,
        false => note.class(),
    };
    Verdict {
        played: Some(note.index),
        got: told.then(|| want.names[usize::from(class)]),
        cents: told.then_some(note.cents),
        late_ms: Some(late_ms),
        outcome,
        timing: Some(timing),
        ..missed(want)
    }
}

/// A note beside the targets counts if it is long enough and outside the set of its chord.
fn other(wanted: &[Wanted], note: &TunedNote, rules: &Rules) -> Option<Verdict> {
    let after = wanted.partition_point(|want| want.at_ms <= note.at_ms + 1.0);
    let want = &wanted[after.checked_sub(1)?];
    if note.at_ms > want.until_ms || !note.sure || note.long_ms < rules.other_ms {
        return None;
    }
    let next = wanted.get(after).filter(|next| next.chord != want.chord);
    let early = |next: &&Wanted| note.at_ms > next.at_ms - rules.push_beats * next.beat_ms;
    let in_set = |want: &Wanted| want.set >> note.class() & 1 == 1;
    // Beside a rhythm every note is one too many.
    if !want.choice && (in_set(want) || next.filter(early).is_some_and(in_set)) {
        return None;
    }
    Some(Verdict {
        played: Some(note.index),
        got: Some(want.names[usize::from(note.class())]),
        cents: Some(note.cents),
        ..Verdict::blank(want.chord, note.at_ms, Outcome::Other)
    })
}
