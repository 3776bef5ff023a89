//! A part of a text: a section, or a piece of one that is repeated by itself; and the section that comes of it.

use super::labels::short;
use crate::chart::barlist::BarList;
use crate::chart::model::{ChartBar, Ending, Section};
use crate::chart::placed::{PlacedSection, Remarks, SectionHome};
use crate::fault::Reader;
use crate::harmony::KeyDeclaration;
use crate::time::Meter;
use serde_spanned::Spanned;
use toml::de::DeValue;

/// Key and time that hold somewhere, where the text has said any.
pub(super) type Holds = (Option<KeyDeclaration>, Option<Meter>);

/// A section, or a piece of one that is repeated by itself.
pub(super) struct Part {
    /// As the text names it; `None`: it has no name.
    pub(super) label: Option<String>,
    pub(super) at: usize,
    pub(super) bars: Vec<Spanned<DeValue<'static>>>,
    pub(super) endings: Vec<(Vec<u32>, Vec<Spanned<DeValue<'static>>>)>,
    pub(super) remarks: Remarks,
    /// What holds at the end of its bars before the endings.
    pub(super) body_end: Holds,
    pub(super) times: u32,
    /// Whether its repeat has ended.
    pub(super) closed: bool,
    /// Whether it goes on a section that was begun before.
    pub(super) goes_on: bool,
}

impl Part {
    pub(super) fn count(&self) -> usize {
        self.bars.len()
            + self
                .endings
                .iter()
                .map(|(_, bars)| bars.len())
                .sum::<usize>()
    }
}

impl Part {
    /// What holds at the last bar that was read.
    pub(super) fn remarks_now(&self, home: Holds) -> Holds {
        let mut now = home;
        let first_of_ending = self
            .endings
            .last()
            .map(|(_, bars)| (self.count() - bars.len()) as u32 + 1);
        if first_of_ending.is_some() {
            now = self.body_end;
        }
        let changes = self.remarks.changes.range(first_of_ending.unwrap_or(1)..);
        for (_, change) in changes {
            now = (change.key.or(now.0), change.meter.or(now.1));
        }
        now
    }
}

/// The section of a part: a new one, or the one before that it names or repeats.
pub(super) fn place(
    reader: &Reader<'_>,
    part: &Part,
    home: &SectionHome,
    sections: &mut Vec<PlacedSection>,
) -> Option<usize> {
    let label = part.label.as_deref();
    let known = label.and_then(|name| named(sections, name));
    if part.count() == 0 {
        if known.is_none() {
            let name = short(label.unwrap_or_default());
            reader.fault(part.at, format!("section \"{name}\" has no bars"));
        }
        return known;
    }
    let (bars, endings) = read(reader, part, home);
    let same = known.filter(|index| {
        let section = &sections[*index].section;
        (&section.bars, &section.endings) == (&bars, &endings)
    });
    if same.is_some() && !part.goes_on {
        return same;
    }
    let name = free_name(label, sections);
    let section = Section {
        name,
        bars,
        endings,
        vamp: false,
    };
    let first_bar = part.bars.first().map_or(part.at, |bar| bar.span().start);
    sections.push(PlacedSection { section, first_bar });
    Some(sections.len() - 1)
}

fn named(sections: &[PlacedSection], name: &str) -> Option<usize> {
    sections
        .iter()
        .position(|placed| placed.section.name.eq_ignore_ascii_case(name))
}

/// The label where no section has it yet, else with a number; letters where there is no label.
fn free_name(label: Option<&str>, sections: &[PlacedSection]) -> String {
    let free = |name: &String| named(sections, name).is_none();
    let name = match label {
        Some(label) => std::iter::once(label.to_string())
            .chain((2..).map(|number| format!("{label} {number}")))
            .find(free),
        None => ('A'..='Z')
            .map(String::from)
            .chain((1..).map(|number| format!("part {number}")))
            .find(free),
    };
    name.unwrap_or_default()
}

fn read(reader: &Reader<'_>, part: &Part, home: &SectionHome) -> (Vec<ChartBar>, Vec<Ending>) {
    let mut list = BarList::new(reader, home, &part.remarks);
    list.read(&part.bars.iter().collect::<Vec<_>>());
    let mut number = list.number;
    let mut endings = Vec::new();
    for (passes, raw) in &part.endings {
        if raw.is_empty() {
            let pass = passes.first().copied().unwrap_or(1);
            reader.fault(part.at, format!("the ending for pass {pass} has no bars"));
        }
        let mut ending = list.fork(number);
        ending.read(&raw.iter().collect::<Vec<_>>());
        number = ending.number;
        endings.extend(passes.iter().map(|pass| Ending {
            pass: *pass,
            bars: ending.bars.clone(),
        }));
    }
    (list.bars, endings)
}
