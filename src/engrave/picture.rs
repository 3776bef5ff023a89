//! A sheet as a picture: the pages below one another.

use super::canvas::{LaidOut, Mark, face};
use super::fonts::{Face, Stroke, written};
use tiny_skia::{Color, FillRule, Paint, Path, PathBuilder, Pixmap, Stroke as Pen, Transform};

/// Pixels of a millimetre: 200 to the inch.
const SCALE: f32 = 200.0 / 25.4;

/// The sheet as a PNG file in gray.
///
/// # Errors
/// When it has more pages than a picture may have rows for.
pub fn to_png(sheet: &LaidOut) -> std::io::Result<Vec<u8>> {
    let too_large = || std::io::Error::other("the sheet is too long for a picture");
    let width = (sheet.width * SCALE).round() as u32;
    let height = (sheet.height * SCALE).round() as u32;
    let mut gray = Vec::new();
    for page in &sheet.pages {
        let mut pixels = Pixmap::new(width, height).ok_or_else(too_large)?;
        pixels.fill(Color::WHITE);
        let marks = page.groups.iter().flat_map(|group| &group.marks);
        marks.for_each(|mark| draw(&mut pixels, mark));
        gray.extend(pixels.pixels().iter().map(|pixel| pixel.red()));
    }
    let height = height * sheet.pages.len() as u32;
    let mut bytes = Vec::new();
    let mut encoder = ::png::Encoder::new(&mut bytes, width, height);
    encoder.set_color(::png::ColorType::Grayscale);
    encoder.set_depth(::png::BitDepth::Eight);
    encoder
        .write_header()
        .map_err(|_| too_large())?
        .write_image_data(&gray)
        .map_err(|_| too_large())?;
    Ok(bytes)
}

fn draw(pixels: &mut Pixmap, mark: &Mark) {
    match mark {
        Mark::Sign { sign, x, y, space } => {
            let mut path = PathBuilder::new();
            add(&mut path, Face::Music, *sign, (*x, *y), space * 4.0);
            fill(pixels, path.finish(), 0.0);
        }
        Mark::Text {
            text,
            x,
            y,
            size,
            bold,
            gray,
        } => {
            let (face, mut at) = (face(*bold), *x);
            let mut path = PathBuilder::new();
            for sign in written(text).chars() {
                add(&mut path, face, sign, (at, *y), *size);
                at += face.advance(sign) * size;
            }
            fill(pixels, path.finish(), *gray);
        }
        Mark::Line {
            from,
            to,
            width,
            gray,
        } => {
            let mut path = PathBuilder::new();
            path.move_to(from.0, from.1);
            path.line_to(to.0, to.1);
            let pen = Pen {
                width: *width,
                ..Pen::default()
            };
            if let Some(path) = path.finish() {
                pixels.stroke_path(
                    &path,
                    &paint(*gray),
                    &pen,
                    Transform::from_scale(SCALE, SCALE),
                    None,
                );
            }
        }
        Mark::Shape { points } => fill(pixels, polygon(points), 0.0),
        Mark::Disc { x, y, radius, ring } => {
            fill(pixels, PathBuilder::from_circle(*x, *y, *radius), 0.0);
            if *ring {
                fill(pixels, PathBuilder::from_circle(*x, *y, radius - 0.3), 1.0);
            }
        }
        Mark::Blank(rect) => {
            let (l, t, r, b) = (rect.left, rect.top, rect.right, rect.bottom);
            fill(pixels, polygon(&[(l, t), (r, t), (r, b), (l, b)]), 1.0);
        }
        Mark::Tie { from, to, depth } => fill(pixels, tie(*from, *to, *depth), 0.0),
    }
}

fn tie(from: (f32, f32), to: (f32, f32), depth: f32) -> Option<Path> {
    let x = (from.0 + to.0) / 2.0;
    let mut path = PathBuilder::new();
    path.move_to(from.0, from.1);
    path.quad_to(x, from.1 + depth * 1.9, to.0, to.1);
    path.quad_to(x, from.1 + depth * 1.5, from.0, from.1);
    path.close();
    path.finish()
}

fn paint(gray: f32) -> Paint<'static> {
    let mut paint = Paint::default();
    let level = (gray * 255.0).round() as u8;
    paint.set_color_rgba8(level, level, level, 255);
    paint
}

fn fill(pixels: &mut Pixmap, path: Option<Path>, gray: f32) {
    if let Some(path) = path {
        let scale = Transform::from_scale(SCALE, SCALE);
        pixels.fill_path(&path, &paint(gray), FillRule::Winding, scale, None);
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

fn add(path: &mut PathBuilder, face: Face, sign: char, (x0, y0): (f32, f32), em: f32) {
    let (px, py) = (|x: f32| x0 + x * em, |y: f32| y0 - y * em);
    for stroke in face.outline(sign) {
        match stroke {
            Stroke::Move(x, y) => path.move_to(px(x), py(y)),
            Stroke::Line(x, y) => path.line_to(px(x), py(y)),
            Stroke::Quad(a, b, x, y) => path.quad_to(px(a), py(b), px(x), py(y)),
            Stroke::Cubic(a, b, c, d, x, y) => {
                path.cubic_to(px(a), py(b), px(c), py(d), px(x), py(y))
            }
            Stroke::Close => path.close(),
        }
    }
}
