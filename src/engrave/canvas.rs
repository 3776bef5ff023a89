//! Marks on paper: what every backend draws, in millimetres, y downwards.

use super::fonts::{Face, Rect};

/// A mark.
#[derive(Debug, Clone, PartialEq)]
pub enum Mark {
    /// A sign of music; `space` is the distance of its staff's lines.
    Sign {
        sign: char,
        x: f32,
        y: f32,
        space: f32,
    },
    /// A text from `x` on, on the baseline `y`; `size` is the em.
    Text {
        text: String,
        x: f32,
        y: f32,
        size: f32,
        bold: bool,
        gray: f32,
    },
    Line {
        from: (f32, f32),
        to: (f32, f32),
        width: f32,
        gray: f32,
    },
    /// A filled shape with straight sides.
    Shape { points: Vec<(f32, f32)> },
    /// A disc, or a ring that is white inside.
    Disc {
        x: f32,
        y: f32,
        radius: f32,
        ring: bool,
    },
    /// White paper over lines.
    Blank(Rect),
    /// A tie: from and to, and how deep it hangs (negative: above).
    Tie {
        from: (f32, f32),
        to: (f32, f32),
        depth: f32,
    },
}

impl Mark {
    /// The same elsewhere.
    #[must_use]
    pub fn moved(mut self, dx: f32, dy: f32) -> Mark {
        let shift = |point: &mut (f32, f32)| {
            point.0 += dx;
            point.1 += dy;
        };
        match &mut self {
            Mark::Sign { x, y, .. } | Mark::Text { x, y, .. } | Mark::Disc { x, y, .. } => {
                *x += dx;
                *y += dy;
            }
            Mark::Line { from, to, .. } | Mark::Tie { from, to, .. } => {
                shift(from);
                shift(to);
            }
            Mark::Shape { points } => points.iter_mut().for_each(shift),
            Mark::Blank(rect) => {
                *rect = Rect {
                    left: rect.left + dx,
                    top: rect.top + dy,
                    right: rect.right + dx,
                    bottom: rect.bottom + dy,
                };
            }
        }
        self
    }

    /// The box of its ink.
    pub fn ink(&self) -> Rect {
        match self {
            Mark::Sign { sign, x, y, space } => at(Face::Music.ink(*sign), (*x, *y), space * 4.0),
            Mark::Text {
                text,
                x,
                y,
                size,
                bold,
                ..
            } => at(face(*bold).text_ink(text), (*x, *y), *size),
            Mark::Line {
                from, to, width, ..
            } => around(&[*from, *to], width / 2.0),
            Mark::Shape { points } => around(points, 0.0),
            Mark::Disc { x, y, radius, .. } => around(&[(*x, *y)], *radius),
            Mark::Blank(rect) => *rect,
            Mark::Tie { from, to, depth } => {
                let middle = ((from.0 + to.0) / 2.0, from.1 + depth);
                around(&[*from, *to, middle], 0.0)
            }
        }
    }

    /// Whether no other such mark may lie over it: signs, texts, dots. Lines run below them.
    pub fn is_apart(&self) -> bool {
        matches!(
            self,
            Mark::Sign { .. } | Mark::Text { .. } | Mark::Disc { .. }
        )
    }
}

/// The face of a text.
pub fn face(bold: bool) -> Face {
    if bold { Face::Bold } else { Face::Plain }
}

fn at(ink: Rect, (x, y): (f32, f32), size: f32) -> Rect {
    Rect {
        left: x + ink.left * size,
        top: y + ink.top * size,
        right: x + ink.right * size,
        bottom: y + ink.bottom * size,
    }
}

fn around(points: &[(f32, f32)], by: f32) -> Rect {
    points.iter().fold(Rect::EMPTY, |rect, (x, y)| {
        rect.with(Rect {
            left: x - by,
            top: y - by,
            right: x + by,
            bottom: y + by,
        })
    })
}

/// What a group of marks is to a reader who hears the sheet read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Role {
    /// The title, a section.
    Heading(u16),
    Paragraph,
    /// Music, told in words.
    Figure(String),
    /// Nothing that needs to be told.
    Decoration,
}

/// Marks that belong together.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    pub role: Role,
    pub marks: Vec<Mark>,
}

impl Group {
    /// An empty group.
    pub fn new(role: Role) -> Group {
        Group {
            role,
            marks: Vec::new(),
        }
    }

    /// The box of its ink; [`Rect::EMPTY`] without any.
    pub fn ink(&self) -> Rect {
        self.marks
            .iter()
            .fold(Rect::EMPTY, |ink, mark| ink.with(mark.ink()))
    }

    /// A text; gives its width.
    pub fn text(&mut self, text: &str, (x, y): (f32, f32), style: Style) -> f32 {
        if text.is_empty() {
            return 0.0;
        }
        self.marks.push(Mark::Text {
            text: text.to_string(),
            x,
            y,
            size: style.size,
            bold: style.bold,
            gray: style.gray,
        });
        style.width(text)
    }

    /// A text around `x`.
    pub fn centred(&mut self, text: &str, (x, y): (f32, f32), style: Style) {
        self.text(text, (x - style.width(text) / 2.0, y), style);
    }

    /// A sign of music.
    pub fn sign(&mut self, sign: char, (x, y): (f32, f32), space: f32) {
        self.marks.push(Mark::Sign { sign, x, y, space });
    }

    /// A line.
    pub fn line(&mut self, from: (f32, f32), to: (f32, f32), width: f32, gray: f32) {
        self.marks.push(Mark::Line {
            from,
            to,
            width,
            gray,
        });
    }
}

/// How a text is written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Style {
    /// The em in millimetres.
    pub size: f32,
    pub bold: bool,
    pub gray: f32,
}

impl Style {
    /// So many points (of 1/72 inch), plain, black.
    pub const fn plain(points: f32) -> Style {
        Style {
            size: points * 25.4 / 72.0,
            bold: false,
            gray: 0.0,
        }
    }

    /// So many points, bold.
    pub const fn bold(points: f32) -> Style {
        Style {
            bold: true,
            ..Style::plain(points)
        }
    }

    /// The same in gray.
    #[must_use]
    pub const fn gray(self, gray: f32) -> Style {
        Style { gray, ..self }
    }

    /// The same, larger or smaller.
    #[must_use]
    pub fn times(self, by: f32) -> Style {
        Style {
            size: self.size * by,
            ..self
        }
    }

    /// The same, as much smaller as a text needs to be no wider than `most`.
    #[must_use]
    pub fn within(self, text: &str, most: f32) -> Style {
        let width = self.width(text);
        if width > most {
            self.times(most / width)
        } else {
            self
        }
    }

    /// The width of a text.
    pub fn width(self, text: &str) -> f32 {
        face(self.bold).width(text) * self.size
    }
}

/// Groups one below the other that stay together, from their own corner.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Block {
    pub groups: Vec<Group>,
    pub height: f32,
}

impl Block {
    /// The same elsewhere.
    #[must_use]
    pub fn moved(mut self, dx: f32, dy: f32) -> Block {
        for group in &mut self.groups {
            let marks = std::mem::take(&mut group.marks);
            group.marks = marks.into_iter().map(|mark| mark.moved(dx, dy)).collect();
        }
        self
    }

    /// Moves it so that its ink begins at the top, and takes its height from its ink.
    #[must_use]
    pub fn settled(self) -> Block {
        let ink = self
            .groups
            .iter()
            .fold(Rect::EMPTY, |ink, group| ink.with(group.ink()));
        if ink.top > ink.bottom {
            return self;
        }
        let mut block = self.moved(0.0, -ink.top);
        block.height = ink.bottom - ink.top;
        block
    }
}

/// A page of paper.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PaperPage {
    pub groups: Vec<Group>,
}

/// A whole sheet, laid out.
#[derive(Debug, Clone, PartialEq)]
pub struct LaidOut {
    pub title: String,
    pub width: f32,
    pub height: f32,
    pub pages: Vec<PaperPage>,
}
