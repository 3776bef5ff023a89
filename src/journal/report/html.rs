//! A report as one page that needs nothing else: no script, no request, no font. Readable on a telephone and on paper.

use super::chart::{ChartError, degrees, drawn, one_svg, qualities, skill_at, tint};
use super::model::{PlayerLine, Report, SkillReport, State, escape, time_words};
use super::text::{around_words, practised_words, right_share, variety_words};
use crate::journal::skill::words::{counted, per_cent};
use std::fmt::Write;

const STYLE: &str = "
:root { color-scheme: light; }
body { font: 16px/1.45 system-ui, sans-serif; color: #1a1a1a; background: #fff; margin: 0 auto; max-width: 50rem; padding: 0.8rem; }
h1 { font-size: 1.5rem; line-height: 1.2; margin: 0.4rem 0; }
h2 { font-size: 1.15rem; margin: 1.6rem 0 0.4rem; }
svg { width: 100%; max-width: 42rem; height: auto; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; padding: 0.3rem 0.45rem; border: 1px solid #767676; vertical-align: top; }
th { font-weight: 600; background: #f2f2f2; }
small { font-size: 0.85rem; color: #333; }
.sure { font-weight: 700; }
@media (max-width: 34rem) {
  table, thead, tbody, tr, th, td { display: block; }
  thead { position: absolute; clip-path: inset(50%); width: 1px; height: 1px; overflow: hidden; }
  tr { margin-bottom: 0.8rem; }
  td { display: flex; justify-content: space-between; gap: 1rem; }
  td::before { content: attr(data-label); font-weight: 600; }
  td.none { display: none; }
}
@page { size: A4; margin: 15mm; }
@media print {
  body { max-width: none; padding: 0; font-size: 10.5pt; }
  h2 { break-after: avoid; }
  tr, svg, ol { break-inside: avoid; }
  svg { max-height: 62mm; }
}
";

fn page(title: &str, body: &str) -> String {
    let title = escape(title);
    // The page may load nothing at all, whatever stands in it.
    let policy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:";
    format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"{policy}\">\n\
         <link rel=\"icon\" href=\"data:,\">\n<title>{title}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<main>\n\
         <h1>{title}</h1>\n{body}</main>\n</body>\n</html>\n"
    )
}

/// A player's report.
///
/// # Errors
/// When a chart cannot be drawn.
pub fn html(report: &Report) -> Result<String, ChartError> {
    let mut body = String::new();
    let since = report
        .since
        .as_ref()
        .map(|day| format!(", since {}", escape(day)))
        .unwrap_or_default();
    let _ = writeln!(
        body,
        "<p>{}{since}. {}; {} asked for and heard clearly, {} of them right.</p>",
        escape(&report.today),
        practised_words(report),
        counted(report.asked, "note", "notes"),
        report.right
    );
    weak_spots(&mut body, report);
    map(&mut body, report);
    let most = report
        .weeks
        .iter()
        .map(|week| week.seconds)
        .fold(0.0, f64::max);
    let label = format!(
        "Minutes a week over {}, at the most {}",
        counted(report.weeks.len() as u32, "week", "weeks"),
        time_words(most)
    );
    let _ = writeln!(body, "<h2>Time</h2>\n{}", one_svg(report, "time", &label)?);
    trend(&mut body, report)?;
    if !report.around.is_empty() {
        body.push_str("<h2>Harder, easier</h2>\n<ul>\n");
        for (kind, word, by) in &report.around {
            let _ = writeln!(
                body,
                "<li>{kind} {}: {}</li>",
                escape(word),
                around_words(*by)
            );
        }
        body.push_str("</ul>\n");
    }
    if let Some(words) = variety_words(&report.variety) {
        let _ = writeln!(body, "<h2>Variety</h2>\n<p>{}</p>", escape(&words));
    }
    Ok(page(&format!("Practice of {}", report.player), &body))
}

fn weak_spots(body: &mut String, report: &Report) {
    let weak = |skill: &SkillReport| Some((skill.name(), skill.weakness()?));
    let weak: Vec<(String, String)> = report.skills.iter().filter_map(weak).take(5).collect();
    if weak.is_empty() {
        return;
    }
    body.push_str("<h2>Weak spots</h2>\n<ul>\n");
    for (name, why) in weak {
        let _ = writeln!(body, "<li>{}: {why}</li>", escape(&name));
    }
    body.push_str("</ul>\n");
}

fn map(body: &mut String, report: &Report) {
    if report.skills.is_empty() {
        body.push_str(
            "<p>No note has been judged yet: plug the guitar in, and play a stage.</p>\n",
        );
        return;
    }
    body.push_str(
        "<h2>Skills</h2>\n<p>How often the next note will be right at 120 bpm, and in small type between what that likely lies. \
         Bold: automatic.</p>\n<table role=\"table\">\n<thead role=\"rowgroup\"><tr role=\"row\">\
         <th scope=\"col\" role=\"columnheader\">chord</th>",
    );
    let degrees = degrees(report);
    for degree in &degrees {
        let _ = write!(
            body,
            "<th scope=\"col\" role=\"columnheader\">{}</th>",
            escape(degree)
        );
    }
    body.push_str("</tr></thead>\n<tbody role=\"rowgroup\">\n");
    for quality in qualities(report) {
        let _ = write!(
            body,
            "<tr role=\"row\"><th scope=\"row\" role=\"rowheader\">{}</th>",
            escape(quality)
        );
        for degree in &degrees {
            match skill_at(report, quality, degree) {
                None => body.push_str("<td role=\"cell\" class=\"none\"></td>"),
                Some(skill) => cell(body, skill),
            }
        }
        body.push_str("</tr>\n");
    }
    body.push_str("</tbody>\n</table>\n");
}

fn cell(body: &mut String, skill: &SkillReport) {
    let estimate = &skill.estimate;
    let (red, green, blue) = tint(estimate.right);
    let class = if estimate.is_automatic() {
        " class=\"sure\""
    } else {
        ""
    };
    let _ = write!(
        body,
        "<td role=\"cell\" data-label=\"{}\" style=\"background:rgb({red},{green},{blue})\"><span><span{class}>{}</span> \
         <small>{:.0} to {:.0}{}</small></span></td>",
        escape(&skill.degree),
        per_cent(estimate.right),
        estimate.between.0 * 100.0,
        estimate.between.1 * 100.0,
        match skill.state() {
            State::Learning => String::new(),
            _ => format!(", {}", skill.state_words()),
        }
    );
}

fn trend(body: &mut String, report: &Report) -> Result<(), ChartError> {
    let skills = drawn(report);
    if skills.is_empty() || report.weeks.len() < 2 {
        return Ok(());
    }
    let names: Vec<String> = skills.iter().map(|skill| skill.name()).collect();
    let label = format!("Right notes of 100 by week: {}", names.join(", "));
    let _ = writeln!(
        body,
        "<h2>How it went</h2>\n{}",
        one_svg(report, "trend", &label)?
    );
    body.push_str("<ol>\n");
    for skill in skills {
        let weeks: Vec<&(u32, u32)> = skill.weeks.iter().filter(|(asked, _)| *asked > 0).collect();
        let share = |week: Option<&&(u32, u32)>| {
            week.map_or_else(String::new, |(asked, right)| {
                per_cent(f64::from(*right) / f64::from(*asked))
            })
        };
        let _ = writeln!(
            body,
            "<li>{}: {} in the first week, {} in the last</li>",
            escape(&skill.name()),
            share(weeks.first()),
            share(weeks.last())
        );
    }
    body.push_str("</ol>\n");
    Ok(())
}

/// All players of a journal.
pub fn html_overview(players: &[PlayerLine], today: &str) -> String {
    let mut body = format!(
        "<p>{}. One player in full: <code>underfoot journal report --player NAME --html FILE</code></p>\n\
         <table role=\"table\">\n<thead role=\"rowgroup\"><tr role=\"row\">",
        escape(today)
    );
    let heads = [
        "player",
        "last day",
        "all time",
        "4 weeks",
        "right in 4 weeks",
        "weakest in 90 days",
    ];
    for head in heads {
        let _ = write!(body, "<th scope=\"col\" role=\"columnheader\">{head}</th>");
    }
    body.push_str("</tr></thead>\n<tbody role=\"rowgroup\">\n");
    for player in players {
        let cells = [
            player.last_day.clone(),
            time_words(player.seconds),
            time_words(player.recent_seconds),
            right_share(player),
            player.weakest_words(),
        ];
        let _ = write!(
            body,
            "<tr role=\"row\"><th scope=\"row\" role=\"rowheader\">{}</th>",
            escape(&player.name)
        );
        for (head, cell) in heads[1..].iter().zip(cells) {
            let _ = write!(
                body,
                "<td role=\"cell\" data-label=\"{head}\"><span>{}</span></td>",
                escape(&cell)
            );
        }
        body.push_str("</tr>\n");
    }
    body.push_str("</tbody>\n</table>\n");
    page("Practice of all players", &body)
}
