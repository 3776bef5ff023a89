//! What a drill must not say: each misuse with what the reader tells of it.

use underfoot::drill::Drill;
use underfoot::fault::Source;

/// Keys of a stage of root and third above it, and every rule that they break.
#[rustfmt::skip]
const CASES: &[(&str, &[&str])] = &[
    ("over = 2.5",                   &["over must be the name of a section, a list of sections, a number of sections, \"form\" or \"hard spot\""]),
    ("over = 0",                     &["over is 0, but must lie between 1 and 16 sections"]),
    ("goal = ' '",                   &["goal says nothing: leave it out"]),
    ("easier = 't'",                 &["easier is \"t\", which is no stage of the drill"]),
    ("harder = 's'",                 &["harder names the stage itself"]),
    ("over = []",                    &["over names 0 sections, but must name 1 to 16"]),
    ("over = ''",                    &["over has an empty name of a section"]),
    ("over = ['A', 'form']",         &["\"form\" stands alone: over = \"form\""]),
    ("over = ['hard spot', 'A']",    &["\"hard spot\" stands alone: over = \"hard spot\""]),
    ("over = ['minor 7']",           &["\"minor 7\" is a kind of chord: those are named by chords, over names what goes round"]),
    ("chords = ['minor seven']",     &["\"minor seven\" is no kind of chord (nearest: \"minor 6\")"]),
    ("tempo = 80",                   &["tempo must be a table, not integer"]),
    ("tempo = { from_per_cent = 100, to_per_cent = 60 }", &["tempo rises from 100 to 60 per cent: from_per_cent must be the smaller one"]),
    ("tempo = { from_per_cent = 10 }", &["from_per_cent is 10, but must lie between 20 and 200 per cent"]),
    ("tempo = { step = 0 }",         &["step is 0, but must lie between 1 and 50 per cent"]),
    ("tempo = { every = 0 }",        &["every is 0, but must lie between 1 and 999 passes"]),
    ("tempo = { every = 'redy' }",   &["every is \"redy\", but must be one of: \"ready\" (nearest: \"ready\")"]),
    ("tempo = { evry = 2 }",         &["unknown key \"evry\" (nearest: \"every\")"]),
    ("tempo = { step = 5 }\ntempo_by_ear = true", &["tempo and tempo_by_ear exclude each other: steps up to a tempo, or as it is heard"]),
    ("tempo = { step = 5 }\npulse = false", &["tempo has no meaning in a stage out of time (pulse = false)"]),
    ("rotate = 3",                   &["rotate must be a list of lists of places (such as [[\"1\"], [\"2&\"]]) or a table of what turns (such as { strings = [6, 5, 4] })"]),
    ("rotate = {}",                  &["rotate turns nothing: name at least two values of something"]),
    ("rotate = { strings = [5] }",   &["rotate turns nothing: name at least two values of something"]),
    ("rotate = { string = [5, 4] }", &["unknown key \"string\" (nearest: \"strings\")", "rotate turns nothing: name at least two values of something"]),
    ("rotate = { strings = [5, 17] }", &["strings must be a list of numbers from 1 to 16 (such as [5, 4, 3])", "rotate turns nothing: name at least two values of something"]),
    ("rotate = { strings = [5, 4, 5] }", &["strings names 5 twice"]),
    ("rotate = { positions = [0, 2, 5] }", &["positions must be a list of numbers from 1 to 12 (such as [5, 4, 3])"]),
    ("rotate = { octaves = ['low', 'hih'] }", &["octaves has \"hih\", but knows \"low\", \"middle\", \"high\" (nearest: \"high\")", "rotate turns nothing: name at least two values of something"]),
    ("rotate = { octaves = ['low', 'low'] }", &["octaves names \"low\" twice", "rotate turns nothing: name at least two values of something"]),
    ("rotate = { orders = 'all' }",  &["orders is \"all\", but must be one of: \"every\"", "rotate turns nothing: name at least two values of something"]),
    ("rotate = { places = [['1'], ['0']] }", &["\"0\" is no place: a beat from 1 to 64, then nothing, e, & or a (\"1\", \"2&\", \"3a\"), trip or let, or \"before 1\" for the push"]),
    ("rotate = { strings = [5, 4], positions = [2, 5] }", &["strings and positions exclude each other: one string in one position is one note"]),
    ("rotate = { strings = [5, 4] }\nstring = 'same'", &["string and rotate.strings exclude each other: what turns is not fixed"]),
    ("rotate = { positions = [2, 5] }\nposition = 3", &["position and rotate.positions exclude each other: what turns is not fixed"]),
    ("rotate = { octaves = ['low', 'high'] }\noctave = 'low'", &["octave and rotate.octaves exclude each other: what turns is not fixed"]),
    ("rotate = { orders = 'every' }\norder = 'as written'", &["order and rotate.orders exclude each other: what turns is not fixed"]),
    ("rotate = { keys = 'fourths' }\nkeys = 'fourths'", &["keys and rotate.keys exclude each other: what turns is not fixed"]),
    ("rotate = { places = [['1'], ['2']] }\nplaces = ['3']", &["places and rotate.places exclude each other: what turns is not fixed"]),
    ("rotate = { sides = ['above', 'below'] }\nfigure = ['1', '3']", &["sides turns notes that lie above or below the root, but the figure has none (such as \"3 above\")"]),
    ("rotate = { orders = 'every', strings = [1, 2] }\nfigure = ['1']", &["orders turns the notes of a figure of 2 to 4, not of 1"]),
    ("rotate = { octaves = ['low', 'high'] }\nfigure = []", &["octaves has no meaning without a figure (figure = [] is open choice)"]),
    ("rotate = { strings = [5, 4], crossed = true }", &["crossed needs at least two things that turn"]),
    ("rotate = { strings = [5, 4] }\npulse = false", &["a table of rotate has no meaning in a stage out of time (pulse = false)"]),
    ("rotate = { strings = [1,2,3,4,5,6,7,8,9,10,11,12,13,14,15,16], keys = 'fourths', places = [['1'],['2'],['3'],['4'],['1&'],['2&'],['3&'],['4&']], octaves = ['low','middle','high'], crossed = true }",
        &["rotate crosses 4608 combinations, but at most 4096 come round"]),
    ("motif = ''",                   &["a motif has 1 to 16 notes, not 0"]),
    ("motif = '1:1 3'",              &["\"3\": a note of a motif is a degree and its beats (such as \"3:0.5\"), in quarters or thirds of a beat up to 16"]),
    ("motif = '1:0.1'",              &["\"1:0.1\": a note of a motif is a degree and its beats (such as \"3:0.5\"), in quarters or thirds of a beat up to 16"]),
    ("motif = '1:1 5:1'",            &["the motif asks for 5, which is not among the degrees of the stage: 1, 3"]),
    ("motif = '1:1'\nplaces = ['2']\n#figure", &["motif and places exclude each other: a motif has its own notes and places"]),
    ("rhythm = ['1']",               &["rhythm is for open choice (figure = []); the notes of a figure fall on places"]),
    ("rhythm = []\nfigure = []",     &["rhythm names no place (such as \"1\" or \"2&\")"]),
    ("find = {}\nfigure = ['1']",    &["the key \"places\" is missing (such as places = 5)"]),
    ("find = { places = 5 }",        &["find is for a figure of one note, not of 2"]),
    ("find = { places = 5 }\npasses = 3\nfigure = ['1']", &["find counts its places: leave passes out"]),
    ("find = { places = 5 }\npulse = false\nfigure = ['1']", &["find holds a chord out of time by itself: leave pulse out"]),
    ("answer_phrase = true",         &["answer_phrase and figure exclude each other: the box makes the phrase of the stage's degrees"]),
    ("answer_phrase = 'yes'",        &["answer_phrase must be true or false, not string"]),
    ("answer_phrase = true\n#figure\nplaces = ['2']", &["answer_phrase and places exclude each other: the box makes the phrase of the stage's degrees"]),
    ("answer_phrase = true\norder = 'every order, a pass'\n#figure", &["answer_phrase and order exclude each other: the box makes the phrase of the stage's degrees"]),
    ("answer_phrase = true\n#figure\npulse = false", &["a phrase is answered in time (pulse = false holds a chord out of time)"]),
    ("answer_phrase = true\n#figure\nrotate = [['1'], ['2']]", &["rotate may turn strings, positions, octaves and keys of a phrase, not places, orders or sides"]),
    ("answer_phrase = true\n#figure\nrotate = { orders = 'every', octaves = ['low', 'high'] }", &["rotate may turn strings, positions, octaves and keys of a phrase, not places, orders or sides"]),
    ("octave = 'lo'",                &["octave is \"lo\", but must be one of: \"low\", \"middle\", \"high\" (nearest: \"low\")"]),
    ("string = 'every place'",       &["string = \"every place\" is for a figure of one note, not of 2"]),
    ("string = 'every'",             &["string is \"every\", but must be one of: \"free\", \"same\", \"every place\" (nearest: \"every place\")"]),
];

#[test]
fn every_misuse_is_told() {
    let mut wrong = Vec::new();
    let sorted = |mut rules: Vec<String>| {
        rules.sort();
        rules
    };
    for (keys, rules) in CASES {
        let figure = if keys.contains("figure") || keys.contains("motif") {
            ""
        } else {
            "figure = ['1', '3 above']\n"
        };
        let text = format!(
            "title = \"t\"\n[[stage]]\nname = \"s\"\ndegrees = ['1', '3']\n{figure}{keys}\n"
        );
        let told: Vec<String> = match Drill::read(&Source {
            name: "t",
            text: &text,
        }) {
            Ok(_) => Vec::new(),
            Err(faults) => faults.0.into_iter().map(|fault| fault.rule).collect(),
        };
        let rules = rules.iter().map(ToString::to_string).collect();
        if sorted(told.clone()) != sorted(rules) {
            wrong.push(format!("{keys}: {told:?}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(CASES.len() >= 30);
}
