//! What stands on the page: from the practice as it is now to a `Page`.

use super::armed::Armed;
use super::board::{Done, NowIs, QuietStart};
use super::choice_words;
use super::coming::tasks;
use super::counting::{count_at, counted};
use super::proposal_words;
use super::set_words;
use super::settings::Library;
use super::slots::{chord_of, slot};
use super::summary_words;
use super::task::{doing_word, places_text};
use super::view::{View, section_name};
use crate::display::{ArmedLine, BreathePage, Large, Page, PracticePage, tempo_parts};
use crate::drill::PageHelp;
use crate::foot::{Action, Menu};
use crate::glossary;
use crate::plan::Material;
use crate::plan::page_units::Unit;
use crate::plan::pass::{Pass, PassKind};
use crate::plan::steps::PlanStep;
use crate::plan::take::TakePlan;
use crate::plan::turns::PageTurn;
use crate::time::{PPQ, Tick};

/// What the page says before a take that is quieter than the kept level.
const QUIET_START: &str = "quiet start";
/// What the page says for a moment when new settings, charts or a new drill came.
pub(super) const NEW_SETTINGS: &str = "new settings";
/// What page and voice say while there is none.
pub(super) const NO_CHART: &str = "no chart yet";

/// The page as it stands.
pub(super) fn page(view: &View<'_>) -> Page {
    let board = view.board;
    if let Some((title, lines)) = board.message(view.running.is_some()) {
        let (title, lines) = (title.clone(), lines.clone());
        return Page::Message { title, lines };
    }
    if let Some(proposal) = board.proposal(view.running.is_some()) {
        let (title, lines) = proposal_words::proposal(proposal, &view.settings.map);
        return Page::Message { title, lines };
    }
    if let Some(menu) = &board.menu {
        return menu_page(view, menu);
    }
    match (view.plan(), &board.tuner) {
        (Some((plan, now)), _) => playing_page(view, plan, now),
        (None, Some(tuner)) => Page::Tuning(tuner.page(&view.settings.neck, view.settings.names)),
        (None, None) => (board.input.as_ref()).map_or_else(|| resting_page(view), |it| it.page()),
    }
}

/// The menu; below it what to play goes on.
fn menu_page(view: &View<'_>, menu: &Menu) -> Page {
    let (items, chosen) = menu.lines();
    let playing = view.plan().map(|(plan, now)| playing_page(view, plan, now));
    let below = match playing {
        Some(Page::Practice(page) | Page::ClockLost { below: page, .. }) => Some(page),
        _ => None,
    };
    let session = view.session;
    let done = view.board.just_done(view.now).map(done_line);
    let told = match (done, view.running) {
        (Some(done), _) => done.words(),
        (None, None) if !session.is_blank() => {
            let tempo = tempo_parts(session.tempo_here().qpm().round() as u32, view.dotted_qpm());
            let (stage, section) = (&session.stage().name, view.section());
            format!("{section} {stage} {}", tempo.join(" "))
        }
        (None, _) => String::new(),
    };
    Page::Menu {
        items,
        chosen,
        told,
        below,
    }
}

fn resting_page(view: &View<'_>) -> Page {
    let session = view.session;
    if session.is_blank() {
        return no_chart_page(view);
    }
    let (stage, section) = (session.stage().name.clone(), view.section());
    let tempo_qpm = session.tempo_here().qpm().round() as u32;
    let dotted_qpm = view.dotted_qpm();
    if let Some(bar) = view.paused_bar {
        return Page::Paused {
            section,
            stage,
            bar,
            tempo_qpm,
            dotted_qpm,
        };
    }
    let mut notes = view.states();
    notes.extend(set_words::ready(&session.library, session.chart));
    if session.standing.longer > 1 {
        notes.push(chord_length(&session.material));
    }
    if view.board.quiet_start == QuietStart::Ahead {
        notes.push(QUIET_START.to_string());
    }
    let done = view.board.just_done(view.now);
    let looked_for = [Action::WeakSpots, Action::Report, Action::Update].map(Action::name);
    let is_told = |done: &&Done| done.what == NEW_SETTINGS || looked_for.contains(&done.what);
    notes.extend(done.filter(is_told).map(|done| done_line(done).words()));
    Page::Ready {
        title: session.material.chart.title.clone(),
        stage,
        section,
        tempo_qpm,
        dotted_qpm,
        notes,
    }
}

/// What stands there until a chart is named.
fn no_chart_page(view: &View<'_>) -> Page {
    let named_in = view.settings.charts_named_in.clone();
    let how = vec!["charts = [\"...\"] in".to_string(), named_in];
    Page::Message {
        title: NO_CHART.to_string(),
        lines: how.into_iter().chain(view.states()).collect(),
    }
}

/// How long the chords are, in words.
fn chord_length(material: &Material) -> String {
    match material.chords_last() {
        1 => "chords as written".to_string(),
        2 => "each chord twice as long".to_string(),
        times => format!("each chord {times} times as long"),
    }
}

fn playing_page(view: &View<'_>, plan: &TakePlan, now: Tick) -> Page {
    let shown = plan.page.shown.unwrap_or(PageTurn {
        at: now,
        unit: 0,
        large: Large::Next,
    });
    let Some(unit) = plan.page.units.get(shown.unit) else {
        return resting_page(view);
    };
    let upper = &plan.steps()[unit.first];
    // Only the page of notes has room for what is amiss.
    let sounds = view.board.no_sound.is_none();
    match upper.pass.kind {
        PassKind::CountIn if now < unit.end && sounds => count_in_page(view, plan, upper, now),
        PassKind::Breathe if shown.large == Large::Now && sounds => {
            let after = plan.steps().get(unit.after);
            Page::Breathe(breathe_page(view, upper, after, now))
        }
        _ => {
            let page = Box::new(practice_page(view, plan, shown, now));
            match view.lost_clock {
                Some(source) => Page::ClockLost {
                    source: source.name().to_string(),
                    doing: format!("staying at {:.0}", view.session.tempo_here().qpm()),
                    below: page,
                },
                None => Page::Practice(page),
            }
        }
    }
}

fn stage_name(step: &PlanStep) -> String {
    let standing = &step.pass.standing;
    standing.stage_of(&step.pass.material).name.clone()
}

fn count_in_page(view: &View<'_>, plan: &TakePlan, upper: &PlanStep, now: Tick) -> Page {
    let (count, of) = count_at(upper, now);
    let (counts, at) = counted(upper, now);
    let next = PageTurn {
        at: now,
        unit: 0,
        large: Large::Next,
    };
    let (task, _) = tasks(plan, next, now, view.settings.names);
    let first = plan.page.units.get(1);
    Page::CountIn {
        count,
        of,
        counts,
        at,
        task,
        first: slot(view.settings, plan, 1, now),
        chord: first
            .map(|unit| chord_of(&plan.steps()[unit.first]))
            .unwrap_or_default(),
        section: section_name(&view.session.material, &upper.pass.standing),
        stage: stage_name(upper),
    }
}

fn breathe_page(
    view: &View<'_>,
    upper: &PlanStep,
    after: Option<&PlanStep>,
    now: Tick,
) -> BreathePage {
    let Pass {
        lap,
        standing,
        material,
        ..
    } = &*upper.pass;
    let begun = |bar: &&crate::chart::LapBar| upper.origin + bar.start <= now;
    let gone = lap.bars.iter().filter(begun).count();
    let then = after.map(|step| {
        let phase = step.pass.standing.phase(&step.pass.material);
        let stage = step.pass.standing.stage_of(&step.pass.material);
        let names = [Some(&stage.name), stage.call.as_ref()]
            .into_iter()
            .flatten();
        let word = doing_word(step, phase);
        let full = names.map(|name| format!("{word}, {name}"));
        full.chain([word.to_string()]).collect()
    });
    let stage = stage_name(upper);
    let summary = view.summary.of_round(&stage, standing.round(material));
    let summary = summary.filter(|_| !view.heard.is_waiting());
    let told = summary.map_or(Vec::new(), |summary| summary_words::lines(&summary));
    let mut lines = vec![stage];
    match told.is_empty() {
        true => lines.push(format!(
            "section {}",
            section_name(&view.session.material, standing)
        )),
        false => lines.extend(told),
    }
    let rest_after = u64::from(view.settings.rest_after_min);
    if rest_after > 0 && view.minutes >= rest_after {
        lines.push(format!("{} minutes: rest your hands", view.minutes));
    }
    BreathePage {
        lines,
        bars_left: (lap.bars.len() - gone.min(lap.bars.len())) as u32 + 1,
        then: then.unwrap_or_default(),
    }
}

fn practice_page(view: &View<'_>, plan: &TakePlan, shown: PageTurn, now: Tick) -> PracticePage {
    let (session, upper, lower) = (view.session, shown.unit, shown.unit + 1);
    let first = |unit: usize| plan.steps_of(unit).first();
    let chord = |unit: usize| first(unit).map(chord_of).unwrap_or_default();
    let sounding = plan.step_at(now);
    let standing = sounding.map_or(&session.standing, |step| &step.pass.standing);
    let (section, bar) = view.place_at(now);
    // Out of time nothing comes that could be counted down to.
    let is_held = sounding.is_some_and(|step| step.pass.kind == PassKind::Held);
    let in_time = |value: u32| if is_held { 0 } else { value };
    let change = plan.step_after(now).map_or(now, |step| step.start);
    let is_count_in = |step: &&PlanStep| step.pass.kind == PassKind::CountIn;
    let counting = sounding.filter(is_count_in);
    let large = if is_held { Large::Now } else { shown.large };
    let (mut task, then) = tasks(plan, PageTurn { large, ..shown }, now, view.settings.names);
    task.extend(found_so_far(view));
    task.extend(choice_words::proposed_start(
        plan,
        view,
        upper + usize::from(large == Large::Next),
    ));
    PracticePage {
        now: slot(view.settings, plan, upper, now),
        next: slot(view.settings, plan, lower, now),
        large,
        chord_now: chord(upper),
        chord_next: chord(lower),
        section,
        stage: standing.stage_of(&session.material).name.clone(),
        call: standing
            .stage_of(&session.material)
            .call
            .clone()
            .unwrap_or_default(),
        task,
        then,
        places: first(upper + usize::from(shown.large == Large::Next))
            .map(places_text)
            .unwrap_or_default(),
        phase: standing.phase(&session.material),
        bar: bar.unwrap_or(0),
        count: counting.map(|step| count_at(step, now).0),
        bars: sounding.map_or(0, |step| chart_bars(&step.pass)),
        beats_to_change: in_time(beats_between(plan, now, change)),
        tempo_qpm: in_time(session.tempo_here().qpm().round() as u32),
        dotted_qpm: view.dotted_qpm().filter(|_| !is_held),
        armed: armed_line(view, plan, now),
        note: first(lower).and_then(note_of).unwrap_or_default(),
        states: view.states(),
    }
}

/// How often the note was found that is looked for.
fn found_so_far(view: &View<'_>) -> Option<String> {
    let places = view.session.stage().find?;
    let times = view.running?.finding.times();
    Some(format!("{times} {} {places}", glossary::OF))
}

/// How many bars of the chart a pass goes through: as they are numbered, however often each comes.
fn chart_bars(pass: &Pass) -> u32 {
    let times = match pass.kind {
        PassKind::Music(_) => pass.material.chords_last(),
        PassKind::CountIn | PassKind::Breathe | PassKind::Held => 1,
    };
    pass.lap.bars.len() as u32 / times
}

/// What is armed; for a moment after a press that arms nothing, what it did.
fn armed_line(view: &View<'_>, plan: &TakePlan, now: Tick) -> Option<ArmedLine> {
    let Some(armed) = view.running.and_then(|running| running.armed.as_ref()) else {
        return view.board.just_done(view.now).map(done_line);
    };
    let lines = plan.timeline().bar_lines();
    let bars = lines.filter(|line| *line > now && *line <= armed.cut);
    Some(ArmedLine {
        what: armed_words(armed, &view.session.library),
        when: match bars.count().max(1) {
            1 => "in 1 bar".to_string(),
            bars => format!("in {bars} bars"),
        },
    })
}

/// What is armed, as the page shows it: the length of the chords by what comes of it, however often it was asked for.
pub(super) fn armed_words(armed: &Armed, library: &Library) -> String {
    let tune = set_words::armed_tune(armed, library);
    let actions = armed.actions.iter();
    let last_length = actions.clone().rposition(|one| *one == Action::ChordLength);
    let word = |(index, action): (usize, &Action)| match action {
        Action::ChordLength if last_length != Some(index) => None,
        Action::ChordLength => Some(chord_length(&armed.target.material)),
        // What it comes to is told below.
        Action::NextChart | Action::PreviousChart | Action::ToChart(_) if tune.is_some() => None,
        other => Some(other.name().to_string()),
    };
    let words = actions.enumerate().filter_map(word).chain(tune.clone());
    let words: Vec<String> = words.collect();
    words.join(", ")
}

fn done_line(done: &Done) -> ArmedLine {
    let when = match done.now {
        NowIs::LevelDb(db) => format!("{db:.0} dB"),
        NowIs::TempoQpm(qpm) => format!("{qpm:.0}"),
        NowIs::On(true) => "on".to_string(),
        NowIs::On(false) => "off".to_string(),
        NowIs::WhenStopped => "when stopped".to_string(),
        NowIs::Done => String::new(),
        NowIs::Looking => "looking".to_string(),
        NowIs::Found => "found".to_string(),
        NowIs::NoneFound => "none found".to_string(),
    };
    let what = done.what.to_string();
    ArmedLine { what, when }
}

fn beats_between(plan: &TakePlan, from: Tick, to: Tick) -> u32 {
    let segment = plan.segment_at(from);
    let beat = segment.map_or(PPQ, |segment| segment.meter_at(from).count_ticks().0);
    (((to - from).0 + beat - 1) / beat.max(1)).max(0) as u32
}

/// The teacher's note; none where the stage hides even the symbol: it would give the chord away.
fn note_of(step: &PlanStep) -> Option<String> {
    if step.pass.help.page == PageHelp::Off {
        return None;
    }
    let chord = step.form_chord()?;
    step.pass.material.form.chords.get(chord)?.note.clone()
}

/// Whether the page shows cells now, of which the current one must be marked.
pub(super) fn is_grouped(plan: &TakePlan) -> bool {
    let is_group = |unit: &Unit| unit.after - unit.first > 1;
    plan.page.shown.is_some() && plan.page.on_page().any(is_group)
}
