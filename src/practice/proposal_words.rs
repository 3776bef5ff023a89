//! What a practice journal has to tell the player, in words: for the page, and for the voice in its language.

use super::proposal::{Proposal, ProposedSkill, ShortReport};
use super::summary_words::degree_words;
use crate::drill::Names;
use crate::foot::{Action, FootMap, FootState, GestureKind};
use crate::glossary;
use crate::speech::say;

/// The page is English.
const PAGE: Names = Names::English;

/// The page's title and lines.
pub(super) fn proposal(told: &Proposal, map: &FootMap) -> (String, Vec<String>) {
    let skill = skill_words(&told.skill, PAGE);
    let first = match told.nights {
        Some(0) => format!("today: {skill}"),
        Some(1) => format!("yesterday: {skill}"),
        Some(nights) => format!("{nights} days ago: {skill}"),
        None => skill,
    };
    let more = (told.more > 0).then(|| format!("and {} more", told.more));
    let ways = [Action::MenuTake, Action::MenuLeave]
        .into_iter()
        .filter_map(|action| {
            let (switch, press) = press(map, action)?;
            let word = match action {
                Action::MenuTake => "yes",
                _ if starts(map, switch) => "play",
                _ => "not today",
            };
            Some(format!("{press}: {word}"))
        });
    let ways: Vec<String> = ways.collect();
    let lines = [Some(first), more, Some(ways.join(", "))];
    (
        "10 minutes?".to_string(),
        lines.into_iter().flatten().collect(),
    )
}

/// Whether a press of this switch starts at rest.
pub(super) fn starts(map: &FootMap, switch: u8) -> bool {
    map.lookup(FootState::Stopped, switch, GestureKind::Press) == Some(Action::Start)
}

/// How a foot says yes, or no, where a list stands: the switch, and the words.
fn press(map: &FootMap, action: Action) -> Option<(u8, String)> {
    let way = map.way(FootState::Menu, action);
    // Where nothing leaves at once, what moves on does.
    let way = way.or_else(|| map.way(FootState::Menu, Action::MenuMove))?;
    let (switch, kind) = *way.gestures.first()?;
    let words = match map.switches() {
        1 => kind.name().to_string(),
        _ => format!("{} {switch}", kind.name()),
    };
    Some((switch, words))
}

/// The proposal as a sentence.
pub(super) fn proposal_sentence(told: &Proposal, names: Names) -> String {
    let skill = skill_words(&told.skill, names);
    match names {
        Names::German => format!("{skill}, zehn Minuten?"),
        Names::English | Names::Solfege => format!("{skill}, ten minutes?"),
    }
}

/// The lines of a report.
pub(super) fn report(told: &ShortReport) -> Vec<String> {
    let (automatic, all) = told.automatic;
    let time = match told.week_minutes {
        minutes @ 0..=89 => format!("{minutes} min"),
        minutes => format!("{} h {:02} min", minutes / 60, minutes % 60),
    };
    let next = told.next.as_ref();
    let next = next.map(|skill| format!("{}: {}", glossary::NEXT.page, skill_words(skill, PAGE)));
    let lines = [
        Some(format!("this week: {time}")),
        Some(format!("automatic: {automatic} of {all}")),
        next,
    ];
    lines.into_iter().flatten().collect()
}

/// A report as a sentence.
pub(super) fn report_sentence(told: &ShortReport, names: Names) -> String {
    let (minutes, (automatic, all)) = (told.week_minutes, told.automatic);
    let start = match names {
        Names::German => format!("diese Woche {minutes} Minuten, {automatic} von {all} sitzen"),
        Names::English | Names::Solfege => {
            format!("this week {minutes} minutes, {automatic} of {all} automatic")
        }
    };
    let next = told.next.as_ref();
    let next = next.map(|skill| {
        let word = say(names, glossary::NEXT.voice, "als Nächstes");
        format!("{word}: {}", skill_words(skill, names))
    });
    std::iter::once(start)
        .chain(next)
        .collect::<Vec<_>>()
        .join(", ")
}

/// "third over half-diminished"; in German "kleine Terz über halbvermindert".
fn skill_words(skill: &ProposedSkill, names: Names) -> String {
    let degree = degree_words(skill.degree, names);
    let german = || {
        let found = glossary::KINDS
            .iter()
            .find(|(word, _)| *word == skill.quality);
        found.map_or(skill.quality.as_str(), |(_, german)| *german)
    };
    let quality = say(names, skill.quality.as_str(), german());
    format!(
        "{degree} {} {quality}",
        say(names, glossary::OVER.voice, glossary::OVER.german)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drill::Drill;

    fn skill(degree: &str, quality: &str) -> ProposedSkill {
        ProposedSkill {
            degree: degree.parse().expect("a degree"),
            quality: quality.to_string(),
        }
    }

    #[test]
    fn a_proposal_is_told_with_what_a_foot_does_about_it() {
        let told = |nights, more, switches| {
            let proposal_of = Proposal {
                skill: skill("b3", "half-diminished"),
                nights,
                more,
                drill: Box::new(Drill::just_play()),
            };
            proposal(&proposal_of, &FootMap::standard(switches))
                .1
                .join("; ")
        };
        #[rustfmt::skip]
        let cases = [
            (Some(1), 2, 1, "yesterday: third over half-diminished; and 2 more; hold: yes, tap: play"),
            (Some(5), 0, 2, "5 days ago: third over half-diminished; hold 2: yes, tap 1: play"),
            (Some(0), 0, 4, "today: third over half-diminished; hold 3: yes, tap 1: play"),
            (None,    0, 1, "third over half-diminished; hold: yes, tap: play"),
        ];
        for (nights, more, switches, expected) in cases {
            assert_eq!(told(nights, more, switches), expected);
        }
    }

    #[test]
    fn a_report_is_short() {
        let mut told = ShortReport {
            week_minutes: 125,
            automatic: (5, 12),
            next: Some(skill("b3", "half-diminished")),
        };
        let lines = report(&told).join("; ");
        assert_eq!(
            lines,
            "this week: 2 h 05 min; automatic: 5 of 12; next: third over half-diminished"
        );
        let said = [Names::English, Names::German].map(|names| report_sentence(&told, names));
        assert_eq!(
            said,
            [
                "this week 125 minutes, 5 of 12 automatic, next: third over half-diminished",
                "diese Woche 125 Minuten, 5 von 12 sitzen, als Nächstes: kleine Terz über halbvermindert",
            ]
        );
        (told.next, told.week_minutes) = (None, 45);
        assert_eq!(
            report(&told).join("; "),
            "this week: 45 min; automatic: 5 of 12"
        );
    }
}
