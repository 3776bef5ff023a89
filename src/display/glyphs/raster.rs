//! Strokes to pixels, without grey: every stem of a size has the same whole width and sits on whole pixels.

use super::shapes::{Shape, Stroke, Zone};

/// What is rounded once for a size, so that all letters agree.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Metrics {
    /// Height of a capital.
    pub cap: i32,
    /// Height of an `x`.
    pub x_height: i32,
    /// How far a `g` goes below the line.
    pub descent: i32,
    /// Width of an upright stroke.
    stem: i32,
    /// Height of a level stroke.
    bar: i32,
    /// Empty columns between letters.
    pub gap: i32,
}

fn part(of: i32, ratio: f32) -> i32 {
    (of as f32 * ratio).round() as i32
}

impl Metrics {
    /// For capitals of `cap` pixels.
    pub fn new(cap: i32) -> Metrics {
        let stem = part(cap, 0.168).max(1);
        Metrics {
            cap,
            x_height: part(cap, 0.72),
            descent: part(cap, 0.24),
            stem,
            bar: part(cap, 0.15).max(1),
            gap: part(cap, 0.13).max(1),
        }
    }

    /// Width of a shape in pixels.
    pub fn width(&self, shape: &Shape) -> i32 {
        let (stem, _) = self.pen(shape);
        if shape.strokes.is_empty() {
            part(self.cap, shape.width).max(1)
        } else {
            part(self.cap, shape.width).max(stem)
        }
    }

    fn pen(&self, shape: &Shape) -> (i32, i32) {
        let scale = |width: i32| part(width, shape.weight).max(1);
        (scale(self.stem), scale(self.bar))
    }
}

/// One shape being drawn at one size; calls `run(x, y, columns)` for each lit run, measured from the left
/// upper corner of the capital's box.
struct Pen<'run> {
    metrics: Metrics,
    zone: Zone,
    width: i32,
    stem: i32,
    bar: i32,
    run: &'run mut dyn FnMut(i32, i32, i32),
}

/// Draws a shape.
pub(super) fn draw(shape: &Shape, metrics: Metrics, run: &mut dyn FnMut(i32, i32, i32)) {
    let (stem, bar) = metrics.pen(shape);
    let mut pen = Pen {
        metrics,
        zone: shape.zone,
        width: metrics.width(shape),
        stem,
        bar,
        run,
    };
    for stroke in shape.strokes {
        pen.stroke(*stroke);
    }
}

impl Pen<'_> {
    /// The left edge of a stroke `wide` pixels wide at `x`.
    fn left(&self, x: f32, wide: i32) -> i32 {
        part(self.width - wide, x)
    }

    /// The upper edge of a level stroke at `y`.
    fn top(&self, y: f32) -> i32 {
        let m = &self.metrics;
        match self.zone {
            Zone::Cap => part(m.cap - self.bar, y),
            Zone::Small => {
                let (x_top, line) = (m.cap - m.x_height, m.cap - self.bar);
                if y < 0.0 {
                    x_top + part(x_top, y)
                } else if y <= 1.0 {
                    x_top + part(line - x_top, y)
                } else {
                    line + part(m.descent, y - 1.0)
                }
            }
        }
    }

    fn block(&mut self, x: i32, y: i32, w: i32, h: i32) {
        for row in y..y + h {
            (self.run)(x, row, w);
        }
    }

    fn stroke(&mut self, stroke: Stroke) {
        match stroke {
            Stroke::V(x, from, to) => {
                let (top, bottom) = (self.top(from), self.top(to) + self.bar);
                self.block(self.left(x, self.stem), top, self.stem, bottom - top);
            }
            Stroke::H(y, from, to) => {
                let (left, right) = (
                    self.left(from, self.stem),
                    self.left(to, self.stem) + self.stem,
                );
                self.block(left, self.top(y), right - left, self.bar);
            }
            Stroke::D(x0, y0, x1, y1) => self.diagonal((x0, y0), (x1, y1)),
            Stroke::S(x0, y0, x1, y1) => self.slant((x0, y0), (x1, y1)),
            Stroke::Q(ax, ay, bx, by) => self.quarter((ax, ay), (bx, by)),
            Stroke::Dot(x, y) => self.dot(x, y),
        }
    }

    /// Row by row with one width, so both edges step alike.
    fn diagonal(&mut self, from: (f32, f32), to: (f32, f32)) {
        let (top, bottom) = (self.top(from.1), self.top(to.1) + self.bar);
        let rows = (bottom - top).max(1) as f32;
        let run = (to.0 - from.0) * (self.width - self.stem) as f32;
        // A slanting stroke must be wider along the row to look as thick as an upright one.
        let wide = (self.stem as f32 * (1.0 + (run / rows).powi(2)).sqrt()).round() as i32;
        let wide = wide.min(self.width).max(1);
        let span = (self.width - wide) as f32;
        for row in top..bottom {
            let along = (row - top) as f32 / (rows - 1.0).max(1.0);
            let x = (from.0 + (to.0 - from.0) * along) * span;
            (self.run)(x.round() as i32, row, wide);
        }
    }

    /// Column by column with one height.
    fn slant(&mut self, from: (f32, f32), to: (f32, f32)) {
        let (left, right) = (
            self.left(from.0, self.stem),
            self.left(to.0, self.stem) + self.stem,
        );
        let (y0, y1) = (self.top(from.1), self.top(to.1));
        for x in left..right {
            let along = (x - left) as f32 / (right - left - 1).max(1) as f32;
            let y = y0 as f32 + (y1 - y0) as f32 * along;
            self.block(x, y.round() as i32, 1, self.bar);
        }
    }

    /// A quarter of an oval ring. `level` is where it runs level, `upright` where it runs upright.
    fn quarter(&mut self, level: (f32, f32), upright: (f32, f32)) {
        let (half_stem, half_bar) = (self.stem as f32 / 2.0, self.bar as f32 / 2.0);
        let middle = |edge: i32, half: f32| edge as f32 + half;
        let centre = (
            middle(self.left(level.0, self.stem), half_stem),
            middle(self.top(upright.1), half_bar),
        );
        let end = (
            middle(self.left(upright.0, self.stem), half_stem),
            middle(self.top(level.1), half_bar),
        );
        let reach = ((end.0 - centre.0).abs(), (end.1 - centre.1).abs());
        let (right, down) = (end.0 > centre.0, end.1 > centre.1);
        let outer = (reach.0 + half_stem, reach.1 + half_bar);
        let inner = (reach.0 - half_stem, reach.1 - half_bar);
        let (columns, rows) = (outer.0.ceil() as i32 + 1, outer.1.ceil() as i32 + 1);
        for y in centre.1 as i32 - rows..=centre.1 as i32 + rows {
            for x in centre.0 as i32 - columns..=centre.0 as i32 + columns {
                let (dx, dy) = (x as f32 + 0.5 - centre.0, y as f32 + 0.5 - centre.1);
                let here = (dx == 0.0 || (dx > 0.0) == right) && (dy == 0.0 || (dy > 0.0) == down);
                if here && inside(dx, dy, outer) && !inside(dx, dy, inner) {
                    (self.run)(x, y, 1);
                }
            }
        }
    }

    fn dot(&mut self, x: f32, y: f32) {
        let size = self.stem.max(self.bar);
        let top = match self.zone {
            Zone::Cap => part(self.metrics.cap - size, y),
            Zone::Small => self.top(y),
        };
        let left = self.left(x, size);
        let middle = (
            left as f32 + size as f32 / 2.0,
            top as f32 + size as f32 / 2.0,
        );
        let radius = size as f32 / 2.0;
        for row in top..top + size {
            for column in left..left + size {
                let (dx, dy) = (column as f32 + 0.5 - middle.0, row as f32 + 0.5 - middle.1);
                if size < 5 || inside(dx, dy, (radius, radius)) {
                    (self.run)(column, row, 1);
                }
            }
        }
    }
}

/// Fuller than an ellipse: bowls stay open and strokes even at few pixels.
const FULLNESS: f32 = 2.35;

fn inside(dx: f32, dy: f32, radius: (f32, f32)) -> bool {
    radius.0 > 0.0
        && radius.1 > 0.0
        && (dx.abs() / radius.0).powf(FULLNESS) + (dy.abs() / radius.1).powf(FULLNESS) <= 1.0
}
