//! Compressed MusicXML: a ZIP archive whose container names the score (MusicXML 4.0, "Compressed .MXL files").

use super::xml::{self, MAX_XML_BYTES, children};
use crate::sheet::lead::{ImportError, short};
use std::io::{Cursor, Read};
use zip::ZipArchive;

/// The most entries of an archive.
const MAX_ENTRIES: usize = 64;
/// What the archive may unpack to, by its own word.
const MAX_TOTAL_BYTES: u64 = 16 << 20;
/// The most bytes of the container file.
const MAX_CONTAINER_BYTES: usize = 1 << 16;

const CONTAINER: &str = "META-INF/container.xml";

/// The score in an archive. Nothing else is unpacked.
pub(super) fn score(bytes: &[u8]) -> Result<Vec<u8>, ImportError> {
    let no_zip = |error: zip::result::ZipError| {
        ImportError(format!("it is no readable ZIP archive: {error}"))
    };
    let refuse = |rule: String| Err(ImportError(rule));
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(no_zip)?;
    if archive.len() > MAX_ENTRIES {
        return refuse(format!(
            "its archive has {} entries, a score at most {MAX_ENTRIES}",
            archive.len()
        ));
    }
    if archive.has_overlapping_files().map_err(no_zip)? {
        return refuse("the entries of its archive overlap: refused".to_string());
    }
    if archive
        .decompressed_size()
        .is_some_and(|size| size > u128::from(MAX_TOTAL_BYTES))
    {
        return refuse(format!(
            "its archive unpacks to more than {} MiB: refused",
            MAX_TOTAL_BYTES >> 20
        ));
    }
    let name = rootfile(&mut archive)?;
    entry(&mut archive, &name, MAX_XML_BYTES)
}

/// The first root file that the container names; without a container the first file that may be a score.
fn rootfile(archive: &mut ZipArchive<Cursor<&[u8]>>) -> Result<String, ImportError> {
    if archive.index_for_name(CONTAINER).is_none() {
        let score = archive
            .file_names()
            .filter_map(|name| Some(name.ok()?.into_owned()))
            .find(|name| {
                let name = name.to_lowercase();
                !name.starts_with("meta-inf/")
                    && (name.ends_with(".xml") || name.ends_with(".musicxml"))
            });
        let rule = "its archive has neither a container nor a score";
        return score.ok_or_else(|| ImportError(rule.to_string()));
    }
    let container = entry(archive, CONTAINER, MAX_CONTAINER_BYTES)?;
    let text = xml::decode(&container)?;
    let document = xml::parse(&text)?;
    let named = document
        .root_element()
        .descendants()
        .filter(|node| node.tag_name().name() == "rootfiles")
        .flat_map(children)
        .find_map(|node| node.attribute("full-path"));
    named
        .map(str::to_string)
        .ok_or_else(|| ImportError("the container of its archive names no score".to_string()))
}

/// An entry, unpacked up to a limit.
fn entry(
    archive: &mut ZipArchive<Cursor<&[u8]>>,
    name: &str,
    most: usize,
) -> Result<Vec<u8>, ImportError> {
    let shown = short(name);
    let file = archive
        .by_name(name)
        .map_err(|error| ImportError(format!("\"{shown}\" in its archive: {error}")))?;
    let mut bytes = Vec::new();
    file.take(most as u64 + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| ImportError(format!("\"{shown}\" in its archive: {error}")))?;
    if bytes.len() > most {
        return Err(ImportError(format!(
            "\"{shown}\" in its archive unpacks to more than {} KiB: refused",
            most >> 10
        )));
    }
    Ok(bytes)
}
