//! The way of the guitar's sound out of the callback: a bounded queue of short blocks, with what the box itself played
//! meanwhile beside it.
//!
//! # Why does the ear have a queue and a thread?
//!
//! In the callback it would cost as much as the band. There a block and
//! what was played on the same frames are copied into a bounded queue (`audio/tap.rs`), which makes the callback 1.004 times as
//! dear (median and 99th percentile of the instructions of 64-frame blocks, `cargo bench --bench callback`); the thread
//! listens to it in bites of 10 ms, so that it holds up nobody of the same priority, and tells the loop notes on the frames
//! on which the player meant them: less the latency of the ports, and what `calibrate` found beyond. It takes 0.013 s of
//! processor time for a second of sound, the band beside it. A gap in the frames is left out, not filled: silence put in its place would be heard as
//! a note that ends and one that begins.
//!
//! An input that gives nothing but zeros is dead. Nothing of it is handed over, so that the thread can sleep; the callback may
//! wake nobody, so it writes down up to where the input was dead, and the loop, which looks now and then, wakes the thread where
//! that is no longer so. The queue holds more than what comes meanwhile.

use crate::time::Frame;
use rtrb::{Consumer, Producer, RingBuffer};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// Frames of a block that is handed over.
pub const TAP_FRAMES: usize = 64;

/// A block that was heard.
#[derive(Debug, Clone, Copy)]
pub struct TappedBlock {
    /// Its first frame.
    pub frame: Frame,
    frames: usize,
    sound: [f32; TAP_FRAMES],
    played: [f32; TAP_FRAMES],
}

impl TappedBlock {
    /// What came in.
    pub fn sound(&self) -> &[f32] {
        self.sound.get(..self.frames).unwrap_or_default()
    }

    /// What went out on the same frames, as one channel.
    pub fn played(&self) -> &[f32] {
        self.played.get(..self.frames).unwrap_or_default()
    }
}

/// An input that gives nothing but zeros for so long is dead, in ms: every converter has some noise.
pub const DEAD_MS: u64 = 1000;
/// No frame: the input is not dead.
const ALIVE: u64 = u64::MAX;

/// What both ends know.
#[derive(Debug)]
struct TapShared {
    lost: AtomicU64,
    /// The frame up to which nothing but zeros came from an input that is dead.
    dead_upto: AtomicU64,
}

/// The callback's end.
pub struct Tap {
    blocks: Producer<TappedBlock>,
    shared: Arc<TapShared>,
    /// Frames of silence that came last, and how many make the input dead.
    silent_frames: u64,
    dead_frames: u64,
}

/// The listener's end.
pub struct TapEnd {
    blocks: Consumer<TappedBlock>,
    shared: Arc<TapShared>,
}

/// Tells whoever may wake the listener whether there is something to listen to.
#[derive(Debug, Clone)]
pub struct TapWatch(Arc<TapShared>);

impl TapWatch {
    /// The frame up to which a dead input gave nothing; none where it is not dead. What comes then is not handed over.
    pub fn dead_upto(&self) -> Option<Frame> {
        let upto = self.0.dead_upto.load(Ordering::Acquire);
        (upto != ALIVE).then_some(Frame(upto))
    }
}

/// A queue that holds a second and a half at `rate` frames a second: so long may a busy machine keep the listener
/// waiting before anything is lost.
pub fn tap(rate: u32) -> (Tap, TapEnd) {
    let blocks = (rate as usize * 3 / 2).div_ceil(TAP_FRAMES).max(16);
    let (producer, consumer) = RingBuffer::new(blocks);
    let shared = Arc::new(TapShared {
        lost: AtomicU64::new(0),
        dead_upto: AtomicU64::new(ALIVE),
    });
    let tap = Tap {
        blocks: producer,
        shared: Arc::clone(&shared),
        silent_frames: 0,
        dead_frames: DEAD_MS * u64::from(rate) / 1000,
    };
    let end = TapEnd {
        blocks: consumer,
        shared,
    };
    (tap, end)
}

impl Tap {
    /// Hands over a block of any length that begins on `at`; the shortest slice counts. What finds no room is lost,
    /// counted; what comes of a dead input is left out. No allocation, lock or system call.
    pub fn push(&mut self, at: Frame, sound: &[f32], left: &[f32], right: &[f32]) {
        if self.is_dead(sound) {
            let upto = at.0 + sound.len() as u64;
            return self.shared.dead_upto.store(upto, Ordering::Release);
        }
        let parts = sound
            .chunks(TAP_FRAMES)
            .zip(left.chunks(TAP_FRAMES))
            .zip(right.chunks(TAP_FRAMES));
        let mut frame = at;
        for ((sound, left), right) in parts {
            let mut block = TappedBlock {
                frame,
                frames: sound.len().min(left.len()).min(right.len()),
                sound: [0.0; TAP_FRAMES],
                played: [0.0; TAP_FRAMES],
            };
            for (to, from) in block.sound.iter_mut().zip(sound) {
                *to = *from;
            }
            for (to, (left, right)) in block.played.iter_mut().zip(left.iter().zip(right)) {
                *to = left + right;
            }
            frame.0 += TAP_FRAMES as u64;
            if self.blocks.push(block).is_err() {
                self.shared.lost.fetch_add(1, Ordering::Relaxed);
            }
        }
        // What is there to be listened to is told when it is there.
        self.shared.dead_upto.store(ALIVE, Ordering::Release);
    }

    /// Whether nothing but zeros came for so long that nothing is plugged in, or the cable is out.
    fn is_dead(&mut self, sound: &[f32]) -> bool {
        self.silent_frames = match sound.iter().all(|sample| *sample == 0.0) {
            true => self.silent_frames + sound.len() as u64,
            false => 0,
        };
        self.silent_frames > self.dead_frames
    }
}

impl TapEnd {
    /// The next block, if one is there.
    pub fn pop(&mut self) -> Option<TappedBlock> {
        self.blocks.pop().ok()
    }

    /// Blocks that found no room so far.
    pub fn lost(&self) -> u64 {
        self.shared.lost.load(Ordering::Relaxed)
    }

    /// For whoever is to wake the listener.
    pub fn watch(&self) -> TapWatch {
        TapWatch(Arc::clone(&self.shared))
    }

    /// Whether the callback is gone and everything was taken out.
    pub fn is_over(&self) -> bool {
        self.blocks.is_abandoned() && self.blocks.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_goes_in_comes_out_on_its_frames_whatever_the_blocks() {
        for sizes in [[64usize, 64, 64], [256, 1, 63], [37, 1024, 5]] {
            let (mut tap, mut end) = tap(48_000);
            let mut at = 1_000u64;
            for size in sizes {
                let sound: Vec<f32> = (0..size as u64).map(|n| (at + n) as f32).collect();
                let side = vec![0.25; size];
                tap.push(Frame(at), &sound, &side, &side);
                at += size as u64;
            }
            let mut next = 1_000u64;
            while let Some(block) = end.pop() {
                assert_eq!(block.frame.0, next);
                let right = block
                    .sound()
                    .iter()
                    .zip(block.frame.0..)
                    .all(|(s, n)| *s == n as f32);
                assert!(right && block.played().iter().all(|s| *s == 0.5));
                next += block.sound().len() as u64;
            }
            assert_eq!((next, end.lost()), (at, 0), "{sizes:?}");
        }
    }

    #[test]
    fn a_dead_input_is_left_out_and_told_until_something_sounds() {
        let (mut tap, mut end) = tap(64_000);
        let watch = end.watch();
        let mut count = || std::iter::from_fn(|| end.pop()).count();
        let silence = [0.0; 64];
        // Blocks of 64 frames: 1,000 make a second. What sounds, how many, how many are handed over, dead afterwards.
        let mut at = 0;
        for (sample, blocks, handed_over, is_dead) in [
            (0.0, 1_000, 1_000, false),
            (0.0, 1, 0, true),
            (0.0, 500, 0, true),
            (-0.001, 1, 1, false),
            (0.0, 1_000, 1_000, false),
            (0.0, 7, 0, true),
        ] {
            let mut came = 0;
            for _ in 0..blocks {
                tap.push(Frame(at), &[sample; 64], &silence, &silence);
                at += 64;
                came += count();
            }
            let upto = is_dead.then_some(Frame(at));
            assert_eq!((came, watch.dead_upto()), (handed_over, upto), "to {at}");
        }
    }

    #[test]
    fn a_full_queue_loses_the_newest_and_counts() {
        let (mut tap, mut end) = tap(8_000);
        let blocks = 8_000 * 3 / 2 / TAP_FRAMES + 1;
        let hum = vec![0.5; TAP_FRAMES * (blocks + 10)];
        tap.push(Frame(0), &hum, &hum, &hum);
        assert_eq!(end.lost(), 10);
        assert_eq!(std::iter::from_fn(|| end.pop()).count(), blocks);
        drop(tap);
        assert!(end.is_over());
    }
}
