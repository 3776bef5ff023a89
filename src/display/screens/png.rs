//! Pages as PNG files.

use super::super::bitmap::Bitmap;

/// The pixels as a PNG file, each `scale` pixels wide and high (0 counts as 1): white on black, one bit a pixel.
pub fn png_bytes(bitmap: &Bitmap, scale: u32) -> Vec<u8> {
    let scaled = magnified(bitmap, scale.max(1));
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

/// The picture, each pixel `scale` times as wide and high.
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
