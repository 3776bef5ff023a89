//! What the virtual board recorded (`boards/virtual/run`): the bytes on its I2C bus and the picture on its screen must be the
//! pages that the daemon wrote as files at the same moment.
//!
//! The directory is named by `UNDERFOOT_BOARD`; without it there is nothing to look at, and the test says so.
#![cfg(feature = "oled")]

use super::oled_panel::Glass;
use std::path::{Path, PathBuf};
use underfoot::display::Bitmap;
use underfoot::display::oled::Controller;

fn recorded() -> Option<PathBuf> {
    let place = std::env::var_os("UNDERFOOT_BOARD").map(PathBuf::from);
    if place.is_none() {
        println!("skipped: UNDERFOOT_BOARD names no recording");
    }
    place
}

/// The last page that was written as a file, at its own size.
fn last_page(dir: &Path, width: i32) -> Bitmap {
    let mut names: Vec<PathBuf> = std::fs::read_dir(dir)
        .expect("pages")
        .map(|entry| entry.expect("a file").path())
        .collect();
    names.sort();
    read_page(names.last().expect("a page"), width)
}

/// A page's file at its own size.
fn read_page(file: &Path, width: i32) -> Bitmap {
    let bytes = std::fs::read(file).expect("a file");
    let mut reader = png::Decoder::new(std::io::Cursor::new(bytes))
        .read_info()
        .expect("a PNG");
    let (w, h) = (reader.info().width as i32, reader.info().height as i32);
    let mut data = vec![0; reader.output_buffer_size().expect("a size")];
    reader.next_frame(&mut data).expect("a picture");
    let (scale, stride) = (w / width, (w as usize).div_ceil(8));
    let mut bitmap = Bitmap::new(width as u32, (h / scale) as u32);
    for y in 0..h / scale {
        for x in 0..width {
            let (px, py) = ((x * scale) as usize, (y * scale) as usize);
            bitmap.set(x, y, data[py * stride + px / 8] & (0x80 >> (px % 8)) != 0);
        }
    }
    bitmap
}

#[test]
fn what_went_over_the_bus_is_the_page() {
    let Some(place) = recorded() else { return };
    let bytes = std::fs::read(place.join("i2c.bin")).expect("a recording");
    let mut glass = Glass::powered(Controller::Ssd1309, 128, 64);
    let (mut rest, mut transfers, mut starts) = (&bytes[..], 0, 0);
    while rest.len() >= 8 {
        let word = |at: usize| u16::from_ne_bytes([rest[at], rest[at + 1]]);
        let (address, flags, length) = (word(0), word(2), usize::from(word(4)));
        // I2C_M_RD of linux/i2c.h is bit 0; others say how the bytes were handed over.
        assert_eq!((address, flags & 1), (0x3c, 0), "a write to the panel");
        let message = &rest[8..8 + length];
        // The panel lost its power while nobody acknowledged: it begins with what it is told from then on.
        if message == [0x00, 0xae] {
            starts += 1;
            glass.power_cycle();
        }
        glass.i2c(message);
        transfers += 1;
        rest = &rest[8 + length..];
    }
    assert_eq!(glass.faults, [""; 0]);
    assert_eq!(starts, 2, "set up at the start and when it was back");
    let page = last_page(&place.join("pages-128x64"), 128);
    let seen = glass.picture().expect("a lit panel");
    assert!(seen == page, "seen:\n{}page:\n{}", seen.art(), page.art());
    println!(
        "{transfers} transfers, {} bytes",
        bytes.len() - 8 * transfers
    );
}

#[test]
fn what_stood_on_the_screen_is_the_page() {
    let Some(place) = recorded() else { return };
    let bytes = std::fs::read(place.join("shot.ppm")).expect("a photograph");
    let (width, height, pixels) = read_ppm(&bytes);
    assert_eq!((width, height), (320, 240));
    let mut seen = Bitmap::new(width as u32, height as u32);
    for (index, pixel) in pixels.chunks_exact(3).enumerate() {
        assert!(
            pixel == [0; 3] || pixel == [255; 3],
            "black or white, not {pixel:?}"
        );
        seen.set(
            (index % width) as i32,
            (index / width) as i32,
            pixel[0] == 255,
        );
    }
    // The one that stood when the picture was taken.
    let name = std::fs::read_to_string(place.join("shot.page")).expect("its name");
    let page = read_page(&place.join("pages-320x240").join(name.trim()), 320);
    assert!(page.lit() > 100, "something stands on the page");
    assert!(seen == page, "seen:\n{}page:\n{}", seen.art(), page.art());
}

/// A portable pixmap, P6 (netpbm): width, height, 255, then three bytes a pixel.
fn read_ppm(bytes: &[u8]) -> (usize, usize, &[u8]) {
    let mut fields = Vec::new();
    let mut at = 0;
    while fields.len() < 4 {
        let end = bytes[at..]
            .iter()
            .position(u8::is_ascii_whitespace)
            .expect("a header")
            + at;
        fields.push(std::str::from_utf8(&bytes[at..end]).expect("text"));
        at = end + 1;
    }
    assert_eq!((fields[0], fields[3]), ("P6", "255"));
    let number = |text: &str| text.parse().expect("a number");
    (number(fields[1]), number(fields[2]), &bytes[at..])
}
