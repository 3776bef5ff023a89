//! Charts: time by week, how skills went, the map of skills. Drawn by plotters, as SVG or as pixels.

use super::model::{Report, SkillReport, Week, escape};
use super::pixels::{self, Pixels};

use plotters::coord::Shift;
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;

/// Colours that the colour-blind tell apart (M. Okabe, K. Ito, "Color Universal Design", 2002), dark enough on white.
const LINES: [RGBColor; 4] = [
    RGBColor(0, 90, 150),
    RGBColor(190, 80, 0),
    RGBColor(0, 120, 90),
    RGBColor(150, 70, 120),
];
const INK: RGBColor = RGBColor(30, 30, 30);
const SIZE: u32 = 12;
/// Skills whose way is drawn.
pub(super) const DRAWN: usize = 4;

/// Why there is no picture.
pub type ChartError = Box<dyn std::error::Error>;

/// The whole report as one SVG picture.
///
/// # Errors
/// When it cannot be drawn.
pub fn svg(report: &Report) -> Result<String, ChartError> {
    let mut out = String::new();
    let size = size(report);
    {
        let area = SVGBackend::with_string(&mut out, size).into_drawing_area();
        draw_all(&area, report)?;
        area.present()?;
    }
    Ok(out)
}

/// The whole report as one PNG picture.
///
/// # Errors
/// When it cannot be drawn.
pub fn png(report: &Report) -> Result<Vec<u8>, ChartError> {
    let size = size(report);
    let mut rgb = vec![255; (size.0 * size.1 * 3) as usize];
    {
        let area = Pixels::new(size, &mut rgb).into_drawing_area();
        draw_all(&area, report)?;
        area.present()?;
    }
    Ok(pixels::png(size, &rgb)?)
}

fn size(report: &Report) -> (u32, u32) {
    (680, 480 + 22 * (qualities(report).len() as u32 + 2))
}

fn draw_all<B: DrawingBackend>(
    area: &DrawingArea<B, Shift>,
    report: &Report,
) -> Result<(), ChartError>
where
    B::ErrorType: 'static,
{
    area.fill(&WHITE)?;
    let (time, rest) = area.split_vertically(220);
    let (trend, map) = rest.split_vertically(250);
    draw_time(&time, report)?;
    draw_trend(&trend, report)?;
    draw_map(&map, report)
}

/// One chart as SVG, with what it shows for those who do not see it.
pub(super) fn one_svg(report: &Report, what: &str, label: &str) -> Result<String, ChartError> {
    let mut out = String::new();
    {
        let area = SVGBackend::with_string(&mut out, (340, 210)).into_drawing_area();
        area.fill(&WHITE)?;
        match what {
            "time" => draw_time(&area, report)?,
            _ => draw_trend(&area, report)?,
        }
        area.present()?;
    }
    // Inside a page it needs no head of its own.
    let begins = out.find("<svg ").unwrap_or(0);
    let named = format!("<svg role=\"img\" aria-label=\"{}\" ", escape(label));
    Ok(out[begins..].replacen("<svg ", &named, 1))
}

fn font() -> TextStyle<'static> {
    ("sans-serif", SIZE).into_font().color(&INK)
}

/// Where a chart is longer than a year, its weeks are told by year and month, else by month and day.
const A_YEAR: usize = 53;

/// The Monday of a week: month and day, or year and month.
fn week_label(report: &Report, at: f64) -> String {
    let part = if report.weeks.len() > A_YEAR {
        0..7
    } else {
        5..10
    };
    let week = report.weeks.get(at.round().max(0.0) as usize);
    week.and_then(|week| week.begins.get(part))
        .unwrap_or_default()
        .to_string()
}

/// A chart over so many weeks, from nothing to `top`.
fn frame<'a, B: DrawingBackend + 'a>(
    area: &DrawingArea<B, Shift>,
    caption: &str,
    report: &Report,
    (weeks, top): (usize, f64),
) -> Result<Plane<'a, B>, ChartError>
where
    B::ErrorType: 'static,
{
    let mut chart = ChartBuilder::on(area)
        .caption(caption, font())
        .margin(6)
        .x_label_area_size(22)
        .y_label_area_size(36)
        .build_cartesian_2d(-0.5..weeks as f64 - 0.5, 0.0..top)?;
    chart
        .configure_mesh()
        .disable_x_mesh()
        .label_style(font())
        .x_labels(4)
        .y_labels(5)
        .max_light_lines(1)
        .x_label_formatter(&|at| week_label(report, *at))
        .y_label_formatter(&|amount| format!("{amount:.0}"))
        .draw()?;
    Ok(chart)
}

fn draw_time<B: DrawingBackend>(
    area: &DrawingArea<B, Shift>,
    report: &Report,
) -> Result<(), ChartError>
where
    B::ErrorType: 'static,
{
    let most = report
        .weeks
        .iter()
        .map(|week| week.seconds / 60.0)
        .fold(10.0, f64::max);
    let size = (report.weeks.len().max(1), most * 1.05);
    let mut chart = frame(area, "minutes a week", report, size)?;
    let bar = |(number, week): (usize, &Week)| {
        let at = number as f64;
        Rectangle::new(
            [(at - 0.4, 0.0), (at + 0.4, week.seconds / 60.0)],
            LINES[0].filled(),
        )
    };
    chart.draw_series(report.weeks.iter().enumerate().map(bar))?;
    Ok(())
}

/// The skills whose way is drawn: the least sure of those that were played often.
pub(super) fn drawn(report: &Report) -> Vec<&SkillReport> {
    let often = report
        .skills
        .iter()
        .filter(|skill| skill.estimate.trials >= 24);
    often.take(DRAWN).collect()
}

fn draw_trend<B: DrawingBackend>(
    area: &DrawingArea<B, Shift>,
    report: &Report,
) -> Result<(), ChartError>
where
    B::ErrorType: 'static,
{
    let size = (report.weeks.len().max(2), 104.0);
    let mut chart = frame(area, "right notes of 100, by week", report, size)?;
    let ways: Vec<Vec<(f64, f64)>> = drawn(report).into_iter().map(shares).collect();
    let ends = ways
        .iter()
        .map(|way| way.last().map_or(0.0, |(_, share)| *share));
    let heights = apart(&ends.collect::<Vec<f64>>(), 8.0);
    for (number, (way, height)) in ways.iter().zip(heights).enumerate() {
        draw_way(&mut chart, number, way, height)?;
    }
    Ok(())
}

/// Each week in which a skill was asked for, and how much of 100 was right.
fn shares(skill: &SkillReport) -> Vec<(f64, f64)> {
    let weeks = skill
        .weeks
        .iter()
        .enumerate()
        .filter(|(_, (asked, _))| *asked > 0);
    let share = |(week, (asked, right)): (usize, &(u32, u32))| {
        (week as f64, 100.0 * f64::from(*right) / f64::from(*asked))
    };
    weeks.map(share).collect()
}

/// Where the numbers at the lines' ends stand, so that none covers another: at least `gap` apart, the lowest where it belongs.
fn apart(ends: &[f64], gap: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..ends.len()).collect();
    order.sort_by(|one, other| ends[*one].total_cmp(&ends[*other]));
    let (mut heights, mut free) = (ends.to_vec(), f64::NEG_INFINITY);
    for line in order {
        heights[line] = ends[line].max(free);
        free = heights[line] + gap;
    }
    heights
}

type Plane<'a, B> = ChartContext<'a, B, Cartesian2d<RangedCoordf64, RangedCoordf64>>;

fn draw_way<B: DrawingBackend>(
    chart: &mut Plane<'_, B>,
    number: usize,
    points: &[(f64, f64)],
    height: f64,
) -> Result<(), ChartError>
where
    B::ErrorType: 'static,
{
    let colour = LINES[number % LINES.len()];
    chart.draw_series(LineSeries::new(
        points.iter().copied(),
        colour.stroke_width(2),
    ))?;
    // Another shape for each, for whoever tells no colours apart.
    let style = ShapeStyle {
        color: colour.to_rgba(),
        filled: number.is_multiple_of(2),
        stroke_width: 1,
    };
    match number / 2 {
        0 => chart.draw_series(points.iter().map(|point| Circle::new(*point, 3, style)))?,
        _ => chart.draw_series(
            points
                .iter()
                .map(|point| TriangleMarker::new(*point, 4, style)),
        )?,
    };
    // At the line's end its number, as in the list under the chart.
    if let Some((week, _)) = points.last() {
        let label = Text::new(
            format!("{}", number + 1),
            (week + 0.1, height),
            font().color(&colour),
        );
        chart.draw_series([label])?;
    }
    Ok(())
}

/// The qualities, as they first come among the skills, sorted by name.
pub(super) fn qualities(report: &Report) -> Vec<&str> {
    let mut found: Vec<&str> = report
        .skills
        .iter()
        .map(|skill| skill.quality.as_str())
        .collect();
    found.sort_unstable();
    found.dedup();
    found
}

/// The degrees, in the order of the scale.
pub(super) fn degrees(report: &Report) -> Vec<&str> {
    let mut found: Vec<&str> = report
        .skills
        .iter()
        .map(|skill| skill.degree.as_str())
        .collect();
    let key = |degree: &&str| {
        let number: u8 = degree
            .trim_start_matches(['b', '#'])
            .parse()
            .unwrap_or(u8::MAX);
        let alter = degree.matches('#').count() as i32 - degree.matches('b').count() as i32;
        (number, alter)
    };
    found.sort_by_key(key);
    found.dedup();
    found
}

pub(super) fn skill_at<'a>(
    report: &'a Report,
    quality: &str,
    degree: &str,
) -> Option<&'a SkillReport> {
    let mut skills = report.skills.iter();
    skills.find(|skill| skill.quality == quality && skill.degree == degree)
}

/// Darker is surer; the words in the cell say it, too.
pub(super) fn tint(right: f64) -> (u8, u8, u8) {
    let dark = ((right - 0.4) / 0.6).clamp(0.0, 1.0);
    let mix = |from: f64, to: f64| (from + (to - from) * dark).round() as u8;
    (mix(250.0, 150.0), mix(250.0, 200.0), mix(250.0, 235.0))
}

fn draw_map<B: DrawingBackend>(
    area: &DrawingArea<B, Shift>,
    report: &Report,
) -> Result<(), ChartError>
where
    B::ErrorType: 'static,
{
    let (qualities, degrees) = (qualities(report), degrees(report));
    let (width, _) = area.dim_in_pixel();
    let cell = ((width as i32 - 140) / degrees.len().max(1) as i32).clamp(20, 90);
    for (column, degree) in degrees.iter().enumerate() {
        area.draw(&Text::new(
            (*degree).to_string(),
            (136 + column as i32 * cell, 6),
            font(),
        ))?;
    }
    for (row, quality) in qualities.iter().enumerate() {
        let top = 24 + row as i32 * 22;
        area.draw(&Text::new((*quality).to_string(), (8, top + 4), font()))?;
        for (column, degree) in degrees.iter().enumerate() {
            let Some(skill) = skill_at(report, quality, degree) else {
                continue;
            };
            let left = 130 + column as i32 * cell;
            let (red, green, blue) = tint(skill.estimate.right);
            let style = RGBColor(red, green, blue).filled();
            area.draw(&Rectangle::new(
                [(left, top), (left + cell - 2, top + 20)],
                style,
            ))?;
            let estimate = &skill.estimate;
            let share = |share: f64| format!("{:.0}", share * 100.0);
            let text = match cell {
                70.. => format!(
                    "{} ({}-{})",
                    share(estimate.right),
                    share(estimate.between.0),
                    share(estimate.between.1)
                ),
                _ => share(estimate.right),
            };
            area.draw(&Text::new(text, (left + 3, top + 4), font()))?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_number_at_a_line_s_end_covers_another() {
        for (ends, expected) in [
            (&[50.0, 90.0][..], &[50.0, 90.0][..]),
            (&[69.0, 92.0, 67.0, 79.0], &[75.0, 92.0, 67.0, 83.0]),
            (&[70.0, 70.0, 70.0], &[70.0, 78.0, 86.0]),
            (&[], &[]),
        ] {
            assert_eq!(apart(ends, 8.0), expected);
        }
    }
}
