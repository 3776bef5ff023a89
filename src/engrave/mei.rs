//! A sheet as MEI 5: a staff with chord symbols and degrees, and a tablature below it.

use super::accidentals::{fifths, shown};
use super::model::{Clef, SheetModel};
use super::score::{Element, Measure, lead_in, measures};
use crate::sheet::escaped;
use crate::time::{Meter, PPQ};
use std::fmt::Write;

/// The sheet as an MEI file.
pub fn to_mei(model: &SheetModel) -> String {
    let mut whole = model.clone();
    if let Some(bar) = lead_in(model) {
        whole.bars.insert(0, bar);
    }
    let measures = measures(&whole);
    let mut out = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <mei xmlns=\"http://www.music-encoding.org/ns/mei\" meiversion=\"5.0\">\n\
         <meiHead><fileDesc><titleStmt><title>{}</title></titleStmt><pubStmt/></fileDesc></meiHead>\n\
         <music><body><mdiv><score>\n",
        escaped(&model.title)
    );
    score_def(&mut out, &whole);
    out.push_str("<section>\n");
    let mut state = whole.bars.first().map(|bar| (fifths(bar.key), bar.meter));
    for (index, measure) in measures.iter().enumerate() {
        let now = (fifths(measure.bar.key), measure.bar.meter);
        if state.replace(now) != Some(now) {
            let _ = writeln!(out, "<scoreDef{}/>", attributes(now.0, now.1));
        }
        let right = match measures.get(index + 1) {
            None => " right=\"end\"",
            Some(next) if next.bar.mark.is_some() => " right=\"dbl\"",
            Some(_) => "",
        };
        write_measure(&mut out, &whole, measure, (index, right));
    }
    out.push_str("</section>\n</score></mdiv></body></music>\n</mei>\n");
    out
}

/// Key and meter as attributes.
fn attributes(fifths: i8, meter: Meter) -> String {
    let key = match fifths {
        0 => "0".to_string(),
        flats @ ..0 => format!("{}f", -flats),
        sharps => format!("{sharps}s"),
    };
    format!(
        " keysig=\"{key}\" meter.count=\"{}\" meter.unit=\"{}\"",
        meter.beats(),
        meter.unit()
    )
}

fn score_def(out: &mut String, model: &SheetModel) {
    let first = model.bars.first();
    let given = first
        .map(|bar| attributes(fifths(bar.key), bar.meter))
        .unwrap_or_default();
    let clef = match Clef::of(&model.neck) {
        Clef::Treble => "clef.shape=\"G\" clef.line=\"2\"",
        Clef::TrebleOctaveDown => {
            "clef.shape=\"G\" clef.line=\"2\" clef.dis=\"8\" clef.dis.place=\"below\""
        }
        Clef::BassOctaveDown => {
            "clef.shape=\"F\" clef.line=\"4\" clef.dis=\"8\" clef.dis.place=\"below\""
        }
    };
    let open = model.neck.tuning.open_keys();
    let _ = write!(
        out,
        "<scoreDef ppq=\"{PPQ}\"{given} midi.bpm=\"{}\"><staffGrp>\n<staffDef n=\"1\" lines=\"5\" {clef}/>\n\
         <staffDef n=\"2\" lines=\"{}\" notationtype=\"tab.guitar\" clef.shape=\"TAB\" clef.line=\"5\"><tuning>",
        model.tempo_qpm,
        open.len()
    );
    for (course, key) in (1..).zip(open) {
        let names = [
            "c", "cs", "d", "ef", "e", "f", "fs", "g", "af", "a", "bf", "b",
        ];
        let (name, bend) = names[usize::from(key % 12)].split_at(1);
        let bend = if bend.is_empty() {
            String::new()
        } else {
            format!(" accid=\"{bend}\"")
        };
        let octave = i32::from(key / 12) - 1;
        let _ = write!(
            out,
            "<course n=\"{course}\" pname=\"{name}\" oct=\"{octave}\"{bend}/>"
        );
    }
    out.push_str("</tuning></staffDef>\n</staffGrp></scoreDef>\n");
}

fn write_measure(
    out: &mut String,
    model: &SheetModel,
    measure: &Measure<'_>,
    (index, right): (usize, &str),
) {
    let number = if measure.bar.number == 0 {
        0
    } else {
        index + 1
    };
    let _ = writeln!(out, "<measure n=\"{number}\"{right}>");
    let shown = shown(measure, fifths(measure.bar.key));
    for is_tab in [false, true] {
        let staff = if is_tab { 2 } else { 1 };
        let _ = write!(out, "<staff n=\"{staff}\"><layer n=\"1\">");
        if measure.elements.is_empty() {
            out.push_str("<mRest/>");
        }
        for (element, shown) in measure.elements.iter().zip(&shown) {
            write_element(out, element, is_tab, *shown);
        }
        out.push_str("</layer></staff>\n");
    }
    let unit = measure.bar.meter.beat_ticks().0 as f64;
    for (at, chord) in &measure.chords {
        let beat = 1.0 + at.0 as f64 / unit;
        let symbol = escaped(&model.chords[*chord].symbol);
        let _ = writeln!(
            out,
            "<harm staff=\"1\" place=\"above\" tstamp=\"{beat}\">{symbol}</harm>"
        );
    }
    if let Some(mark) = &measure.bar.mark {
        let _ = writeln!(
            out,
            "<reh staff=\"1\" place=\"above\" tstamp=\"1\">{}</reh>",
            escaped(mark)
        );
    }
    out.push_str("</measure>\n");
}

fn write_element(out: &mut String, element: &Element<'_>, is_tab: bool, accidental: bool) {
    let triplet = element.value.triplet;
    if triplet {
        out.push_str("<tuplet num=\"3\" numbase=\"2\">");
    }
    let dots = if element.value.dotted {
        " dots=\"1\""
    } else {
        ""
    };
    let dur = format!("dur=\"{}\"{dots}", element.value.part);
    let Some(note) = element.note else {
        let _ = write!(out, "<rest {dur}/>");
        if triplet {
            out.push_str("</tuplet>");
        }
        return;
    };
    let tie = tie(element);
    let place = note.neck.filter(|_| is_tab);
    if let Some(place) = place {
        let (course, fret) = (place.string, place.fret);
        let _ = write!(
            out,
            "<tabGrp {dur}><note tab.course=\"{course}\" tab.fret=\"{fret}\"{tie}/></tabGrp>"
        );
    } else if is_tab {
        let _ = write!(out, "<rest {dur}/>");
    } else {
        let bend = match (note.pitch.alter, accidental) {
            (0, false) => String::new(),
            (alter, true) => format!(" accid=\"{}\"", accid(alter)),
            (alter, false) => format!(" accid.ges=\"{}\"", accid(alter)),
        };
        let name = note.pitch.letter.as_char().to_ascii_lowercase();
        let _ = write!(
            out,
            "<note {dur} pname=\"{name}\" oct=\"{}\"{bend}{tie}>",
            note.octave
        );
        if !element.tied_from {
            let _ = write!(
                out,
                "<verse n=\"1\"><syl>{}</syl></verse>",
                note.degree_text()
            );
        }
        out.push_str("</note>");
    }
    if triplet {
        out.push_str("</tuplet>");
    }
}

/// Whether a note is tied: its beginning, middle or end.
fn tie(element: &Element<'_>) -> &'static str {
    match (element.tied_from, element.tied_to) {
        (true, true) => " tie=\"m\"",
        (true, false) => " tie=\"t\"",
        (false, true) => " tie=\"i\"",
        (false, false) => "",
    }
}

fn accid(alter: i8) -> &'static str {
    match alter {
        ..=-3 => "tf",
        -2 => "ff",
        -1 => "f",
        0 => "n",
        1 => "s",
        2 => "x",
        3.. => "xs",
    }
}
