//! Listening: sound in, heard notes out. Pure: no device, file, thread or clock; samples are arguments.
//!
//! [`Ear`] takes the sound of one instrument, one note at a time, and tells [`Found`]: a reading of the pitch for
//! every hop, and every note once it can be named. The stages, each a file: the box's own band taken out (`cancel`), the
//! newest samples as one slice (`history`), the lower rate (`decimate`), how they go with those before (`products`), the pitch of the newest milliseconds (`pitch`,
//! `lower`), the same without the note before (`ringing`), rises of the spectrum (`onset`) and where they began (`begin`),
//! which of them are strokes (`strokes`), which notes they added (`added`), whether the pitch rests (`rest`), what becomes of them (`notes`; of a voice, `sung`),
//! what is over before its name was sure (`over`), and how sure names are (`naming`, `sure`), also against what was taken out (`echo`). [`Stream`] is
//! an ear on a live signal, which may have gaps.
//! [`InputCheck`] finds out what an input is like: level, noise, hum, clipping, tuning, guitar or bass (`input`).
//!
//! Promise: pure; what is told of a sound that is cut short is what would have been told of the whole by then.
//!
//! # Why an ear of our own?
//!
//! Because a note must be named as early as its sound allows, in the band's presence, and none
//! of the general libraries does that. `src/listen` looks every 1.3 ms at the newest samples with a normalised square
//! difference whose window goes with the lag, and refines the period at the full rate. `tests/long ear` sets it beside
//! aubio and the crate pitch-detection on a set that fluidsynth plays (`tests/outside/ear`). On the default seed, clean /
//! with the band 20 dB under the guitar:
//!
//! | | single notes | lines |
//! | --- | --- | --- |
//! | notes, F | 0.99 / 0.99 | 1.00 / 1.00 |
//! | onsets, F (aubio hfc: 1.00 / 0.32, 1.00 / 0.73) | 1.00 / 0.99 | 1.00 / 1.00 |
//! | readings right, % | 100 / 99.8 | 100 / 99.9 |
//! | octave errors, % (yinfast: 0.5 / 2.7, 0.05 / 0.4) | 0.00 / 0.08 | 0.00 / 0.00 |
//! | cents off, 95 % of readings (yinfast: 6.0 / 7.6, 11.5 / 11.5) | 3.4 / 4.8 | 4.6 / 4.8 |
//! | delay to the third agreeing right reading, median / 95 %, ms (aubio yinfast: 41 / 78, 38 / 72) | 21 / 62 | 19 / 43 |
//! | first stable reading right, % (yinfast: 57, 29) | 96 / 97 | 98 / 97 |
//!
//! The table is older than the canceller and the slight strokes. On the recorded notes of four guitars (584 in single, legato and
//! short lines; 140 held 0.12 s over the next one; 140 that all ring on), right notes in % and F, before and after slight strokes,
//! beats and rest (the band given where there is one):
//!
//! | | before | after |
//! | --- | --- | --- |
//! | clean | 98.8 0.990 | 99.7 0.996 |
//! | the band 20 dB under | 98.3 0.970 | 99.1 0.978 |
//! | 15 dB under | 97.6 0.965 | 98.5 0.972 |
//! | 10 dB under | 94.9 0.941 | 96.2 0.952 |
//! | held over | 88.6 0.861 | 91.4 0.921 |
//! | all ring on | 42.9 0.435 | 48.6 0.562 |
//!
//! What a stroke added (`added`), measured later, with another rendering of the band: clean 99.7 0.996 before and 99.8 0.998 after, 10 dB under 97.1 0.945 and
//! 98.1 0.953; held over 92.1 0.931 and 93.6 0.949, all ring on 50.0 0.579 and 65.7 0.748.
//!
//! What is over before it was sure (`over`), measured later still: clean 99.8 0.998 before and 99.7 0.997 after, a band that is not known 10 dB under 93.0 0.848
//! and 97.3 0.907, a known one 98.0 0.969 and 99.1 0.983, all ring on 65.0 0.758 and 84.3 0.877; notes of 85 to 400 ms over a band 8 dB under that is not
//! known (`fast_set.py`, two seeds) 72.2 0.758 and 84.1 0.846. Tried and left: naming what added less (0.5 of it explained: more of the band told as notes), names of what was
//! clear from 50 ms on (the roughness of strokes is told: clean 0.989).
//!
//! # How sure is a name?
//!
//! `confidence` is the chance that such a note was played (`sure`), for all but a voice: a regression over what the name rests on. Left out in turn,
//! each of four instruments is told better by the three others than by how well its sound repeats (23,000 notes; the price is 10 for a
//! wrong note that is sure enough to be told wrong, 1 for one that is not judged):
//!
//! | left out | Brier | calibration error | price a note | right ones not judged |
//! | --- | --- | --- | --- | --- |
//! | archtop | 0.068, now 0.025 | 0.051, now 0.009 | 0.82, now 0.20 | 6.5 % |
//! | solid body | 0.083, now 0.025 | 0.077, now 0.027 | 1.04, now 0.20 | 2.6 % |
//! | steel strings | 0.046, now 0.034 | 0.052, now 0.049 | 0.48, now 0.33 | 18.5 % |
//! | string model | 0.019, now 0.013 | 0.038, now 0.013 | 0.17, now 0.14 | 1.3 % |
//!
//! By tenths of the chance, how many were right (fitted to all): 0.0: 2 %, 0.1: 4 %, 0.2: 9 %, 0.3: 18 %, 0.4: 25 %, 0.5: 51 %, 0.6: 63 %, 0.7: 77 %,
//! 0.8: 91 %, 0.9: 99 %. "Not judged" is only where another note than the one asked for was heard: what is asked for is right without being sure.
//! Tried with fewer features: without what the stroke added (`added`) a steel string's errors stay, and 27 to 32 % of its right notes are not sure.
//!
//! # When is what is heard left of the band?
//!
//! A note's weight in what the canceller took out, against its weight in what is left: of 2,500 right notes with the band 10 to 20 dB under them 99 in
//! 100 have under 0.28, and what was left of the band mostly over 0.5. Over 1 it is not told. In ways of playing with a band in the sound that
//! changed little, until it was seen that the delay was a wrong one: of two strokes that fell together. It is looked at again for 40 windows now.

//! # What does it cost?
//!
//! Instructions a block of 64 frames at 48,000, counted by callgrind over a guitar with a band (`cargo bench --bench callback`): 357,000
//! when each look summed its windows anew and the canceller learnt from each block. What was tried on the recorded notes to come
//! below, and fell by a note in 600 and more at 10 and 15 dB or over held notes: blocks of 128 in the canceller, learning from every
//! second block from the start, its bins over 15 kHz left out, 40 ms of room instead of 50, all of the ear at half the rate, the coarse
//! look at 12 kHz, no look at every other hop of a steady note. What cost nothing is here: sums by blocks (`products`), the rest only in
//! doubt (`ringing`), lower partials at every third look, learning from every third block after the first 6 s (`cancel`).
//!
//! Then, where the band and the guitar sound all the time, 116,600, and 76,100 with numerics alone: energies and products of any stretch as differences
//! of sums that go on (`history`, `products`), the smoothed sound only as far as it is new (`lower`), three lags in one pass
//! (`decimate`), the canceller's sums over partitions in registers, without what may be wrong where nothing is learnt from it. On the
//! recorded notes (336 lines, with the band and without) all 7,100 notes came on the same frames with the same names.
//!
//! Readings count from 80 ms after the onset. `evaluate.py` also prints the middle reading of each note from 100 ms on, a
//! milder count that is often given (yinfast: 99.7 % right, 3.7 cents at 95 %).

mod added;
mod begin;
mod cancel;
mod decimate;
mod ear;
mod echo;
mod found;
mod history;
mod input;
mod lower;
mod nameless;
mod naming;
mod notes;
mod onset;
mod over;
mod pending;
mod pitch;
mod products;
mod rest;
mod ringing;
mod setup;
mod stream;
mod strokes;
mod sung;
mod sure;
mod voice;
mod way_round;

pub use ear::Ear;
pub use found::{Found, Heard, PitchReading, Signs};
pub use input::{InputCheck, InputSetup};
pub use setup::{Instrument, Setup};
pub use stream::Stream;
pub use way_round::{Match, WayRound, agree, find, sweep};
