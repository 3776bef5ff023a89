//! Pages as PNG files.
#![allow(clippy::disallowed_methods)] // An adapter: it writes files.

use super::super::bitmap::Bitmap;
use super::super::page::Page;
use super::{Screen, ScreenError};
use std::path::PathBuf;

/// The pixels as a PNG file, each `scale` pixels wide and high (0 counts as 1): white on black, one bit a pixel.
pub fn png_bytes(bitmap: &Bitmap, scale: u32) -> Vec<u8> {
    let scaled = magnified(bitmap, scale);
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, scaled.width(), scaled.height());
    encoder.set_color(png::ColorType::Grayscale);
    encoder.set_depth(png::BitDepth::One);
    encoder
        .write_header()
        .and_then(|mut writer| writer.write_image_data(scaled.packed()))
        .expect("a Vec takes every byte and the data has the size announced");
    bytes
}

/// The picture, each pixel `scale` times as wide and high (0 counts as 1).
pub fn magnified(bitmap: &Bitmap, scale: u32) -> Bitmap {
    if scale <= 1 {
        return bitmap.clone();
    }
    let mut large = Bitmap::new(bitmap.width() * scale, bitmap.height() * scale);
    for y in 0..large.height() as i32 {
        for x in 0..large.width() as i32 {
            large.set(x, y, bitmap.get(x / scale as i32, y / scale as i32));
        }
    }
    large
}

/// Writes each page to a file of its own: `00001-ready.png`, `00002-count-in.png`.
pub struct PngScreen {
    directory: PathBuf,
    scale: u32,
    count: u32,
}

impl PngScreen {
    /// Into `directory`, which is made if need be; a page's pixels `scale` wide and high.
    ///
    /// # Errors
    /// [`ScreenError::Absent`] when there is no such directory and none can be made.
    pub fn open(directory: impl Into<PathBuf>, scale: u32) -> Result<PngScreen, ScreenError> {
        let directory = directory.into();
        std::fs::create_dir_all(&directory).map_err(|error| ScreenError::Absent {
            what: directory.display().to_string(),
            why: error.to_string(),
        })?;
        Ok(PngScreen {
            directory,
            scale,
            count: 0,
        })
    }
}

impl Screen for PngScreen {
    fn show(&mut self, bitmap: &Bitmap, page: &Page) -> Result<(), ScreenError> {
        let name = format!("{:05}-{}.png", self.count + 1, page.kind());
        let path = self.directory.join(name);
        std::fs::write(&path, png_bytes(bitmap, self.scale)).map_err(|error| {
            ScreenError::Refused {
                what: path.display().to_string(),
                why: error.to_string(),
            }
        })?;
        self.count += 1;
        Ok(())
    }
}
