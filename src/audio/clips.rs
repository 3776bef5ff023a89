//! Spoken cues: when each sounds, in which length, and the sounding itself.

use super::queue::{Garbage, Queues};
use super::{Cue, CueForm, Notice};
use crate::time::{Frame, Tick};
use arrayvec::ArrayVec;
use std::ops::Range;

/// Cues that can wait for their moment.
const WAITING: usize = 24;
/// Cues that sound at a time, those being faded out included.
const SOUNDING: usize = 8;
/// Hushes that are kept in mind for cues that come too late for them.
const HUSHED: usize = 16;
/// How long a hushed cue takes to fade.
const FADE_MS: u32 = 10;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct ClipPlace {
    choice: usize,
    form: CueForm,
    frame: Frame,
    end: Frame,
}

#[derive(Debug)]
struct Waiting {
    cue: Box<Cue>,
    /// None: for the take that has not begun yet.
    place: Option<ClipPlace>,
}

/// The end of a cue that is not wanted any more. On its frame, wherever blocks begin.
#[derive(Debug, Clone, Copy)]
struct Fade {
    /// Frames until it begins.
    wait: usize,
    /// Frames of it left.
    left: u32,
}

#[derive(Debug)]
struct SoundingClip {
    cue: Box<Cue>,
    choice: usize,
    /// Frames until it starts.
    wait: usize,
    at: usize,
    /// Whether it is being faded out.
    fade: Option<Fade>,
}

/// All cues on the player's side.
pub(crate) struct Clips {
    waiting: ArrayVec<Waiting, WAITING>,
    sounding: ArrayVec<SoundingClip, SOUNDING>,
    fade_frames: u32,
    /// Cues with these ids are not wanted any more, should they come yet.
    hushed: ArrayVec<Range<u32>, HUSHED>,
}

impl Clips {
    pub(crate) fn new(rate: u32) -> Clips {
        Clips {
            waiting: ArrayVec::new(),
            sounding: ArrayVec::new(),
            fade_frames: (rate * FADE_MS / 1000).max(1),
            hushed: ArrayVec::new(),
        }
    }

    /// Whether a cue with this id is not wanted any more.
    pub(crate) fn is_hushed(&self, id: u32) -> bool {
        self.hushed.iter().any(|ids| ids.contains(&id))
    }

    /// Takes a cue to be placed later.
    pub(crate) fn add(&mut self, cue: Box<Cue>, now: Frame, queues: &mut Queues) {
        if self.is_hushed(cue.id) {
            return skip(cue, now, queues);
        }
        if let Err(full) = self.waiting.try_push(Waiting { cue, place: None }) {
            skip(full.element().cue, now, queues);
        }
    }

    /// Drops cues with these ids that did not begin, now and when they come later, and fades out those
    /// that sound.
    pub(crate) fn hush(&mut self, ids: Range<u32>, at: Frame, now: Frame, queues: &mut Queues) {
        // A wider range makes those within it needless.
        self.hushed
            .retain(|old| old.start < ids.start || old.end > ids.end);
        if self.hushed.is_full() {
            self.hushed.remove(0);
        }
        let _ = self.hushed.try_push(ids.clone());
        let meant = |waiting: &Waiting| ids.contains(&waiting.cue.id);
        while let Some(index) = self.waiting.iter().position(meant) {
            skip(self.waiting.remove(index).cue, at, queues);
        }
        let fade = self.fade(at, now);
        let sounding = self.sounding.iter_mut();
        for sounding in sounding.filter(|sounding| ids.contains(&sounding.cue.id)) {
            sounding.fade = sounding.fade.or(Some(fade));
        }
    }

    /// Sounds a cue on `at` (in the sub-block that begins on `now`), its fullest length; another that sounds is
    /// faded out.
    pub(crate) fn say_at(&mut self, cue: Box<Cue>, at: Frame, now: Frame, queues: &mut Queues) {
        let Some(choice) = cue.choices.first() else {
            return skip(cue, now, queues);
        };
        let place = ClipPlace {
            choice: 0,
            form: choice.form,
            frame: at,
            end: Frame(at.0 + choice.samples.len() as u64),
        };
        self.fade_all(at, now);
        report(&cue, place, queues);
        self.begin(cue, place, now, queues);
    }

    /// Gives every waiting cue its place: the fullest length that fits anywhere, at the latest start it fits,
    /// not over another cue. What fits nowhere is dropped and reported.
    pub(crate) fn place_all(
        &mut self,
        now: Frame,
        frame_of: &dyn Fn(Tick) -> Frame,
        queues: &mut Queues,
    ) {
        let busy_until = self.busy_until(now);
        let mut index = 0;
        while let Some(waiting) = self.waiting.get(index) {
            let before = self
                .waiting
                .iter()
                .take(index)
                .filter_map(|other| other.place);
            let place = find_place(&waiting.cue, busy_until.max(now), before, frame_of);
            match (place, self.waiting.get_mut(index)) {
                (Some(place), Some(waiting)) => {
                    if waiting.place != Some(place) {
                        waiting.place = Some(place);
                        report(&waiting.cue, place, queues);
                    }
                    index += 1;
                }
                _ => skip(self.waiting.remove(index).cue, now, queues),
            }
        }
    }

    /// Begins what is due before `end`.
    pub(crate) fn begin_due(&mut self, now: Frame, end: Frame, queues: &mut Queues) {
        let due = |waiting: &Waiting| waiting.place.is_some_and(|place| place.frame < end);
        while let Some(index) = self.waiting.iter().position(due) {
            let waiting = self.waiting.remove(index);
            if let Some(place) = waiting.place {
                self.begin(waiting.cue, place, now, queues);
            }
        }
    }

    /// Drops what has not begun, and reports it. `unplaced` too: those of a take to come.
    pub(crate) fn drop_waiting(&mut self, unplaced: bool, now: Frame, queues: &mut Queues) {
        let gone = |waiting: &Waiting| unplaced || waiting.place.is_some();
        while let Some(index) = self.waiting.iter().position(gone) {
            skip(self.waiting.remove(index).cue, now, queues);
        }
    }

    /// Fades out what sounds, from `at` on (in the sub-block that begins on `now`).
    pub(crate) fn fade_all(&mut self, at: Frame, now: Frame) {
        let fade = self.fade(at, now);
        for sounding in &mut self.sounding {
            sounding.fade = sounding.fade.or(Some(fade));
        }
    }

    fn fade(&self, at: Frame, now: Frame) -> Fade {
        Fade {
            wait: at.0.saturating_sub(now.0) as usize,
            left: self.fade_frames,
        }
    }

    /// Drops what sounds.
    pub(crate) fn silence(&mut self, queues: &mut Queues) {
        while let Some(sounding) = self.sounding.pop() {
            queues.discard(Garbage::Cue(sounding.cue));
        }
    }

    /// Adds what sounds to the bus.
    pub(crate) fn render(&mut self, bus: &mut [f32], queues: &mut Queues) {
        let fade_frames = self.fade_frames as f32;
        let mut index = 0;
        while let Some(sounding) = self.sounding.get_mut(index) {
            if sounding.render(bus, fade_frames) {
                index += 1;
            } else {
                queues.discard(Garbage::Cue(self.sounding.remove(index).cue));
            }
        }
    }

    fn begin(&mut self, cue: Box<Cue>, place: ClipPlace, now: Frame, queues: &mut Queues) {
        if self.sounding.is_full() {
            queues.discard(Garbage::Cue(self.sounding.remove(0).cue));
        }
        let _ = self.sounding.try_push(SoundingClip {
            cue,
            choice: place.choice,
            wait: place.frame.0.saturating_sub(now.0) as usize,
            at: 0,
            fade: None,
        });
    }

    /// Until when a cue sounds that is not being faded out.
    fn busy_until(&self, now: Frame) -> Frame {
        let left = |sounding: &SoundingClip| match sounding.fade {
            Some(_) => 0,
            None => sounding.wait + sounding.len() - sounding.at.min(sounding.len()),
        };
        Frame(now.0 + self.sounding.iter().map(left).max().unwrap_or(0) as u64)
    }
}

impl SoundingClip {
    fn samples(&self) -> &[f32] {
        self.cue
            .choices
            .get(self.choice)
            .map_or(&[], |choice| &choice.samples)
    }

    fn len(&self) -> usize {
        self.samples().len()
    }

    /// Whether it goes on.
    fn render(&mut self, bus: &mut [f32], fade_frames: f32) -> bool {
        let skipped = self.wait.min(bus.len());
        self.wait -= skipped;
        let mut fade = self.fade;
        let mut at = self.at;
        let samples = self.samples();
        let len = bus.len();
        let frames = bus.iter_mut().enumerate().skip(skipped);
        for ((index, out), sample) in frames.zip(samples.iter().skip(at)) {
            let gain = match &mut fade {
                Some(fade) if index < fade.wait => 1.0,
                Some(Fade { left: 0, .. }) => return false,
                Some(fade) => {
                    fade.left -= 1;
                    fade.left as f32 / fade_frames
                }
                None => 1.0,
            };
            *out += sample * gain;
            at += 1;
        }
        let goes_on = at < samples.len();
        if let Some(fade) = &mut fade {
            fade.wait = fade.wait.saturating_sub(len);
        }
        self.fade = fade;
        self.at = at;
        goes_on
    }
}

fn find_place(
    cue: &Cue,
    earliest: Frame,
    taken: impl Iterator<Item = ClipPlace> + Clone,
    frame_of: &dyn Fn(Tick) -> Frame,
) -> Option<ClipPlace> {
    cue.choices.iter().enumerate().find_map(|(index, choice)| {
        let fits = |&(start, end): &(Tick, Tick)| {
            let frame = frame_of(start);
            let place = ClipPlace {
                choice: index,
                form: choice.form,
                frame,
                end: Frame(frame.0 + choice.samples.len() as u64),
            };
            let free = taken
                .clone()
                .all(|other| place.end <= other.frame || other.end <= place.frame);
            (frame >= earliest && place.end <= frame_of(end) && free).then_some(place)
        };
        cue.windows
            .iter()
            .filter_map(fits)
            .max_by_key(|place| place.frame)
    })
}

fn report(cue: &Cue, place: ClipPlace, queues: &mut Queues) {
    queues.notice(Notice::CueStarted {
        cue: cue.id,
        form: place.form,
        frame: place.frame,
        end: place.end,
    });
}

fn skip(cue: Box<Cue>, now: Frame, queues: &mut Queues) {
    queues.notice(Notice::CueSkipped {
        cue: cue.id,
        frame: now,
    });
    queues.discard(Garbage::Cue(cue));
}
