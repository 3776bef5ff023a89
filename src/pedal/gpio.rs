//! Switches on the board's own pins.
//!
//! The kernel's debouncing waits until a line is quiet and so delays every edge; it is off unless asked for. Each edge
//! carries the stamp of its interrupt. Lost edges are noticed by their numbers, and the level is then read again.

// An adapter: it has a thread and opens devices.
#![allow(clippy::disallowed_methods)]

use super::SWITCHES;
use super::reporter::Reporter;
use super::settings::{GpioSettings, Pull};
use super::source::{Device, SLICE, Unusable};
use super::stamps::age_of;
use crate::device::lines::PinLine;
use gpiocdev::Request;
use gpiocdev::line::{Bias, EdgeDetection, EdgeKind, EventClock, Value};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

/// Edges the kernel keeps for us.
const KERNEL_BUFFER: u32 = 128;

impl Device for GpioSettings {
    type Open = Request;

    fn open(&mut self) -> Result<Request, Unusable> {
        Ok(take(self)?)
    }

    fn begin(&mut self, request: &Request, reporter: &mut Reporter) -> Option<String> {
        let mut down = [false; SWITCHES];
        let mut at_rest = [false; SWITCHES];
        let index = usize::from(self.switch).saturating_sub(1) % SWITCHES;
        down[index] = is_down(request).unwrap_or(false);
        at_rest[index] = self.closed_at_rest;
        reporter.begin(down, &at_rest)
    }

    fn work(
        &mut self,
        request: &mut Request,
        reporter: &mut Reporter,
        stop: &AtomicBool,
    ) -> Result<(), String> {
        let mut number = 0u32;
        while !stop.load(Ordering::Relaxed) {
            if !request.wait_edge_event(SLICE).map_err(in_words)? {
                // A chip that was taken away tells no edge any more; its lines cannot be read either.
                is_down(request)?;
                continue;
            }
            let event = request.read_edge_event().map_err(in_words)?;
            let is_next = event.line_seqno == number.wrapping_add(1);
            number = event.line_seqno;
            let at = reporter.ago(age_of(Duration::from_nanos(event.timestamp_ns)));
            // Rising is "becomes active": the line is set up so that active is down.
            reporter.set(self.switch, event.kind == EdgeKind::Rising, at);
            if !is_next && request.has_edge_event().is_ok_and(|more| !more) {
                let down = is_down(request)?;
                reporter.set(self.switch, down, reporter.ago(Duration::ZERO));
            }
        }
        Ok(())
    }
}

fn take(settings: &GpioSettings) -> Result<Request, String> {
    let found = PinLine::new(settings.line.as_str()).find()?;
    let mut builder = Request::builder();
    builder
        .on_chip(&found.chip)
        .with_consumer("underfoot")
        .with_kernel_event_buffer_size(KERNEL_BUFFER)
        .with_line(found.offset)
        .as_input()
        .with_edge_detection(EdgeDetection::BothEdges)
        .with_event_clock(EventClock::Monotonic)
        .with_bias(match settings.pull {
            Pull::Up => Bias::PullUp,
            Pull::Down => Bias::PullDown,
            Pull::None => Bias::Disabled,
        });
    if settings.to_ground {
        builder.as_active_low();
    }
    if settings.kernel_debounce_ms > 0 {
        builder.with_debounce_period(Duration::from_millis(settings.kernel_debounce_ms.into()));
    }
    builder
        .request()
        .map_err(|error| format!("{}: {error}", settings.line))
}

fn is_down(request: &Request) -> Result<bool, String> {
    let value = request.lone_value().map_err(in_words)?;
    Ok(value == Value::Active)
}

fn in_words(error: gpiocdev::Error) -> String {
    error.to_string()
}

/// A line that is watched to learn which way it moves.
#[derive(Debug)]
pub struct Watched(Request);

impl Watched {
    /// Takes the line, with the resistor to the supply.
    ///
    /// # Errors
    /// In words, when it is not there or taken.
    pub fn take(line: &PinLine) -> Result<Watched, String> {
        let found = line.find()?;
        Request::builder()
            .on_chip(&found.chip)
            .with_consumer("underfoot")
            .with_line(found.offset)
            .as_input()
            .with_edge_detection(EdgeDetection::BothEdges)
            .with_bias(Bias::PullUp)
            .request()
            .map(Watched)
            .map_err(|error| format!("{line}: {error}"))
    }

    /// Waits for an edge: whether it went low; `None` when the line is gone.
    pub fn next_edge(&self) -> Option<bool> {
        let event = self.0.read_edge_event().ok()?;
        Some(event.kind == EdgeKind::Falling)
    }
}
