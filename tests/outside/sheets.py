"""Reads printed sheets as others do.

    python sheets.py score SHEET.musicxml SHEET.mei LINES.jsonl   the notes, places and chords that `targets --json` tells
    python sheets.py boxes SHEET.svg                               what lies over what, by the ink of the fonts

`score` validates the MusicXML file against the schema of MusicXML 4.0 (W3C, as the package `musicxml` carries it), reads it with
music21 and with Verovio, and the MEI file with Verovio; `boxes` measures letters with fontTools. Prints what differs and ends with
1, else one line of counts.
"""

import importlib.util
import io
import json
import pathlib
import sys
import xml.etree.ElementTree as ElementTree

FONTS = pathlib.Path(__file__).resolve().parents[2] / "src/engrave/fonts"
XLINK = "http://www.w3.org/1999/xlink"
MEI = "{http://www.music-encoding.org/ns/mei}"


def schema():
    """The schema, with what it imports from the network put in its place."""
    from lxml import etree

    # The package's own code is not needed, nor what it imports.
    package = importlib.util.find_spec("musicxml")
    folder = pathlib.Path(package.origin).parent / "generate_classes"
    xlink = "".join(f'<xs:attribute name="{name}" type="xs:string"/>' for name in ("href", "type", "role", "title", "show", "actuate"))
    head = '<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="%s">%s</xs:schema>'
    xml = '<xs:attribute name="lang" type="xs:language"/><xs:attribute name="space" type="xs:NCName"/>'
    stubs = {
        "xml.xsd": head % ("http://www.w3.org/XML/1998/namespace", xml),
        "xlink.xsd": head % (XLINK, xlink),
    }

    class Here(etree.Resolver):
        def resolve(self, url, _, context):
            name = url.rsplit("/", 1)[-1]
            return self.resolve_string(stubs[name], context) if name in stubs else None

    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(Here())
    return etree.XMLSchema(etree.parse(str(folder / "musicxml_4_0.xsd"), parser))


def by_music21(path):
    """Notes as name and key, places as string and fret, and roots of chords."""
    from music21 import articulations, converter, harmony

    score = converter.parse(path, format="musicxml")
    parts, notes, places = score.parts, [], []
    for one in parts[0].recurse().notes:
        if isinstance(one, harmony.Harmony) or one.tie is not None and one.tie.type != "start":
            continue
        notes.append((one.pitch.name.replace("-", "b"), one.pitch.midi))
    for one in parts[1].recurse().notes:
        if one.tie is not None and one.tie.type != "start":
            continue
        found = {type(each): each.number for each in one.articulations}
        places.append((found.get(articulations.StringIndication), found.get(articulations.FretIndication)))
    symbols = [one for one in parts[0].recurse().getElementsByClass(harmony.Harmony)]
    roots = [None if isinstance(one, harmony.NoChord) else one.root().name.replace("-", "b") for one in symbols]
    lengths = {bar.duration.quarterLength == bar.barDuration.quarterLength for bar in parts[0].getElementsByClass("Measure")}
    marks = [mark.content for mark in parts[0].recurse().getElementsByClass("RehearsalMark")]
    return notes, places, roots, lengths, marks


def events(bar, number):
    """Notes and rests of a staff in a bar."""
    staff = [staff for staff in bar.iter(f"{MEI}staff") if staff.get("n") == number]
    kinds = {f"{MEI}{kind}" for kind in ("note", "rest", "mRest")}
    return [one for each in staff for one in each.iter() if one.tag in kinds]


def by_verovio(path):
    """Notes of the upper staff as name and octave, frets of the lower, and marks."""
    import verovio

    toolkit = verovio.toolkit()
    # Nothing about what is right: only what is wrong.
    verovio.enableLog(verovio.LOG_ERROR)
    text = pathlib.Path(path).read_text(encoding="utf-8")
    assert toolkit.loadData(text), f"{path}: Verovio does not read it"
    pages = toolkit.getPageCount()
    assert toolkit.renderToSVG(1).startswith("<?xml") or pages, path
    tree = ElementTree.parse(io.StringIO(toolkit.getMEI()))
    notes, frets, continued = [], [], set()
    for tie in tree.iter(f"{MEI}tie"):
        continued.add(tie.get("endid", "").lstrip("#"))
    for bar in tree.iter(f"{MEI}measure"):
        upper, lower = (events(bar, number) for number in ("1", "2"))
        # Both staves have the same rhythm: what is tied above is not struck again below.
        for above, below in zip(upper, lower, strict=True):
            identity = above.get("{http://www.w3.org/XML/1998/namespace}id")
            if above.tag != f"{MEI}note" or identity in continued or above.get("tie") in ("m", "t"):
                continue
            bend = above.get("accid") or above.get("accid.ges")
            for sign in above.iter(f"{MEI}accid"):
                bend = sign.get("accid") or sign.get("accid.ges") or bend
            names = {"f": "b", "s": "#", "ff": "bb", "x": "##", "ss": "##", "n": "", None: ""}
            notes.append((above.get("pname").upper() + names[bend], int(above.get("oct"))))
            if below.get("tab.fret") is not None:
                frets.append((int(below.get("tab.course")), int(below.get("tab.fret"))))
    marks = ["".join(mark.itertext()).strip() for mark in tree.iter(f"{MEI}reh")]
    return notes, frets, marks


def score(path, mei, lines):
    """Compares; gives what is wrong, and a count."""
    from lxml import etree

    wrong = []
    checked = schema()
    if not checked.validate(etree.parse(path)):
        wrong += [str(error) for error in checked.error_log][:5]
    with open(lines, encoding="utf-8") as file:
        rows = [json.loads(line) for line in file]
    names = [name for row in rows for name in row["target"]]
    neck = [place for row in rows for place in row["neck"]]
    notes, places, roots, lengths, marks = by_music21(path)
    if [name for name, _ in notes] != names:
        wrong.append(f"music21 reads {notes[:12]}, not {names[:12]}")
    for (name, midi), place, want in zip(notes, places, neck):
        if want and (midi, *place) != (want["midi"], want["string"], want["fret"]):
            wrong.append(f"{name}: music21 reads {midi} {place}, not {want}")
    if roots != [row["root"] for row in rows]:
        wrong.append(f"music21 reads the roots {roots[:12]}")
    if lengths != {True}:
        wrong.append("a bar is not full")
    sections = list(dict.fromkeys(row["section"] for row in rows if row["bar"]))
    for section in sections:
        if section not in marks:
            wrong.append(f"{section} is not marked")
    octaves = [(name, midi) for name, midi in notes]
    letters = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
    spelled = [(name, (midi - letters[name[0]] - name.count("#") + name.count("b")) // 12 - 1) for name, midi in octaves]
    for source in (path, mei):
        theirs, frets, their_marks = by_verovio(source)
        if theirs != spelled:
            wrong.append(f"{source}: Verovio reads {theirs[:8]}, not {spelled[:8]}")
        if frets != [(place["string"], place["fret"]) for place in neck if place]:
            wrong.append(f"{source}: Verovio reads the frets {frets[:8]}")
        if their_marks != marks:
            wrong.append(f"{source}: Verovio reads the marks {their_marks}, not {marks}")
    return wrong, f"{len(notes)} notes, {len(roots)} chords, {len(marks)} marks"


class Ink:
    """The ink of letters, by fontTools."""

    def __init__(self, name):
        from fontTools.ttLib import TTFont

        font = TTFont(FONTS / name)
        self.glyphs, self.map = font.getGlyphSet(), font.getBestCmap()
        self.em = font["head"].unitsPerEm

    def box(self, text, x, y, size):
        """Left, top, right, bottom of a text; None: no ink."""
        from fontTools.pens.boundsPen import BoundsPen

        box, at = None, 0.0
        for sign in text:
            glyph = self.glyphs[self.map.get(ord(sign), self.map[ord("?")])]
            pen = BoundsPen(self.glyphs)
            glyph.draw(pen)
            if pen.bounds:
                left, low, right, high = pen.bounds
                one = (at + left, -high, at + right, -low)
                box = one if box is None else (min(box[0], one[0]), min(box[1], one[1]), max(box[2], one[2]), max(box[3], one[3]))
            at += glyph.width
        scale = size / self.em
        return box and (x + box[0] * scale, y + box[1] * scale, x + box[2] * scale, y + box[3] * scale)


def boxes(path):
    """What lies over what on the pages of an SVG file, and a count."""
    from fontTools.pens.boundsPen import BoundsPen
    from fontTools.svgLib.path import parse_path

    svg = "{http://www.w3.org/2000/svg}"
    tree = ElementTree.parse(path)
    signs = {}
    for sign in tree.find(f"{svg}defs"):
        pen = BoundsPen(None)
        parse_path(sign.get("d"), pen)
        signs[sign.get("id")] = pen.bounds
    plain, bold = Ink("DejaVuSansCondensed.ttf"), Ink("DejaVuSansCondensed-Bold.ttf")
    wrong, count = [], 0
    for page in tree.iter(f"{svg}g"):
        if page.get("class") != "page":
            continue
        found = []
        for one in page.iter():
            if one.tag == f"{svg}text":
                font = bold if one.get("font-weight") else plain
                x, y, size = (float(one.get(key)) for key in ("x", "y", "font-size"))
                found.append((font.box(one.text, x, y, size), one.text))
            elif one.tag == f"{svg}use":
                place, scale = one.get("transform").split(") scale(")
                x, y = (float(part) for part in place.removeprefix("translate(").split())
                by = float(scale.split()[0])
                left, low, right, high = signs[one.get("href")[1:]]
                found.append(((x + left * by, y - high * by, x + right * by, y - low * by), one.get("href")))
            elif one.tag == f"{svg}circle":
                x, y, r = (float(one.get(key)) for key in ("cx", "cy", "r"))
                found.append(((x - r, y - r, x + r, y + r), "dot"))
        found = [(box, what) for box, what in found if box]
        count += len(found)
        for index, (one, what) in enumerate(found):
            for other, other_what in found[index + 1:]:
                w = min(one[2], other[2]) - max(one[0], other[0])
                h = min(one[3], other[3]) - max(one[1], other[1])
                if min(w, h) > 0.1:
                    wrong.append(f"{what} and {other_what} at {one[0]:.1f} {one[1]:.1f}")
    return wrong, f"{count} boxes"


def main(what, *files):
    """Returns the exit code."""
    wrong, told = score(*files) if what == "score" else boxes(*files)
    print("\n".join(wrong[:10]) or told)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
