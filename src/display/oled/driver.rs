//! The driver: knows what the panel holds, sends what is different.

use super::super::bitmap::Bitmap;
use super::super::light::Light;
use super::controller::{Controller, Geometry};
use super::link::Link;
use super::memory::{Memory, runs};

/// A panel.
#[derive(Debug)]
pub struct Oled<L> {
    link: L,
    controller: Controller,
    geometry: Geometry,
    contrast: u8,
    light: Light,
    /// What the panel holds; `None`: not known, or it was not told how to show it.
    held: Option<Memory>,
}

impl<L: Link> Oled<L> {
    /// A panel that is not yet spoken to. `contrast` is 0 to 255.
    pub fn new(link: L, controller: Controller, geometry: Geometry, contrast: u8) -> Oled<L> {
        Oled {
            link,
            controller,
            geometry,
            contrast,
            light: Light::Full,
            held: None,
        }
    }

    /// The link.
    pub fn link(&mut self) -> &mut L {
        &mut self.link
    }

    /// Shows `bitmap`, sending only what is different. The first time, and after an error, the panel is set up
    /// from the beginning, and is dark until the picture is whole.
    ///
    /// # Errors
    /// What the bus says; the next call begins anew.
    pub fn show(&mut self, bitmap: &Bitmap) -> Result<(), L::Error> {
        let old = self.held.take();
        if old.is_none() {
            self.link.commands(&[0xae])?;
        }
        self.send(old, bitmap)
    }

    fn send(&mut self, old: Option<Memory>, bitmap: &Bitmap) -> Result<(), L::Error> {
        let new = Memory::of(bitmap, self.geometry);
        if old.is_none() {
            let contrast = contrast(self.contrast, self.light);
            let start = self.controller.start(self.geometry, contrast);
            self.link.commands(&start)?;
        }
        let first = self.controller.first_column(self.geometry);
        for run in runs(old.as_ref(), &new) {
            let column = first + run.from as u8;
            let place = [0xb0 | run.page as u8, column & 0x0f, 0x10 | column >> 4];
            self.link
                .pixels(place, &new.page(run.page)[run.from..run.to])?;
        }
        if old.is_none() && self.light != Light::Off {
            self.link.commands(&[0xaf])?;
        }
        self.held = Some(new);
        Ok(())
    }

    /// How bright it is to be.
    ///
    /// # Errors
    /// What the bus says.
    pub fn light(&mut self, light: Light) -> Result<(), L::Error> {
        if self.light == light {
            return Ok(());
        }
        self.light = light;
        if self.held.is_none() {
            return Ok(());
        }
        let done = match light {
            Light::Off => self.link.commands(&[0xae]),
            other => {
                let contrast = contrast(self.contrast, other);
                self.link.commands(&[0x81, contrast, 0xaf])
            }
        };
        if done.is_err() {
            self.held = None;
        }
        done
    }

    /// Asks whether the panel is still there, at the cost of an empty command.
    ///
    /// # Errors
    /// What the bus says: it is gone.
    pub fn knock(&mut self) -> Result<(), L::Error> {
        let done = self.link.commands(&[0xe3]);
        if done.is_err() {
            self.held = None;
        }
        done
    }

    /// Sets the panel up anew and sends the whole picture again: for one that may have lost its power unnoticed. One
    /// that has not goes on showing the picture meanwhile.
    ///
    /// # Errors
    /// What the bus says.
    pub fn renew(&mut self, bitmap: &Bitmap) -> Result<(), L::Error> {
        self.held = None;
        self.send(None, bitmap)
    }
}

/// Contrast at a light.
fn contrast(full: u8, light: Light) -> u8 {
    match light {
        Light::Full | Light::Off => full,
        Light::Dim => full / 8,
    }
}
