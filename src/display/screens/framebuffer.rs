//! The Linux framebuffer: panels with a kernel driver, and monitors.
//!
//! Found by its driver's name, for the numbers change. Pages are black and white and always written whole: the
//! emulation over DRM marks the empty rectangle as changed when a write ends with a scanline, so rows written one by
//! one never reach the glass (seen on Linux 6.1).
#![allow(clippy::disallowed_methods, clippy::disallowed_types)] // An adapter: it opens and writes a device.

use super::super::bitmap::Bitmap;
use super::super::light::Light;
use super::super::page::Page;
use super::{Screen, ScreenError};
use rustix::ioctl::{Getter, IntegerSetter, ioctl};
use std::fs::{File, OpenOptions};
use std::os::unix::fs::FileExt;
use std::path::{Path, PathBuf};

/// Which framebuffer, and what is done about the text console.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FramebufferWanted {
    /// `/dev/fbN`, or a part of the driver's name in `/proc/fb`.
    pub device: String,
    /// The console that would write over the page, put into graphics mode meanwhile; empty: none.
    pub console: PathBuf,
}

/// How a pixel is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pixels {
    /// A bit, the leftmost in the lowest (as the kernel draws on little-endian machines; from memory). `true`: set is
    /// white.
    Bit(bool),
    /// So many bytes; all bits set is white in every order of the colours.
    Bytes(usize),
}

/// What a frame looks like in memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Frame {
    pub width: usize,
    pub height: usize,
    /// Bytes a line; more than the pixels need on some hardware.
    pub line_bytes: usize,
    /// Lines above what is to be seen, when the memory is higher.
    pub first_line: usize,
    /// How a pixel is kept.
    pub pixels: Pixels,
}

/// The most bytes of a frame that is believed: 4096 by 4096 pixels of four bytes.
const MOST_BYTES: usize = 64 << 20;

impl Frame {
    /// The frame with `bitmap` in its middle, as many whole times larger as fits; black around it.
    pub fn filled(&self, bitmap: &Bitmap) -> Vec<u8> {
        let black = match self.pixels {
            Pixels::Bit(false) => 0xff,
            _ => 0,
        };
        let mut bytes = vec![black; self.line_bytes * self.height];
        let (w, h) = (bitmap.width() as usize, bitmap.height() as usize);
        if w == 0 || h == 0 {
            return bytes;
        }
        let scale = (self.width / w).min(self.height / h).max(1);
        let left = self.width.saturating_sub(w * scale) / 2;
        let top = self.height.saturating_sub(h * scale) / 2;
        for y in 0..(h * scale).min(self.height - top) {
            let line = &mut bytes[(top + y) * self.line_bytes..][..self.line_bytes];
            for x in 0..(w * scale).min(self.width - left) {
                if bitmap.get((x / scale) as i32, (y / scale) as i32) {
                    self.light(line, left + x);
                }
            }
        }
        bytes
    }

    fn light(&self, line: &mut [u8], x: usize) {
        match self.pixels {
            Pixels::Bit(true) => line[x / 8] |= 1 << (x % 8),
            Pixels::Bit(false) => line[x / 8] &= !(1 << (x % 8)),
            Pixels::Bytes(count) => line[x * count..(x + 1) * count].fill(0xff),
        }
    }

    /// The frame that the kernel describes; checked, for what it says is used as lengths.
    fn read(var: &VarInfo, fix: &FixInfo) -> Result<Frame, String> {
        let pixels = match var.bits_per_pixel {
            // Visual 0 is "1 is black" (linux/fb.h, FB_VISUAL_MONO01).
            1 => Pixels::Bit(fix.visual != 0),
            16 | 24 | 32 => Pixels::Bytes(var.bits_per_pixel as usize / 8),
            other => return Err(format!("{other} bits a pixel (1, 16, 24 and 32 are known)")),
        };
        let frame = Frame {
            width: var.xres as usize,
            height: var.yres as usize,
            line_bytes: fix.line_length as usize,
            first_line: var.yoffset as usize,
            pixels,
        };
        let needed = match pixels {
            Pixels::Bit(_) => frame.width.div_ceil(8),
            Pixels::Bytes(count) => frame.width * count,
        };
        let bytes = frame.line_bytes.saturating_mul(frame.height);
        if needed == 0 || frame.line_bytes < needed || bytes == 0 || bytes > MOST_BYTES {
            let (w, h) = (var.xres, var.yres);
            return Err(format!(
                "{w} by {h} pixels in lines of {} bytes",
                fix.line_length
            ));
        }
        Ok(frame)
    }
}

/// `struct fb_var_screeninfo` of linux/fb.h.
#[repr(C)]
#[derive(Clone, Copy, Default)]
struct VarInfo {
    xres: u32,
    yres: u32,
    virtual_size: [u32; 2],
    xoffset: u32,
    yoffset: u32,
    bits_per_pixel: u32,
    rest: [u32; 32],
    last: u32,
}

/// `struct fb_fix_screeninfo` of linux/fb.h.
#[repr(C)]
#[derive(Clone, Copy, Default)]
struct FixInfo {
    id: [u8; 16],
    memory: usize,
    memory_len: u32,
    kind: u32,
    kind_aux: u32,
    visual: u32,
    steps: [u16; 3],
    line_length: u32,
    mmio: usize,
    mmio_len: u32,
    accel: u32,
    capabilities: u16,
    reserved: [u16; 2],
}

// linux/fb.h and linux/kd.h.
const GET_VAR: u32 = 0x4600;
const GET_FIX: u32 = 0x4602;
const BLANK: u32 = 0x4611;
const SET_MODE: u32 = 0x4b3a;
const TEXT: usize = 0;
const GRAPHICS: usize = 1;

/// A framebuffer as a screen.
pub struct FramebufferScreen {
    file: File,
    what: String,
    frame: Frame,
    /// Given its text back when dropped.
    _console: Option<Console>,
}

impl FramebufferScreen {
    /// Opens it, lights it, and takes the console off it.
    ///
    /// # Errors
    /// [`ScreenError::Absent`] when there is none of that name, it cannot be opened, or its format is not known.
    pub fn open(wanted: &FramebufferWanted) -> Result<FramebufferScreen, ScreenError> {
        let path = find(&wanted.device)?;
        let what = format!("framebuffer {}", path.display());
        let absent = |why: String| ScreenError::Absent {
            what: what.clone(),
            why,
        };
        let file = OpenOptions::new()
            .read(true)
            .write(true)
            .open(&path)
            .map_err(|error| absent(error.to_string()))?;
        // SAFETY: both requests fill a structure of exactly this layout (linux/fb.h), which any bytes make valid.
        let (var, fix) = unsafe {
            let var: Result<VarInfo, _> = ioctl(&file, Getter::<GET_VAR, VarInfo>::new());
            let fix: Result<FixInfo, _> = ioctl(&file, Getter::<GET_FIX, FixInfo>::new());
            (var, fix)
        };
        let (var, fix) = (
            var.map_err(|error| absent(error.to_string()))?,
            fix.map_err(|error| absent(error.to_string()))?,
        );
        let frame = Frame::read(&var, &fix).map_err(absent)?;
        let mut screen = FramebufferScreen {
            file,
            what,
            frame,
            _console: Console::quiet(&wanted.console),
        };
        // Some panels stay dark until they are told; those that know no blanking need not be.
        let _ = screen.blank(false);
        Ok(screen)
    }

    fn blank(&mut self, dark: bool) -> rustix::io::Result<()> {
        // FB_BLANK_UNBLANK and FB_BLANK_POWERDOWN of linux/fb.h.
        let level = if dark { 4 } else { 0 };
        // SAFETY: the request takes a plain number.
        unsafe { ioctl(&self.file, IntegerSetter::<BLANK>::new_usize(level)) }
    }
}

impl Screen for FramebufferScreen {
    fn show(&mut self, bitmap: &Bitmap, _: &Page) -> Result<(), ScreenError> {
        let bytes = self.frame.filled(bitmap);
        let from = (self.frame.first_line * self.frame.line_bytes) as u64;
        self.file
            .write_all_at(&bytes, from)
            .map_err(|error| ScreenError::Refused {
                what: self.what.clone(),
                why: error.to_string(),
            })
    }

    fn light(&mut self, light: Light) -> Result<(), ScreenError> {
        // A driver that knows no blanking is no fault.
        let _ = self.blank(light == Light::Off);
        Ok(())
    }
}

fn find(device: &str) -> Result<PathBuf, ScreenError> {
    if device.starts_with('/') {
        return Ok(PathBuf::from(device));
    }
    let listing = std::fs::read_to_string("/proc/fb").unwrap_or_default();
    number_of(&listing, device)
        .map(|number| Path::new("/dev").join(format!("fb{number}")))
        .ok_or_else(|| ScreenError::Absent {
            what: format!("framebuffer \"{device}\""),
            why: match listing.trim() {
                "" => "there is none".to_string(),
                known => format!("there are: {}", known.replace('\n', ", ")),
            },
        })
}

/// The number of a driver in `/proc/fb`, which has a line `0 bochs-drmdrmfb` for each.
fn number_of(listing: &str, driver: &str) -> Option<u32> {
    listing.lines().find_map(|line| {
        let (number, name) = line.split_once(' ')?;
        name.contains(driver).then(|| number.parse().ok())?
    })
}

/// A text console in graphics mode, so that it draws no cursor over the page.
struct Console(File);

impl Console {
    fn quiet(path: &Path) -> Option<Console> {
        if path.as_os_str().is_empty() {
            return None;
        }
        let set = OpenOptions::new().write(true).open(path).and_then(|file| {
            let console = Console(file);
            console.set(GRAPHICS)?;
            Ok(console)
        });
        // Without it a cursor may stand on the page; no reason to show no page.
        set.map_err(|error| log::info!("{}: left as it is: {error}", path.display()))
            .ok()
    }

    fn set(&self, mode: usize) -> rustix::io::Result<()> {
        // SAFETY: the request takes a plain number.
        unsafe { ioctl(&self.0, IntegerSetter::<SET_MODE>::new_usize(mode)) }
    }
}

impl Drop for Console {
    fn drop(&mut self) {
        let _ = self.set(TEXT);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frame(width: usize, height: usize, line_bytes: usize, pixels: Pixels) -> Frame {
        Frame {
            width,
            height,
            line_bytes,
            first_line: 0,
            pixels,
        }
    }

    #[test]
    fn pixels_land_where_each_format_has_them() {
        let mut dot = Bitmap::new(2, 1);
        dot.set(1, 0, true);
        let cases: [(Frame, &[u8]); 7] = [
            (frame(2, 1, 4, Pixels::Bytes(2)), &[0, 0, 255, 255]),
            (frame(2, 1, 6, Pixels::Bytes(3)), &[0, 0, 0, 255, 255, 255]),
            (frame(2, 1, 6, Pixels::Bytes(2)), &[0, 0, 255, 255, 0, 0]),
            (frame(2, 1, 1, Pixels::Bit(true)), &[0b10]),
            (frame(2, 1, 1, Pixels::Bit(false)), &[0b1111_1101]),
            // Twice as large, in the middle of five.
            (frame(5, 3, 1, Pixels::Bit(true)), &[0b1100, 0b1100, 0]),
            // Too small: cut, never beyond.
            (frame(1, 1, 1, Pixels::Bit(true)), &[0]),
        ];
        for (frame, bytes) in cases {
            assert_eq!(frame.filled(&dot), bytes, "{frame:?}");
        }
    }

    #[test]
    fn what_the_kernel_says_is_not_believed_blindly() {
        let told = |xres, yres, bits_per_pixel, line_length| {
            let var = VarInfo {
                xres,
                yres,
                bits_per_pixel,
                ..VarInfo::default()
            };
            let fix = FixInfo {
                line_length,
                visual: 1,
                ..FixInfo::default()
            };
            Frame::read(&var, &fix).map(|frame| frame.pixels)
        };
        assert_eq!(told(320, 240, 16, 640), Ok(Pixels::Bytes(2)));
        assert_eq!(told(320, 240, 32, 1344), Ok(Pixels::Bytes(4)));
        assert_eq!(told(128, 64, 1, 16), Ok(Pixels::Bit(true)));
        for (w, h, bits, line) in [
            (320, 240, 8, 320),
            (320, 240, 32, 640),
            (0, 240, 16, 640),
            (320, 0, 16, 640),
            (u32::MAX, u32::MAX, 32, u32::MAX),
            (64, u32::MAX, 1, 8),
        ] {
            assert!(told(w, h, bits, line).is_err(), "{w} {h} {bits} {line}");
        }
    }

    #[test]
    fn the_layout_is_the_kernel_s() {
        // linux/fb.h on 64 bits: 160 and 80 bytes.
        assert_eq!(size_of::<VarInfo>(), 160);
        assert_eq!(
            size_of::<FixInfo>(),
            if cfg!(target_pointer_width = "64") {
                80
            } else {
                68
            }
        );
    }

    #[test]
    fn drivers_are_found_by_name() {
        let listing = "0 vc4drmfb\n1 ssd130xdrmfb\n2 panel-mipi-dbid\n";
        assert_eq!(number_of(listing, "panel-mipi-dbi"), Some(2));
        assert_eq!(number_of(listing, "ssd130x"), Some(1));
        assert_eq!(number_of(listing, "vesa"), None);
        assert_eq!(number_of("", "vesa"), None);
    }
}
