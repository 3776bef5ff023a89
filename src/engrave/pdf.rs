//! A sheet as a tagged PDF: letters are text in fonts that are embedded, signs of music are outlines, which a reader hears
//! told in words.

use super::canvas::{Group, LaidOut, Mark, Role, face};
use super::fonts::{Face, Stroke, written};
use krilla::Document;
use krilla::color::luma;
use krilla::geom::{Path, PathBuilder, Point, Transform};
use krilla::metadata::Metadata;
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke as PdfStroke};
use krilla::surface::Surface;
use krilla::tagging::{
    Artifact, ArtifactType, ContentTag, Identifier, Node, SpanTag, Tag, TagGroup, TagTree,
};
use krilla::text::{Font, GlyphId, KrillaGlyph};
use std::num::NonZeroU16;

/// Points of an inch over its millimetres.
const POINTS: f32 = 72.0 / 25.4;

/// A sheet that could not be written.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the PDF could not be written ({0})")]
pub struct PdfError(String);

struct Fonts {
    plain: Font,
    bold: Font,
}

/// The sheet as a PDF file.
///
/// # Errors
/// When the writer refuses it: a bug.
pub fn to_pdf(sheet: &LaidOut) -> Result<Vec<u8>, PdfError> {
    let font = |face: Face| {
        let font = Font::new(face.bytes().to_vec().into(), 0);
        font.ok_or_else(|| PdfError("a font cannot be read".to_string()))
    };
    let fonts = Fonts {
        plain: font(Face::Plain)?,
        bold: font(Face::Bold)?,
    };
    let mut document = Document::new();
    let title = sheet.title.clone();
    document.set_metadata(
        Metadata::new()
            .title(title)
            .language("en".to_string())
            .creator("underfoot".to_string()),
    );
    let mut tree = TagTree::new().with_lang(Some("en".to_string()));
    for page in &sheet.pages {
        let settings = PageSettings::from_wh(sheet.width * POINTS, sheet.height * POINTS);
        let settings = settings.ok_or_else(|| PdfError("no such paper".to_string()))?;
        let mut paper = document.start_page_with(settings);
        let mut surface = paper.surface();
        surface.push_transform(&Transform::from_scale(POINTS, POINTS));
        for group in &page.groups {
            draw_group(&mut surface, group, &fonts, &mut tree);
        }
        surface.pop();
        surface.finish();
        paper.finish();
    }
    document.set_tag_tree(tree);
    let written = document.finish();
    written
        .map(without_suspects)
        .map_err(|error| PdfError(format!("{error:?}")))
}

/// Blanks out a key that says what is so without it (ISO 32000-1, table 321: false is the default), because poppler up to
/// Debian 12's tells it for a fault. Blanks, so that no offset moves.
fn without_suspects(mut file: Vec<u8>) -> Vec<u8> {
    const KEY: &[u8] = b"/Suspects false";
    if let Some(at) = file.windows(KEY.len()).position(|part| part == KEY) {
        file[at..at + KEY.len()].fill(b' ');
    }
    file
}

fn draw_group(surface: &mut Surface<'_>, group: &Group, fonts: &Fonts, tree: &mut TagTree) {
    if group.marks.is_empty() {
        return;
    }
    let tag = match &group.role {
        Role::Decoration => ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout)),
        Role::Figure(_) => ContentTag::Other,
        Role::Heading(_) | Role::Paragraph => ContentTag::Span(SpanTag::empty()),
    };
    let marked = surface.start_tagged(tag);
    group
        .marks
        .iter()
        .for_each(|mark| draw_mark(surface, mark, fonts));
    surface.end_tagged();
    if let Some(node) = node(group, marked) {
        tree.push(node);
    }
}

/// What the group is in the tree of tags.
fn node(group: &Group, marked: Identifier) -> Option<Node> {
    let mut tagged = match &group.role {
        Role::Decoration => return None,
        Role::Heading(level) => {
            let level = NonZeroU16::new(*level).unwrap_or(NonZeroU16::MIN);
            TagGroup::new(Tag::Hn(level, None))
        }
        Role::Paragraph => TagGroup::new(Tag::P),
        Role::Figure(told) => TagGroup::new(Tag::Figure(Some(told.clone()))),
    };
    tagged.push(marked);
    Some(tagged.into())
}

fn draw_mark(surface: &mut Surface<'_>, mark: &Mark, fonts: &Fonts) {
    match mark {
        Mark::Sign { sign, x, y, space } => {
            let path = outline(&Face::Music.outline(*sign), (*x, *y), space * 4.0);
            fill(surface, path, 0.0);
        }
        Mark::Text {
            text,
            x,
            y,
            size,
            bold,
            gray,
        } => {
            surface.set_stroke(None);
            surface.set_fill(Some(shade(*gray)));
            let text = written(text);
            let glyphs = glyphs(face(*bold), &text);
            let font = if *bold { &fonts.bold } else { &fonts.plain };
            let start = Point::from_xy(*x, *y);
            surface.draw_glyphs(start, &glyphs, font.clone(), &text, *size, false);
        }
        Mark::Line {
            from,
            to,
            width,
            gray,
        } => stroke(surface, &[*from, *to], *width, *gray),
        Mark::Shape { points } => fill(surface, polygon(points), 0.0),
        Mark::Disc { x, y, radius, ring } => {
            fill(surface, circle((*x, *y), *radius), 0.0);
            if *ring {
                fill(surface, circle((*x, *y), radius - 0.3), 1.0);
            }
        }
        Mark::Blank(rect) => {
            let (l, t, r, b) = (rect.left, rect.top, rect.right, rect.bottom);
            fill(surface, polygon(&[(l, t), (r, t), (r, b), (l, b)]), 1.0);
        }
        Mark::Tie { from, to, depth } => {
            let x = (from.0 + to.0) / 2.0;
            let mut path = PathBuilder::new();
            path.move_to(from.0, from.1);
            path.quad_to(x, from.1 + depth * 1.9, to.0, to.1);
            path.quad_to(x, from.1 + depth * 1.5, from.0, from.1);
            path.close();
            fill(surface, path.finish(), 0.0);
        }
    }
}

fn shade(gray: f32) -> Fill {
    let level = (gray * 255.0).round() as u8;
    Fill {
        paint: luma::Color::new(level).into(),
        ..Fill::default()
    }
}

fn fill(surface: &mut Surface<'_>, path: Option<Path>, gray: f32) {
    surface.set_stroke(None);
    surface.set_fill(Some(shade(gray)));
    if let Some(path) = path {
        surface.draw_path(&path);
    }
}

fn stroke(surface: &mut Surface<'_>, points: &[(f32, f32)], width: f32, gray: f32) {
    let mut path = PathBuilder::new();
    for (index, (x, y)) in points.iter().enumerate() {
        if index == 0 {
            path.move_to(*x, *y)
        } else {
            path.line_to(*x, *y)
        }
    }
    let level = (gray * 255.0).round() as u8;
    surface.set_fill(None);
    surface.set_stroke(Some(PdfStroke {
        paint: luma::Color::new(level).into(),
        width,
        ..PdfStroke::default()
    }));
    if let Some(path) = path.finish() {
        surface.draw_path(&path);
    }
}

fn polygon(points: &[(f32, f32)]) -> Option<Path> {
    let mut path = PathBuilder::new();
    for (index, (x, y)) in points.iter().enumerate() {
        if index == 0 {
            path.move_to(*x, *y)
        } else {
            path.line_to(*x, *y)
        }
    }
    path.close();
    path.finish()
}

/// A circle of four curves.
fn circle((x, y): (f32, f32), r: f32) -> Option<Path> {
    let k = r * 0.552_285;
    let mut path = PathBuilder::new();
    path.move_to(x + r, y);
    path.cubic_to(x + r, y + k, x + k, y + r, x, y + r);
    path.cubic_to(x - k, y + r, x - r, y + k, x - r, y);
    path.cubic_to(x - r, y - k, x - k, y - r, x, y - r);
    path.cubic_to(x + k, y - r, x + r, y - k, x + r, y);
    path.close();
    path.finish()
}

fn outline(strokes: &[Stroke], (x0, y0): (f32, f32), em: f32) -> Option<Path> {
    let (px, py) = (|x: f32| x0 + x * em, |y: f32| y0 - y * em);
    let mut path = PathBuilder::new();
    for stroke in strokes {
        match *stroke {
            Stroke::Move(x, y) => path.move_to(px(x), py(y)),
            Stroke::Line(x, y) => path.line_to(px(x), py(y)),
            Stroke::Quad(a, b, x, y) => path.quad_to(px(a), py(b), px(x), py(y)),
            Stroke::Cubic(a, b, c, d, x, y) => {
                path.cubic_to(px(a), py(b), px(c), py(d), px(x), py(y))
            }
            Stroke::Close => path.close(),
        }
    }
    path.finish()
}

fn glyphs(face: Face, text: &str) -> Vec<KrillaGlyph> {
    let glyph = |(at, sign): (usize, char)| {
        let range = at..at + sign.len_utf8();
        KrillaGlyph::new(
            GlyphId::new(face.glyph(sign)),
            face.advance(sign),
            0.0,
            0.0,
            0.0,
            range,
            None,
        )
    };
    text.char_indices().map(glyph).collect()
}
