//! Where things stand on a panel.

use super::bitmap::Area;
use super::glyphs::Type;

/// A display, as its board describes it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Panel {
    pub width: u32,
    pub height: u32,
    /// Diagonal of the lit area in millimetres (a 2.42" panel: 61.5); `None` where nobody said.
    pub panel_mm: Option<f32>,
}

impl Panel {
    /// A panel of unknown physical size.
    pub const fn new(width: u32, height: u32) -> Panel {
        Panel {
            width,
            height,
            panel_mm: None,
        }
    }

    /// Millimetres a pixel, where the diagonal is known (square pixels).
    pub fn pitch_mm(&self) -> Option<f32> {
        let diagonal = (self.width as f32).hypot(self.height as f32);
        self.panel_mm.map(|mm| mm / diagonal)
    }

    /// From how far a capital of `cap_px` pixels is read, in metres: a character's height should be a two-hundredth of
    /// the distance (17 minutes of arc; ISO 9241-3 asks for 16 at least, 20 to 22 by preference).
    pub fn read_from_m(&self, cap_px: i32) -> Option<f32> {
        self.pitch_mm()
            .map(|pitch| cap_px as f32 * pitch * 200.0 / 1000.0)
    }

    /// Which arrangement suits the panel.
    pub fn arrangement(&self) -> Arrangement {
        let height_mm = self.pitch_mm().map(|pitch| pitch * self.height as f32);
        if height_mm.is_some_and(|mm| mm < ONLY_THE_SET_BELOW_MM) || self.height < 48 {
            Arrangement::OnlyTheSet
        } else if self.height >= 160 {
            Arrangement::Tall
        } else if self.width >= 200 {
            Arrangement::Wide
        } else {
            Arrangement::Corners
        }
    }
}

/// On a panel lower than this, two lines could not be read from a metre and a half: it shows only what to play next.
/// (A 1.3" panel is 14.7 mm high, a 2.42" one 27.5 mm.)
pub const ONLY_THE_SET_BELOW_MM: f32 = 16.0;

/// How the practice page is arranged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Arrangement {
    /// Nothing but what to play next, as large as it goes; a line below while something is armed or wrong.
    OnlyTheSet,
    /// The chord that sounds in the upper left corner, the one to come in the lower right one; the large set between.
    Corners,
    /// The large set at the left, the two chords above each other at the right.
    Wide,
    /// As `Corners`, with lines of their own for section and stage.
    Tall,
}

/// The places of the practice page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct SlotPlaces {
    /// The large set: what is to be played next.
    pub big: Area,
    pub big_cap: i32,
    /// The row whose corner holds the chord that sounds; its other end is the small set of that chord.
    pub now: Row,
    /// The same for the chord to come.
    pub next: Row,
    /// Section and stage; `None`: in the row of the set that is large, where no small set stands.
    pub status: Option<Area>,
    /// Beats to the change; `None`: beside the chord to come.
    pub distance: Option<Area>,
    /// Type of the beats to the change.
    pub count: Type,
    /// Type of section and stage.
    pub print: Type,
}

/// A chord in its corner and its small set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Row {
    /// Where the chord may stand.
    pub chord: Area,
    /// Where its small set stands; as wide as the chord leaves it where they share a row.
    pub set: Area,
    /// Greatest capital of both.
    pub cap: i32,
}

/// The places on `panel`. For [`Arrangement::OnlyTheSet`] only `big` and `print` count.
pub(super) fn places(panel: Panel) -> SlotPlaces {
    let (w, h) = (panel.width as i32, panel.height as i32);
    let whole = Area::new(0, 0, w, h);
    let row = |chord, set, cap| Row { chord, set, cap };
    match panel.arrangement() {
        Arrangement::OnlyTheSet => SlotPlaces {
            big: whole,
            big_cap: h,
            now: row(whole, whole, 12),
            next: row(whole, whole, 12),
            status: None,
            distance: None,
            count: Type::Small,
            print: Type::Small,
        },
        Arrangement::Corners => {
            let upper = Area::new(0, 0, w, 15);
            let lower = Area::new(0, h - 15, w, 15);
            SlotPlaces {
                big: Area::new(2, 16, w - 4, h - 32),
                big_cap: 34,
                now: row(upper, upper, 13),
                next: row(lower, lower, 13),
                status: None,
                distance: None,
                count: Type::Small,
                print: Type::Small,
            }
        }
        Arrangement::Wide => {
            let left = w * 2 / 3;
            let column = |y, h| Area::new(left + 6, y, w - left - 6, h);
            SlotPlaces {
                big: Area::new(2, 0, left - 8, h - 11),
                big_cap: 48,
                now: row(column(0, 17), column(18, 13), 15),
                next: row(column(h - 17, 17), column(h - 31, 13), 15),
                status: Some(Area::new(2, h - 8, left - 48, 8)),
                distance: Some(Area::new(left - 46, h - 8, 42, 8)),
                count: Type::Small,
                print: Type::Small,
            }
        }
        Arrangement::Tall => {
            let upper = Area::new(4, 2, w - 8, 46);
            let lower = Area::new(4, h - 74, w - 8, 46);
            SlotPlaces {
                big: Area::new(8, 54, w - 16, h - 132),
                big_cap: 104,
                now: row(upper, upper, 38),
                next: row(lower, lower, 38),
                status: Some(Area::new(6, h - 23, w - 12, 22)),
                distance: None,
                count: Type::Large(22),
                print: Type::Large(15),
            }
        }
    }
}

/// The type of running text on `panel`.
pub(super) fn print(panel: Panel) -> Type {
    if panel.height >= 160 {
        Type::Large(14)
    } else {
        Type::Small
    }
}
