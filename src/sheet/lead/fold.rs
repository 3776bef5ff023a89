//! The order of playing folded back into sections, endings and a form.
//!
//! Bars that are always played one after the other are a block. A block becomes a section; endings that always
//! follow the same block become endings of its section. Whatever the signs were, the form plays exactly the
//! order found.

use super::bars::{Ready, ReadyBar};
use super::road::{Bracket, Road};
use super::warnings::{ImportError, short};
use super::written::{Measure, Sheet};
use crate::chart::{Chart, ChartBar, Ending, Feel, Melody, MelodyNote, Section};
use crate::harmony::{HabitChoices, Harmony, Key, KeyDeclaration, Mode};
use crate::time::Meter;
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

/// The most sections of a chart, and of a form.
const MAX_SECTIONS: usize = 200;
const MAX_FORM: usize = 500;
/// A double bar line parts sections of at least this many bars.
const LEAST_BARS: usize = 4;

/// Makes the chart of a sheet, its bars and its order of playing.
pub(super) fn fold(
    sheet: &mut Sheet,
    ready: Ready,
    mut road: Road,
    fallback: &str,
) -> Result<Chart, ImportError> {
    let label = |bar: usize| sheet.measures[bar].label.clone();
    road.tell(&mut sheet.warnings, label);
    let has_pickup = ready.has_pickup();
    let mut bars = ready.bars;
    let pickup = has_pickup.then(|| bars[0].clone());
    let order: Vec<usize> = road
        .order
        .iter()
        .copied()
        .filter(|bar| !(has_pickup && *bar == 0))
        .collect();
    if order.is_empty() {
        let rule = "its jumps play nothing but a pickup";
        return Err(ImportError(rule.to_string()));
    }
    let told = bars[order[0]].bar.key;
    let key = home_key(sheet, &bars, &order);
    settle_keys(&mut bars, key, told);
    let blocks = blocks(&sheet.measures, &road.brackets, &order);
    let sequence = sequence(&blocks, &order);
    let parts = parts(&blocks, &sequence, &road.brackets);
    let names = names(&sheet.measures, &parts, &blocks);
    if parts.sections.len() > MAX_SECTIONS || parts.form.len() > MAX_FORM {
        let rule = format!(
            "its repeats and jumps make {} sections, played {} times: a chart has at most {MAX_SECTIONS}, played \
             {MAX_FORM} times",
            parts.sections.len(),
            parts.form.len()
        );
        return Err(ImportError(rule));
    }
    let chord_pickup = pickup.as_ref().filter(|one| has_chord(&one.bar));
    if chord_pickup.is_none()
        && let Some(cell) = bars[order[0]].bar.cells.first_mut()
        && cell.harmony.is_none()
    {
        cell.harmony = Some(Harmony::Silence);
    }
    let first = bars[order[0]].bar.meter;
    let meter = pickup.as_ref().map_or(first, |one| one.bar.meter);
    let sections: Vec<Section> = parts
        .sections
        .iter()
        .zip(names)
        .map(|(part, name)| section(part, name, &blocks, &bars))
        .collect();
    let melody = Melody {
        pickup: pickup.as_ref().map_or(Vec::new(), |one| one.notes.clone()),
        sections: parts
            .sections
            .iter()
            .map(|part| melody_of(part, &blocks, &bars))
            .collect(),
    };
    let pickup = chord_pickup.map(|one| ChartBar {
        key,
        ..one.bar.clone()
    });
    let tempo_qpm = tempo(sheet);
    Ok(Chart {
        title: title(sheet, fallback),
        key,
        meter,
        tempo_qpm,
        feel: sheet.feel.unwrap_or_else(|| usual_feel(meter)),
        habits: HabitChoices::default(),
        form: parts.form,
        pickup,
        sections,
        melody: (!melody.is_empty()).then_some(melody),
    })
}

fn title(sheet: &Sheet, fallback: &str) -> String {
    let own = sheet.title.as_deref().map(str::trim);
    let found = own.filter(|title| !title.is_empty()).unwrap_or(fallback);
    let clean: String = found.split_whitespace().collect::<Vec<_>>().join(" ");
    match clean.is_empty() {
        true => "Untitled".to_string(),
        false => short(&clean),
    }
}

fn tempo(sheet: &mut Sheet) -> f64 {
    let Some(told) = sheet.tempo_qpm else {
        return 120.0;
    };
    let tempo = told.clamp(30.0, 300.0);
    if tempo != told {
        let what =
            format!("the tempo {told} lies outside 30 to 300 quarters a minute: {tempo} is taken");
        sheet.warnings.whole(what);
    }
    (tempo * 1000.0).round() / 1000.0
}

/// Where the file does not say: three beats are a waltz, compound meters are even.
fn usual_feel(meter: Meter) -> Feel {
    match (meter.is_compound(), meter.beats(), meter.unit()) {
        (true, _, _) => Feel::Straight,
        (false, 3, 4) => Feel::Waltz,
        _ => Feel::Swing,
    }
}

fn has_chord(bar: &ChartBar) -> bool {
    bar.cells.iter().any(|cell| cell.harmony.is_some())
}

/// The key at the start. Many programs write "major" whatever the key is: where the tune ends on the minor chord
/// of the same signature, only the signature is taken.
fn home_key(sheet: &mut Sheet, bars: &[ReadyBar], order: &[usize]) -> Option<KeyDeclaration> {
    let first = bars[order[0]].bar.key;
    let key = first.or_else(|| sheet.measures.iter().find_map(|one| one.key))?;
    let KeyDeclaration::Key(
        declared @ Key {
            mode: Mode::Major, ..
        },
    ) = key
    else {
        return Some(key);
    };
    let cells = order
        .iter()
        .rev()
        .flat_map(|bar| bars[*bar].bar.cells.iter().rev());
    let last = cells
        .filter_map(|cell| match &cell.harmony {
            Some(Harmony::Chord(chord)) => Some(chord),
            _ => None,
        })
        .next()?;
    if last.root == declared.relative().tonic && last.has_degree(3, -1) {
        let what = format!(
            "the file says {declared}, but the last chord is {last}: the mode is left open"
        );
        sheet.warnings.whole(what);
        return Some(KeyDeclaration::Signature(declared.fifths()));
    }
    Some(key)
}

/// Bars before any key signature are in the first key; where the mode was left open at home, it is everywhere.
fn settle_keys(bars: &mut [ReadyBar], home: Option<KeyDeclaration>, told: Option<KeyDeclaration>) {
    for bar in bars.iter_mut() {
        let key = &mut bar.bar.key;
        if key.is_none() || *key == told {
            *key = home;
        }
    }
}

/// A block: bars that are always played one after the other.
#[derive(Debug)]
struct Block {
    bars: Vec<usize>,
    /// The ending it is, whole, as an index.
    bracket: Option<usize>,
}

fn blocks(measures: &[Measure], brackets: &[Bracket], order: &[usize]) -> Vec<Block> {
    let played: BTreeSet<usize> = order.iter().copied().collect();
    let mut cuts: HashSet<usize> = HashSet::new();
    for pair in order.windows(2) {
        if pair[0] + 1 != pair[1] {
            cuts.insert(pair[0] + 1);
            cuts.insert(pair[1]);
        }
    }
    cuts.extend(order.last().map(|last| last + 1));
    for bracket in brackets {
        cuts.insert(bracket.first);
        cuts.insert(bracket.last + 1);
    }
    let inside = |bar: usize| {
        let within = |one: &Bracket| one.first < bar && bar <= one.last;
        brackets.iter().any(within)
    };
    let marks = (0..measures.len()).filter(|bar| measures[*bar].mark.is_some() && !inside(*bar));
    cuts.extend(marks.clone());
    if marks.count() == 0 {
        cut_at_double_bars(measures, &played, &mut cuts);
    }
    let mut blocks: Vec<Block> = Vec::new();
    for bar in played {
        match blocks.last_mut() {
            Some(block)
                if !cuts.contains(&bar) && block.bars.last() == bar.checked_sub(1).as_ref() =>
            {
                block.bars.push(bar);
            }
            _ => blocks.push(Block {
                bars: vec![bar],
                bracket: None,
            }),
        }
    }
    for block in &mut blocks {
        let whole = |one: &Bracket| {
            block.bars.first() == Some(&one.first) && block.bars.last() == Some(&one.last)
        };
        block.bracket = brackets.iter().position(whole);
    }
    blocks
}

/// Without rehearsal marks a double bar line parts two sections, if both are long enough for one.
fn cut_at_double_bars(measures: &[Measure], played: &BTreeSet<usize>, cuts: &mut HashSet<usize>) {
    let Some(first) = played.first().copied() else {
        return;
    };
    let mut edges: Vec<usize> = cuts
        .iter()
        .copied()
        .chain([first, measures.len()])
        .collect();
    edges.sort_unstable();
    let mut from = first;
    for bar in played {
        if cuts.contains(bar) {
            from = *bar;
        }
        if !measures[*bar].double_bar || bar + 1 - from < LEAST_BARS {
            continue;
        }
        let next = edges[edges
            .partition_point(|edge| edge <= bar)
            .min(edges.len() - 1)];
        if next > *bar && next - (bar + 1) >= LEAST_BARS {
            cuts.insert(bar + 1);
            from = bar + 1;
        }
    }
}

/// The order of playing as blocks.
fn sequence(blocks: &[Block], order: &[usize]) -> Vec<usize> {
    let first: HashMap<usize, usize> = blocks
        .iter()
        .enumerate()
        .map(|(index, block)| (block.bars[0], index))
        .collect();
    order
        .iter()
        .filter_map(|bar| first.get(bar).copied())
        .collect()
}

/// Sections before they have bars: blocks, and blocks that are endings.
#[derive(Debug, Default)]
struct Parts {
    sections: Vec<Part>,
    form: Vec<usize>,
}

#[derive(Debug, PartialEq, Eq)]
struct Part {
    body: usize,
    /// Pass and block of each ending; the last one also takes the passes not named.
    endings: Vec<(u32, usize)>,
}

fn parts(blocks: &[Block], sequence: &[usize], brackets: &[Bracket]) -> Parts {
    let group = |block: usize| blocks[block].bracket.map(|one| brackets[one].group);
    let body_of: HashMap<usize, usize> = folding(blocks, sequence, brackets);
    let mut found = Parts::default();
    let mut index: BTreeMap<usize, usize> = BTreeMap::new();
    let mut ends: HashMap<usize, Vec<usize>> = HashMap::new();
    for (at, block) in sequence.iter().enumerate() {
        let folded = |one: usize| group(one).is_some_and(|group| body_of.contains_key(&group));
        if folded(*block) {
            continue;
        }
        index.entry(*block).or_default();
        found.form.push(*block);
        if let Some(end) = sequence.get(at + 1).filter(|next| folded(**next)) {
            ends.entry(*block).or_default().push(*end);
        }
    }
    for (place, (_, section)) in index.iter_mut().enumerate() {
        *section = place;
    }
    for block in index.keys() {
        let played = ends.get(block).map_or(&[][..], Vec::as_slice);
        found.sections.push(Part {
            body: *block,
            endings: endings(played),
        });
    }
    found
        .form
        .iter_mut()
        .for_each(|block| *block = index[block]);
    found
}

/// The groups of endings that can be endings of a section, with the block that is its body: the one that each of
/// them always follows, and that is always followed by one of them.
fn folding(blocks: &[Block], sequence: &[usize], brackets: &[Bracket]) -> HashMap<usize, usize> {
    let group = |block: usize| blocks[block].bracket.map(|one| brackets[one].group);
    let mut bodies: HashMap<usize, usize> = HashMap::new();
    let mut refused: HashSet<usize> = HashSet::new();
    for (at, block) in sequence.iter().enumerate() {
        let Some(group_here) = group(*block) else {
            continue;
        };
        let before = at.checked_sub(1).map(|before| sequence[before]);
        match before.filter(|before| group(*before).is_none()) {
            Some(body) if *bodies.entry(group_here).or_insert(body) == body => {}
            _ => {
                refused.insert(group_here);
            }
        }
    }
    // A bracket in pieces leaves a block under it that is no ending.
    for block in blocks.iter().filter(|block| block.bracket.is_none()) {
        let touched = brackets.iter().filter(|one| {
            block
                .bars
                .iter()
                .any(|bar| (one.first..=one.last).contains(bar))
        });
        refused.extend(touched.map(|one| one.group));
    }
    let mut followed: HashMap<usize, usize> = HashMap::new();
    for (group, body) in &bodies {
        if followed
            .insert(*body, *group)
            .is_some_and(|other| other != *group)
        {
            refused.insert(*group);
        }
    }
    for (at, block) in sequence.iter().enumerate() {
        if let Some(group_there) = followed.get(block) {
            let next = sequence.get(at + 1).and_then(|next| group(*next));
            if next != Some(*group_there) {
                refused.insert(*group_there);
            }
        }
    }
    bodies.retain(|group, _| !refused.contains(group));
    bodies
}

/// The endings of a section by pass. An ending of several passes stands last, for it takes those not named.
fn endings(played: &[usize]) -> Vec<(u32, usize)> {
    let mut count: BTreeMap<usize, usize> = BTreeMap::new();
    for block in played {
        *count.entry(*block).or_default() += 1;
    }
    let Some((usual, _)) = count.iter().max_by_key(|(_, count)| **count) else {
        return Vec::new();
    };
    let mut named: Vec<(u32, usize)> = Vec::new();
    let mut usual_pass = None;
    for (pass, block) in (1..).zip(played) {
        if block == usual {
            usual_pass.get_or_insert((pass, *block));
        } else {
            named.push((pass, *block));
        }
    }
    named.into_iter().chain(usual_pass).collect()
}

fn section(part: &Part, name: String, blocks: &[Block], bars: &[ReadyBar]) -> Section {
    let of = |block: usize| -> Vec<ChartBar> {
        let bars = blocks[block].bars.iter().map(|bar| bars[*bar].bar.clone());
        bars.collect()
    };
    Section {
        name,
        bars: of(part.body),
        endings: part
            .endings
            .iter()
            .map(|(pass, block)| Ending {
                pass: *pass,
                bars: of(*block),
            })
            .collect(),
    }
}

fn melody_of(part: &Part, blocks: &[Block], bars: &[ReadyBar]) -> Vec<Vec<MelodyNote>> {
    let all = [part.body]
        .into_iter()
        .chain(part.endings.iter().map(|one| one.1));
    let notes: Vec<Vec<MelodyNote>> = all
        .flat_map(|block| &blocks[block].bars)
        .map(|bar| bars[*bar].notes.clone())
        .collect();
    match notes.iter().all(Vec::is_empty) {
        true => Vec::new(),
        false => notes,
    }
}

/// Names: rehearsal marks where there are, else letters; the parts of a marked section are counted.
fn names(measures: &[Measure], parts: &Parts, blocks: &[Block]) -> Vec<String> {
    let first_of = |part: &Part| blocks[part.body].bars[0];
    let mark = |part: &Part| {
        let bar = first_of(part);
        let own = measures[bar].mark.as_deref().map(short);
        let coda = measures[bar].flow.coda && bar > 0;
        own.or(coda.then(|| "Coda".to_string()))
    };
    let marks: HashSet<String> = parts.sections.iter().filter_map(mark).collect();
    let letters = (1..)
        .flat_map(|times: usize| ('A'..='Z').map(move |letter| letter.to_string().repeat(times)));
    let mut letters = letters.filter(|letter| !marks.contains(letter));
    let mut used: HashSet<String> = HashSet::new();
    let mut names = Vec::with_capacity(parts.sections.len());
    for part in &parts.sections {
        let base = mark(part).unwrap_or_else(|| letters.next().unwrap_or_default());
        let mut name = base.clone();
        let mut count = 2;
        while !used.insert(name.clone()) {
            name = format!("{base} {count}");
            count += 1;
        }
        names.push(name);
    }
    names
}
