//! From zones to regions (SoundFont 2.04, sections 7.3, 7.7 and 9.4): an instrument's zone over its global zone over the
//! defaults, and a preset's zone added to it.

use super::generator::{Amounts, COUNT, DEFAULTS, adds_in_preset, id};
use super::modulator::{Modulators, default_modulators};
use super::tables::{Bag, Generator, Layer, Modulator, Sample, Tables};
use std::sync::Arc;

/// Bit 15 of a sample's kind: it lies in a chip that is not there.
const ROM: u16 = 0x8000;
/// The most modulators of one zone that are heeded: each costs the audio thread something when a controller moves.
const MAX_MODULATORS: usize = 64;

/// Keys or velocities, both ends included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Span {
    pub(super) low: u8,
    pub(super) high: u8,
}

impl Span {
    const ALL: Span = Span { low: 0, high: 127 };

    pub(super) fn has(self, value: u8) -> bool {
        (self.low..=self.high).contains(&value)
    }

    fn common(self, other: Span) -> Span {
        Span {
            low: self.low.max(other.low),
            high: self.high.min(other.high),
        }
    }

    fn is_empty(self) -> bool {
        self.low > self.high
    }
}

/// What sounds for some keys and velocities.
#[derive(Debug, Clone)]
pub(super) struct Region {
    pub(super) keys: Span,
    pub(super) velocities: Span,
    pub(super) amounts: Amounts,
    pub(super) modulators: Modulators,
    pub(super) wave: Wave,
}

/// A stretch of samples with its loop; places first in the file, then in what was loaded of it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wave {
    pub(super) start: u32,
    pub(super) end: u32,
    pub(super) loop_start: u32,
    pub(super) loop_end: u32,
    pub(super) rate_hz: u32,
    pub(super) root_key: u8,
    pub(super) correction_cents: i8,
}

impl Wave {
    /// Whether there is anything to repeat.
    pub(super) fn has_loop(&self) -> bool {
        self.loop_end > self.loop_start
    }
}

/// A zone: which amounts it sets.
struct Zone<'a> {
    set: u64,
    amounts: Amounts,
    keys: Option<Span>,
    velocities: Option<Span>,
    /// The instrument or sample, with which a zone ends (sections 7.5 and 7.9).
    target: Option<u16>,
    modulators: &'a [Modulator],
}

impl Zone<'_> {
    fn read<'a>(layer: &'a Layer, bag: Bag, next: Bag, terminal: usize) -> Zone<'a> {
        let stretch = usize::from(bag.generator)..usize::from(next.generator);
        let generators = layer.generators.get(stretch).unwrap_or_default();
        let stretch = usize::from(bag.modulator)..usize::from(next.modulator);
        let mut zone = Zone {
            set: 0,
            amounts: [0; COUNT],
            keys: None,
            velocities: None,
            target: None,
            modulators: layer.modulators.get(stretch).unwrap_or_default(),
        };
        for Generator { id, amount } in generators {
            let [low, high] = *amount;
            match usize::from(*id) {
                id::KEY_RANGE => zone.keys = Some(Span { low, high }),
                id::VELOCITY_RANGE => zone.velocities = Some(Span { low, high }),
                id if id == terminal => {
                    zone.target = Some(u16::from_le_bytes(*amount));
                    break;
                }
                id => {
                    if let Some(own) = zone.amounts.get_mut(id) {
                        *own = i16::from_le_bytes(*amount);
                        zone.set |= 1 << id;
                    }
                }
            }
        }
        zone
    }

    fn sets(&self, generator: usize) -> Option<i16> {
        let amount = self.amounts.get(generator)?;
        (self.set >> generator & 1 == 1).then_some(*amount)
    }
}

/// The zones of a preset or instrument: the global one, if the first names no target, and those that name one.
struct Zones<'a> {
    global: Option<Zone<'a>>,
    local: Vec<Zone<'a>>,
}

fn zones(layer: &Layer, first: u16, end: u16, terminal: usize) -> Zones<'_> {
    let bags = layer.bags.get(usize::from(first)..=usize::from(end));
    let read = |pair: &[Bag]| match pair {
        [bag, next] => Some(Zone::read(layer, *bag, *next, terminal)),
        _ => None,
    };
    let mut all = bags
        .unwrap_or_default()
        .windows(2)
        .filter_map(read)
        .peekable();
    Zones {
        global: all.next_if(|zone| zone.target.is_none()),
        local: all.filter(|zone| zone.target.is_some()).collect(),
    }
}

/// How many regions a preset would have, how many of them cover one key, and what it costs to find that out.
pub(super) struct Extent {
    pub(super) regions: usize,
    pub(super) most_on_a_key: usize,
    /// Zones and generators that were read.
    pub(super) records: usize,
}

/// Counts the regions of a preset; stops soon above a limit of regions or records.
pub(super) fn extent(tables: &Tables, preset: usize, regions: usize, records: usize) -> Extent {
    let mut covering = [0usize; 128];
    let mut extent = Extent {
        regions: 0,
        most_on_a_key: 0,
        records: 0,
    };
    let mut left = records;
    each_pair(tables, preset, &mut left, &mut |keys, _, _, _| {
        extent.regions += 1;
        let covered = covering.iter_mut().take(usize::from(keys.high) + 1);
        covered
            .skip(usize::from(keys.low))
            .for_each(|count| *count += 1);
        extent.regions <= regions
    });
    extent.records = records.saturating_sub(left);
    extent.most_on_a_key = covering.into_iter().max().unwrap_or(0);
    extent
}

/// The regions of a preset; those that can never sound are left out.
pub(super) fn regions(tables: &Tables, preset: usize, samples: u32) -> Vec<Region> {
    let plain = default_modulators();
    let mut regions = Vec::new();
    each_pair(
        tables,
        preset,
        &mut { usize::MAX },
        &mut |keys, velocities, outer, inner| {
            if let Some(wave) = wave(tables, inner, samples)
                && !keys.is_empty()
                && !velocities.is_empty()
            {
                regions.push(Region {
                    keys,
                    velocities,
                    amounts: summed(outer, inner),
                    modulators: modulators(&plain, outer, inner),
                    wave,
                });
            }
            true
        },
    );
    regions
}

/// The zone of an instrument or preset with the global one under it.
struct Over<'a> {
    zone: &'a Zone<'a>,
    global: Option<&'a Zone<'a>>,
}

impl Over<'_> {
    fn sets(&self, generator: usize) -> Option<i16> {
        let global = || self.global?.sets(generator);
        self.zone.sets(generator).or_else(global)
    }

    fn keys(&self) -> Span {
        let global = self.global.and_then(|zone| zone.keys);
        self.zone.keys.or(global).unwrap_or(Span::ALL)
    }

    fn velocities(&self) -> Span {
        let global = self.global.and_then(|zone| zone.velocities);
        self.zone.velocities.or(global).unwrap_or(Span::ALL)
    }
}

/// Each zone of a preset with each zone of its instrument, as long as `with` wants more and there are records left to read.
fn each_pair(
    tables: &Tables,
    preset: usize,
    left: &mut usize,
    with: &mut dyn FnMut(Span, Span, &Over, &Over) -> bool,
) {
    let bag = |index: usize| tables.headers.get(index).map(|header| header.first_bag);
    let (Some(first), Some(end)) = (bag(preset), bag(preset + 1)) else {
        return;
    };
    let outer = zones(&tables.presets, first, end, id::INSTRUMENT);
    for zone in &outer.local {
        let at = usize::from(zone.target.unwrap_or(u16::MAX));
        let Some(&[first, end]) = tables.instrument_bags.get(at..at + 2) else {
            continue;
        };
        *left = left.saturating_sub(cost(&tables.instruments, first, end));
        if *left == 0 {
            return;
        }
        let outer = Over {
            zone,
            global: outer.global.as_ref(),
        };
        let inner = zones(&tables.instruments, first, end, id::SAMPLE);
        for zone in &inner.local {
            let inner = Over {
                zone,
                global: inner.global.as_ref(),
            };
            let keys = outer.keys().common(inner.keys());
            let velocities = outer.velocities().common(inner.velocities());
            if !with(keys, velocities, &outer, &inner) {
                return;
            }
        }
    }
}

/// How many zones and generators lie between two indices of zones.
fn cost(layer: &Layer, first: u16, end: u16) -> usize {
    let generator = |bag: u16| {
        layer
            .bags
            .get(usize::from(bag))
            .map_or(0, |bag| bag.generator)
    };
    usize::from(end - first) + usize::from(generator(end).saturating_sub(generator(first)))
}

fn summed(outer: &Over, inner: &Over) -> Amounts {
    let mut amounts = DEFAULTS;
    for (generator, amount) in amounts.iter_mut().enumerate() {
        if let Some(set) = inner.sets(generator) {
            *amount = set;
        }
        if adds_in_preset(generator)
            && let Some(added) = outer.sets(generator)
        {
            *amount = amount.saturating_add(added);
        }
    }
    amounts
}

/// Section 9.5.1: an instrument's modulator takes the place of an identical default one, its zone's that of the global zone; a
/// preset's is added to them.
fn modulators(plain: &Modulators, outer: &Over, inner: &Over) -> Modulators {
    let none: &[Modulator] = &[];
    let few = |list: &[Modulator]| {
        list.iter()
            .take(MAX_MODULATORS)
            .copied()
            .collect::<Vec<_>>()
    };
    let of = |over: &Over| {
        let global = over.global.map_or(none, |zone| zone.modulators);
        [few(global), few(over.zone.modulators)]
    };
    let ([inner_global, inner_own], [outer_global, outer_own]) = (of(inner), of(outer));
    let lists = [&inner_global, &inner_own, &outer_global, &outer_own];
    if lists.iter().all(|list| list.is_empty()) {
        return Arc::clone(plain);
    }
    let mut all = plain.to_vec();
    replace(&mut all, &inner_global);
    replace(&mut all, &inner_own);
    let mut added = outer_global;
    replace(&mut added, &outer_own);
    for modulator in added {
        match all.iter_mut().find(|own| is_same(own, &modulator)) {
            Some(own) => own.amount = own.amount.saturating_add(modulator.amount),
            None => all.push(modulator),
        }
    }
    all.retain(|modulator| modulator.amount != 0);
    all.into()
}

fn replace(all: &mut Vec<Modulator>, with: &[Modulator]) {
    for modulator in with {
        match all.iter_mut().find(|own| is_same(own, modulator)) {
            Some(own) => *own = *modulator,
            None => all.push(*modulator),
        }
    }
}

/// Identical are those that differ in nothing but the amount.
fn is_same(one: &Modulator, other: &Modulator) -> bool {
    Modulator { amount: 0, ..*one }
        == Modulator {
            amount: 0,
            ..*other
        }
}

/// The stretch of samples of an instrument's zone; none where there is nothing in the file.
fn wave(tables: &Tables, inner: &Over, samples: u32) -> Option<Wave> {
    let sample: &Sample = tables.samples.get(usize::from(inner.zone.target?))?;
    if sample.kind & ROM != 0 {
        return None;
    }
    let moved = |place: u32, fine: usize, coarse: usize| {
        let fine = i64::from(inner.sets(fine).unwrap_or(0));
        let coarse = i64::from(inner.sets(coarse).unwrap_or(0));
        (i64::from(place) + fine + 32_768 * coarse).clamp(0, i64::from(samples)) as u32
    };
    let start = moved(sample.start, id::START_OFFSET, id::START_COARSE_OFFSET);
    let end = moved(sample.end, id::END_OFFSET, id::END_COARSE_OFFSET);
    let loop_start = moved(
        sample.loop_start,
        id::LOOP_START_OFFSET,
        id::LOOP_START_COARSE_OFFSET,
    );
    let loop_end = moved(
        sample.loop_end,
        id::LOOP_END_OFFSET,
        id::LOOP_END_COARSE_OFFSET,
    );
    (end > start).then(|| Wave {
        start,
        end,
        loop_start: loop_start.clamp(start, end),
        loop_end: loop_end.clamp(start, end),
        rate_hz: sample.rate_hz.clamp(400, 200_000),
        // Section 7.10: 255 is unpitched, above 127 nothing; 60 is then to be used.
        root_key: if sample.key > 127 { 60 } else { sample.key },
        correction_cents: sample.correction_cents,
    })
}
