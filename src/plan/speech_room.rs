//! How much of a stage finds room to be said: for `check`, before anyone plays.

use super::cues::CuePlanner;
use super::pass::PassSettings;
use super::pass_writer::PassWriter;
use super::steps::{counts, steps};
use super::timeline::Timeline;
use super::{Loop, Material, Standing};
use crate::audio::CueForm;
use crate::drill::Names;
use crate::time::{Anchor, Frame, Tick, UsPerQuarter};
use std::sync::Arc;

/// The frames of a second here: only the proportions count.
const RATE: u32 = 48_000;

/// How many chords of a pass are announced in which length.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct VoiceRoom {
    /// With all their notes.
    pub full: usize,
    /// Shortened, to the chord or its root.
    pub short: usize,
    /// Not at all: the page alone tells them.
    pub none: usize,
}

/// What the voice can say of the first pass that is played of stage `stage` over one item of the form, going round at `tempo`;
/// nothing where the stage asks for no voice or is out of time. `length_ms` tells how long a text takes to say
/// (`None`: it cannot be said).
pub fn said_in_first_pass(
    material: &Arc<Material>,
    (stage, item): (usize, usize),
    tempo: UsPerQuarter,
    names: Names,
    length_ms: &mut dyn FnMut(&str) -> Option<f64>,
) -> VoiceRoom {
    let standing = Standing {
        looping: Loop::Item(item),
        stage,
        ..Standing::first()
    };
    let cycle = standing.stage_of(material).cycle;
    let pass = cycle.before_playing() % cycle.passes();
    let standing = Standing { pass, ..standing };
    let mut said = VoiceRoom::default();
    if !standing.stage_of(material).pulse {
        return said;
    }
    let settings = PassSettings {
        seed: 1,
        ..PassSettings::default()
    };
    let material = &standing.walked(material);
    let lap = standing.lap(material);
    let (len, bars) = (lap.len, lap.bars.len());
    let writer = PassWriter {
        material,
        standing: &standing,
        tempo,
        settings: &settings,
    };
    let pass = Arc::new(writer.music(lap, None, false));
    let mut timeline = Timeline::new(Anchor::new(Tick(0), Frame(0), tempo, RATE));
    // What sounds before the first chord of the pass is the pass itself: it goes round.
    timeline.push(pass.clone(), 0, bars);
    timeline.push(pass, 0, bars);
    let ms = |tick: Tick| tick.quarters() * 60_000.0 / tempo.qpm();
    let (steps, counts) = (steps(&timeline), counts(&timeline));
    let cues = CuePlanner::new(&steps, &counts, &ms).target_cues(names, None);
    for cue in cues.iter().filter(|cue| cue.deadline >= len) {
        let fits = |text: &str, length_ms: &mut dyn FnMut(&str) -> Option<f64>| {
            let length = length_ms(text).unwrap_or(f64::MAX);
            let room = |&(from, to): &(Tick, Tick)| ms(to) - ms(from) >= length;
            cue.windows.iter().any(room)
        };
        let choices = cue.phrases.choices(cue.limit);
        let first = choices.iter().find(|(_, text)| fits(text, length_ms));
        match first {
            Some((CueForm::Full, _)) => said.full += 1,
            Some(_) => said.short += 1,
            None => said.none += 1,
        }
    }
    said
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::Chart;
    use crate::drill::Drill;
    use crate::fault::Source;
    use crate::harmony::Habits;

    #[test]
    fn the_faster_the_less_is_said() {
        let chart = "title = 'x'\n[[section]]\nname = 'A'\nbars = ['Dm7', 'G7', 'Cmaj7', 'A7']\n";
        let drill = "title = 'y'\n[[stage]]\nname = 's'\ndegrees = ['1', '3']\nfigure = ['1', '3']\n\
            places = ['1']\nhelp = { voice = 'always' }\n";
        let chart = Chart::read(&Source {
            name: "c",
            text: chart,
        })
        .unwrap();
        let drill = Drill::read(&Source {
            name: "d",
            text: drill,
        })
        .unwrap();
        let material = Arc::new(Material::new(chart, drill, Habits::default()));
        let at = |qpm: f64, ms: f64| {
            let tempo = UsPerQuarter::from_qpm(qpm);
            let said =
                said_in_first_pass(&material, (0, 0), tempo, Names::English, &mut |_| Some(ms));
            (said.full, said.short, said.none)
        };
        // Above 180 quarters a minute nothing is said (common practice, no source).
        for (qpm, ms, expected) in [
            (60.0, 800.0, (4, 0, 0)),
            (100.0, 800.0, (4, 0, 0)),
            (60.0, 60_000.0, (0, 0, 4)),
            (200.0, 100.0, (0, 0, 4)),
        ] {
            assert_eq!(at(qpm, ms), expected, "{ms} ms at {qpm}");
        }
        let (full, short, none) = at(130.0, 300.0);
        assert!(
            full == 0 && short > 0 && short + none == 4,
            "{short} {none}"
        );
    }
}
