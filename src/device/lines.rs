//! Lines of GPIO chips, found by name, never by the number of the chip, which changes.
#![allow(clippy::disallowed_methods)] // An adapter: it opens devices.

use gpiocdev::Request;
use gpiocdev::chip::Chip;
use gpiocdev::line::Value;
use std::fmt;
use std::path::PathBuf;

/// A line as it is written: `GPIO25`, the name the board gives it, or `pinctrl-bcm2711:25`, the label of a chip and an
/// offset there.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct PinLine(String);

/// A line that was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FoundLine {
    pub chip: PathBuf,
    /// The line on it.
    pub offset: u32,
}

impl PinLine {
    /// A line by its name.
    pub fn new(name: impl Into<String>) -> PinLine {
        PinLine(name.into())
    }

    /// Looks for it.
    ///
    /// # Errors
    /// In words, when there is none, or somebody else has it.
    pub fn find(&self) -> Result<FoundLine, String> {
        let chips = gpiocdev::chip::chips().map_err(|error| format!("no GPIO chips: {error}"))?;
        let mut labels = Vec::new();
        for path in chips {
            let Ok(chip) = Chip::from_path(&path) else {
                continue;
            };
            let Ok(info) = chip.info() else { continue };
            let by_offset = self.0.split_once(':').and_then(|(label, offset)| {
                let offset = offset.parse::<u32>().ok()?;
                (label == info.label && offset < info.num_lines).then_some(offset)
            });
            let offset = by_offset.or_else(|| Some(chip.find_line_info(&self.0)?.offset));
            labels.push(info.label);
            let Some(offset) = offset else { continue };
            let line = chip
                .line_info(offset)
                .map_err(|error| format!("{self}: {error}"))?;
            if line.used {
                return Err(format!("{self} is taken by \"{}\"", line.consumer));
            }
            return Ok(FoundLine { chip: path, offset });
        }
        let known = if labels.is_empty() {
            "no chip can be opened (is this user in the group gpio?)".to_string()
        } else {
            format!("the chips there are: {}", labels.join(", "))
        };
        Err(format!("there is no line {self}; {known}"))
    }
}

impl fmt::Display for PinLine {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A line that we drive.
#[derive(Debug)]
pub struct OutputLine(Request);

impl OutputLine {
    /// Takes the line, at this level.
    ///
    /// # Errors
    /// In words, when it is not there or taken.
    pub fn take(line: &PinLine, high: bool) -> Result<OutputLine, String> {
        let found = line.find()?;
        Request::builder()
            .on_chip(&found.chip)
            .with_consumer("underfoot")
            .with_line(found.offset)
            .as_output(level(high))
            .request()
            .map(OutputLine)
            .map_err(|error| format!("{line}: {error}"))
    }

    /// Sets its level.
    ///
    /// # Errors
    /// In words, when the chip is gone.
    pub fn set(&mut self, high: bool) -> Result<(), String> {
        self.0
            .set_lone_value(level(high))
            .map_err(|error| error.to_string())
    }
}

fn level(high: bool) -> Value {
    if high { Value::Active } else { Value::Inactive }
}

/// Why a pin did not move.
#[cfg(feature = "oled")]
#[derive(Debug)]
pub struct PinError(pub String);

#[cfg(feature = "oled")]
impl embedded_hal::digital::Error for PinError {
    fn kind(&self) -> embedded_hal::digital::ErrorKind {
        embedded_hal::digital::ErrorKind::Other
    }
}

#[cfg(feature = "oled")]
impl embedded_hal::digital::ErrorType for OutputLine {
    type Error = PinError;
}

#[cfg(feature = "oled")]
impl embedded_hal::digital::OutputPin for OutputLine {
    fn set_low(&mut self) -> Result<(), PinError> {
        self.set(false).map_err(PinError)
    }

    fn set_high(&mut self) -> Result<(), PinError> {
        self.set(true).map_err(PinError)
    }
}
