//! The OLED driver against the three controllers as their data sheets describe them: what stands on the glass is the
//! page, pixel for pixel; what a change costs on the bus.
#![cfg(feature = "oled")]

use super::oled_panel::Glass;
use super::oled_panel::bus::{FakeI2c, FakePin, FakeSpi, Shared, Traffic, bench};
use super::samples::{all, named};
use proptest::prelude::*;
use underfoot::display::oled::{Controller, Geometry, I2cLink, Light, Link, Oled, SpiLink};
use underfoot::display::{Bitmap, Large, Page, Panel, draw};

const KINDS: [Controller; 3] = [Controller::Ssd1306, Controller::Ssd1309, Controller::Sh1106];
const CONTRAST: u8 = 0x8f;

fn upside_down(bitmap: &Bitmap) -> Bitmap {
    let (w, h) = (bitmap.width(), bitmap.height());
    let mut turned = Bitmap::new(w, h);
    for y in 0..h as i32 {
        for x in 0..w as i32 {
            turned.set(w as i32 - 1 - x, h as i32 - 1 - y, bitmap.get(x, y));
        }
    }
    turned
}

/// A driver and the glass it drives.
struct Rig<L> {
    oled: Oled<L>,
    bench: Shared,
    geometry: Geometry,
}

fn i2c(kind: Controller, geometry: Geometry) -> Rig<I2cLink<FakeI2c>> {
    let glass = Glass::powered(kind, geometry.width.into(), geometry.height.into());
    let bench = bench(glass);
    let link = I2cLink::new(FakeI2c(bench.clone()), 0x3c);
    let oled = Oled::new(link, kind, geometry, CONTRAST);
    Rig {
        oled,
        bench,
        geometry,
    }
}

fn spi(kind: Controller, geometry: Geometry) -> Rig<SpiLink<FakeSpi, FakePin>> {
    let glass = Glass::powered(kind, geometry.width.into(), geometry.height.into());
    let bench = bench(glass);
    let link = SpiLink::new(FakeSpi(bench.clone()), FakePin(bench.clone()));
    let oled = Oled::new(link, kind, geometry, CONTRAST);
    Rig {
        oled,
        bench,
        geometry,
    }
}

impl<L: Link> Rig<L>
where
    L::Error: std::fmt::Debug,
{
    fn panel(&self) -> Panel {
        Panel::new(self.geometry.width.into(), self.geometry.height.into())
    }

    /// Shows the page; on the glass stands nothing else.
    #[track_caller]
    fn show(&mut self, page: &Page) -> Traffic {
        let bitmap = draw(page, self.panel());
        self.oled.show(&bitmap).expect("a bus that works");
        self.check(&bitmap);
        self.bench.borrow_mut().taken()
    }

    #[track_caller]
    fn check(&self, bitmap: &Bitmap) {
        let bench = self.bench.borrow();
        assert_eq!(bench.glass.faults, [""; 0]);
        let seen = bench.glass.picture().expect("a picture");
        let seen = if self.geometry.upside_down {
            upside_down(&seen)
        } else {
            seen
        };
        assert!(
            seen == *bitmap,
            "seen:\n{}wanted:\n{}",
            seen.art(),
            bitmap.art()
        );
    }

    /// The power goes and comes: nothing of what it was told is left.
    fn power_cycle(&mut self) {
        self.bench.borrow_mut().glass.power_cycle();
    }
}

fn every_page<L: Link>(mut rig: Rig<L>)
where
    L::Error: std::fmt::Debug,
{
    assert!(rig.bench.borrow().glass.picture().is_none());
    for (_, page) in all() {
        // After the one before: a partial update.
        rig.show(&page);
    }
    for (_, page) in all().into_iter().rev() {
        rig.power_cycle();
        assert!(rig.bench.borrow().glass.picture().is_none());
        let bitmap = draw(&page, rig.panel());
        rig.oled.renew(&bitmap).expect("a bus that works");
        rig.check(&bitmap);
    }
}

#[test]
fn every_page_stands_on_every_glass() {
    for kind in KINDS {
        for height in [64, 32] {
            for upside_down in [false, true] {
                let geometry = Geometry {
                    upside_down,
                    ..Geometry::new(128, height)
                };
                every_page(i2c(kind, geometry));
                every_page(spi(kind, geometry));
            }
        }
    }
}

#[test]
fn a_panel_taken_for_another_kind_shows_what_players_report() {
    // A 128 pixel glass on an SH1106, driven as an SSD1306: the picture is two pixels off and garbage stands at the edge
    // (rust-embedded-community/sh1106, ThingPulse/esp8266-oled-ssd1306). So the emulator would
    // notice a wrong offset.
    let bench = bench(Glass::powered(Controller::Sh1106, 128, 64));
    let link = I2cLink::new(FakeI2c(bench.clone()), 0x3c);
    let mut oled = Oled::new(link, Controller::Ssd1306, Geometry::new(128, 64), CONTRAST);
    let bitmap = draw(&named("one"), Panel::new(128, 64));
    oled.show(&bitmap).expect("a bus that works");
    let seen = bench.borrow().glass.picture().expect("a picture");
    for y in 0..64 {
        for x in 0..126 {
            assert_eq!(seen.get(x, y), bitmap.get(x + 2, y), "{x},{y}");
        }
    }
    assert!(
        (0..64).any(|y| seen.get(126, y) || seen.get(127, y)),
        "garbage"
    );
    assert!(!bench.borrow().glass.faults.is_empty());
}

#[test]
fn dim_is_darker_and_off_is_dark_and_neither_forgets_the_picture() {
    for kind in KINDS {
        let mut rig = i2c(kind, Geometry::new(128, 64));
        let bitmap = draw(&named("ready"), rig.panel());
        rig.show(&named("ready"));
        rig.oled.light(Light::Dim).expect("a bus that works");
        assert_eq!(rig.bench.borrow().glass.contrast, CONTRAST / 8);
        rig.check(&bitmap);
        rig.oled.light(Light::Off).expect("a bus that works");
        assert!(rig.bench.borrow().glass.picture().is_none());
        // Renewed while dark it stays dark.
        rig.power_cycle();
        rig.oled.renew(&bitmap).expect("a bus that works");
        assert!(rig.bench.borrow().glass.picture().is_none());
        rig.oled.light(Light::Full).expect("a bus that works");
        assert_eq!(rig.bench.borrow().glass.contrast, CONTRAST);
        rig.check(&bitmap);
    }
}

#[test]
fn what_a_change_costs_on_the_bus() {
    let practice = |name: &str| match named(name) {
        Page::Practice(page) => *page,
        _ => panic!("{name} is a practice page"),
    };
    let page = |page| Page::Practice(Box::new(page));
    let before = practice("now");
    let mut beat = before.clone();
    beat.beats_to_change -= 1;
    // The set flips to the next; then the chord changes and stands where it stood.
    let mut flip = beat.clone();
    flip.large = Large::Next;
    let mut chord = flip.clone();
    (chord.now, chord.chord_now) = (flip.next.clone(), flip.chord_next.clone());
    (chord.next, chord.chord_next) = (flip.now.clone(), "Fm6".into());
    (chord.large, chord.beats_to_change) = (Large::Now, 4);
    let mut stage = practice("many");
    stage.section = "bridge".into();
    for kind in KINDS {
        let mut rig = i2c(kind, Geometry::new(128, 64));
        let full = rig.show(&page(before.clone()));
        let mut told = format!("{kind:?}: full page {}", in_words(full));
        let costs = [
            ("beat", &beat),
            ("flip", &flip),
            ("chord", &chord),
            ("stage", &stage),
        ]
        .map(|(name, next)| {
            let cost = rig.show(&page(next.clone()));
            told += &format!("; {name} {}", in_words(cost));
            cost
        });
        println!("{told}");
        assert!(
            costs[0].bytes * 10 <= full.bytes,
            "a beat is a tenth at the most"
        );
        assert!(costs.iter().all(|cost| cost.bytes <= full.bytes));
        assert_eq!(
            rig.show(&page(stage.clone())).bytes,
            0,
            "nothing new, nothing sent"
        );
        // A page must be through before the next may come: ten a second.
        assert!(full.ms(400.0) < 100.0 && costs.iter().all(|cost| cost.ms(100.0) < 120.0));
    }
}

fn in_words(cost: Traffic) -> String {
    let (slow, fast) = (cost.ms(100.0), cost.ms(400.0));
    format!(
        "{} bytes in {} ({slow:.1} ms at 100 kHz, {fast:.1} ms at 400 kHz)",
        cost.bytes, cost.transfers
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_wire_that_comes_loose_anywhere_leaves_the_whole_page_when_it_is_back(
        kind in prop::sample::select(KINDS.to_vec()),
        order in prop::collection::vec((0usize..26, prop::option::of(0usize..12), any::<bool>()), 1..12),
    ) {
        let mut rig = i2c(kind, Geometry::new(128, 64));
        let pages = all();
        for (index, loose, power) in order {
            let page = &pages[index % pages.len()].1;
            let bitmap = draw(page, rig.panel());
            rig.bench.borrow_mut().until_loose = loose;
            let shown = rig.oled.show(&bitmap);
            rig.bench.borrow_mut().until_loose = None;
            if shown.is_err() {
                // It may have lost its power with the bus, or not.
                if power {
                    rig.power_cycle();
                }
                rig.show(page);
            } else {
                rig.check(&bitmap);
            }
        }
    }
}
