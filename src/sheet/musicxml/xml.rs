//! Bytes to an XML tree, within bounds of size, and small helpers on it.

use crate::sheet::lead::ImportError;
use roxmltree::{Document, Node, ParsingOptions};
use std::borrow::Cow;

/// The most bytes of a MusicXML file, unpacked.
pub(in crate::sheet) const MAX_XML_BYTES: usize = 8 << 20;
/// The most nodes of its tree, and attributes: a tree is many times larger than its text.
const MAX_NODES: usize = 900_000;
const MAX_ATTRIBUTES: usize = 450_000;
/// The most attributes of one element, and declarations of name spaces: the parser compares each with each.
const MAX_ATTRIBUTES_OF_ONE: usize = 200;
const MAX_NAMESPACES: usize = 64;

/// The text of a file: UTF-8 or UTF-16 by its byte order mark, else Latin-1 where it declares that.
pub(super) fn decode(bytes: &[u8]) -> Result<Cow<'_, str>, ImportError> {
    if bytes.len() > MAX_XML_BYTES {
        let rule = format!("it is larger than {} MiB", MAX_XML_BYTES >> 20);
        return Err(ImportError(rule));
    }
    let wide = |order: fn([u8; 2]) -> u16| {
        let units = bytes[2..]
            .chunks_exact(2)
            .map(|two| order([two[0], two[1]]));
        let text: Result<String, _> = char::decode_utf16(units).collect();
        text.map(Cow::Owned)
            .map_err(|_| ImportError("it is no UTF-16 text, though it begins like one".to_string()))
    };
    match bytes {
        [0xFE, 0xFF, ..] => return wide(u16::from_be_bytes),
        [0xFF, 0xFE, ..] => return wide(u16::from_le_bytes),
        _ => {}
    }
    let plain = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    match std::str::from_utf8(plain) {
        Ok(text) => Ok(Cow::Borrowed(text)),
        Err(_) if says_latin(plain) => Ok(plain.iter().map(|byte| char::from(*byte)).collect()),
        Err(error) => Err(ImportError(format!(
            "it is no UTF-8 text (byte {} of the file)",
            error.valid_up_to()
        ))),
    }
}

/// Whether the XML declaration names a Latin-1 encoding.
fn says_latin(bytes: &[u8]) -> bool {
    let head = &bytes[..bytes.len().min(120)];
    let head = String::from_utf8_lossy(head).to_lowercase();
    ["iso-8859-1", "windows-1252", "latin1"]
        .iter()
        .any(|name| head.contains(name))
}

/// The tree. No entity is followed, inside the file or out of it.
pub(super) fn parse(text: &str) -> Result<Document<'_>, ImportError> {
    refuse_hostile(text)?;
    let options = ParsingOptions {
        // Scores name their document type; nothing is fetched.
        allow_dtd: true,
        nodes_limit: MAX_NODES as u32,
        ..ParsingOptions::default()
    };
    Document::parse_with_options(text, options)
        .map_err(|error| ImportError(format!("it is no well-formed XML: {error}")))
}

/// Refuses what the parser would spend too much on: it makes room for all elements and attributes before it reads.
fn refuse_hostile(text: &str) -> Result<(), ImportError> {
    let count = |sign: u8| text.bytes().filter(|byte| *byte == sign).count();
    if count(b'<') > MAX_NODES || count(b'=') > MAX_ATTRIBUTES {
        return Err(ImportError(format!(
            "it has more than {MAX_NODES} elements or {MAX_ATTRIBUTES} attributes: more than any lead sheet"
        )));
    }
    // No value of an attribute has a `<` in it, so an element's attributes stand between two of them.
    let between = text.as_bytes().split(|byte| *byte == b'<');
    let equals = |part: &[u8]| part.iter().filter(|byte| **byte == b'=').count();
    if between.map(equals).max() > Some(MAX_ATTRIBUTES_OF_ONE)
        || text.matches("xmlns").count() > MAX_NAMESPACES
    {
        return Err(ImportError(format!(
            "it has more than {MAX_ATTRIBUTES_OF_ONE} attributes on one element or {MAX_NAMESPACES} name spaces: \
             no score has"
        )));
    }
    if text.contains("<!ENTITY") {
        let rule = "it declares entities, which a score has no need of: refused, for they can grow without bound";
        return Err(ImportError(rule.to_string()));
    }
    Ok(())
}

/// The child elements.
pub(super) fn children<'a, 'input>(
    node: Node<'a, 'input>,
) -> impl Iterator<Item = Node<'a, 'input>> {
    node.children().filter(Node::is_element)
}

/// The first child element of this name.
pub(super) fn child<'a, 'input>(node: Node<'a, 'input>, name: &str) -> Option<Node<'a, 'input>> {
    children(node).find(|one| one.tag_name().name() == name)
}

/// The text of an element, trimmed.
pub(super) fn text<'a>(node: Node<'a, '_>) -> &'a str {
    node.text().unwrap_or_default().trim()
}

/// The text of an element as a finite number.
pub(super) fn number(node: Node<'_, '_>) -> Option<f64> {
    text(node)
        .parse()
        .ok()
        .filter(|number: &f64| number.is_finite())
}

/// A text in XML 1.0; what it cannot hold is left out.
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for sign in text.chars() {
        match sign {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\u{fffe}' | '\u{ffff}' => {}
            _ if sign.is_control() && !matches!(sign, '\t' | '\n') => {}
            _ => out.push(sign),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_are_decoded_by_their_marks() {
        let wide: Vec<u8> = "\u{feff}<a>é</a>"
            .encode_utf16()
            .flat_map(u16::to_le_bytes)
            .collect();
        let latin = b"<?xml version='1.0' encoding='ISO-8859-1'?><a>\xe9</a>";
        let cases: [(&[u8], bool); 5] = [
            ("<a>é</a>".as_bytes(), true),
            ("\u{feff}<a>é</a>".as_bytes(), true),
            (&wide, true),
            (latin, true),
            (b"<a>\xe9</a>", false),
        ];
        for (bytes, fine) in cases {
            let text = decode(bytes);
            assert_eq!(text.is_ok(), fine, "{text:?}");
            if let Ok(text) = text {
                assert!(text.ends_with("<a>é</a>"), "{text}");
            }
        }
    }

    #[test]
    fn bombs_are_refused() {
        let cases = [
            (
                "<!DOCTYPE a [<!ENTITY b \"x\">]><a>&b;</a>".to_string(),
                "declares entities",
            ),
            ("<".repeat(MAX_NODES + 1), "more than 900000 elements"),
            ("=".repeat(MAX_ATTRIBUTES + 1), "450000 attributes"),
            ("=".repeat(201), "200 attributes on one element"),
            ("xmlns".repeat(65), "64 name spaces"),
            ("<a>".to_string(), "no well-formed XML"),
        ];
        for (text, rule) in cases {
            let told = parse(&text).unwrap_err().to_string();
            assert!(told.contains(rule), "{told}");
        }
        let fine = "<?xml version=\"1.0\"?><!DOCTYPE a PUBLIC \"-//x//EN\" \"http://x/y.dtd\"><a/>";
        assert!(parse(fine).is_ok());
    }
}
