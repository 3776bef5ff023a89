//! Tracks as files, WAV and FLAC: written as they come, whole or not there at all; and read again.
// It reads and writes files.
#![allow(clippy::disallowed_types)]

use super::tags::Tags;
use crate::daemon::track_form::Form;
use crate::daemon::whole_file::WholeFile;
use flac_codec::decode::FlacSampleReader;
use flac_codec::encode::{FlacSampleWriter, Options};
use std::fs::File;
use std::io::{BufReader, BufWriter, Error, Read, Result, Seek, SeekFrom, Write};
use std::os::unix::fs::FileExt;
use std::path::Path;

/// Linear prediction up to this order: more costs time, and hardly saves room.
const PREDICTION_ORDER: u8 = 6;
/// The largest WAV file: its lengths have 32 bits.
const LARGEST_WAV: u64 = u32::MAX as u64 - (1 << 20);

/// A track that is being written.
pub(super) struct TrackWriter {
    file: WholeFile,
    form: FormWriter,
}

enum FormWriter {
    Wav(Box<Wav>),
    Flac(Box<FlacSampleWriter<BufWriter<File>>>, Vec<i32>),
}

struct Wav {
    out: BufWriter<File>,
    chunks: Vec<u8>,
    rate: u32,
    data_bytes: u64,
}

impl TrackWriter {
    pub(super) fn create(path: &Path, form: Form, tags: &Tags, rate: u32) -> Result<TrackWriter> {
        let file = WholeFile::create(path)?;
        let out = BufWriter::with_capacity(1 << 16, file.handle()?);
        let form = match form {
            Form::Flac => FormWriter::Flac(Box::new(flac(out, tags, rate)?), Vec::new()),
            _ => FormWriter::Wav(Box::new(Wav::new(out, tags, rate)?)),
        };
        Ok(TrackWriter { file, form })
    }

    /// Takes frames, left and right in turn.
    pub(super) fn write(&mut self, samples: &[i16]) -> Result<()> {
        match &mut self.form {
            FormWriter::Wav(wav) => wav.write(samples),
            FormWriter::Flac(writer, wide) => {
                wide.clear();
                wide.extend(samples.iter().map(|sample| i32::from(*sample)));
                writer.write(wide).map_err(Error::other)
            }
        }
    }

    /// Puts the file in its place, and says how long it is.
    pub(super) fn finish(self) -> Result<u64> {
        match self.form {
            FormWriter::Wav(wav) => wav.finish()?,
            FormWriter::Flac(writer, _) => writer.finalize().map_err(Error::other)?,
        }
        let bytes = self.file.handle()?.metadata()?.len();
        self.file.keep()?;
        Ok(bytes)
    }
}

fn flac(out: BufWriter<File>, tags: &Tags, rate: u32) -> Result<FlacSampleWriter<BufWriter<File>>> {
    let options = Options::fast()
        .block_size(4096)
        .and_then(|options| options.max_lpc_order(Some(PREDICTION_ORDER)))
        .map_err(Error::other)?
        .mid_side(true)
        .fast_channel_correlation(true)
        .no_padding();
    let tagged = |options: Options, (name, value): (String, String)| options.tag(&name, value);
    let options = tags.comments().into_iter().fold(options, tagged);
    FlacSampleWriter::new(out, options, rate, 16, 2, None).map_err(Error::other)
}

impl Wav {
    fn new(mut out: BufWriter<File>, tags: &Tags, rate: u32) -> Result<Wav> {
        out.write_all(&header(rate, 0, 0))?;
        Ok(Wav {
            out,
            chunks: tags.chunks(rate),
            rate,
            data_bytes: 0,
        })
    }

    fn write(&mut self, samples: &[i16]) -> Result<()> {
        self.data_bytes += 2 * samples.len() as u64;
        if self.data_bytes > LARGEST_WAV {
            return Err(Error::other(
                "longer than a WAV file can be (4 GiB): take flac",
            ));
        }
        let mut bytes = [0; 4096];
        for samples in samples.chunks(bytes.len() / 2) {
            for (bytes, sample) in bytes.chunks_exact_mut(2).zip(samples) {
                bytes.copy_from_slice(&sample.to_le_bytes());
            }
            self.out.write_all(&bytes[..2 * samples.len()])?;
        }
        Ok(())
    }

    fn finish(mut self) -> Result<()> {
        self.out.write_all(&self.chunks)?;
        let file = self.out.into_inner().map_err(|error| error.into_error())?;
        let header = header(self.rate, self.data_bytes as u32, self.chunks.len() as u32);
        file.write_all_at(&header, 0)
    }
}

/// The head of a WAV file of 16 bits and two channels, up to its samples.
fn header(rate: u32, data_bytes: u32, more_bytes: u32) -> Vec<u8> {
    let mut head = b"RIFF".to_vec();
    head.extend((36 + data_bytes + more_bytes).to_le_bytes());
    head.extend(b"WAVEfmt ");
    head.extend(16u32.to_le_bytes());
    for number in [1u16, 2] {
        head.extend(number.to_le_bytes());
    }
    for number in [rate, rate * 4] {
        head.extend(number.to_le_bytes());
    }
    for number in [4u16, 16] {
        head.extend(number.to_le_bytes());
    }
    head.extend(b"data");
    head.extend(data_bytes.to_le_bytes());
    head
}

/// Reads a track that was written, in stretches.
///
/// # Errors
/// When it cannot be read, or `each` fails.
pub(super) fn read(
    path: &Path,
    form: Form,
    mut each: impl FnMut(&[i16]) -> Result<()>,
) -> Result<()> {
    let mut samples = Vec::new();
    let file = BufReader::with_capacity(1 << 16, File::open(path)?);
    if form == Form::Flac {
        let mut reader = FlacSampleReader::new(file).map_err(Error::other)?;
        loop {
            let read = reader.fill_buf().map_err(Error::other)?;
            if read.is_empty() {
                return Ok(());
            }
            samples.clear();
            samples.extend(read.iter().map(|sample| *sample as i16));
            let count = read.len();
            reader.consume(count);
            each(&samples)?;
        }
    }
    let (mut file, mut head) = (file, [0; 44]);
    file.read_exact(&mut head)?;
    let mut left = u64::from(u32::from_le_bytes([head[40], head[41], head[42], head[43]]));
    file.seek(SeekFrom::Start(head.len() as u64))?;
    let mut bytes = vec![0; 1 << 15];
    while left > 0 {
        let count = bytes.len().min(left as usize);
        file.read_exact(&mut bytes[..count])?;
        samples.clear();
        let pairs = bytes[..count].chunks_exact(2);
        samples.extend(pairs.map(|pair| i16::from_le_bytes([pair[0], pair[1]])));
        each(&samples)?;
        left -= count as u64;
    }
    Ok(())
}
