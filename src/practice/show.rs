//! What stands on the page: from the state of the core to a `Page`.

mod slots;
mod task;
mod telling;

use self::slots::{chord_of, slot};
pub(super) use self::telling::{page_record, place_at, say_again, section_name, vocabulary};
use crate::display::{ArmedLine, BreathePage, Large, Page, Phase, PracticePage, SetOnPage};
use crate::drill::PageHelp;
use crate::plan::Material;
use crate::plan::pass::{Pass, PassKind};
use crate::plan::steps::Step;
use crate::plan::take::TakePlan;
use crate::plan::turns::{self, Unit};
use crate::practice::core::Core;
use crate::practice::summary_words;
use crate::time::{Meter, PPQ, Tick};

/// The page as it stands.
pub(super) fn page(core: &Core) -> Page {
    if let Some(message) = &core.message {
        return message.clone();
    }
    if let Some(menu) = &core.menu {
        let (items, chosen) = menu.lines();
        return Page::Menu { items, chosen };
    }
    if let Some(tuning) = core.tuning.as_ref().filter(|_| core.is_tuning()) {
        return Page::Tuning(tuning.page(&core.settings.neck, core.settings.names));
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
    let dotted_qpm = dotted_qpm(core);
    match core.paused_bar {
        Some(bar) => Page::Paused {
            section,
            stage,
            bar,
            tempo_qpm,
            dotted_qpm,
        },
        None => {
            let title = core.material.chart.title.clone();
            let mut notes = states(core);
            if core.standing.longer > 1 {
                notes.push(chord_length(&core.material));
            }
            Page::Ready {
                title,
                stage,
                section,
                tempo_qpm,
                dotted_qpm,
                notes,
            }
        }
    }
}

/// Dotted quarters a minute, where the meter here counts those.
pub(super) fn dotted_qpm(core: &Core) -> Option<u32> {
    let meter = meter_here(core)?;
    let a_minute = core.tempo.qpm() * f64::from(PPQ as i32) / meter.count_ticks().0 as f64;
    meter.is_compound().then_some(a_minute.round() as u32)
}

/// The meter of the bar that sounds, or of the first one where nothing does.
fn meter_here(core: &Core) -> Option<Meter> {
    let Some(take) = &core.take else {
        let first = core.standing.form_bars(&core.material).first().copied();
        let bar = core.material.form.bars.get(first.unwrap_or(0))?;
        return Some(bar.meter);
    };
    let now = take.timeline.tick(core.now);
    let segment = take.timeline.segment_at(now)?;
    Some(segment.pass.lap.bars[segment.bar_at(now)].meter)
}

/// How long the chords are, in words.
pub(super) fn chord_length(material: &Material) -> String {
    match material.chords_last() {
        1 => "chords as written".to_string(),
        times => format!("chords x{times}"),
    }
}

fn states(core: &Core) -> Vec<String> {
    let lost = core.lost.iter().cloned();
    lost.chain(core.devices.iter().map(|device| format!("{device} lost")))
        .collect()
}

fn playing_page(core: &Core, take: &TakePlan) -> Page {
    let now = take.timeline.tick(core.now);
    let shown = take.shown.unwrap_or(turns::PageTurn {
        at: now,
        unit: 0,
        large: Large::Next,
    });
    let Some(unit) = take.units.get(shown.unit) else {
        return resting_page(core);
    };
    let upper = &take.steps[unit.first];
    // Only the page of notes has room for what is amiss.
    let sounds = core.lost.is_none();
    match upper.pass.kind {
        PassKind::CountIn if now < unit.end && sounds => count_in_page(core, take, unit, now),
        PassKind::Breathe if shown.large == Large::Now && sounds => {
            breathe_page(core, take, unit, now)
        }
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

fn count_in_page(core: &Core, take: &TakePlan, unit: &Unit, now: Tick) -> Page {
    let upper = &take.steps[unit.first];
    let (count, of) = count_at(upper, now);
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

/// The count that sounds in a step's bar, and how many the bar has.
fn count_at(step: &Step, now: Tick) -> (u32, u32) {
    let bars = &step.pass.lap.bars;
    let within = now - step.origin;
    let bar = bars.iter().rev().find(|bar| bar.start <= within);
    bar.or(bars.first()).map_or((1, 4), |bar| {
        let count = (within - bar.start).0 / bar.meter.count_ticks().0 + 1;
        (count.max(1) as u32, u32::from(bar.meter.counts()))
    })
}

fn breathe_page(core: &Core, take: &TakePlan, unit: &Unit, now: Tick) -> Page {
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
    if !core.hearing.is_waiting() {
        let standing = &upper.pass.standing;
        let round = standing.round(&upper.pass.material);
        let summary = core.summary.of_round(&lines[0], round);
        let told = summary.map(|summary| summary_words::lines(&summary));
        if let Some(told) = told.filter(|told| !told.is_empty()) {
            lines.truncate(1);
            lines.extend(told);
        }
    }
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

fn practice_page(core: &Core, take: &TakePlan, shown: turns::PageTurn, now: Tick) -> PracticePage {
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
    // Out of time nothing comes that could be counted down to.
    let is_held = sounding.is_some_and(|step| step.pass.kind == PassKind::Held);
    let change = take
        .steps
        .iter()
        .find(|step| step.start > now)
        .map_or(now, |step| step.start);
    PracticePage {
        now: upper.map_or(empty.clone(), |unit| slot(core, take, unit, now)),
        next: lower.map_or(empty, |unit| slot(core, take, unit, now)),
        large: if is_held { Large::Now } else { shown.large },
        chord_now: chord(upper),
        chord_next: chord(lower),
        section,
        stage: standing.stage_of(&core.material).name.clone(),
        places: places_of(take, shown),
        phase: standing.phase(&core.material),
        bar: bar.unwrap_or(0),
        count: sounding
            .filter(|step| step.pass.kind == PassKind::CountIn)
            .map(|step| count_at(step, now).0),
        bars: sounding.map_or(0, |step| chart_bars(&step.pass)),
        beats_to_change: match is_held {
            true => 0,
            false => beats_between(take, now, change),
        },
        tempo_qpm: match is_held {
            true => 0,
            false => core.tempo.qpm().round() as u32,
        },
        dotted_qpm: dotted_qpm(core).filter(|_| !is_held),
        armed: armed_line(core, take, now),
        note: lower
            .and_then(|unit| note_of(&take.steps[unit.first]))
            .unwrap_or_default(),
        states: states(core),
    }
}

/// Where the notes of the large set's pass fall.
fn places_of(take: &TakePlan, shown: turns::PageTurn) -> String {
    let large = shown.unit + usize::from(shown.large == Large::Next);
    let step = take.units.get(large).map(|unit| &take.steps[unit.first]);
    step.map(task::places_text).unwrap_or_default()
}

/// How many bars of the chart a pass goes through: as they are numbered, however often each comes.
fn chart_bars(pass: &Pass) -> u32 {
    let times = match pass.kind {
        PassKind::Music(_) => pass.material.chords_last(),
        _ => 1,
    };
    pass.lap.bars.len() as u32 / times
}

/// What is armed; for a moment after a press that arms nothing, what it did.
fn armed_line(core: &Core, take: &TakePlan, now: Tick) -> Option<ArmedLine> {
    let armed = take.armed.as_ref().map(|armed| ArmedLine {
        what: armed.what.clone(),
        when: match bars_between(take, now, armed.cut) {
            1 => "in 1 bar".to_string(),
            bars => format!("in {bars} bars"),
        },
    });
    let done = || {
        let (what, when) = core.just_done()?;
        Some(ArmedLine { what, when })
    };
    armed.or_else(done)
}

fn beats_between(take: &TakePlan, from: Tick, to: Tick) -> u32 {
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

fn bars_between(take: &TakePlan, from: Tick, to: Tick) -> u32 {
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

/// The teacher's note; none where the stage hides even the symbol: it would give the chord away.
fn note_of(step: &Step) -> Option<String> {
    if step.pass.help.page == PageHelp::Off {
        return None;
    }
    let chord = step.form_chord()?;
    step.pass.material.form.chords.get(chord)?.note.clone()
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
