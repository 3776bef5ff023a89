//! How bytes get to a panel.

use embedded_hal::digital::OutputPin;
use embedded_hal::i2c::I2c;
use embedded_hal::spi::SpiDevice;

/// Carries commands and pixels.
pub trait Link {
    /// Why it failed.
    type Error;

    /// Commands with their arguments.
    ///
    /// # Errors
    /// What the bus says.
    fn commands(&mut self, bytes: &[u8]) -> Result<(), Self::Error>;

    /// Three commands that set the place, then pixels from there on: one transfer where the bus can.
    ///
    /// # Errors
    /// What the bus says.
    fn pixels(&mut self, place: [u8; 3], bytes: &[u8]) -> Result<(), Self::Error>;

    /// Whether a panel that is gone is noticed, because each transfer is acknowledged.
    fn is_acknowledged(&self) -> bool;
}

/// Control bytes of the I2C protocol of all three (SSD1306 8.1.5.2, SSD1309 8.1.5, SH1106 "I2C-bus protocol"): bit 7
/// says that another control byte follows after one byte, bit 6 that what follows are pixels.
const COMMANDS_FOLLOW: u8 = 0x00;
const ONE_COMMAND: u8 = 0x80;
const PIXELS_FOLLOW: u8 = 0x40;

/// A panel on an I2C bus.
#[derive(Debug)]
pub struct I2cLink<B> {
    bus: B,
    address: u8,
    message: Vec<u8>,
}

impl<B: I2c> I2cLink<B> {
    /// The panel at `address` (7 bits: 0x3c or 0x3d).
    pub fn new(bus: B, address: u8) -> I2cLink<B> {
        I2cLink {
            bus,
            address,
            message: Vec::with_capacity(160),
        }
    }
}

impl<B: I2c> Link for I2cLink<B> {
    type Error = B::Error;

    fn commands(&mut self, bytes: &[u8]) -> Result<(), B::Error> {
        self.message.clear();
        self.message.push(COMMANDS_FOLLOW);
        self.message.extend_from_slice(bytes);
        self.bus.write(self.address, &self.message)
    }

    fn pixels(&mut self, place: [u8; 3], bytes: &[u8]) -> Result<(), B::Error> {
        self.message.clear();
        for command in place {
            self.message.extend([ONE_COMMAND, command]);
        }
        self.message.push(PIXELS_FOLLOW);
        self.message.extend_from_slice(bytes);
        self.bus.write(self.address, &self.message)
    }

    fn is_acknowledged(&self) -> bool {
        true
    }
}

/// A panel on a four-wire SPI bus: the pin D/C tells commands from pixels.
#[derive(Debug)]
pub struct SpiLink<S, P> {
    device: S,
    is_data: P,
}

/// Why an SPI transfer failed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SpiError<S, P> {
    /// The bus.
    #[error("the SPI bus: {0:?}")]
    Bus(S),
    /// The pin.
    #[error("the pin D/C: {0:?}")]
    Pin(P),
}

impl<S: SpiDevice, P: OutputPin> SpiLink<S, P> {
    /// The panel on `device`; `is_data` is the pin D/C.
    pub fn new(device: S, is_data: P) -> SpiLink<S, P> {
        SpiLink { device, is_data }
    }
}

impl<S: SpiDevice, P: OutputPin> Link for SpiLink<S, P> {
    type Error = SpiError<S::Error, P::Error>;

    fn commands(&mut self, bytes: &[u8]) -> Result<(), Self::Error> {
        self.is_data.set_low().map_err(SpiError::Pin)?;
        self.device.write(bytes).map_err(SpiError::Bus)
    }

    fn pixels(&mut self, place: [u8; 3], bytes: &[u8]) -> Result<(), Self::Error> {
        self.commands(&place)?;
        self.is_data.set_high().map_err(SpiError::Pin)?;
        self.device.write(bytes).map_err(SpiError::Bus)
    }

    fn is_acknowledged(&self) -> bool {
        false
    }
}
