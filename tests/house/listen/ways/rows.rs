//! The ways of playing and the effects, a line each, with what was reached where that falls short of the goal.

use super::effects::{bleed, clip, compress, drive, echo, hum, room};
use super::playing::Player;
use super::string::Sounding;
use underfoot::listen::Instrument;

/// Told wrong and told missed per 100 notes that were played right, at most.
const GOAL: (f64, f64) = (0.5, 2.0);
/// The same for two strings at once.
const GOAL_OF_TWO: (f64, f64) = (1.0, 10.0);

/// What is played in a row, in how many notes.
pub type Play = fn(&mut Player<'_>, usize);
/// What becomes of the sound; the band, if one is known.
pub type Spoil = fn(&mut [f32]) -> Option<Vec<f32>>;

pub struct Row {
    pub name: &'static str,
    pub instrument: Instrument,
    pub range: (f64, f64),
    pub play: Play,
    pub spoil: Spoil,
    /// Per 100: told wrong and told missed, at most.
    pub most: (f64, f64),
}

fn plain(_: &mut [f32]) -> Option<Vec<f32>> {
    None
}

fn guitar(name: &'static str, play: Play, most: (f64, f64)) -> Row {
    Row {
        name,
        instrument: Instrument::Guitar,
        range: (43.0, 79.0),
        play,
        spoil: plain,
        most,
    }
}

fn through(name: &'static str, spoil: Spoil, most: (f64, f64)) -> Row {
    Row {
        spoil,
        ..guitar(name, |p, n| p.line(n, 0.4, 0.38, |_| ()), most)
    }
}

fn on(instrument: Instrument, range: (f64, f64), row: Row) -> Row {
    Row {
        instrument,
        range,
        ..row
    }
}

pub fn band(frames: usize) -> Vec<f32> {
    let mut player = Player::new(99, (28.0, 50.0), None);
    player.line(frames / 12_000 + 4, 0.25, 0.24, |note: &mut Sounding| {
        note.noise = 2.0
    });
    let mut sound = player.take().sound;
    sound.resize(frames, 0.0);
    sound
}

pub fn with_band<const UNDER_DB: u32>(sound: &mut [f32]) -> Option<Vec<f32>> {
    let band = band(sound.len());
    bleed(sound, &band, UNDER_DB as f32);
    Some(band)
}

fn dark(note: &mut Sounding) {
    (note.dies, note.long_s, note.noise) = ((6.0, 3.0), 0.3, 0.1);
}

/// How a singer comes to a note: from so many semitones below, in so many seconds to a third of it.
const SCOOP: (f64, f64) = (1.5, 0.03);
const DEEP_SCOOP: (f64, f64) = (3.0, 0.05);

#[rustfmt::skip]
pub fn rows() -> Vec<Row> {
    use Instrument::{Bass, Guitar, Voice};
    vec![
        guitar("single notes", |p, n| p.line(n, 0.7, 0.6, |_| ()), GOAL),
        guitar("legato eighths at 120", |p, n| p.line(n, 0.25, 0.245, |_| ()), GOAL),
        guitar("legato eighths at 200", |p, n| p.line(n, 0.15, 0.145, |_| ()), GOAL),
        guitar("staccato", |p, n| p.line(n, 0.3, 0.13, |_| ()), GOAL),
        guitar("the same note again", |p, n| p.repeated(n, 0.25, 0.24), GOAL),
        guitar("the same note, ringing", |p, n| p.repeated(n, 0.25, 0.26), GOAL),
        guitar("bend of a tone", |p, n| p.glide(n, 2.0, 0.08, 0.15), GOAL),
        guitar("slow bend", |p, n| p.glide(n, 2.0, 0.2, 0.4), GOAL),
        guitar("bend and release", |p, n| p.bent_and_let_down(n, 2.0), GOAL),
        guitar("pre-bend let down", |p, n| p.glide(n, -2.0, 0.15, 0.2), GOAL),
        guitar("slide up a third", |p, n| p.glide(n, 4.0, 0.1, 0.12), GOAL),
        guitar("slide down a fifth", |p, n| p.glide(n, -7.0, 0.12, 0.15), (10.0, 2.0)),
        guitar("grace note slid in", |p, n| p.glide(n, 1.0, 0.0, 0.06), GOAL),
        guitar("hammer-on", |p, n| p.slurred(n, 2.0, 0.05), GOAL),
        guitar("pull-off", |p, n| p.slurred(n, -2.0, 0.1), GOAL),
        guitar("trill", |p, n| p.trill(n), GOAL),
        guitar("slow vibrato of 30 cents", |p, n| p.vibrato(n, 30.0, 3.0), GOAL),
        guitar("vibrato of 30 cents", |p, n| p.vibrato(n, 30.0, 5.5), GOAL),
        guitar("vibrato of 60 cents", |p, n| p.vibrato(n, 60.0, 5.5), GOAL),
        guitar("ghost strokes between", |p, n| p.with_mutes(n, 0.3), GOAL),
        guitar("mutes between", |p, n| p.with_mutes(n, 1.0), GOAL),
        guitar("palm mute", |p, n| p.line(n, 0.35, 0.3, dark), GOAL),
        guitar("overlap of 0.06 s", |p, n| p.line(n, 0.3, 0.36, |_| ()), GOAL),
        guitar("overlap of 0.12 s", |p, n| p.line(n, 0.3, 0.42, |_| ()), GOAL),
        guitar("overlap of 0.25 s", |p, n| p.line(n, 0.3, 0.55, |_| ()), GOAL),
        guitar("two strings ringing", |p, n| p.line(n, 0.5, 1.0, |_| ()), GOAL),
        guitar("let ring", |p, n| p.let_ring(n), GOAL),
        guitar("over a drone", |p, n| p.over_a_drone(n), GOAL),
        guitar("open strings 26 dB under", |p, n| p.sympathetic(n, 26.0), GOAL),
        guitar("double stop, third", |p, n| p.double_stops(n, 4.0), GOAL_OF_TWO),
        guitar("double stop, fourth", |p, n| p.double_stops(n, 5.0), GOAL_OF_TWO),
        guitar("double stop, sixth", |p, n| p.double_stops(n, 9.0), GOAL_OF_TWO),
        guitar("double stop, octave", |p, n| p.double_stops(n, 12.0), GOAL_OF_TWO),
        guitar("soft notes, 15 dB under", |p, n| p.soft(n, 15.0), GOAL),
        guitar("soft notes, 22 dB under", |p, n| p.soft(n, 22.0), GOAL),
        through("drive", |s| { drive(s, 12.0); None }, GOAL),
        through("much drive", |s| { drive(s, 60.0); None }, GOAL),
        through("compressor", |s| { compress(s); None }, GOAL),
        through("hum of 50 Hz 40 dB under", |s| { hum(s, 50.0, -40.0, -70.0); None }, GOAL),
        through("hum of 50 Hz 26 dB under", |s| { hum(s, 50.0, -26.0, -70.0); None }, GOAL),
        through("hum of 60 Hz 26 dB under", |s| { hum(s, 60.0, -26.0, -70.0); None }, GOAL),
        through("hiss 36 dB under", |s| { hum(s, 50.0, -70.0, -36.0); None }, GOAL),
        through("clipping", |s| { clip(s, 4.0); None }, GOAL),
        through("slapback", |s| { echo(s, 0.11, 0.4, 1); None }, GOAL),
        through("echo", |s| { echo(s, 0.35, 0.4, 4); None }, GOAL),
        through("room", |s| { room(s, 0.3); None }, GOAL),
        through("band in headphones only", |s| Some(band(s.len())), GOAL),
        through("band 20 dB under", with_band::<20>, GOAL),
        through("band 15 dB under", with_band::<15>, GOAL),
        through("band 10 dB under", with_band::<10>, GOAL),
        on(Guitar, (35.0, 47.0), guitar("seven strings, low", |p, n| p.line(n, 0.4, 0.38, |_| ()), GOAL)),
        on(Bass, (28.0, 48.0), guitar("bass guitar", |p, n| p.line(n, 0.4, 0.38, |_| ()), GOAL)),
        on(Bass, (23.0, 35.0), guitar("bass guitar, low B", |p, n| p.line(n, 0.5, 0.45, |_| ()), GOAL)),
        on(Voice, (48.0, 67.0), guitar("sung eighths", |p, n| p.sung(n, 0.3, SCOOP), GOAL)),
        on(Voice, (48.0, 67.0), guitar("sung quarters", |p, n| p.sung(n, 0.6, SCOOP), GOAL)),
        on(Voice, (48.0, 67.0), guitar("sung quarters, deep scoops", |p, n| p.sung(n, 0.6, DEEP_SCOOP), GOAL)),
    ]
}
