//! When a stage is secure: two choruses running that went well, and no chord missed in both. Two rough ones running: an
//! easier way is offered. The values are common practice of teachers, without a published source; where "rough" begins is
//! ours.
//!
//! Where it is known how the player's notes went on other days (`Sureness`), that decides together with what is heard: one
//! chorus that went well is enough where the notes it asked for are likely right the next time, too, and none is where they
//! are not. A stage of nothing but automatic skills need not have its passes. What this is worth beside the two choruses is
//! measured in `tests/house/journal/ready.rs`.
//!
//! # Why does a secure stage arm the next one instead of going on?
//!
//! Two clean choruses are known when the third has begun.
//! Armed, the change is seen and heard ahead, comes after all of what goes round and the breath, and is an offer: whatever
//! the foot asks for takes its place. Only whole choruses count, of the stage as its drill wants it, over one part of the
//! tune in one key (`judging/readiness.rs`).

use crate::drill::{Drill, Stage};
use crate::judging::pass_record::PassRecord;
use crate::judging::sureness::{Likely, Sure, Sureness};
use crate::judging::verdict::{Judged, Outcome, Timing, Verdict};
use crate::plan::material::Tune;
use crate::plan::standing::Loop;

/// Choruses running that decide.
const RUNNING: usize = 2;
/// From this share of right notes on a chorus went well ...
const WELL: f64 = 0.9;
/// ... where so many of the right ones stood in time ...
const IN_TIME: f64 = 0.8;
/// ... and at most so many others came beside what was asked for.
const OTHERS: f64 = 0.1;
/// Below this share of right notes a chorus was rough.
const ROUGH: f64 = 0.7;
/// A chorus says something if at least so much of what it asked for was played, and heard clearly.
const ENOUGH: f64 = 0.5;

/// How one time through what goes round went.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Chorus {
    /// Well enough to go on.
    Clean,
    Fair,
    /// So that something easier is in place.
    Rough,
}

impl Chorus {
    /// The word for it in lines that programs read.
    pub fn name(self) -> &'static str {
        match self {
            Chorus::Clean => "clean",
            Chorus::Fair => "fair",
            Chorus::Rough => "rough",
        }
    }
}

/// A chorus and the chords that were missed in it, as indices into the form's chords.
#[derive(Debug, Clone, PartialEq)]
struct Weighed {
    chorus: Chorus,
    missed: Vec<usize>,
}

impl Weighed {
    /// Weighs the verdicts on a chorus in which so many notes were heard; `None` where that was too little, or not clear
    /// enough, to say anything.
    fn new(stage: &Stage, judged: &Judged, notes: usize) -> Option<Weighed> {
        let asked = judged.targets().count();
        let clear: Vec<&Verdict> = judged.targets().filter(|v| v.is_clear()).collect();
        if clear.is_empty() || (clear.len().min(notes) as f64) < ENOUGH * asked as f64 {
            return None;
        }
        let is_other = |verdict: &&Verdict| verdict.outcome == Outcome::Other;
        let others = judged.verdicts.iter().filter(is_other).count();
        let right: Vec<&Verdict> = clear.iter().copied().filter(|v| v.is_right()).collect();
        let is_off =
            |verdict: &&&Verdict| matches!(verdict.timing, Some(Timing::Late | Timing::Early));
        let in_time = right.len() - right.iter().filter(is_off).count();
        let share = |part: usize, whole: usize| part as f64 / whole.max(1) as f64;
        let right_share = share(right.len(), clear.len());
        let stands_in_time = !stage.in_time || share(in_time, right.len()) >= IN_TIME;
        let chorus = match () {
            _ if right_share < ROUGH => Chorus::Rough,
            _ if right_share >= WELL && stands_in_time && share(others, asked) <= OTHERS => {
                Chorus::Clean
            }
            _ => Chorus::Fair,
        };
        let missed = clear.iter().filter(|verdict| verdict.is_missed());
        Some(Weighed {
            chorus,
            missed: missed.map(|verdict| verdict.chord).collect(),
        })
    }
}

/// What the last choruses say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Advice {
    /// The stage is secure.
    Ready,
    /// Something easier is in place.
    Easier,
}

/// What choruses are compared on: a stage over a part of a tune in its key.
#[derive(Debug, Clone, PartialEq)]
struct ChorusPart {
    stage: String,
    looping: Loop,
    tune: Tune,
}

/// The last choruses of one stage over one part of the tune.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Readiness {
    of: Option<ChorusPart>,
    choruses: Vec<Weighed>,
}

impl Readiness {
    /// Takes in a pass in which so many notes were heard, if it was a whole chorus that counts: how it went, and what it
    /// says with the one before, or with what is known of the player.
    pub(crate) fn add_pass(
        &mut self,
        drill: &Drill,
        record: &PassRecord,
        (judged, notes): (&Judged, usize),
        known: Option<&dyn Sureness>,
    ) -> (Option<Chorus>, Option<Advice>) {
        let stage = drill.stages.iter().find(|stage| stage.name == record.stage);
        let stage = stage.filter(|stage| counts(stage, record));
        let weighed = stage.and_then(|stage| Some((stage, Weighed::new(stage, judged, notes)?)));
        let Some((stage, weighed)) = weighed else {
            return (None, None);
        };
        let part = ChorusPart {
            stage: record.stage.clone(),
            looping: record.looping.clone(),
            tune: record.tune.clone(),
        };
        let chorus = weighed.chorus;
        let sure = known.and_then(|known| {
            let asked = record.targets.iter();
            let each = asked.map(|target| known.of(target.wanted.name.degree, &target.around));
            Likely::of(&each.collect::<Vec<Sure>>())
        });
        let advice = self.add(part, weighed, (record.pass >= stage.passes, sure));
        (Some(chorus), advice)
    }

    /// Takes in the next chorus; a stage is never ready before it had its passes. When
    /// the last choruses say something they have said it: it takes as many again to say it once more.
    fn add(
        &mut self,
        part: ChorusPart,
        weighed: Weighed,
        (had_its_passes, sure): (bool, Option<Likely>),
    ) -> Option<Advice> {
        if self.of.as_ref() != Some(&part) {
            self.begin_again();
            self.of = Some(part);
        }
        let is_clean = weighed.chorus == Chorus::Clean;
        self.choruses.push(weighed);
        let over = self.choruses.len().saturating_sub(RUNNING);
        self.choruses.drain(..over);
        let all = |chorus| {
            let is_so = |weighed: &Weighed| weighed.chorus == chorus;
            self.choruses.len() == RUNNING && self.choruses.iter().all(is_so)
        };
        let is_ready = match sure {
            None => all(Chorus::Clean) && !self.is_a_chord_missed_in_all() && had_its_passes,
            Some(Likely::NotYet) => false,
            Some(Likely::Today) => is_clean && had_its_passes,
            Some(Likely::Automatic) => is_clean,
        };
        let says = match () {
            _ if is_ready => Advice::Ready,
            _ if all(Chorus::Rough) => Advice::Easier,
            _ => return None,
        };
        self.begin_again();
        Some(says)
    }

    fn is_a_chord_missed_in_all(&self) -> bool {
        let Some((first, rest)) = self.choruses.split_first() else {
            return false;
        };
        let in_rest = |chord: &usize| rest.iter().all(|weighed| weighed.missed.contains(chord));
        first.missed.iter().any(in_rest)
    }

    /// What was played so far says nothing any more.
    pub(crate) fn begin_again(&mut self) {
        *self = Readiness::default();
    }
}

/// Whether a pass says something about its stage: all of it, as the stage wants it, played where the stage is played.
fn counts(stage: &Stage, record: &PassRecord) -> bool {
    record.whole && record.as_asked && (!record.sung || stage.cycle.play == 0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fault::Source;

    fn stage(more: &str) -> Stage {
        let text = format!("title = 'x'\n[[stage]]\nname = 'x'\ndegrees = ['1']\n{more}");
        let source = Source {
            name: "x.toml",
            text: &text,
        };
        Drill::read(&source).expect("a drill").stages.remove(0)
    }

    /// A letter a chord: `R` right, `l` right but late, `p` pushed, `w` wrong, `f` wrong and put right, `m` missed, `?` not
    /// judged; `o` another note beside them.
    fn played(picture: &str) -> Judged {
        let mut chord = 0;
        let verdict = |letter: char| {
            let (outcome, timing, found) = match letter {
                'R' => (Outcome::Right, Some(Timing::InTime), false),
                'l' => (Outcome::Right, Some(Timing::Late), false),
                'p' => (Outcome::Right, Some(Timing::Pushed), false),
                'w' => (Outcome::Wrong, Some(Timing::InTime), false),
                'f' => (Outcome::Wrong, Some(Timing::InTime), true),
                'm' => (Outcome::Missed, None, false),
                'o' => (Outcome::Other, None, false),
                _ => (Outcome::NotJudged, None, false),
            };
            let target = (outcome != Outcome::Other).then_some(chord);
            let verdict = Verdict {
                target,
                timing,
                found,
                ..Verdict::blank(chord, 0.0, outcome)
            };
            chord += usize::from(target.is_some());
            verdict
        };
        Judged {
            verdicts: picture.chars().map(verdict).collect(),
            ..Judged::default()
        }
    }

    /// The notes that were played in a picture.
    fn notes(picture: &str) -> usize {
        picture.chars().filter(|letter| *letter != 'm').count()
    }

    fn weighed(picture: &str) -> Option<Weighed> {
        Weighed::new(&stage(""), &played(picture), notes(picture))
    }

    fn part(stage: &str, looping: Loop, title: &str) -> ChorusPart {
        ChorusPart {
            stage: stage.to_string(),
            looping,
            tune: (title.to_string(), None),
        }
    }

    #[test]
    fn a_chorus_is_clean_or_rough_or_neither() {
        #[rustfmt::skip]
        let cases = [
            ("RRRRRRRRRR",   "clean"),
            ("RRRRRRRRRw",   "clean"),
            ("RRRRRRRRww",   "fair"),
            ("RRRRRRRRRf",   "clean"),
            ("RRRRRRRwww",   "fair"),
            ("RRRRRRwwmm",   "rough"),
            ("RRRRRRRRll",   "clean"),
            ("RRRRRRRlll",   "fair"),
            ("RRRRRRRppp",   "clean"),
            ("RRRRRRRRRRo",  "clean"),
            ("RRRRRoRRRRRo", "fair"),
            ("RRRRR?????",   "clean"),
            ("RRRR??????",   "nothing"),
            ("wwwwwmmmmm",   "rough"),
            ("RRRRmmmmmm",   "nothing"),
            ("mmmmmmmmmm",   "nothing"),
            ("",             "nothing"),
        ];
        for (picture, wanted) in cases {
            let told = weighed(picture).map_or("nothing", |weighed| weighed.chorus.name());
            assert_eq!(told, wanted, "{picture}");
        }
        // Ten notes, none of them where it was asked for.
        let off = Weighed::new(&stage(""), &played("mmmmmmmmmm"), 10);
        assert_eq!(off.map(|weighed| weighed.chorus), Some(Chorus::Rough));
        // Where time is only told it does not hold back.
        let late = Weighed::new(&stage("in_time = false"), &played("llllllllll"), 10);
        assert_eq!(late.map(|weighed| weighed.chorus), Some(Chorus::Clean));
    }

    #[test]
    fn two_choruses_running_decide() {
        #[rustfmt::skip]
        let cases: &[(&[&str], &str)] = &[
            (&["RRRRRRRRRR"],                                           "-"),
            (&["RRRRRRRRRR", "RRRRRRRRRR"],                             "- ready"),
            (&["RRRRRRRRRR", "RRRRRRRRww", "RRRRRRRRRR", "RRRRRRRRRR"], "- - - ready"),
            // The same chord twice is no chance; another one may be.
            (&["RRRRRRRRRw", "RRRRRRRRRm", "RRRRRRRRRR"],               "- - ready"),
            (&["RRRRRRRRRw", "wRRRRRRRRR"],                             "- ready"),
            // Put right is not missed.
            (&["RRRRRRRRRf", "RRRRRRRRRf"],                             "- ready"),
            (&["wwwwwwwwww", "wwwwwmmmmm"],                             "- easier"),
            (&["wwwwwwwwww", "RRRRRRRRRR", "wwwwwwwwww"],               "- - -"),
            // Said once, it takes as many again.
            (&["RRRRRRRRRR", "RRRRRRRRRR", "RRRRRRRRRR", "RRRRRRRRRR"], "- ready - ready"),
        ];
        for (choruses, wanted) in cases {
            let mut readiness = Readiness::default();
            let mut says = |picture: &&str| {
                let weighed = weighed(picture).expect("something heard");
                match readiness.add(part("x", Loop::Form, "y"), weighed, (true, None)) {
                    Some(Advice::Ready) => "ready",
                    Some(Advice::Easier) => "easier",
                    None => "-",
                }
            };
            let told: Vec<&str> = choruses.iter().map(&mut says).collect();
            assert_eq!(told.join(" "), *wanted, "{choruses:?}");
        }
    }

    #[test]
    fn another_stage_or_another_part_of_the_tune_begins_again() {
        let clean = weighed("RRRR").expect("something heard");
        for other in [
            part("z", Loop::Form, "y"),
            part("x", Loop::Item(0), "y"),
            part("x", Loop::Form, "z"),
        ] {
            let mut readiness = Readiness::default();
            let parts = [part("x", Loop::Form, "y"), other.clone(), other];
            let told = parts.map(|part| readiness.add(part, clean.clone(), (true, None)));
            assert_eq!(told, [None, None, Some(Advice::Ready)]);
        }
    }

    #[test]
    fn a_stage_has_its_passes_first() {
        let clean = weighed("RRRR").expect("something heard");
        let mut readiness = Readiness::default();
        let told = [false, false, false, true]
            .map(|had| readiness.add(part("x", Loop::Form, "y"), clean.clone(), (had, None)));
        assert_eq!(told, [None, None, None, Some(Advice::Ready)]);
    }

    #[test]
    fn where_the_player_is_known_one_chorus_decides_by_what_is_known() {
        use Likely::{Automatic, NotYet, Today};
        #[rustfmt::skip]
        let cases = [
            (&["RRRRRRRRRR", "RRRRRRRRRR"][..], NotYet,    true,  "- -"),
            (&["RRRRRRRRRR"],                   Today,     true,  "ready"),
            (&["RRRRRRRRRR", "RRRRRRRRRR"],     Today,     false, "- -"),
            (&["RRRRRRRRRR"],                   Automatic, false, "ready"),
            (&["RRRRRRRRww", "RRRRRRRRww"],     Automatic, true,  "- -"),
            (&["wwwwwwwwww", "wwwwwmmmmm"],     Automatic, true,  "- easier"),
            (&["RRRRRRRRRR", "RRRRRRRRRR"],     Today,     true,  "ready ready"),
        ];
        for (choruses, sure, had_its_passes, wanted) in cases {
            let mut readiness = Readiness::default();
            let mut says = |picture: &&str| {
                let weighed = weighed(picture).expect("something heard");
                let known = (had_its_passes, Some(sure));
                match readiness.add(part("x", Loop::Form, "y"), weighed, known) {
                    Some(Advice::Ready) => "ready",
                    Some(Advice::Easier) => "easier",
                    None => "-",
                }
            };
            let told: Vec<&str> = choruses.iter().map(&mut says).collect();
            assert_eq!(told.join(" "), wanted, "{choruses:?} {sure:?}");
        }
    }
}
