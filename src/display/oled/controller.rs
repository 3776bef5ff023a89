//! What the three controllers are told at the start.
//!
//! The command codes are those of the data sheets: Solomon Systech SSD1306 rev 1.1 and SSD1309 rev 1.1, chapters 9
//! and 10; Sino Wealth SH1106 version 2.3, chapter "Commands". Settings that a sheet leaves to the module (drive of
//! the rows, precharge) are those usual on sold modules: common practice, no source.

/// Which controller sits on the glass.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Controller {
    /// SSD1306: 128 columns, its own voltage pump.
    Ssd1306,
    /// SSD1309: 128 columns, the voltage comes from the module.
    Ssd1309,
    /// SH1106: 132 columns, of which a 128 pixel glass shows the middle ones; pages only.
    Sh1106,
}

/// How a panel sits and is wired.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Geometry {
    /// Pixels across, at most 128.
    pub width: u8,
    /// Pixels down: 32 or 64.
    pub height: u8,
    /// The memory column of the leftmost pixel; `None`: what is usual for the controller.
    pub x_offset: Option<u8>,
    /// Whether the panel is mounted upside down.
    pub upside_down: bool,
}

impl Geometry {
    /// A panel as most are sold.
    pub const fn new(width: u8, height: u8) -> Geometry {
        Geometry {
            width,
            height,
            x_offset: None,
            upside_down: false,
        }
    }

    /// Rows of eight pixel lines.
    pub const fn pages(self) -> usize {
        self.height.div_ceil(8) as usize
    }
}

impl Controller {
    /// Columns of its memory.
    pub const fn columns(self) -> u8 {
        match self {
            Controller::Ssd1306 | Controller::Ssd1309 => 128,
            Controller::Sh1106 => 132,
        }
    }

    /// The memory column of the leftmost pixel of `geometry`'s panel. A panel that is told to be wider than the
    /// memory from there on is moved back into it.
    pub fn first_column(self, geometry: Geometry) -> u8 {
        let spare = self.columns().saturating_sub(geometry.width);
        // A narrow glass sits in the middle of the controller's columns.
        geometry.x_offset.unwrap_or(spare / 2).min(spare)
    }

    /// Everything that must be said before pixels. A panel that was dark stays so.
    pub fn start(self, geometry: Geometry, contrast: u8) -> Vec<u8> {
        let mut commands = Vec::with_capacity(32);
        if self == Controller::Ssd1309 {
            // Unlock the commands: a locked controller passes everything else over.
            commands.extend([0xfd, 0x12]);
        }
        // Clock: divide by one; the oscillator as each sheet has it after a reset.
        let clock = match self {
            Controller::Ssd1306 => 0x80,
            Controller::Ssd1309 => 0x70,
            Controller::Sh1106 => 0x50,
        };
        commands.extend([0xd5, clock]);
        // Rows driven, no vertical shift, memory from its first line on.
        commands.extend([0xa8, geometry.height.max(1) - 1, 0xd3, 0x00, 0x40]);
        match self {
            // Own pump on.
            Controller::Ssd1306 => commands.extend([0x8d, 0x14]),
            Controller::Ssd1309 => {}
            Controller::Sh1106 => commands.extend([0xad, 0x8b]),
        }
        if self != Controller::Sh1106 {
            // Page addressing, which all three have.
            commands.extend([0x20, 0x02]);
        }
        // Upright is columns and rows both turned: so the usual glass is mounted.
        commands.extend(if geometry.upside_down {
            [0xa0, 0xc0]
        } else {
            [0xa1, 0xc8]
        });
        // Rows wired alternately; on the low panels one after the other.
        let low = geometry.height <= 32;
        commands.extend([0xda, if low { 0x02 } else { 0x12 }]);
        commands.extend([0x81, contrast]);
        let (precharge, level) = match self {
            Controller::Ssd1306 => (0xf1, 0x40),
            Controller::Ssd1309 => (0x25, 0x34),
            Controller::Sh1106 => (0x22, 0x35),
        };
        commands.extend([0xd9, precharge, 0xdb, level]);
        // Pixels from memory, lit is lit.
        commands.extend([0xa4, 0xa6]);
        commands
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panel_sits_in_the_middle_of_the_memory_unless_told_otherwise() {
        let wide = Geometry::new(128, 64);
        let told = |x_offset| Geometry { x_offset, ..wide };
        let cases = [
            (Controller::Ssd1306, wide, 0),
            (Controller::Ssd1309, wide, 0),
            (Controller::Sh1106, wide, 2),
            (Controller::Sh1106, told(Some(0)), 0),
            (Controller::Sh1106, told(Some(4)), 4),
            (Controller::Sh1106, told(Some(99)), 4),
            (Controller::Ssd1306, told(Some(2)), 0),
            (Controller::Ssd1306, Geometry::new(64, 32), 32),
        ];
        for (controller, geometry, column) in cases {
            assert_eq!(
                controller.first_column(geometry),
                column,
                "{controller:?} {geometry:?}"
            );
        }
    }
}
