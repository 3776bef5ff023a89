//! A chart as plain text, and what of it the text cannot say.

use super::labels;
use crate::chart::habits::habit_lines;
use crate::chart::model::{Chart, ChartBar, Section};
use crate::chart::writer::bar;
use crate::harmony::KeyDeclaration;
use crate::time::Meter;
use std::fmt::Write;

/// Bars of a line.
const ROW: usize = 4;

impl Chart {
    /// The chart as plain text, as people type changes, and what the text cannot say: where that is nothing,
    /// [`Chart::read_text`] reads the text into the same chart.
    pub fn to_text(&self) -> (String, Vec<String>) {
        let mut left_out = self.unsaid();
        let mut out = format!("Title: {}\n", self.title);
        if let Some(key) = self.key {
            let _ = writeln!(out, "Key: {key}");
        }
        let _ = writeln!(out, "Time: {}", self.meter);
        let _ = writeln!(out, "Tempo: {}", self.tempo_qpm);
        let _ = writeln!(out, "Feel: {}", self.feel.word());
        let names: Vec<&str> = self
            .form
            .iter()
            .map(|index| self.sections[*index].name.as_str())
            .collect();
        // A comma says that names may be of several words.
        let comma = if names.len() == 1 && names[0].len() > 1 {
            ","
        } else {
            ""
        };
        let _ = writeln!(out, "Form: {}{comma}", names.join(", "));
        if let Some(pickup) = &self.pickup {
            let _ = writeln!(out, "Pickup: {}", typed(pickup, &mut left_out));
        }
        let mut now = (self.key, self.meter);
        for section in self.sections.iter() {
            self.write_section_text(&mut out, section, &mut now, &mut left_out);
        }
        left_out.sort();
        left_out.dedup();
        (out, left_out)
    }

    fn write_section_text(
        &self,
        out: &mut String,
        section: &Section,
        now: &mut (Option<KeyDeclaration>, Meter),
        left_out: &mut Vec<String>,
    ) {
        let _ = writeln!(out, "\n[{}]", section.name);
        write_rows(out, &section.bars, "", now, left_out);
        let body_end = *now;
        for ending in &section.endings {
            *now = body_end;
            write_rows(
                out,
                &ending.bars,
                &format!("{}.", ending.pass),
                now,
                left_out,
            );
        }
    }

    /// What has no place in a text.
    fn unsaid(&self) -> Vec<String> {
        let mut unsaid = Vec::new();
        let mut add = |there: bool, what: &str| {
            if there {
                unsaid.push(what.to_string());
            }
        };
        add(self.melody.is_some(), "the melody");
        let vamps = self.sections.iter().any(|section| section.vamp);
        let has_more = vamps || !self.intro.is_empty() || self.last_time.is_some();
        add(has_more, "intro, vamps and the last time");
        add(
            !habit_lines(&self.habits).is_empty(),
            "the habits of harmony",
        );
        let bars = self.sections.iter().flat_map(|section| {
            section
                .bars
                .iter()
                .chain(section.endings.iter().flat_map(|ending| &ending.bars))
        });
        add(
            bars.clone()
                .flat_map(|bar| &bar.cells)
                .any(|cell| cell.hint.is_some()),
            "the teacher's hints",
        );
        let starts_silent = self.sections.iter().any(|section| section.bars.is_empty());
        add(starts_silent, "sections without bars");
        let first = self
            .sections
            .first()
            .and_then(|section| section.bars.first());
        let begins = self.key.is_none() && first.is_some_and(|bar| bar.key.is_some());
        add(begins, "that the first key is not the chart's");
        unsaid.extend(self.unsaid_names().map(str::to_string));
        unsaid
    }

    /// What of its names has no place in a text.
    fn unsaid_names(&self) -> impl Iterator<Item = &'static str> {
        let name = |section: &Section| {
            labels::label(&format!("[{}]", section.name)) == Some(section.name.as_str())
                && !section.name.contains(',')
        };
        let used = |index: usize| self.form.contains(&index);
        let names = self
            .sections
            .iter()
            .map(|section| section.name.to_lowercase());
        let names: Vec<String> = names.collect();
        let again = |at: usize| names[..at].contains(&names[at]);
        let told = [
            (
                !self.sections.iter().all(name),
                "names of sections with other signs than letters and numbers",
            ),
            (
                self.title.trim() != self.title || self.title.is_empty(),
                "the title as it stands",
            ),
            (
                !(0..self.sections.len()).all(used),
                "sections that the form leaves out",
            ),
            (
                (1..names.len()).any(again),
                "names of sections that differ in capitals alone",
            ),
        ];
        told.into_iter()
            .filter_map(|(there, what)| there.then_some(what))
    }
}

/// Bars, some a line; where key or time change, a heading before them.
fn write_rows(
    out: &mut String,
    bars: &[ChartBar],
    ending: &str,
    now: &mut (Option<KeyDeclaration>, Meter),
    left_out: &mut Vec<String>,
) {
    let (mut row, mut first) = (Vec::new(), true);
    let flush = |row: &mut Vec<String>, first: &mut bool, out: &mut String| {
        if !row.is_empty() {
            let number = if std::mem::take(first) { ending } else { "" };
            let _ = writeln!(out, "|{number} {} |", row.join(" | "));
            row.clear();
        }
    };
    for one in bars {
        if (one.key, one.meter) != *now {
            flush(&mut row, &mut first, out);
            match one.key {
                Some(key) if Some(key) != now.0 => _ = writeln!(out, "Key: {key}"),
                None if now.0.is_some() => {
                    left_out.push("that no key is known any more".to_string())
                }
                _ => {}
            }
            if one.meter != now.1 {
                let _ = writeln!(out, "Time: {}", one.meter);
            }
            *now = (one.key, one.meter);
        }
        row.push(typed(one, left_out));
        if row.len() == ROW {
            flush(&mut row, &mut first, out);
        }
    }
    flush(&mut row, &mut first, out);
}

/// A bar as it is typed.
fn typed(one: &ChartBar, left_out: &mut Vec<String>) -> String {
    let written = bar(one);
    let plain = written
        .strip_prefix('"')
        .and_then(|text| text.strip_suffix('"'));
    match plain {
        Some(text) if !text.contains(['"', '\\', '|']) => text.to_string(),
        _ => {
            left_out.push("chords that change between the beats".to_string());
            let beats = usize::from(one.meter.beats());
            let symbols = one
                .cells
                .iter()
                .map(crate::chart::writer::symbol)
                .take(beats);
            let mut words: Vec<&str> = symbols
                .filter(|symbol| !symbol.contains(char::is_whitespace))
                .collect();
            words.resize(beats.max(1), "/");
            words.join(" ")
        }
    }
}
