//! Pages as they reach a screen of the running daemon: each that turns is shown, in order, and how soon.
// Runs the program against a real server.

use crate::support::calm::{Disturbed, Probe, Wakes, undisturbed};
use crate::support::daemon::{Daemon, within};
use crate::support::jackd::{Server, isolated};
use crate::support::program::{events, root};
use serde_json::Value;
use std::time::Duration;

const RATE: u32 = 48_000;
/// From a page's line to the page on the screen. A screen takes ten pages a second at most, so a page that turns
/// right after a count waits 100 ms; the rest is drawing, sending, and the loop's patience. (Our own bound.)
const DELAY_LIMIT_MS: f64 = 150.0;
/// The same for most pages, which wait for no other.
const USUAL_LIMIT_MS: f64 = 8.0;
/// A machine on which a thread of the daemon's priority wakes later than this says nothing about the daemon.
const CALM_MS: f64 = 10.0;
/// Pages that are waited for: the count-in and most of a section of eight bars.
const PAGES: usize = 16;

fn number(line: &Value, key: &str) -> f64 {
    line[key].as_f64().expect("a number")
}

fn of_kind<'a>(lines: &'a [Value], kind: &str) -> Vec<&'a Value> {
    lines.iter().filter(|line| line["kind"] == kind).collect()
}

/// The lines of a take that plays by itself until enough pages have turned, and how calm the machine was.
fn played() -> (Vec<Value>, Wakes) {
    let home = tempfile::tempdir().expect("a directory");
    let _server = Server::start(RATE, 256);
    let file = |name: &str| home.path().join(name).display().to_string();
    let chart = root("configs/charts/nine-lanterns.toml");
    std::fs::write(file("underfoot.toml"), "[speech]\nengine = \"none\"\n").expect("a file");
    std::fs::write(file("foot.txt"), "").expect("a file");
    let (config, chart, foot) = (
        file("underfoot.toml"),
        chart.display().to_string(),
        file("foot.txt"),
    );
    let (log, pages) = (file("events.jsonl"), file("pages"));
    let args = [
        "--config", &config, "--chart", &chart, "--foot", &foot, "--events", &log, "--pages",
        &pages, "--fresh",
    ];
    let probe = Probe::start();
    let daemon = Daemon::start(home.path(), &args);
    let log = home.path().join("events.jsonl");
    let enough = || of_kind(&events(&log), "shown").len() >= PAGES;
    assert!(
        within(Duration::from_secs(60), enough),
        "too few pages:\n{}",
        daemon.errors()
    );
    daemon.signal(rustix::process::Signal::TERM);
    daemon.wait(5);
    (events(&log), probe.finish())
}

#[test]
fn every_page_reaches_the_screen_in_order() {
    isolated(|| {
        undisturbed("pages on a screen", pages_on_a_screen);
    });
}

fn pages_on_a_screen() -> Result<(), Disturbed> {
    let (lines, wakes) = played();
    let (pages, shown) = (of_kind(&lines, "page"), of_kind(&lines, "shown"));
    // Before the take begins nothing counts frames; what turned at the very end may not have reached it.
    let framed = |lines: Vec<&Value>, key: &str| -> Vec<f64> {
        let numbers = lines.iter().filter_map(|line| line[key].as_f64());
        numbers.filter(|frame| *frame >= 0.0).collect()
    };
    let told = framed(pages, "frame");
    let seen = framed(shown.clone(), "page_frame");
    assert!(seen.len() + 1 >= PAGES, "{} pages", seen.len());
    assert_eq!(
        seen[..],
        told[..seen.len()],
        "one shown line a page, in the order of the pages"
    );
    assert!(
        told.len() - seen.len() <= 1,
        "{} of {} pages shown",
        seen.len(),
        told.len()
    );
    let mut delays_ms: Vec<f64> = Vec::new();
    for line in shown.iter().filter(|line| line["page_frame"].is_number()) {
        assert_eq!(line["screen"], "pages");
        let delay_ms =
            (number(line, "frame") - number(line, "page_frame")) * 1000.0 / f64::from(RATE);
        assert!(delay_ms >= 0.0, "shown before it turned: {line}");
        delays_ms.push(delay_ms);
    }
    delays_ms.sort_by(f64::total_cmp);
    let at = |part: f64| delays_ms[((delays_ms.len() - 1) as f64 * part) as usize];
    let overtaken = shown
        .iter()
        .filter(|line| line["overtaken"] == true)
        .count();
    let probe_ms = wakes.worst().as_secs_f64() * 1000.0;
    println!(
        "{} pages, from line to screen: median {:.1} ms, 95 % {:.1} ms, worst {:.1} ms; {overtaken} overtaken; probe \
             late by {probe_ms:.1} ms at worst",
        delays_ms.len(),
        at(0.5),
        at(0.95),
        at(1.0)
    );
    let is_late = at(1.0) > DELAY_LIMIT_MS || at(0.5) > USUAL_LIMIT_MS || overtaken > 0;
    if is_late && probe_ms > CALM_MS {
        return Err(Disturbed::Busy(format!(
            "the probe woke {probe_ms:.1} ms late"
        )));
    }
    assert!(!is_late, "late, and the machine was calm");
    Ok(())
}
