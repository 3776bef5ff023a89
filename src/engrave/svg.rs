//! A sheet as SVG: the pages below one another, in millimetres. Letters are text, signs of music are outlines.

use super::canvas::{Group, LaidOut, Mark, Role, face};
use super::fonts::{Face, Stroke, written};
use crate::sheet::escaped;
use std::collections::BTreeSet;
use std::fmt::Write;

/// The letters' family; the widths are held by `textLength` where a reader does not have it.
const FAMILY: &str = "'DejaVu Sans Condensed', 'DejaVu Sans', sans-serif";
/// Between pages.
const PAGE_GAP: f32 = 4.0;

/// The sheet as an SVG file.
pub fn to_svg(sheet: &LaidOut) -> String {
    let count = sheet.pages.len() as f32;
    let height = sheet.height * count + PAGE_GAP * (count - 1.0).max(0.0);
    let width = sheet.width;
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}mm\" height=\"{height}mm\" viewBox=\"0 0 {width} {height}\">\n\
         <title>{}</title>\n<defs>\n",
        escaped(&sheet.title)
    );
    for sign in signs_of(sheet) {
        let path = path(&Face::Music.outline(sign));
        let _ = writeln!(out, "<path id=\"s{:x}\" d=\"{path}\"/>", u32::from(sign));
    }
    out.push_str("</defs>\n");
    for (number, page) in sheet.pages.iter().enumerate() {
        let y = number as f32 * (sheet.height + PAGE_GAP);
        let _ = writeln!(
            out,
            "<g class=\"page\" transform=\"translate(0 {y})\" font-family=\"{FAMILY}\">\n\
             <rect width=\"{width}\" height=\"{}\" fill=\"#fff\"/>",
            sheet.height
        );
        page.groups
            .iter()
            .for_each(|group| write_group(&mut out, group));
        out.push_str("</g>\n");
    }
    out.push_str("</svg>\n");
    out
}

fn signs_of(sheet: &LaidOut) -> BTreeSet<char> {
    let groups = sheet.pages.iter().flat_map(|page| &page.groups);
    let marks = groups.flat_map(|group| &group.marks);
    let sign = |mark: &Mark| match mark {
        Mark::Sign { sign, .. } => Some(*sign),
        _ => None,
    };
    marks.filter_map(sign).collect()
}

fn write_group(out: &mut String, group: &Group) {
    let _ = match &group.role {
        Role::Heading(level) => write!(out, "<g role=\"heading\" aria-level=\"{level}\">"),
        Role::Paragraph => write!(out, "<g>"),
        Role::Figure(told) => write!(out, "<g role=\"img\" aria-label=\"{}\">", escaped(told)),
        Role::Decoration => write!(out, "<g aria-hidden=\"true\">"),
    };
    group.marks.iter().for_each(|mark| write_mark(out, mark));
    out.push_str("</g>\n");
}

fn write_mark(out: &mut String, mark: &Mark) {
    // Writing to a string cannot fail.
    let _ = match mark {
        Mark::Sign { sign, x, y, space } => {
            let (code, scale) = (u32::from(*sign), space * 4.0);
            write!(
                out,
                "<use href=\"#s{code:x}\" transform=\"translate({x:.3} {y:.3}) scale({scale:.4} {:.4})\"/>",
                -scale
            )
        }
        Mark::Text { .. } => write_text(out, mark),
        Mark::Line {
            from,
            to,
            width,
            gray,
        } => write!(
            out,
            "<path d=\"M{:.3} {:.3}L{:.3} {:.3}\" stroke=\"{}\" stroke-width=\"{width:.3}\"/>",
            from.0,
            from.1,
            to.0,
            to.1,
            shade(*gray)
        ),
        Mark::Shape { points } => {
            let points: Vec<String> = points
                .iter()
                .map(|(x, y)| format!("{x:.3} {y:.3}"))
                .collect();
            write!(out, "<path d=\"M{}Z\"/>", points.join("L"))
        }
        Mark::Disc { x, y, radius, ring } => {
            let ring = if *ring {
                " fill=\"#fff\" stroke=\"#000\" stroke-width=\"0.3\""
            } else {
                ""
            };
            let radius = if ring.is_empty() {
                *radius
            } else {
                radius - 0.15
            };
            write!(
                out,
                "<circle cx=\"{x:.3}\" cy=\"{y:.3}\" r=\"{radius:.3}\"{ring}/>"
            )
        }
        Mark::Blank(rect) => write!(
            out,
            "<rect x=\"{:.3}\" y=\"{:.3}\" width=\"{:.3}\" height=\"{:.3}\" fill=\"#fff\"/>",
            rect.left,
            rect.top,
            rect.right - rect.left,
            rect.bottom - rect.top
        ),
        Mark::Tie { from, to, depth } => write_tie(out, *from, *to, *depth),
    };
}

fn write_text(out: &mut String, mark: &Mark) -> std::fmt::Result {
    let Mark::Text {
        text,
        x,
        y,
        size,
        bold,
        gray,
    } = mark
    else {
        return Ok(());
    };
    let text = written(text);
    let width = face(*bold).width(&text) * size;
    let weight = if *bold { " font-weight=\"bold\"" } else { "" };
    write!(
        out,
        "<text x=\"{x:.3}\" y=\"{y:.3}\" font-size=\"{size:.3}\" textLength=\"{width:.3}\" \
         lengthAdjust=\"spacingAndGlyphs\"{weight}{} xml:space=\"preserve\">{}</text>",
        fill(*gray),
        escaped(&text)
    )
}

fn write_tie(out: &mut String, from: (f32, f32), to: (f32, f32), depth: f32) -> std::fmt::Result {
    let x = (from.0 + to.0) / 2.0;
    let (far, near) = (from.1 + depth * 1.9, from.1 + depth * 1.5);
    write!(
        out,
        "<path d=\"M{:.3} {:.3}Q{x:.3} {far:.3} {:.3} {:.3}Q{x:.3} {near:.3} {:.3} {:.3}Z\"/>",
        from.0, from.1, to.0, to.1, from.0, from.1
    )
}

fn fill(gray: f32) -> String {
    if gray == 0.0 {
        String::new()
    } else {
        format!(" fill=\"{}\"", shade(gray))
    }
}

fn shade(gray: f32) -> String {
    let level = (gray * 255.0).round() as u8;
    format!("#{level:02x}{level:02x}{level:02x}")
}

/// An outline in ems, y upwards.
fn path(strokes: &[Stroke]) -> String {
    let mut out = String::new();
    for stroke in strokes {
        let _ = match stroke {
            Stroke::Move(x, y) => write!(out, "M{x:.4} {y:.4}"),
            Stroke::Line(x, y) => write!(out, "L{x:.4} {y:.4}"),
            Stroke::Quad(a, b, x, y) => write!(out, "Q{a:.4} {b:.4} {x:.4} {y:.4}"),
            Stroke::Cubic(a, b, c, d, x, y) => {
                write!(out, "C{a:.4} {b:.4} {c:.4} {d:.4} {x:.4} {y:.4}")
            }
            Stroke::Close => write!(out, "Z"),
        };
    }
    out
}
