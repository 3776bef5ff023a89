//! The page of a lesson: it opens from the folder, in any browser, and asks nobody for anything.

use super::record::{Facts, Record};
use super::stage::Task;
use super::tags::{Mark, Tags, minutes};
use super::whole;
use crate::daemon::track_form::Form;
use crate::sheet::escaped;
use std::fmt::Write;

const STYLE: &str = include_str!("index.css");
const SCRIPT: &str = include_str!("index.js");

/// What stands on the page.
pub(super) struct Lesson<'a> {
    pub(super) tags: &'a Tags,
    pub(super) tasks: &'a [Task],
    pub(super) facts: &'a [Facts],
    pub(super) forms: &'a [Form],
    /// Chart and drill.
    pub(super) sources: &'a [String],
    pub(super) lufs: f64,
    pub(super) record: &'a Record,
}

impl Lesson<'_> {
    /// The page.
    pub(super) fn html(&self) -> String {
        let title = escaped(&self.tags.title);
        // Nothing from outside of the folder, whatever stands in it.
        let policy = "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; \
                      img-src 'self' file: data:; media-src 'self' file:";
        let mut page = format!(
            "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
             <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
             <meta http-equiv=\"Content-Security-Policy\" content=\"{policy}\">\n\
             <link rel=\"icon\" href=\"data:,\">\n<title>{title}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<main>\n\
             <h1>{title}</h1>\n"
        );
        let all_s: f64 = self.facts.iter().map(|facts| facts.seconds).sum();
        let whom = self
            .tags
            .student
            .as_deref()
            .map(|student| format!("For {}. ", escaped(student)));
        let _ = writeln!(
            page,
            "<p>{}{} in {}, all at {} LUFS. Space plays and stops what has the focus.</p>",
            whom.unwrap_or_default(),
            minutes(all_s),
            counted(self.tasks.len(), "track", "tracks"),
            self.lufs
        );
        page.push_str("<ol>\n");
        for (task, facts) in self.tasks.iter().zip(self.facts) {
            self.stage(&mut page, task, facts);
        }
        page.push_str("</ol>\n<section>\n<h2>All in one</h2>\n");
        self.player(&mut page, "All in one", &whole::track);
        let stages = self.tags.marks.iter().filter(|mark| {
            let names = |task: &Task| task.stage() == mark.words;
            self.tasks.iter().any(names)
        });
        marks(&mut page, stages);
        self.links(&mut page, &whole::midi(), &whole::track);
        page.push_str("</section>\n<section>\n<h2>Chart and drill</h2>\n<p>");
        for source in self.sources {
            let _ = write!(
                page,
                "<a href=\"{0}\" type=\"text/plain\">{0}</a> ",
                escaped(source)
            );
        }
        let _ = write!(
            page,
            "</p>\n</section>\n</main>\n<script>{SCRIPT}</script>\n</body>\n</html>\n"
        );
        page
    }

    fn stage(&self, page: &mut String, task: &Task, facts: &Facts) {
        let stage = &task.library.drill.stages[0];
        let name = escaped(&stage.name);
        let _ = writeln!(
            page,
            "<li>\n<h2>{name} <small>{}</small></h2>",
            minutes(facts.seconds)
        );
        if let Some(goal) = &stage.goal {
            let _ = writeln!(page, "<p>{}</p>", escaped(goal));
        }
        self.player(page, &stage.name, &|form| task.track(form));
        marks(page, facts.marks.iter());
        let _ = writeln!(
            page,
            "<details><summary>What the box shows</summary><img loading=\"lazy\" src=\"{}\" alt=\"The pages of {name}, one \
             after the other\"></details>",
            escaped(&task.pages())
        );
        if self.record.is_made(&task.sheet(), &task.from) {
            let _ = write!(
                page,
                "<p><a href=\"{}\">sheet to print</a></p>",
                escaped(&task.sheet())
            );
        }
        self.links(page, &task.midi(), &|form| task.track(form));
        page.push_str("</li>\n");
    }

    /// A player with all forms, the smallest first.
    fn player(&self, page: &mut String, label: &str, track: &dyn Fn(Form) -> String) {
        let _ = writeln!(
            page,
            "<audio controls preload=\"metadata\" aria-label=\"{}\">",
            escaped(label)
        );
        for form in self.forms.iter().rev() {
            let name = escaped(&track(*form));
            let _ = writeln!(
                page,
                "<source src=\"{name}\" type=\"{}\">",
                form.media_type()
            );
        }
        page.push_str("</audio>\n");
    }

    fn links(&self, page: &mut String, midi: &str, track: &dyn Fn(Form) -> String) {
        page.push_str("<p class=\"files\">");
        for form in self.forms {
            let _ = write!(
                page,
                "<a href=\"{}\">{}</a> ",
                escaped(&track(*form)),
                form.ending()
            );
        }
        let _ = writeln!(page, "<a href=\"{}\">midi</a></p>", escaped(midi));
    }
}

/// Buttons that go to a place of the player above them.
fn marks<'a>(page: &mut String, marks: impl Iterator<Item = &'a Mark>) {
    page.push_str("<p class=\"marks\">");
    for mark in marks {
        let _ = write!(
            page,
            "<button type=\"button\" data-at=\"{:.3}\">{} {}</button> ",
            mark.at_s,
            minutes(mark.at_s),
            escaped(&mark.words)
        );
    }
    page.push_str("</p>\n");
}

fn counted(number: usize, one: &str, more: &str) -> String {
    format!("{number} {}", if number == 1 { one } else { more })
}
