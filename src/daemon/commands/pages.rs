//! `underfoot pages`: what the box will show of a drill over a chart, without playing it.
// It writes files.
#![allow(clippy::disallowed_methods)]

use super::output::unwritable;
use crate::daemon::args::PagesArgs;
use crate::daemon::config::{Config, Overlay};
use crate::daemon::files::{self, Failure, exit};
use crate::daemon::render::{self, Job, Keep, Length, Unheard};
use crate::daemon::rig::AtOnce;
use crate::daemon::whole_file::WholeFile;
use crate::daemon::{setup, targets as listing};
use crate::display::screens::png_bytes;
use crate::display::{Bitmap, Page, Panel, PracticePage, contact_sheet, draw};
use crate::foot::Action;
use crate::practice::{Core, Library};
use crate::speech::Speaker;
use std::collections::VecDeque;

/// Nothing is heard of it, so few frames do.
const RATE: u32 = 16_000;
const BLOCK_FRAMES: usize = 1024;
/// Millimetres of an inch.
const INCH_MM: f32 = 25.4;

/// The panels that boxes have, with their diagonals in inches.
const PANELS: [(u32, u32, Option<f32>); 5] = [
    (128, 64, Some(2.42)),
    (128, 64, Some(0.96)),
    (128, 32, None),
    (256, 64, None),
    (320, 240, None),
];

/// `underfoot pages`.
///
/// # Errors
/// Faults of the files (65, 78); no such stage (64); what cannot be written (65).
pub fn pages(args: &PagesArgs) -> Result<(), Failure> {
    let flags = Overlay {
        charts: vec![args.chart.clone()],
        drill: args.practised.drill.clone(),
        ..Overlay::default()
    };
    let config = files::config_apart(args.config.as_deref(), flags)?;
    let library = setup::library(&config)?;
    let asked = args.practised.stage.as_deref();
    let only = listing::stage_index(&library.drill, asked)
        .map_err(|error| Failure::new(exit::USAGE, error.to_string()))?;
    let stages = match asked {
        Some(_) => only..only + 1,
        None => 0..library.drill.stages.len(),
    };
    let shown: Result<Vec<(String, Vec<Page>)>, Failure> = stages
        .map(|stage| {
            let name = library.drill.stages[stage].name.clone();
            Ok((name, shown(args, &config, &library, stage)?))
        })
        .collect();
    let title = format!("{}: {}", library.charts[0].title, library.drill.title);
    write(args, &title, &shown?)
}

/// The pages of one round of a stage, up to where the next one begins.
fn shown(
    args: &PagesArgs,
    config: &Config,
    library: &Library,
    stage: usize,
) -> Result<Vec<Page>, Failure> {
    let mut core = Core::new(library.clone(), setup::settings(config, RATE), None);
    core.stand(stage, false);
    if let Some(qpm) = args.tempo {
        core.set_start_tempo(qpm);
    }
    let cycle = &library.drill.stages[stage].cycle;
    let job = Job {
        prepared: setup::prepared(config, None, RATE, 2),
        foot: VecDeque::new(),
        length: Length::Passes(cycle.listen + cycle.sing + cycle.play + 1),
        blocks: vec![BLOCK_FRAMES],
        voice: Box::new(AtOnce::new(Speaker::silent())),
        guitar: None,
        keep: Keep {
            lines: false,
            notes: false,
            midi: false,
            every_page: true,
        },
    };
    let rendered = render::render(core, job, config.seed, &mut Unheard)
        .map_err(|error| Failure::new(exit::SOFTWARE, error.to_string()))?;
    let of_round = rendered
        .pages
        .into_iter()
        .filter(|shown| match &shown.page {
            Page::CountIn { .. } | Page::Breathe(_) => true,
            // The pass after the round only leads to the end.
            Page::Practice(page) => shown.turned && !is_last_time(page),
            _ => false,
        });
    Ok(of_round.map(|shown| shown.page).collect())
}

fn is_last_time(page: &PracticePage) -> bool {
    let armed = page.armed.as_ref();
    armed.is_some_and(|armed| armed.what.contains(Action::LastTime.name()))
}

fn write(args: &PagesArgs, title: &str, stages: &[(String, Vec<Page>)]) -> Result<(), Failure> {
    let dir = &args.output;
    std::fs::create_dir_all(dir).map_err(|error| unwritable(dir, &error))?;
    let usual = || PANELS.map(|(w, h, inches)| panel(w, h, inches)).to_vec();
    let panels = match args.panels.is_empty() {
        true => usual(),
        false => args.panels.clone(),
    };
    for panel in panels {
        let drawn = stages
            .iter()
            .map(|(name, pages)| (name.clone(), drawn(pages, panel)));
        let name = panel_name(panel);
        let sheet = contact_sheet(
            &format!("{title}, {}", name.replace('@', " pixels, inches: ")),
            &drawn.collect::<Vec<_>>(),
        );
        let path = dir.join(format!("{name}.png"));
        let png = png_bytes(&sheet, 1);
        WholeFile::write(&path, &png).map_err(|error| unwritable(&path, &error))?;
    }
    Ok(())
}

/// Each picture once: what comes again looks as before.
fn drawn(pages: &[Page], panel: Panel) -> Vec<Bitmap> {
    let mut pictures: Vec<Bitmap> = Vec::new();
    for picture in pages.iter().map(|page| draw(page, panel)) {
        if !pictures.contains(&picture) {
            pictures.push(picture);
        }
    }
    pictures
}

fn panel(width: u32, height: u32, inches: Option<f32>) -> Panel {
    Panel {
        panel_mm: inches.map(|inches| inches * INCH_MM),
        ..Panel::new(width, height)
    }
}

/// A panel as it is asked for.
fn panel_name(panel: Panel) -> String {
    let pixels = format!("{}x{}", panel.width, panel.height);
    match panel.panel_mm {
        Some(mm) => format!("{pixels}@{:.2}", mm / INCH_MM),
        None => pixels,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::daemon::args::StageArgs;
    use crate::drill::Phase;

    #[test]
    fn a_whole_round_is_shown_also_of_a_stage_that_goes_on_by_itself() {
        let project = |path: &str| [env!("CARGO_MANIFEST_DIR"), path].join("/").into();
        let args = PagesArgs {
            chart: project("configs/charts/ferry-at-six.toml"),
            practised: StageArgs {
                drill: Some(project("configs/drills/first-evening.toml")),
                stage: None,
            },
            config: None,
            panels: Vec::new(),
            tempo: None,
            output: project("target"),
        };
        let flags = Overlay {
            charts: vec![args.chart.clone()],
            drill: args.practised.drill.clone(),
            ..Overlay::default()
        };
        let config = files::config_apart(None, flags).unwrap();
        let library = setup::library(&config).unwrap();
        let pages = shown(&args, &config, &library, 0).unwrap();
        let has = |phase: Phase| {
            let is_of = |page: &Page| matches!(page, Page::Practice(page) if page.phase == phase);
            pages.iter().any(is_of)
        };
        assert!(has(Phase::Listen) && has(Phase::Play));
        assert!(matches!(pages.first(), Some(Page::CountIn { .. })));
    }
}
