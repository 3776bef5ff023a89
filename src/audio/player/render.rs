//! The callback's body: sub-blocks made one after the other and handed out in whatever lengths are asked for.

use super::body::{PlayMoment, Player, opening};
use crate::audio::command::ClockSource;
use crate::audio::denormal::Flush;
use crate::audio::desk::Buses;
use crate::audio::mixer::{BLOCK_FRAMES, Ramp};
use crate::audio::notice::Notice;
use crate::audio::played::MidiSink;
use crate::audio::queue::Counters;
use crate::clock::transport::TransportCycle;
use crate::clock::{Change, ClockMessage};
use crate::time::Frame;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// A build with debug assertions panics at this message (a SysEx of nobody's, MIDI 1.0), so that tests can see what
/// becomes of it. No release build has it.
#[cfg(debug_assertions)]
const PANIC_ON_DEMAND: &[u8] = &[0xf0, 0x7d, 0x70, 0xf7];

/// The buffers to fill: band left and right, cue. The shortest counts.
#[derive(Debug)]
pub struct Outputs<'a> {
    /// The band's left output.
    pub left: &'a mut [f32],
    /// The band's right output.
    pub right: &'a mut [f32],
    /// Speech and model tones.
    pub cue: &'a mut [f32],
}

impl Player {
    /// Fills the buffers with what sounds from the frame `at` on. Any length, also 0. A jump of `at` is a gap
    /// in the audio clock: musical time follows it, what should have been let go is let go, notes more than
    /// 30 ms late are dropped.
    pub fn render(&mut self, at: Frame, out: Outputs<'_>, midi: &mut dyn MidiSink) {
        let Outputs { left, right, cue } = out;
        let frames = left.len().min(right.len()).min(cue.len());
        let whole = [&mut *left, &mut *right, &mut *cue];
        whole.into_iter().for_each(|buffer| buffer.fill(0.0));
        let _flush = Flush::start();
        let out = Outputs {
            left: left.split_at_mut(frames).0,
            right: right.split_at_mut(frames).0,
            cue: cue.split_at_mut(frames).0,
        };
        self.guarded(|player| player.fill(at, out, midi));
        if self.poisoned {
            // What sounds as MIDI is let go on the block's last frame, because offsets never go down.
            let offset = frames.saturating_sub(1) as u32;
            while let Some(voice) = self.voices.take_any() {
                midi.event(offset, [0x80 | voice.part.channel(), voice.key, 0]);
            }
            let whole = [left, right, cue];
            whole.into_iter().for_each(|buffer| buffer.fill(0.0));
        }
    }

    /// Nothing in here should panic. If it does all the same (a hostile SoundFont in the synthesizer), the state of
    /// the player does not matter any more: it is silent from then on, and whoever owns it looks and makes another.
    fn guarded(&mut self, work: impl FnOnce(&mut Player)) {
        if !self.poisoned {
            self.poisoned = catch_unwind(AssertUnwindSafe(|| work(self))).is_err();
        }
    }

    /// Whether it panicked: it is of no use any more.
    pub fn is_poisoned(&self) -> bool {
        self.poisoned
    }

    /// Nobody hears what it makes: commands, notes and notices are the same, the buffers hold nothing of use.
    pub fn leave_unheard(&mut self) {
        self.is_heard = false;
    }

    /// A message that came in on `frame`; those of a clock are followed, others passed on as a notice. Longer ones
    /// than three bytes are ignored.
    pub fn midi_in(&mut self, frame: Frame, message: &[u8]) {
        self.guarded(|player| player.take_midi(frame, message));
    }

    fn take_midi(&mut self, frame: Frame, message: &[u8]) {
        #[cfg(debug_assertions)]
        assert!(
            message != PANIC_ON_DEMAND,
            "asked to panic, in a test build"
        );
        if let Some(message) = ClockMessage::from_bytes(message) {
            self.following.push(frame, ClockSource::Jack, message);
            return;
        }
        let mut bytes = [0; 3];
        if message.is_empty() || message.len() > bytes.len() {
            return;
        }
        bytes
            .iter_mut()
            .zip(message)
            .for_each(|(to, from)| *to = *from);
        self.queues.notice(Notice::Midi {
            frame,
            bytes,
            len: message.len() as u8,
        });
    }

    /// Whether [`Player::transport`] is of use.
    pub fn follows_transport(&self) -> bool {
        self.following.follows(ClockSource::Transport)
    }

    /// What the server's transport says of the `frames` frames from `at` on.
    pub fn transport(&mut self, at: Frame, frames: u32, cycle: TransportCycle) {
        self.guarded(|player| player.following.transport(at, frames, cycle));
    }

    fn fill(&mut self, at: Frame, out: Outputs<'_>, midi: &mut dyn MidiSink) {
        let frames = out.left.len();
        let end = Frame(at.0 + frames as u64);
        self.follow(at);
        let mut done = 0;
        while done < frames {
            if self.read >= self.made {
                self.make_block(midi);
            }
            self.desk.send_midi(at, end, midi);
            let count = (self.made - self.read).min(frames - done);
            let (from, to) = (self.read..self.read + count, done..done + count);
            for (target, source) in [
                (&mut *out.left, &self.buses.left),
                (&mut *out.right, &self.buses.right),
                (&mut *out.cue, &self.buses.cue),
            ] {
                if let (Some(target), Some(source)) =
                    (target.get_mut(to.clone()), source.get(from.clone()))
                {
                    target.copy_from_slice(source);
                }
            }
            self.read += count;
            done += count;
        }
    }

    /// Brings the grid to the frame `at`, over a gap if there is one.
    fn follow(&mut self, at: Frame) {
        let Some(next) = self.next else {
            self.next = Some(at);
            return;
        };
        let expected = next.0 - (self.made - self.read) as u64;
        if at.0 == expected {
            return;
        }
        if at.0 > expected {
            Counters::bump(&self.queues.counters.gaps);
        }
        if at.0 > expected && at < next {
            self.read += (at.0 - expected) as usize;
            return;
        }
        // Sub-blocks that nobody will hear are not made; their events are done, late, in the next one.
        let past = at.0.saturating_sub(next.0);
        let grid = next.0 + past - past % BLOCK_FRAMES as u64;
        let start = if at < next { at } else { Frame(grid) };
        (self.made, self.read) = (0, 0);
        self.next = Some(start);
        self.place_cues(start);
        self.skip = (at.0 - start.0) as usize;
    }

    /// Makes the next sub-block: commands, events in the order of time, sound.
    fn make_block(&mut self, sink: &mut dyn MidiSink) {
        let Some(start) = self.next else { return };
        self.desk.begin_block(start);
        self.take_commands(start, sink);
        let full = Frame(start.0 + BLOCK_FRAMES as u64);
        // A take begins with a sub-block of its own.
        let end = self.moments.iter().find_map(|&(at, moment)| {
            let starts = matches!(moment, PlayMoment::Start(_)) && at > start && at < full;
            starts.then_some(at)
        });
        let begins = self.following.begins_within(Frame(start.0 + 1), full);
        let end = end.unwrap_or(full).min(begins.unwrap_or(full));
        while self.orders.first().is_some_and(|(at, _)| *at < end) {
            let (at, order) = self.orders.remove(0);
            self.carry_out(order, at.max(start), start);
        }
        loop {
            let moment = self.moments.first().copied().filter(|(at, _)| *at < end);
            let coming = self.following.next(end);
            match (moment, coming) {
                (Some((at, moment)), other) if other.is_none_or(|(clock, _)| at <= clock) => {
                    self.moments.remove(0);
                    self.run_until(at, start, sink);
                    match moment {
                        PlayMoment::Start(tick) => self.start_by_foot(tick, at, start, sink),
                        PlayMoment::Stop => self.stop(at, start, sink),
                    }
                }
                (_, Some((at, coming))) => {
                    let at = at.max(start);
                    self.run_until(at, start, sink);
                    self.clock(coming, at, start, sink);
                }
                (_, None) => break,
            }
        }
        self.run_until(end, start, sink);
        if self.following.pass(end) == Some(Change::Stops) {
            self.stop(end, start, sink);
        }
        self.following.tell(end, None, &mut self.queues);
        self.clips.begin_due(start, end, &mut self.queues);
        self.mix((end.0 - start.0) as usize);
        self.next = Some(end);
    }

    fn mix(&mut self, frames: usize) {
        self.buses = Buses::SILENT;
        self.desk.render(
            &mut self.buses,
            frames,
            &mut self.count_in,
            &mut self.queues,
        );
        let (cue, _) = self.buses.cue.split_at_mut(frames);
        self.clips.render(cue, &mut self.queues);
        if self.is_heard {
            self.level(frames);
        }
        if self.panicking {
            self.panicking = false;
            self.desk.silence(&mut self.queues);
            self.clips.silence(&mut self.queues);
            self.opening = opening(self.rate);
        }
        self.made = frames;
        self.read = self.skip.min(frames);
        self.skip -= self.read;
    }

    /// Brings what was made to its levels.
    fn level(&mut self, frames: usize) {
        let (left, _) = self.buses.left.split_at_mut(frames);
        let (right, _) = self.buses.right.split_at_mut(frames);
        let (cue, _) = self.buses.cue.split_at_mut(frames);
        self.cue.apply(cue);
        self.master.apply_stereo(left, right);
        self.cue_level.hear(left, right);
        self.cue_level.apply(cue);
        if self.cue_to_outputs {
            for ((left, right), cue) in left.iter_mut().zip(&mut *right).zip(&*cue) {
                *left += *cue;
                *right += *cue;
            }
        }
        if self.panicking {
            self.opening = Ramp::new(1.0);
            self.opening.to(0.0, frames as u32);
        }
        self.opening.clone().apply(cue);
        self.opening.apply_stereo(left, right);
        self.band_limiter.stereo(left, right);
        self.cue_limiter.mono(cue);
    }
}
