//! A score's parts and their bars: the part with the most chord symbols is read.

use super::mxl;
use super::reader::PartReader;
use super::xml::{self, child, children, text};
use crate::chart::MAX_BARS;
use crate::sheet::lead::{ImportError, Imported, Sheet, into_chart, short};
use roxmltree::Node;

/// Reads a MusicXML file, compressed or not. `fallback` is the chart's title where the file has none.
///
/// # Errors
/// When it is no MusicXML, is broken, has no chord symbol, or is larger than any lead sheet.
pub fn from_musicxml(bytes: &[u8], fallback: &str) -> Result<Imported, ImportError> {
    let unpacked;
    let bytes = if bytes.starts_with(b"PK") {
        unpacked = mxl::score(bytes)?;
        &unpacked
    } else {
        bytes
    };
    let sheet = {
        let text = xml::decode(bytes)?;
        let document = xml::parse(&text)?;
        read(document.root_element())?
    };
    into_chart(sheet, fallback)
}

/// A bar of a part: its label is at `measure`, what stands in it in `content`.
#[derive(Clone, Copy)]
struct ScoreBar<'a, 'input> {
    measure: Node<'a, 'input>,
    content: Node<'a, 'input>,
}

struct ScorePart<'a, 'input> {
    id: &'a str,
    bars: Vec<ScoreBar<'a, 'input>>,
    chords: usize,
}

fn read(root: Node<'_, '_>) -> Result<Sheet, ImportError> {
    let parts = match root.tag_name().name() {
        "score-partwise" => partwise(root),
        "score-timewise" => timewise(root),
        other => {
            let rule = format!("it is no MusicXML score: its root is <{}>", short(other));
            return Err(ImportError(rule));
        }
    };
    // Of equals the first.
    let chosen = parts.iter().rev().max_by_key(|part| part.chords);
    let Some(chosen) = chosen else {
        return Err(ImportError("there is no part in it".to_string()));
    };
    if chosen.bars.len() > MAX_BARS {
        let rule = format!(
            "it has {} bars, a chart at most {MAX_BARS}",
            chosen.bars.len()
        );
        return Err(ImportError(rule));
    }
    let mut sheet = Sheet {
        title: title(root),
        ..Sheet::default()
    };
    for other in parts
        .iter()
        .filter(|part| part.id != chosen.id && part.chords > 0)
    {
        sheet.warnings.whole(format!(
            "part \"{}\" has {} chords too: only those of part \"{}\" are read",
            short(other.id),
            other.chords,
            short(chosen.id)
        ));
    }
    let mut reader = PartReader::new(&mut sheet);
    for bar in &chosen.bars {
        reader.measure(bar.measure, bar.content);
    }
    Ok(sheet)
}

fn title(root: Node<'_, '_>) -> Option<String> {
    let work = child(root, "work").and_then(|work| child(work, "work-title"));
    let movement = child(root, "movement-title");
    let found = [work, movement].into_iter().flatten().map(text);
    found
        .filter(|title| !title.is_empty())
        .map(str::to_string)
        .next()
}

fn chords(content: Node<'_, '_>) -> usize {
    children(content)
        .filter(|one| one.tag_name().name() == "harmony")
        .count()
}

fn partwise<'a, 'input>(root: Node<'a, 'input>) -> Vec<ScorePart<'a, 'input>> {
    let named = |name: &'static str| move |one: &Node<'_, '_>| one.tag_name().name() == name;
    children(root)
        .filter(named("part"))
        .map(|part| {
            let bars = children(part).filter(named("measure"));
            let bars: Vec<ScoreBar<'_, '_>> = bars
                .map(|measure| ScoreBar {
                    measure,
                    content: measure,
                })
                .collect();
            ScorePart {
                id: part.attribute("id").unwrap_or_default(),
                chords: bars.iter().map(|bar| chords(bar.content)).sum(),
                bars,
            }
        })
        .collect()
}

fn timewise<'a, 'input>(root: Node<'a, 'input>) -> Vec<ScorePart<'a, 'input>> {
    let mut parts: Vec<ScorePart<'a, 'input>> = Vec::new();
    for measure in children(root).filter(|one| one.tag_name().name() == "measure") {
        for content in children(measure).filter(|one| one.tag_name().name() == "part") {
            let id = content.attribute("id").unwrap_or_default();
            let place = parts.iter().position(|part| part.id == id);
            let part = match place {
                Some(place) => &mut parts[place],
                // Beyond any score: a file made to be slow.
                None if parts.len() >= 256 => continue,
                None => {
                    parts.push(ScorePart {
                        id,
                        bars: Vec::new(),
                        chords: 0,
                    });
                    let last = parts.len() - 1;
                    &mut parts[last]
                }
            };
            part.chords += chords(content);
            part.bars.push(ScoreBar { measure, content });
        }
    }
    parts
}
