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

/// The callback's end.
pub struct Tap {
    blocks: Producer<TappedBlock>,
    lost: Arc<AtomicU64>,
}

/// The listener's end.
pub struct TapEnd {
    blocks: Consumer<TappedBlock>,
    lost: Arc<AtomicU64>,
}

/// A queue that holds a second and a half at `rate` frames a second: so long may a busy machine keep the listener
/// waiting before anything is lost.
pub fn tap(rate: u32) -> (Tap, TapEnd) {
    let blocks = (rate as usize * 3 / 2).div_ceil(TAP_FRAMES).max(16);
    let (producer, consumer) = RingBuffer::new(blocks);
    let lost = Arc::new(AtomicU64::new(0));
    let tap = Tap {
        blocks: producer,
        lost: Arc::clone(&lost),
    };
    let end = TapEnd {
        blocks: consumer,
        lost,
    };
    (tap, end)
}

impl Tap {
    /// Hands over a block of any length that begins on `at`; the shortest slice counts. What finds no room is lost,
    /// counted. No allocation, lock or system call.
    pub fn push(&mut self, at: Frame, sound: &[f32], left: &[f32], right: &[f32]) {
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
                self.lost.fetch_add(1, Ordering::Relaxed);
            }
        }
    }
}

impl TapEnd {
    /// The next block, if one is there.
    pub fn pop(&mut self) -> Option<TappedBlock> {
        self.blocks.pop().ok()
    }

    /// Blocks that found no room so far.
    pub fn lost(&self) -> u64 {
        self.lost.load(Ordering::Relaxed)
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
    fn a_full_queue_loses_the_newest_and_counts() {
        let (mut tap, mut end) = tap(8_000);
        let blocks = 8_000 * 3 / 2 / TAP_FRAMES + 1;
        let silence = vec![0.0; TAP_FRAMES * (blocks + 10)];
        tap.push(Frame(0), &silence, &silence, &silence);
        assert_eq!(end.lost(), 10);
        assert_eq!(std::iter::from_fn(|| end.pop()).count(), blocks);
        drop(tap);
        assert!(end.is_over());
    }
}
