//! No mark lies over another, none off the page, and a tune of 32 bars has two pages at the most.

use super::{CHARTS, PLAYERS, chart, config, drills, sheet, stages};
use underfoot::engrave::{LaidOut, Mark, Paper, Rect, SheetModel, chorus_on_paper, rows_on_paper};

/// What two marks may share, in millimetres: rounding, and curves whose points that steer lie outside of them.
const SHARED_MM: f32 = 0.12;
/// White paper at the edge of a page.
const EDGE_MM: f32 = 8.0;

/// What is wrong with a sheet.
fn faults(sheet: &LaidOut) -> Vec<String> {
    let mut faults = Vec::new();
    for (number, page) in (1..).zip(&sheet.pages) {
        let marks = page.groups.iter().flat_map(|group| &group.marks);
        let mut apart: Vec<(Rect, &Mark)> = marks
            .filter(|mark| mark.is_apart())
            .map(|mark| (mark.ink(), mark))
            .collect();
        apart.sort_by(|one, other| one.0.left.total_cmp(&other.0.left));
        for (index, (ink, mark)) in apart.iter().enumerate() {
            if ink.left < EDGE_MM
                || ink.top < EDGE_MM
                || ink.right > sheet.width - EDGE_MM
                || ink.bottom > sheet.height - EDGE_MM
            {
                faults.push(format!("page {number}: {mark:?} is off the page"));
            }
            for (other_ink, other) in &apart[index + 1..] {
                if other_ink.left > ink.right {
                    break;
                }
                if ink.overlap(other_ink) > SHARED_MM {
                    faults.push(format!("page {number}: {mark:?} and {other:?}"));
                }
            }
        }
    }
    faults
}

fn on_paper(model: &SheetModel, is_chorus: bool, paper: Paper) -> LaidOut {
    if is_chorus {
        chorus_on_paper(model, paper)
    } else {
        rows_on_paper(model, paper)
    }
}

#[test]
fn nothing_lies_over_anything_and_thirty_two_bars_have_two_pages() {
    let mut count = 0;
    for name in CHARTS {
        let chart = chart(name);
        for (drill_name, drill) in drills() {
            for stage in stages(&drill) {
                for (number, player) in PLAYERS.iter().enumerate() {
                    // All players see some sheets, one of them in turn sees all.
                    if number > 0 && (count + stage) % 4 + 1 != number {
                        continue;
                    }
                    for (over, is_chorus) in [(None, false), (Some("form"), false), (None, true)] {
                        let model =
                            sheet(&chart, &drill, stage, &config(player), (over, is_chorus));
                        let paper = if count % 2 == 0 {
                            Paper::A4
                        } else {
                            Paper::Letter
                        };
                        let laid_out = on_paper(&model, is_chorus, paper);
                        let what = format!(
                            "{name} {drill_name} {stage} {player:?} {over:?} {is_chorus} {paper:?}"
                        );
                        let faults = faults(&laid_out);
                        assert!(
                            faults.is_empty(),
                            "{what}: {} faults, {}",
                            faults.len(),
                            faults[..faults.len().min(3)].join("\n")
                        );
                        let times = drill.stages[stage - 1].chords_last;
                        // Chords that last longer make more bars of the same tune.
                        if times == 1 || !is_chorus {
                            assert!(
                                laid_out.pages.len() <= 2,
                                "{what}: {} pages",
                                laid_out.pages.len()
                            );
                        }
                        count += 1;
                    }
                }
            }
        }
    }
    assert!(count > 300, "{count} sheets");
}

#[test]
fn the_check_finds_what_lies_over_something() {
    let (_, drill) = drills().swap_remove(0);
    let model = sheet(&chart(CHARTS[0]), &drill, 1, &config(""), (None, false));
    let mut laid_out = rows_on_paper(&model, Paper::A4);
    assert!(faults(&laid_out).is_empty());
    let marks = &mut laid_out.pages[0].groups[0].marks;
    let again = marks[0].clone().moved(1.0, 0.0);
    marks.push(again);
    assert_eq!(faults(&laid_out).len(), 1);
    let off = laid_out.pages[0].groups[0]
        .marks
        .pop()
        .unwrap()
        .moved(300.0, 0.0);
    laid_out.pages[0].groups[0].marks.push(off);
    assert_eq!(faults(&laid_out).len(), 1);
}
