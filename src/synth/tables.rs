//! The nine tables of a SoundFont (SoundFont 2.04, section 7).

use super::fault::FontError;
use super::riff::{Places, Source};

/// The most records of a table that can be named: indices have 16 bits, and one record ends the table.
const MAX_RECORDS: usize = 65_537;

/// A preset's header (section 7.2).
#[derive(Debug, Clone)]
pub(super) struct Header {
    pub(super) name: [u8; 20],
    pub(super) program: u16,
    pub(super) bank: u16,
    pub(super) first_bag: u16,
}

/// Where a zone's lists begin (sections 7.3 and 7.7).
#[derive(Debug, Clone, Copy)]
pub(super) struct Bag {
    pub(super) generator: u16,
    pub(super) modulator: u16,
}

/// A generator (sections 7.5 and 7.9): what it moves, and by how much.
#[derive(Debug, Clone, Copy)]
pub(super) struct Generator {
    pub(super) id: u16,
    pub(super) amount: [u8; 2],
}

/// A modulator (sections 7.4 and 7.8).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Modulator {
    pub(super) source: u16,
    pub(super) destination: u16,
    pub(super) amount: i16,
    pub(super) amount_source: u16,
    pub(super) transform: u16,
}

/// A sample's header (section 7.10). Places are counted in samples from the first of the file.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sample {
    pub(super) start: u32,
    pub(super) end: u32,
    pub(super) loop_start: u32,
    pub(super) loop_end: u32,
    pub(super) rate_hz: u32,
    pub(super) key: u8,
    pub(super) correction_cents: i8,
    pub(super) kind: u16,
}

/// Presets or instruments: zones with their generators and modulators.
#[derive(Debug)]
pub(super) struct Layer {
    pub(super) bags: Vec<Bag>,
    pub(super) generators: Vec<Generator>,
    pub(super) modulators: Vec<Modulator>,
}

/// Everything but the samples.
#[derive(Debug)]
pub(super) struct Tables {
    pub(super) headers: Vec<Header>,
    pub(super) presets: Layer,
    /// The first zone of each instrument, and the end of the last.
    pub(super) instrument_bags: Vec<u16>,
    pub(super) instruments: Layer,
    pub(super) samples: Vec<Sample>,
}

impl Tables {
    pub(super) fn read(source: &mut dyn Source, places: &Places) -> Result<Tables, FontError> {
        let header = |[
            name @ ..,
            p0,
            p1,
            b0,
            b1,
            z0,
            z1,
            _,
            _,
            _,
            _,
            _,
            _,
            _,
            _,
            _,
            _,
            _,
            _,
        ]: [u8; 38]| Header {
            name,
            program: u16::from_le_bytes([p0, p1]),
            bank: u16::from_le_bytes([b0, b1]),
            first_bag: u16::from_le_bytes([z0, z1]),
        };
        let first_bag = |record: [u8; 22]| u16::from_le_bytes([record[20], record[21]]);
        let headers = table(source, places, b"phdr", header)?;
        let instrument_bags = table(source, places, b"inst", first_bag)?;
        if headers.len() < 2 {
            return Err(FontError::Broken("it has no preset".into()));
        }
        ascend(headers.iter().map(|header| header.first_bag))?;
        ascend(instrument_bags.iter().copied())?;
        Ok(Tables {
            headers,
            presets: layer(source, places, [b"pbag", b"pgen", b"pmod"])?,
            instrument_bags,
            instruments: layer(source, places, [b"ibag", b"igen", b"imod"])?,
            samples: table(source, places, b"shdr", sample)?,
        })
    }

    /// The presets without the record that ends them.
    pub(super) fn presets(&self) -> impl Iterator<Item = &Header> {
        self.headers.iter().take(self.headers.len() - 1)
    }
}

fn layer(
    source: &mut dyn Source,
    places: &Places,
    [bags, generators, modulators]: [&[u8; 4]; 3],
) -> Result<Layer, FontError> {
    let bag = |[g0, g1, m0, m1]: [u8; 4]| Bag {
        generator: u16::from_le_bytes([g0, g1]),
        modulator: u16::from_le_bytes([m0, m1]),
    };
    let generator = |[i0, i1, a0, a1]: [u8; 4]| Generator {
        id: u16::from_le_bytes([i0, i1]),
        amount: [a0, a1],
    };
    let modulator = |[s0, s1, d0, d1, a0, a1, c0, c1, t0, t1]: [u8; 10]| Modulator {
        source: u16::from_le_bytes([s0, s1]),
        destination: u16::from_le_bytes([d0, d1]),
        amount: i16::from_le_bytes([a0, a1]),
        amount_source: u16::from_le_bytes([c0, c1]),
        transform: u16::from_le_bytes([t0, t1]),
    };
    let layer = Layer {
        bags: table(source, places, bags, bag)?,
        generators: table(source, places, generators, generator)?,
        modulators: table(source, places, modulators, modulator)?,
    };
    ascend(layer.bags.iter().map(|bag| bag.generator))?;
    Ok(layer)
}

fn sample(record: [u8; 46]) -> Sample {
    let word = |at: usize| {
        let mut bytes = [0; 4];
        bytes.copy_from_slice(record.get(at..at + 4).unwrap_or(&[0; 4]));
        u32::from_le_bytes(bytes)
    };
    Sample {
        start: word(20),
        end: word(24),
        loop_start: word(28),
        loop_end: word(32),
        rate_hz: word(36),
        key: record[40],
        correction_cents: record[41] as i8,
        kind: u16::from_le_bytes([record[44], record[45]]),
    }
}

fn table<const N: usize, T>(
    source: &mut dyn Source,
    places: &Places,
    name: &[u8; 4],
    make: impl Fn([u8; N]) -> T,
) -> Result<Vec<T>, FontError> {
    let bytes = places.table(source, name)?;
    let (records, rest) = bytes.as_chunks::<N>();
    if rest.is_empty() && !records.is_empty() {
        return Ok(records
            .iter()
            .take(MAX_RECORDS)
            .copied()
            .map(make)
            .collect());
    }
    let name = String::from_utf8_lossy(name);
    Err(FontError::Broken(format!("its table {name} is not whole")))
}

/// Zones are the stretches between the indices of two records: these must not go down.
fn ascend(indices: impl Iterator<Item = u16>) -> Result<(), FontError> {
    if indices.is_sorted() {
        Ok(())
    } else {
        Err(FontError::Broken("its lists of zones do not ascend".into()))
    }
}
