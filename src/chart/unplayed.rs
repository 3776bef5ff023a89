//! What a chart holds but its form never plays: no fault, but worth a word.

use super::{Chart, LastTime};
use std::collections::HashMap;

impl Chart {
    /// One sentence for each section that the form leaves out, and for each ending of a pass that it does not
    /// reach; in the order of the file.
    pub fn unplayed(&self) -> Vec<String> {
        let mut passes: HashMap<usize, u32> = HashMap::new();
        for section in &self.form {
            *passes.entry(*section).or_default() += 1;
        }
        let mut found = Vec::new();
        for (index, section) in self.sections.iter().enumerate() {
            let name = &section.name;
            let once = self
                .intro
                .iter()
                .chain(self.last_time.iter().flat_map(LastTime::sections));
            let is_played_once = once.copied().any(|one| one == index);
            let Some(count) = passes.get(&index).copied() else {
                if is_played_once {
                    continue;
                }
                found.push(format!("section \"{name}\" is not in the form"));
                continue;
            };
            let last = section.endings.len().saturating_sub(1);
            for (at, ending) in section.endings.iter().enumerate() {
                let others =
                    (1..=count).any(|pass| section.endings.iter().all(|one| one.pass != pass));
                if ending.pass > count && !(at == last && others) {
                    found.push(format!(
                        "the ending for pass {} of section \"{name}\" is not reached: the form plays it {}",
                        ending.pass,
                        times(count)
                    ));
                }
            }
        }
        found
    }
}

fn times(count: u32) -> String {
    match count {
        1 => "once".to_string(),
        2 => "twice".to_string(),
        _ => format!("{count} times"),
    }
}
