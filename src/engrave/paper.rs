//! Paper: the head of a sheet, columns and pages.

use super::canvas::{Block, Group, LaidOut, PaperPage, Role, Style};
use super::model::{Clef, SheetModel};
use super::rows::{RowStyle, row};
use super::staff::{Staff, Tab};

/// What a sheet is printed on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Paper {
    #[default]
    A4,
    Letter,
}

impl Paper {
    /// Width and height in millimetres (ISO 216; ANSI A).
    pub fn millimetres(self) -> (f32, f32) {
        match self {
            Paper::A4 => (210.0, 297.0),
            Paper::Letter => (215.9, 279.4),
        }
    }
}

/// What printers leave free, and a little more for holes and a stand.
pub const MARGIN: f32 = 13.0;
/// Between columns.
const COLUMN_GAP: f32 = 7.0;
/// The most pages of a sheet that a student takes along; more only where the smallest rows need more.
const PAGES: usize = 2;

/// The ways to lay rows out, the roomiest first.
const STYLES: [RowStyle; 5] = [
    RowStyle {
        columns: 1,
        space: 1.7,
        own: true,
    },
    RowStyle {
        columns: 1,
        space: 1.5,
        own: true,
    },
    RowStyle {
        columns: 2,
        space: 1.5,
        own: false,
    },
    RowStyle {
        columns: 2,
        space: 1.35,
        own: false,
    },
    RowStyle {
        columns: 2,
        space: 1.2,
        own: false,
    },
];

/// Pages while they are filled, column by column.
pub struct Flow {
    paper: Paper,
    columns: usize,
    column: usize,
    /// Where the columns of this page begin.
    top: f32,
    y: f32,
    pages: Vec<PaperPage>,
}

impl Flow {
    /// A first page with its head.
    pub fn new(paper: Paper, columns: usize, head: Block) -> Flow {
        let top = MARGIN + head.height + 4.0;
        let head = head.moved(MARGIN, MARGIN);
        Flow {
            paper,
            columns,
            column: 0,
            top,
            y: top,
            pages: vec![PaperPage {
                groups: head.groups,
            }],
        }
    }

    /// The width of a column.
    pub fn width(&self) -> f32 {
        let columns = self.columns as f32;
        (self.paper.millimetres().0 - 2.0 * MARGIN - COLUMN_GAP * (columns - 1.0)) / columns
    }

    fn bottom(&self) -> f32 {
        // The foot has the page's number.
        self.paper.millimetres().1 - MARGIN - 5.0
    }

    /// Whether so much has room in this column.
    pub fn has_room(&self, height: f32) -> bool {
        self.y + height <= self.bottom()
    }

    /// Whether another column on this page follows.
    pub fn has_column(&self) -> bool {
        self.column + 1 < self.columns
    }

    /// On to the next column, or page.
    pub fn turn(&mut self) {
        if self.has_column() {
            self.column += 1;
        } else {
            self.column = 0;
            self.top = MARGIN;
            self.pages.push(PaperPage::default());
        }
        self.y = self.top;
    }

    /// Puts blocks down that stay together, and `after` them some space.
    pub fn put(&mut self, blocks: Vec<Block>, after: f32) {
        let height: f32 = blocks.iter().map(|block| block.height).sum();
        if !self.has_room(height) && self.y > self.top {
            self.turn();
        }
        let x = MARGIN + self.column as f32 * (self.width() + COLUMN_GAP);
        for block in blocks {
            let height = block.height;
            let groups = block.moved(x, self.y).groups;
            if let Some(page) = self.pages.last_mut() {
                page.groups.extend(groups);
            }
            self.y += height;
        }
        self.y += after;
    }

    /// The pages, with their numbers.
    pub fn finish(mut self, title: &str) -> LaidOut {
        let (width, height) = self.paper.millimetres();
        let count = self.pages.len();
        for (number, page) in (1..).zip(&mut self.pages) {
            let mut foot = Group::new(Role::Decoration);
            let text = format!("{title}, page {number} of {count}");
            let style = Style::plain(6.5)
                .gray(0.35)
                .within(&text, width - 2.0 * MARGIN);
            foot.centred(&text, (width / 2.0, height - MARGIN), style);
            page.groups.push(foot);
        }
        LaidOut {
            title: title.to_string(),
            width,
            height,
            pages: self.pages,
        }
    }
}

/// The head of a sheet: its title, drill and stage, remarks.
pub fn head(model: &SheetModel, width: f32) -> Block {
    let mut title = Group::new(Role::Heading(1));
    title.text(
        &model.title,
        (0.0, 5.5),
        Style::bold(18.0).within(&model.title, width),
    );
    let mut below = Group::new(Role::Paragraph);
    let mut y = 11.5;
    below.text(
        &model.subtitle,
        (0.0, y),
        Style::plain(11.0).within(&model.subtitle, width),
    );
    y += 1.0;
    for remark in &model.remarks {
        y += 4.0;
        let style = Style::plain(8.0).gray(0.2).within(remark, width);
        below.text(remark, (0.0, y), style);
    }
    Block {
        groups: vec![title, below],
        height: y + 1.5,
    }
}

/// "What to play" on pages: the roomiest rows that need no more than two pages.
pub fn rows_on_paper(model: &SheetModel, paper: Paper) -> LaidOut {
    let mut laid_out = None;
    for style in &STYLES {
        let pages = with_rows(model, paper, style);
        let fits = pages.pages.len() <= PAGES;
        laid_out = Some(pages);
        if fits {
            break;
        }
    }
    laid_out.unwrap_or_else(|| Flow::new(paper, 1, head(model, 100.0)).finish(&model.title))
}

fn with_rows(model: &SheetModel, paper: Paper, style: &RowStyle) -> LaidOut {
    let whole = paper.millimetres().0 - 2.0 * MARGIN;
    let mut flow = Flow::new(paper, style.columns, head(model, whole));
    let width = flow.width();
    let mut marks = model
        .bars
        .iter()
        .filter_map(|bar| Some((bar.start, bar.mark.as_deref()?)))
        .peekable();
    for chord in &model.chords {
        let mut blocks = Vec::new();
        while let Some((_, mark)) = marks.next_if(|(start, _)| *start <= chord.at) {
            blocks.push(section(mark, width, style.space));
        }
        let row = row(model, chord, style, width);
        blocks.push(ruled(row, width, style.space));
        flow.put(blocks, 0.0);
    }
    own_room(model, &mut flow, style);
    flow.finish(&model.title)
}

/// A row with a thin line below it.
fn ruled(mut row: Block, width: f32, space: f32) -> Block {
    let mut rule = Group::new(Role::Decoration);
    let y = row.height + 0.3 * space;
    rule.line((0.0, y), (width, y), 0.1, 0.7);
    row.groups.push(rule);
    row.height = y + 1.0 * space;
    row
}

/// The name of a section over its rows.
fn section(name: &str, width: f32, space: f32) -> Block {
    let mut group = Group::new(Role::Heading(2));
    let style = Style::bold(10.0).times(space / 1.6).within(name, width);
    group.text(name, (0.0, style.size), style);
    Block {
        groups: vec![group],
        height: style.size * 1.5,
    }
}

/// Empty staves where a page has room left: at least one where the rows have none of their own.
fn own_room(model: &SheetModel, flow: &mut Flow, style: &RowStyle) {
    let own = own_system(model, flow.width(), style.space);
    let mut is_first = !style.own;
    loop {
        if !is_first && !flow.has_room(own.height) {
            if !flow.has_column() {
                return;
            }
            flow.turn();
            if !flow.has_room(own.height) {
                return;
            }
        }
        flow.put(vec![own.clone()], 4.0);
        is_first = false;
    }
}

/// An empty staff over an empty tablature.
fn own_system(model: &SheetModel, width: f32, space: f32) -> Block {
    let mut group = Group::new(Role::Decoration);
    group.text("your own", (0.0, 2.0), Style::plain(6.5).gray(0.35));
    let clef = Clef::of(&model.neck);
    let staff = Staff {
        x: 0.0,
        top: 5.0,
        width,
        space,
        clef,
    };
    staff.lines(&mut group);
    staff.draw_clef(&mut group);
    let strings = model.neck.tuning.open_keys().len() as u8;
    let tab = Tab {
        x: 0.0,
        top: 5.0 + 8.5 * space,
        width,
        gap: space * 1.2,
        strings,
    };
    tab.lines(&mut group);
    tab.clef(&mut group);
    let bottom = tab.top + tab.height();
    for x in [0.0, width] {
        group.line((x, staff.top), (x, bottom), 0.2, 0.1);
    }
    Block {
        groups: vec![group],
        height: bottom + 1.0,
    }
}
