//! What the README shows works as shown.

use underfoot::chart::Chart;
use underfoot::drill::Drill;
use underfoot::fault::Source;

const README: &str = include_str!("../../../README.md");

/// The fenced block after a mark.
fn block(mark: &str) -> &'static str {
    let after = README
        .split_once(&format!("<!-- {mark} -->\n```"))
        .unwrap()
        .1;
    let body = after.split_once('\n').unwrap().1;
    body.split_once("```").unwrap().0
}

#[test]
fn the_chart_of_the_readme_is_without_fault() {
    let text = block("chart");
    let chart = Chart::read(&Source {
        name: "README.md",
        text,
    });
    assert_eq!(chart.unwrap().title, "Two Umbrellas");
}

#[test]
fn the_drill_of_the_readme_is_without_fault() {
    let text = block("drill");
    let drill = Drill::read(&Source {
        name: "README.md",
        text,
    });
    assert_eq!(drill.unwrap().stages.len(), 2);
}

#[test]
fn the_test_command_of_the_readme_is_the_script() {
    assert_eq!(block("test command"), "tests/run\n");
}
