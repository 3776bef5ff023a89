//! Pixels for plotters: letters are those of the panels, so that no font file is needed.

use embedded_graphics::mono_font::MonoTextStyle;
use embedded_graphics::mono_font::iso_8859_1::FONT_6X13;
use embedded_graphics::pixelcolor::BinaryColor;
use embedded_graphics::prelude::*;
use embedded_graphics::text::{Baseline, Text};
use plotters_backend::{
    BackendColor, BackendCoord, BackendTextStyle, DrawingBackend, DrawingErrorKind,
};
use std::convert::Infallible;

const LETTER: (u32, u32) = (6, 13);

/// A picture in the making: three bytes a pixel.
pub(super) struct Pixels<'a> {
    width: u32,
    height: u32,
    rgb: &'a mut [u8],
}

impl<'a> Pixels<'a> {
    pub(super) fn new((width, height): (u32, u32), rgb: &'a mut [u8]) -> Pixels<'a> {
        Pixels { width, height, rgb }
    }

    fn set(&mut self, (x, y): (i32, i32), color: BackendColor) {
        let inside = (0..self.width as i32).contains(&x) && (0..self.height as i32).contains(&y);
        if !inside {
            return;
        }
        let at = (y as usize * self.width as usize + x as usize) * 3;
        let (red, green, blue) = color.rgb;
        for (place, new) in self.rgb[at..at + 3].iter_mut().zip([red, green, blue]) {
            let old = f64::from(*place);
            *place = (old + (f64::from(new) - old) * color.alpha).round() as u8;
        }
    }
}

impl DrawingBackend for Pixels<'_> {
    type ErrorType = Infallible;

    fn get_size(&self) -> (u32, u32) {
        (self.width, self.height)
    }

    fn ensure_prepared(&mut self) -> Result<(), DrawingErrorKind<Infallible>> {
        Ok(())
    }

    fn present(&mut self) -> Result<(), DrawingErrorKind<Infallible>> {
        Ok(())
    }

    fn draw_pixel(
        &mut self,
        point: BackendCoord,
        color: BackendColor,
    ) -> Result<(), DrawingErrorKind<Infallible>> {
        self.set(point, color);
        Ok(())
    }

    fn draw_text<S: BackendTextStyle>(
        &mut self,
        text: &str,
        style: &S,
        (x, y): BackendCoord,
    ) -> Result<(), DrawingErrorKind<Infallible>> {
        use plotters_backend::text_anchor::{HPos, VPos};
        let (width, height) = (
            LETTER.0 as i32 * text.chars().count() as i32,
            LETTER.1 as i32,
        );
        let left = match style.anchor().h_pos {
            HPos::Left => x,
            HPos::Center => x - width / 2,
            HPos::Right => x - width,
        };
        let top = match style.anchor().v_pos {
            VPos::Top => y,
            VPos::Center => y - height / 2,
            VPos::Bottom => y - height,
        };
        let mut letters = Letters {
            pixels: self,
            color: style.color(),
        };
        let font = MonoTextStyle::new(&FONT_6X13, BinaryColor::On);
        let drawn = Text::with_baseline(text, Point::new(left, top), font, Baseline::Top)
            .draw(&mut letters);
        drawn.map(|_| ()).map_err(DrawingErrorKind::DrawingError)
    }

    fn estimate_text_size<S: BackendTextStyle>(
        &self,
        text: &str,
        _style: &S,
    ) -> Result<(u32, u32), DrawingErrorKind<Infallible>> {
        Ok((LETTER.0 * text.chars().count() as u32, LETTER.1))
    }
}

/// Pixels as a PNG file.
pub(super) fn png((width, height): (u32, u32), rgb: &[u8]) -> Result<Vec<u8>, png::EncodingError> {
    let mut out = Vec::new();
    let mut encoder = png::Encoder::new(&mut out, width, height);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.write_header()?.write_image_data(rgb)?;
    Ok(out)
}

/// Where letters are drawn: the lit pixels in one colour.
struct Letters<'a, 'b> {
    pixels: &'a mut Pixels<'b>,
    color: BackendColor,
}

impl OriginDimensions for Letters<'_, '_> {
    fn size(&self) -> Size {
        Size::new(self.pixels.width, self.pixels.height)
    }
}

impl DrawTarget for Letters<'_, '_> {
    type Color = BinaryColor;
    type Error = Infallible;

    fn draw_iter<I: IntoIterator<Item = Pixel<BinaryColor>>>(
        &mut self,
        pixels: I,
    ) -> Result<(), Infallible> {
        for Pixel(point, color) in pixels {
            if color.is_on() {
                self.pixels.set((point.x, point.y), self.color);
            }
        }
        Ok(())
    }
}
