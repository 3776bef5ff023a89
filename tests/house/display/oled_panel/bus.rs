//! Buses that end in a [`Glass`], and keep count of what went over them.

use super::Glass;
use embedded_hal::digital;
use embedded_hal::i2c::{self, I2c, NoAcknowledgeSource};
use embedded_hal::spi::{self, SpiDevice};
use std::cell::RefCell;
use std::rc::Rc;

/// The module on the bench, with its wires.
#[derive(Debug)]
pub struct Bench {
    /// The module.
    pub glass: Glass,
    /// Transfers left until the wire is out; `None`: it holds.
    pub until_loose: Option<usize>,
    /// Bytes on the wire of each transfer, the address included.
    pub transfers: Vec<usize>,
    is_data: bool,
}

/// The bench, shared with the bus of the driver.
pub type Shared = Rc<RefCell<Bench>>;

/// A bench with this module.
pub fn bench(glass: Glass) -> Shared {
    Rc::new(RefCell::new(Bench {
        glass,
        until_loose: None,
        transfers: Vec::new(),
        is_data: false,
    }))
}

impl Bench {
    /// Bytes since the last call, and milliseconds for them on an I2C bus of so many kHz: nine bits a byte, start and
    /// stop (NXP UM10204, 3.1).
    pub fn taken(&mut self) -> Traffic {
        let transfers = std::mem::take(&mut self.transfers);
        Traffic {
            bytes: transfers.iter().sum(),
            transfers: transfers.len(),
        }
    }

    fn holds(&mut self) -> bool {
        match &mut self.until_loose {
            None => true,
            Some(0) => false,
            Some(left) => {
                *left -= 1;
                true
            }
        }
    }
}

/// What went over a bus.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Traffic {
    /// Bytes, addresses included.
    pub bytes: usize,
    /// Transfers.
    pub transfers: usize,
}

impl Traffic {
    /// Milliseconds at so many kHz.
    pub fn ms(self, khz: f64) -> f64 {
        (self.bytes * 9 + self.transfers * 2) as f64 / khz
    }
}

/// An I2C bus with the module at 0x3c.
#[derive(Debug)]
pub struct FakeI2c(pub Shared);

impl i2c::ErrorType for FakeI2c {
    type Error = i2c::ErrorKind;
}

impl I2c for FakeI2c {
    fn transaction(
        &mut self,
        address: u8,
        operations: &mut [i2c::Operation<'_>],
    ) -> Result<(), i2c::ErrorKind> {
        let mut bench = self.0.borrow_mut();
        for operation in operations {
            let i2c::Operation::Write(bytes) = operation else {
                return Err(i2c::ErrorKind::Other);
            };
            if !bench.holds() || address != 0x3c {
                return Err(i2c::ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address));
            }
            bench.transfers.push(bytes.len() + 1);
            bench.glass.i2c(bytes);
        }
        Ok(())
    }
}

/// An SPI bus with the module on it.
#[derive(Debug)]
pub struct FakeSpi(pub Shared);

impl spi::ErrorType for FakeSpi {
    type Error = spi::ErrorKind;
}

impl SpiDevice for FakeSpi {
    fn transaction(
        &mut self,
        operations: &mut [spi::Operation<'_, u8>],
    ) -> Result<(), spi::ErrorKind> {
        let mut bench = self.0.borrow_mut();
        for operation in operations {
            let spi::Operation::Write(bytes) = operation else {
                return Err(spi::ErrorKind::Other);
            };
            // Nobody acknowledges here: with the wire out the bytes are simply lost.
            if bench.holds() {
                bench.transfers.push(bytes.len());
                let is_data = bench.is_data;
                bench.glass.take(is_data, bytes);
            }
        }
        Ok(())
    }
}

/// The pin D/C.
#[derive(Debug)]
pub struct FakePin(pub Shared);

impl digital::ErrorType for FakePin {
    type Error = digital::ErrorKind;
}

impl digital::OutputPin for FakePin {
    fn set_low(&mut self) -> Result<(), digital::ErrorKind> {
        self.0.borrow_mut().is_data = false;
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), digital::ErrorKind> {
        self.0.borrow_mut().is_data = true;
        Ok(())
    }
}
