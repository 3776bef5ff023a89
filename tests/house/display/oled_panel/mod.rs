//! Three OLED controllers, as their data sheets describe them: bytes in, the picture on the glass out.
//!
//! Sheets: Solomon Systech SSD1306 rev 1.1 (April 2008), SSD1309 rev 1.1 (July 2011), Sino Wealth SH1106 version
//! 2.3. The sheets were not at hand: codes, lengths and meanings are from memory, and so are the section names
//! beside them.

pub mod bus;

use underfoot::display::Bitmap;
use underfoot::display::oled::Controller;

/// Lines of the memory.
const LINES: usize = 64;
/// The widest memory.
const COLUMNS: usize = 132;

/// How the memory is walked through (SSD1306 and SSD1309 10.1.3, "Set Memory Addressing Mode").
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Walk {
    Along,
    Down,
    Page,
}

/// A controller with its glass.
#[derive(Debug, Clone)]
pub struct Glass {
    kind: Controller,
    width: usize,
    height: usize,
    memory: [[u8; COLUMNS]; LINES / 8],
    /// A command whose arguments are still to come.
    pending: Vec<u8>,
    /// What was sent that the sheet does not know, or that does not suit the glass.
    pub faults: Vec<String>,
    walk: Walk,
    columns: (usize, usize),
    pages: (usize, usize),
    column: usize,
    page: usize,
    on: bool,
    pump: bool,
    locked: bool,
    inverse: bool,
    all_lit: bool,
    rows_driven: usize,
    shift: usize,
    first_line: usize,
    columns_turned: bool,
    rows_turned: bool,
    row_wiring: u8,
    /// Contrast, as last set.
    pub contrast: u8,
}

impl Glass {
    /// A module just powered: what is in its memory is anything.
    pub fn powered(kind: Controller, width: usize, height: usize) -> Glass {
        let mut memory = [[0; COLUMNS]; LINES / 8];
        for (index, byte) in memory.iter_mut().flatten().enumerate() {
            *byte = (index * 167 % 251) as u8;
        }
        Glass {
            kind,
            width,
            height,
            memory,
            pending: Vec::new(),
            faults: Vec::new(),
            // Reset states: SSD1306 table 9-1 and 10.1.x, SH1106 "Commands"; from memory.
            walk: Walk::Page,
            columns: (0, usize::from(kind.columns()) - 1),
            pages: (0, 7),
            column: 0,
            page: 0,
            on: false,
            // The SH1106 comes up with its converter on ("Set DC-DC OFF/ON", reset: on); the SSD1306 with its pump off
            // (application note, "Charge Pump Setting"); the SSD1309 has none.
            pump: kind != Controller::Ssd1306,
            locked: false,
            inverse: false,
            all_lit: false,
            rows_driven: LINES,
            shift: 0,
            first_line: 0,
            columns_turned: false,
            rows_turned: false,
            row_wiring: 0x12,
            contrast: 0x7f,
        }
    }

    /// The power goes and comes: nothing of what it was told is left.
    pub fn power_cycle(&mut self) {
        *self = Glass::powered(self.kind, self.width, self.height);
    }

    /// An I2C write to the controller (SSD1306 8.1.5.2 "Write mode for I2C", SSD1309 8.1.5, SH1106 "I2C-bus
    /// protocol"): control bytes with Co (bit 7: one byte and then another control byte) and D/C (bit 6: memory).
    pub fn i2c(&mut self, bytes: &[u8]) {
        let mut rest = bytes;
        while let Some((control, after)) = rest.split_first() {
            if control & 0x3f != 0 {
                self.fault(format!("control byte {control:#04x}"));
            }
            let (now, later) = if control & 0x80 == 0 {
                (after, &[][..])
            } else if after.is_empty() {
                self.fault("a control byte at the end".to_string());
                return;
            } else {
                after.split_at(1)
            };
            self.take(control & 0x40 != 0, now);
            rest = later;
        }
    }

    /// Bytes with the pin D/C (SSD1306 8.1.3 "4-wire Serial interface"; the same in the others).
    pub fn take(&mut self, is_data: bool, bytes: &[u8]) {
        for byte in bytes {
            if is_data {
                self.store(*byte);
            } else {
                self.command(*byte);
            }
        }
    }

    /// What is to be seen, held as the maker mounts it; `None`: dark.
    pub fn picture(&self) -> Option<Bitmap> {
        if !self.on || !self.pump {
            return None;
        }
        let mut bitmap = Bitmap::new(self.width as u32, self.height as u32);
        for y in 0..self.height {
            for x in 0..self.width {
                let lit = self.all_lit || (self.is_set(x, y) != self.inverse);
                bitmap.set(x as i32, y as i32, lit);
            }
        }
        Some(bitmap)
    }

    /// Mounted with columns and rows both turned (A1h, C8h) upright.
    fn is_set(&self, x: usize, y: usize) -> bool {
        let count = usize::from(self.kind.columns());
        // The leftmost pixel hangs on the last segment but the spare ones.
        let segment = count - 1 - (x + (count - self.width) / 2);
        let row_pin = match self.height.checked_sub(1 + y) {
            Some(pin) if pin < self.rows_driven => pin,
            _ => return false,
        };
        // C8h: "scan from COM[N-1] to COM0" (10.1.14; SH1106 "Set Common Output Scan Direction").
        let row = if self.rows_turned {
            self.rows_driven - 1 - row_pin
        } else {
            row_pin
        };
        // Display start line and offset (10.1.6, 10.1.15).
        let line = (row + self.first_line + self.shift) % LINES;
        let place = self.place(segment);
        self.memory[line / 8][place] >> (line % 8) & 1 == 1
    }

    /// Where the byte of a segment or column stands. The SSD1306 turns while it is written ("only affects subsequent data
    /// input", 10.1.8), the SH1106 while it shows ("Set Segment Re-map"); so the first keep segments, the other columns.
    fn place(&self, segment: usize) -> usize {
        if self.kind == Controller::Sh1106 && self.columns_turned {
            COLUMNS - 1 - segment
        } else {
            segment
        }
    }

    fn store(&mut self, byte: u8) {
        if !self.pending.is_empty() {
            self.fault(format!("pixels inside command {:02x?}", self.pending));
            self.pending.clear();
        }
        let count = usize::from(self.kind.columns());
        let place = if self.kind != Controller::Sh1106 && self.columns_turned {
            count - 1 - self.column
        } else {
            self.column
        };
        self.memory[self.page][place] = byte;
        self.advance(count);
    }

    /// 10.1.3: along a page and to the next, down a column and to the next, or round in the page. The SH1106 stays at
    /// its last column ("Column Address: … incremented up to 131 and stops"; from memory).
    fn advance(&mut self, count: usize) {
        if self.kind == Controller::Sh1106 {
            self.column = (self.column + 1).min(count - 1);
            return;
        }
        match self.walk {
            Walk::Page => self.column = (self.column + 1) % count,
            Walk::Along => {
                let wraps = self.column == self.columns.1;
                self.column = if wraps {
                    self.columns.0
                } else {
                    self.column + 1
                };
                if wraps {
                    self.page = if self.page == self.pages.1 {
                        self.pages.0
                    } else {
                        (self.page + 1) % 8
                    };
                }
            }
            Walk::Down => {
                let wraps = self.page == self.pages.1;
                self.page = if wraps {
                    self.pages.0
                } else {
                    (self.page + 1) % 8
                };
                if wraps {
                    self.column = if self.column == self.columns.1 {
                        self.columns.0
                    } else {
                        (self.column + 1) % count
                    };
                }
            }
        }
    }

    fn command(&mut self, byte: u8) {
        self.pending.push(byte);
        if self.pending.len() <= self.arguments(self.pending[0]) {
            return;
        }
        let whole = std::mem::take(&mut self.pending);
        if self.locked && whole[0] != 0xfd {
            return;
        }
        let argument = whole.get(1).copied().unwrap_or(0);
        if !self.common(whole[0], argument) && !self.own(&whole) {
            self.fault(format!("{:?} does not know {whole:02x?}", self.kind));
        }
    }

    /// How many bytes follow.
    fn arguments(&self, code: u8) -> usize {
        let solomon = self.kind != Controller::Sh1106;
        match code {
            // Contrast (10.1.7), multiplex (10.1.11), offset (10.1.15), clock (10.1.16), precharge (10.1.17), row wiring
            // (10.1.18), level (10.1.19); in the SH1106 under the same codes.
            0x81 | 0xa8 | 0xd3 | 0xd5 | 0xd9 | 0xda | 0xdb => 1,
            // Addressing mode (10.1.3).
            0x20 if solomon => 1,
            // Windows of columns and pages (10.1.4, 10.1.5).
            0x21 | 0x22 if solomon => 2,
            // Pump (SSD1306, application note 2).
            0x8d if self.kind == Controller::Ssd1306 => 1,
            // Lock (SSD1309 10.1.23 "Set Command Lock"; the SSD1306 does not have it).
            0xfd if self.kind == Controller::Ssd1309 => 1,
            // Converter ("Set DC-DC OFF/ON: double bytes command").
            0xad if self.kind == Controller::Sh1106 => 1,
            _ => 0,
        }
    }

    /// What all three have, under the same codes.
    fn common(&mut self, code: u8, argument: u8) -> bool {
        let count = usize::from(self.kind.columns());
        match code {
            // Lower and higher column (10.1.1, 10.1.2; "Set Lower/Higher Column Address").
            0x00..=0x0f => self.column = self.column & 0xf0 | usize::from(code & 0x0f),
            0x10..=0x1f => self.column = usize::from(code & 0x0f) << 4 | self.column & 0x0f,
            // Start line (10.1.6; "Set Display Start Line").
            0x40..=0x7f => self.first_line = usize::from(code & 0x3f),
            0x81 => self.contrast = argument,
            // Columns turned (10.1.8; "Set Segment Re-map").
            0xa0 | 0xa1 => self.columns_turned = code == 0xa1,
            // Everything lit (10.1.9; "Set Entire Display OFF/ON").
            0xa4 | 0xa5 => self.all_lit = code == 0xa5,
            // Inverse (10.1.10; "Set Normal/Reverse Display").
            0xa6 | 0xa7 => self.inverse = code == 0xa7,
            // Rows driven, 16 to 64 (10.1.11; "Set Multiplex Ration").
            0xa8 => {
                self.rows_driven = usize::from(argument & 0x3f) + 1;
                if self.rows_driven != self.height {
                    self.fault(format!(
                        "{} rows driven of {}",
                        self.rows_driven, self.height
                    ));
                }
            }
            // On and off (10.1.12; "Display OFF/ON").
            0xae | 0xaf => self.on = code == 0xaf,
            // Page (10.1.13; "Set Page Address").
            0xb0..=0xb7 => self.page = usize::from(code & 0x07),
            // Scan direction (10.1.14; "Set Common Output Scan Direction").
            0xc0..=0xcf => self.rows_turned = code & 0x08 != 0,
            0xd3 => self.shift = usize::from(argument & 0x3f),
            0xd5 | 0xd9 | 0xdb => {}
            // Row wiring (10.1.18; "Set Common pads hardware configuration"): alternating on the high glass.
            0xda => {
                self.row_wiring = argument;
                let wanted = if self.height <= 32 { 0x02 } else { 0x12 };
                if argument != wanted {
                    self.fault(format!("rows wired as {argument:#04x}"));
                }
            }
            // Nothing (10.1.20; "NOP").
            0xe3 => {}
            _ => return false,
        }
        // The SSD1306 has 7 bits of column.
        self.column = if self.column < count {
            self.column
        } else {
            self.column % 128
        };
        true
    }

    /// What only some have.
    fn own(&mut self, whole: &[u8]) -> bool {
        match (self.kind, whole) {
            (Controller::Ssd1306 | Controller::Ssd1309, [0x20, mode]) => {
                self.walk = match mode & 0x03 {
                    0 => Walk::Along,
                    1 => Walk::Down,
                    _ => Walk::Page,
                };
            }
            (Controller::Ssd1306 | Controller::Ssd1309, [0x21, from, to]) => {
                self.columns = (usize::from(from & 0x7f), usize::from(to & 0x7f));
                self.column = self.columns.0;
            }
            (Controller::Ssd1306 | Controller::Ssd1309, [0x22, from, to]) => {
                self.pages = (usize::from(from & 7), usize::from(to & 7));
                self.page = self.pages.0;
            }
            (Controller::Ssd1306, [0x8d, pump]) => self.pump = pump & 0x04 != 0,
            (Controller::Ssd1309, [0xfd, lock]) => self.locked = lock & 0x04 != 0,
            (Controller::Sh1106, [0xad, converter]) => self.pump = converter & 1 != 0,
            // Pump voltage.
            (Controller::Sh1106, [0x30..=0x33]) => {}
            // Read-modify-write and its end.
            (Controller::Sh1106, [0xe0 | 0xee]) => {}
            // Scrolling off (10.2).
            (Controller::Ssd1306 | Controller::Ssd1309, [0x2e]) => {}
            _ => return false,
        }
        true
    }

    fn fault(&mut self, what: String) {
        self.faults.push(what);
    }
}
