//! What became of a script: what was played, as pictures and counts.

use super::{BarHeard, RELOADED, Room, library, settings};
use underfoot::audio::Played;
use underfoot::display::Page;
use underfoot::practice::Recorded;
use underfoot::time::{Part, Tick};

impl Room {
    /// Everything played, in the order of time.
    pub fn played(&self) -> Vec<Played> {
        self.tape.played.iter().map(|(_, played)| *played).collect()
    }

    /// The notes alone: a bar that is handed over again in the middle is no other music.
    pub fn notes(&self) -> Vec<Played> {
        let is_note = |played: &Played| matches!(played, Played::On { .. } | Played::Off { .. });
        self.played().into_iter().filter(is_note).collect()
    }

    /// What is heard, bar by bar: the bass's first note; `n` counting, `-` no bass on one; `|` a take begins
    /// anew, `.` it ends; `(name)` the stage changes.
    pub fn heard(&self) -> String {
        let names = [
            "C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B",
        ];
        let mut words: Vec<String> = Vec::new();
        let (mut takes, mut running) = (0, false);
        let mut last = None;
        let played = &self.tape.played;
        for (index, (_, what)) in played.iter().enumerate() {
            match what {
                Played::TakeStarted { .. } => {
                    takes += 1;
                    last = None;
                    if takes > 1 {
                        words.push("|".to_string());
                    }
                    running = true;
                }
                Played::TakeEnded { frame, .. } if running => {
                    // A jump ends a take on the frame on which the next begins.
                    let jumps = matches!(
                        played.get(index + 1),
                        Some((_, Played::TakeStarted { frame: next, .. })) if next == frame
                    );
                    if !jumps {
                        words.push(".".to_string());
                    }
                    running = false;
                }
                Played::Bar { tick, .. } => {
                    let of_take = |bar: &&BarHeard| bar.take == takes && bar.start == *tick;
                    if last == Some(*tick) || !self.bars.iter().any(|bar| of_take(&bar)) {
                        continue;
                    }
                    last = Some(*tick);
                    let stage = self.records.iter().find(|record| {
                        matches!(record.what, Recorded::Stage)
                            && record.tick == Some(*tick)
                            && self
                                .bars
                                .iter()
                                .any(|bar| of_take(&bar) && bar.frame == record.frame)
                    });
                    if let Some(stage) =
                        stage.filter(|_| words.last().is_some_and(|word| word != "n"))
                    {
                        words.push(format!("({})", stage.stage));
                    }
                    let on =
                        played[index..]
                            .iter()
                            .map(|(_, played)| played)
                            .take_while(|played| match played {
                                Played::On { tick: at, .. } => at == tick,
                                Played::Off { tick: at, .. } => at <= tick,
                                Played::Bar { tick: at, .. } => at == tick,
                                _ => false,
                            });
                    let bass = on.filter_map(|played| match played {
                        Played::On {
                            part: Part::Bass,
                            key,
                            ..
                        } => Some(names[usize::from(*key % 12)]),
                        _ => None,
                    });
                    let word = bass.last().unwrap_or(if self.is_count(*tick, takes) {
                        "n"
                    } else {
                        "-"
                    });
                    words.push(word.to_string());
                }
                _ => {}
            }
        }
        words.join(" ")
    }

    fn is_count(&self, tick: Tick, take: usize) -> bool {
        let bar = self
            .bars
            .iter()
            .find(|bar| (bar.take, bar.start) == (take, tick));
        let record = self.records.iter().find(|record| {
            matches!(record.what, Recorded::Bar)
                && record.tick == Some(tick)
                && bar.is_some_and(|bar| bar.frame == record.frame)
        });
        record.is_some_and(|record| record.bar.is_none())
    }

    /// Tempos from bar to bar, where they change.
    pub fn tempos(&self) -> Vec<(f64, u32)> {
        let mut tempos: Vec<(f64, u32)> = Vec::new();
        for (_, played) in &self.tape.played {
            if let Played::Bar { tick, tempo, .. } = played {
                let qpm = tempo.qpm().round() as u32;
                if tempos.last().is_none_or(|(_, last)| *last != qpm) {
                    tempos.push((tick.quarters(), qpm));
                }
            }
        }
        tempos
    }

    /// Notes still down.
    pub fn hanging(&self) -> usize {
        let mut down: Vec<(Part, u8)> = Vec::new();
        for (_, played) in &self.tape.played {
            match played {
                Played::On { part, key, .. } => down.push((*part, *key)),
                Played::Off { part, key, .. } => {
                    if let Some(at) = down.iter().position(|note| *note == (*part, *key)) {
                        down.remove(at);
                    }
                }
                _ => {}
            }
        }
        down.len()
    }

    /// What breaks the line of bars: a bar missing, doubled or overlapping within a take, or silence where one
    /// should be.
    pub fn broken(&self) -> Vec<String> {
        let mut faults = Vec::new();
        if self.starved > 0 {
            faults.push(format!("starved {} times", self.starved));
        }
        let mut seen: Vec<(usize, Tick, Tick)> = Vec::new();
        let mut take = 0;
        for (_, played) in &self.tape.played {
            match played {
                Played::TakeStarted { .. } => take += 1,
                Played::Bar { tick, meter, .. } => {
                    let whole = self
                        .bars
                        .iter()
                        .any(|bar| (bar.take, bar.start) == (take, *tick));
                    if !whole {
                        continue;
                    }
                    if let Some((_, start, len)) = seen.last().filter(|last| last.0 == take) {
                        if *start == *tick {
                            continue;
                        }
                        if *start + *len != *tick {
                            faults.push(format!(
                                "take {take}: bar at {} + {} then {}",
                                start.0, len.0, tick.0
                            ));
                        }
                    }
                    seen.push((take, *tick, meter.bar_ticks()));
                }
                _ => {}
            }
        }
        faults
    }

    /// The newest page.
    pub fn page(&self) -> &Page {
        &self.pages.last().expect("a page").1
    }

    /// What stands armed on the newest page.
    pub fn armed(&self) -> String {
        match self.page() {
            Page::Practice(page) => page.armed.as_ref().map_or(String::new(), |armed| {
                format!("{} {}", armed.what, armed.when)
            }),
            _ => String::new(),
        }
    }
}

/// Plays scripts and compares what is heard: `(what, script, bars)`. "reload" brings the plain tune as its teacher
/// rewrote it.
pub fn heard_like(table: &[(&str, &str, &str)], chart_text: &str, drill_text: &str) {
    let mut wrong = Vec::new();
    for (what, script, expected) in table {
        let mut room = Room::new(library(&[chart_text], drill_text), settings(2));
        room.reload = Some(library(&[RELOADED], drill_text));
        let room = room.started(script);
        let (heard, broken) = (room.heard(), room.broken());
        if heard != *expected || !broken.is_empty() {
            wrong.push(format!(
                "{what}: {script}\n    heard    {heard}\n    expected {expected}\n    {broken:?}"
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Every word of a slot, those of its cells included, in playing order.
pub fn all_words(set: &underfoot::display::SetOnPage) -> Vec<String> {
    let cells = set.cells.iter().flat_map(|cell| &cell.words);
    set.words.iter().chain(cells).cloned().collect()
}
