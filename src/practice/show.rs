//! What stands on the page: from the state of the core to a `Page`.

use super::core::Core;
use super::course::{Loop, Standing};
use super::event::Recorded;
use super::flips::{self, Unit};
use super::pass::PassKind;
use super::plan::Take;
use super::steps::Step;
use super::{Material, cues};
use crate::display::{
    ArmedLine, BreathePage, Cell, Large, NeckDot, NeckOnPage, Page, Phase, PracticePage, SetOnPage,
    degree_word, note_name,
};
use crate::drill::{Direction, Names, PageHelp, TargetNote};
use crate::fretboard::Neck;
use crate::harmony::{ChordInContext, Degree, Harmony, Role};
use crate::speech::{self, PhraseSet};
use crate::time::Tick;

/// The page as it stands.
pub(super) fn page(core: &Core) -> Page {
    if let Some(message) = &core.message {
        return message.clone();
    }
    if let Some(menu) = &core.menu {
        let (items, chosen) = menu.lines();
        return Page::Menu { items, chosen };
    }
    match &core.take {
        Some(take) => playing_page(core, take),
        None => resting_page(core),
    }
}

fn resting_page(core: &Core) -> Page {
    let stage = core.standing.stage_of(&core.material).name.clone();
    let section = section_name(&core.material, &core.standing);
    let tempo_qpm = core.tempo.qpm().round() as u32;
    match core.paused_bar {
        Some(bar) => Page::Paused {
            section,
            stage,
            bar,
            tempo_qpm,
        },
        None => {
            let title = core.material.chart.title.clone();
            Page::Ready {
                title,
                stage,
                section,
                tempo_qpm,
                notes: states(core),
            }
        }
    }
}

fn states(core: &Core) -> Vec<String> {
    let lost = core.lost.iter().cloned();
    lost.chain(core.devices.iter().map(|device| format!("{device} lost")))
        .collect()
}

fn playing_page(core: &Core, take: &Take) -> Page {
    let now = take.timeline.tick(core.now);
    let shown = take.shown.unwrap_or(flips::Flip {
        at: now,
        unit: 0,
        large: Large::Next,
    });
    let Some(unit) = take.units.get(shown.unit) else {
        return resting_page(core);
    };
    let upper = &take.steps[unit.first];
    match upper.pass.kind {
        PassKind::CountIn if now < unit.end => count_in_page(core, take, unit, now),
        PassKind::Breathe if shown.large == Large::Now => breathe_page(core, take, unit, now),
        _ => {
            let page = Box::new(practice_page(core, take, shown, now));
            match core.lost_clock() {
                Some(source) => Page::ClockLost {
                    source: source.name().to_string(),
                    doing: format!("holding {:.0}", core.tempo.qpm()),
                    below: page,
                },
                None => Page::Practice(page),
            }
        }
    }
}

fn count_in_page(core: &Core, take: &Take, unit: &Unit, now: Tick) -> Page {
    let upper = &take.steps[unit.first];
    let lap = &upper.pass.lap;
    let within = now - upper.origin;
    let bar = lap
        .bars
        .iter()
        .rev()
        .find(|bar| bar.start <= within)
        .or(lap.bars.first());
    let (count, of) = bar.map_or((1, 4), |bar| {
        let count = (within - bar.start).0 / bar.meter.count_ticks().0 + 1;
        (count.max(1) as u32, u32::from(bar.meter.counts()))
    });
    let first = take.units.get(1);
    Page::CountIn {
        count,
        of,
        first: first
            .map(|unit| slot(core, take, unit, now))
            .unwrap_or_default(),
        chord: first
            .map(|unit| chord_of(&take.steps[unit.first], core.settings.names))
            .unwrap_or_default(),
        section: section_name(&core.material, &upper.pass.standing),
        stage: upper
            .pass
            .standing
            .stage_of(&upper.pass.material)
            .name
            .clone(),
    }
}

fn breathe_page(core: &Core, take: &Take, unit: &Unit, now: Tick) -> Page {
    let upper = &take.steps[unit.first];
    let lap = &upper.pass.lap;
    let gone = lap
        .bars
        .iter()
        .filter(|bar| upper.origin + bar.start <= now)
        .count();
    let next = take.steps.get(unit.after).map(|step| {
        let stage = step.pass.standing.stage_of(&step.pass.material);
        format!(
            "{}: {}",
            phase_word(step.pass.standing.phase(&step.pass.material)),
            stage.name
        )
    });
    let mut lines = vec![
        upper
            .pass
            .standing
            .stage_of(&upper.pass.material)
            .name
            .clone(),
    ];
    lines.push(format!(
        "section {}",
        section_name(&core.material, &upper.pass.standing)
    ));
    let rest_after = u64::from(core.settings.rest_after_min);
    if rest_after > 0 && core.minutes() >= rest_after {
        lines.push(format!("{} minutes: rest your hands", core.minutes()));
    }
    Page::Breathe(BreathePage {
        lines,
        bars_left: (lap.bars.len() - gone.min(lap.bars.len())) as u32 + 1,
        then: next.unwrap_or_default(),
    })
}

/// What the player is asked to do, in a word.
pub(super) fn phase_word(phase: Phase) -> &'static str {
    match phase {
        Phase::Listen => "listen",
        Phase::Sing => "sing",
        Phase::Play => "play",
        Phase::Breathe => "breathe",
    }
}

fn practice_page(core: &Core, take: &Take, shown: flips::Flip, now: Tick) -> PracticePage {
    let empty = SetOnPage::default();
    let (upper, lower) = (take.units.get(shown.unit), take.units.get(shown.unit + 1));
    let names = core.settings.names;
    let chord = |unit: Option<&Unit>| {
        unit.map(|unit| chord_of(&take.steps[unit.first], names))
            .unwrap_or_default()
    };
    let sounding = take
        .steps
        .iter()
        .find(|step| step.start <= now && now < step.end);
    let standing = sounding.map_or(&core.standing, |step| &step.pass.standing);
    let (section, bar) = place_at(core, now);
    let change = take
        .steps
        .iter()
        .find(|step| step.start > now)
        .map_or(now, |step| step.start);
    PracticePage {
        now: upper.map_or(empty.clone(), |unit| slot(core, take, unit, now)),
        next: lower.map_or(empty, |unit| slot(core, take, unit, now)),
        large: shown.large,
        chord_now: chord(upper),
        chord_next: chord(lower),
        section,
        stage: standing.stage_of(&core.material).name.clone(),
        phase: standing.phase(&core.material),
        bar: bar.unwrap_or(0),
        bars: sounding.map_or(0, |step| step.pass.lap.bars.len() as u32),
        beats_to_change: beats_between(take, now, change),
        tempo_qpm: core.tempo.qpm().round() as u32,
        armed: take.armed.as_ref().map(|armed| ArmedLine {
            what: armed.what.clone(),
            when: format!("in {} bars", bars_between(take, now, armed.cut)),
        }),
        note: lower
            .and_then(|unit| note_of(&take.steps[unit.first]))
            .unwrap_or_default(),
        states: states(core),
    }
}

fn beats_between(take: &Take, from: Tick, to: Tick) -> u32 {
    let beat = take
        .timeline
        .segment_at(from)
        .map_or(crate::time::PPQ, |segment| {
            segment.pass.lap.bars[segment.bar_at(from)]
                .meter
                .count_ticks()
                .0
        });
    (((to - from).0 + beat - 1) / beat.max(1)).max(0) as u32
}

fn bars_between(take: &Take, from: Tick, to: Tick) -> u32 {
    let lines = take.timeline.segments().flat_map(|s| {
        s.bars()
            .map(|(bar, _)| s.bar_start(bar))
            .collect::<Vec<_>>()
    });
    lines
        .filter(|line| *line > from && *line <= to)
        .count()
        .max(1) as u32
}

fn note_of(step: &Step) -> Option<String> {
    let chord = step.form_chord()?;
    step.pass.material.form.chords.get(chord)?.note.clone()
}

/// The chord symbol as the page shows it ("" where the stage hides it).
fn chord_of(step: &Step, _names: Names) -> String {
    if step.pass.help.page == PageHelp::Off {
        return String::new();
    }
    step.chord
        .and_then(|chord| step.pass.context(chord))
        .map(symbol_text)
        .unwrap_or_default()
}

/// A chord symbol as the user wrote it, with proper accidentals; silence as N.C.
pub(super) fn symbol_text(context: &ChordInContext) -> String {
    match &context.harmony {
        Harmony::Chord(symbol) => symbol.pretty(),
        Harmony::Silence => "N.C.".to_string(),
    }
}

fn slot(core: &Core, take: &Take, unit: &Unit, now: Tick) -> SetOnPage {
    let names = core.settings.names;
    let steps = &take.steps[unit.first..unit.after];
    if let [step] = steps {
        return SetOnPage {
            neck: neck_on_page(step, &core.settings.neck),
            ..set_on_page(step, names)
        };
    }
    let cell = |step: &Step| Cell {
        chord: chord_of(step, names),
        words: set_on_page(step, names).words,
    };
    SetOnPage {
        cells: steps.iter().map(cell).collect(),
        current: steps
            .iter()
            .position(|step| step.start <= now && now < step.end),
        ..SetOnPage::default()
    }
}

fn set_on_page(step: &Step, names: Names) -> SetOnPage {
    let Some(set) = step.set() else {
        return SetOnPage::default();
    };
    let words: Vec<String> = match step.pass.help.page {
        PageHelp::Notes => set
            .notes
            .iter()
            .map(|note| note_name(note.pitch, names))
            .collect(),
        PageHelp::Degrees => set
            .notes
            .iter()
            .map(|note| degree_word(note.degree).to_string())
            .collect(),
        PageHelp::Symbol | PageHelp::Off => Vec::new(),
    };
    if words.is_empty() {
        return SetOnPage::default();
    }
    let marks = set.notes.iter().map(mark).collect();
    let context = step.chord.and_then(|chord| step.pass.context(chord));
    let special = context
        .map(|context| special(context, &set.notes))
        .unwrap_or_default();
    SetOnPage {
        words,
        marks,
        special,
        ..SetOnPage::default()
    }
}

/// Where the notes of a set lie, where the page names them.
fn neck_on_page(step: &Step, neck: &Neck) -> Option<NeckOnPage> {
    if !matches!(step.pass.help.page, PageHelp::Notes | PageHelp::Degrees) {
        return None;
    }
    let places = step.pass.places.get(step.chord?)?;
    let dots = step.set()?.notes.iter().zip(places);
    let dots: Vec<NeckDot> = dots
        .filter_map(|(note, place)| {
            let place = (*place)?;
            Some(NeckDot {
                string: place.string,
                fret: place.fret,
                root: note.degree == Degree::new(1, 0),
            })
        })
        .collect();
    (!dots.is_empty()).then_some(NeckOnPage {
        dots,
        strings: neck.tuning.open_keys().len() as u8,
        capo: neck.capo,
        frets: neck.frets.saturating_sub(neck.capo),
        left_handed: neck.left_handed,
    })
}

fn mark(note: &TargetNote) -> String {
    match note.direction {
        Direction::Under => "under".to_string(),
        Direction::Above => "above".to_string(),
        Direction::Near | Direction::Free => String::new(),
    }
}

/// What differs from the plain degree and would surprise: the flat second, the raised fourth, altered notes.
fn special(context: &ChordInContext, notes: &[TargetNote]) -> Vec<String> {
    let plain = |degree: Degree| match degree.number {
        3 | 7 => true,
        _ => degree.alter == 0,
    };
    let of_set = notes
        .iter()
        .map(|note| note.degree)
        .filter(|degree| !plain(*degree));
    let mut special: Vec<Degree> = of_set.collect();
    let in_scale = context
        .degrees
        .iter()
        .filter(|degree| degree.role == Role::Passing);
    special.extend(
        in_scale
            .map(|degree| degree.degree)
            .filter(|degree| !plain(*degree)),
    );
    special.sort();
    special.dedup();
    let text = |degree: &Degree| {
        let sign = if degree.alter < 0 { "♭" } else { "♯" };
        format!(
            "{}{}",
            sign.repeat(usize::from(degree.alter.unsigned_abs())),
            degree.number
        )
    };
    special.iter().map(text).collect()
}

/// Whether the page shows cells now, of which the current one must be marked.
pub(super) fn is_grouped(core: &Core) -> bool {
    let Some(take) = &core.take else { return false };
    let Some(shown) = take.shown else {
        return false;
    };
    let units = take.units.iter().skip(shown.unit).take(2);
    units.into_iter().any(|unit| unit.after - unit.first > 1)
}

/// The line that tells of the page as it stands.
pub(super) fn page_record(core: &Core) -> Recorded {
    let page = page(core);
    let (name, now, next, large) = match &page {
        Page::Ready { .. } => ("ready", Vec::new(), Vec::new(), ""),
        Page::CountIn { first, .. } => ("count-in", Vec::new(), first.all_words(), "next"),
        Page::Practice(page) => {
            let large = match page.large {
                Large::Now => "now",
                Large::Next => "next",
                Large::Both => "both",
            };
            (
                "practice",
                page.now.all_words(),
                page.next.all_words(),
                large,
            )
        }
        Page::Breathe(_) => ("breathe", Vec::new(), Vec::new(), ""),
        Page::Paused { .. } => ("paused", Vec::new(), Vec::new(), ""),
        Page::Menu { .. } => ("menu", Vec::new(), Vec::new(), ""),
        Page::Message { .. } => ("message", Vec::new(), Vec::new(), ""),
        Page::Learn { .. } => ("learn", Vec::new(), Vec::new(), ""),
        Page::ClockLost { .. } => ("clock lost", Vec::new(), Vec::new(), ""),
    };
    let (mut chords, mut next_change) = (Vec::new(), None);
    if let (Some(take), "practice" | "count-in") = (&core.take, name) {
        let tick = take.timeline.tick(core.now);
        let unit = take.shown.map_or(0, |shown| shown.unit);
        let on_page = take.units.iter().skip(unit).take(2);
        let steps = on_page.flat_map(|unit| &take.steps[unit.first..unit.after]);
        chords = steps.filter_map(Step::form_chord).collect();
        let change = take.steps.iter().find(|step| step.start > tick);
        next_change = change.map(|step| take.timeline.frame(step.start));
    }
    Recorded::Page {
        page: name,
        now,
        next,
        large,
        chords,
        next_change,
    }
}

/// Section and bar (from 1) at a tick of the take; no bar in a count-in.
pub(super) fn place_at(core: &Core, tick: Tick) -> (String, Option<u32>) {
    let segment = core
        .take
        .as_ref()
        .and_then(|take| take.timeline.segment_at(tick));
    let Some(segment) = segment else {
        return (section_name(&core.material, &core.standing), None);
    };
    let material = &segment.pass.material;
    let form_bar = &material.form.bars[segment.pass.lap.bars[segment.bar_at(tick)].form_bar];
    let section = material.form.section_names[form_bar.section].clone();
    let counts = !matches!(segment.pass.kind, PassKind::CountIn);
    (section, counts.then_some(form_bar.bar))
}

/// The name of the section a standing goes through (the first one of a whole form).
pub(super) fn section_name(material: &Material, standing: &Standing) -> String {
    if standing.looping == Loop::Form {
        return "whole form".to_string();
    }
    let bar = standing.form_bars(material).first().copied().unwrap_or(0);
    let section = material.form.bars.get(bar).map_or(0, |bar| bar.section);
    material
        .form
        .section_names
        .get(section)
        .cloned()
        .unwrap_or_default()
}

/// What "say again" says: the set that is large on the page.
pub(super) fn say_again(core: &Core) -> PhraseSet {
    let Some(take) = &core.take else {
        let section = section_name(&core.material, &core.standing);
        let stage = &core.standing.stage_of(&core.material).name;
        let qpm = core.tempo.qpm().round() as u32;
        return PhraseSet::plain(speech::status_sentence(
            stage,
            &section,
            qpm,
            core.settings.names,
        ));
    };
    let shown = take
        .shown
        .map_or((0, Large::Next), |shown| (shown.unit, shown.large));
    let unit = if shown.1 == Large::Next {
        shown.0 + 1
    } else {
        shown.0
    };
    let step = take.units.get(unit).map(|unit| &take.steps[unit.first]);
    step.and_then(|step| cues::phrases_of(step, core.settings.names))
        .unwrap_or_default()
}

/// Every phrase that a drill over a chart may say: targets of all its stages' first passes, the names of stages
/// and sections.
pub(super) fn vocabulary(material: &Material, names: Names) -> Vec<PhraseSet> {
    let mut phrases: Vec<PhraseSet> = Vec::new();
    let mut add = |set: PhraseSet| {
        if !set.full.is_empty() && !phrases.contains(&set) {
            phrases.push(set);
        }
    };
    let stages = &material.drill.stages;
    stages
        .iter()
        .for_each(|stage| add(speech::stage_phrases(&stage.name)));
    material
        .form
        .section_names
        .iter()
        .for_each(|name| add(speech::section_phrases(name, names)));
    add(speech::stage_phrases("whole form"));
    let whole = material
        .form
        .lap(&(0..material.form.bars.len()).collect::<Vec<_>>());
    for stage in stages {
        for set in cues::phrases_of_lap(material, stage, &whole, names) {
            add(set);
        }
    }
    phrases
}
