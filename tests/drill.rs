//! Drills through the public API: files, faults.
#![allow(clippy::disallowed_methods)] // Reads fixtures.

use underfoot::drill::Drill;
use underfoot::fault::Source;

fn faults(name: &str) -> String {
    let path = format!(
        "{}/tests/fixtures/broken/drills/{name}.toml",
        env!("CARGO_MANIFEST_DIR")
    );
    let text = std::fs::read_to_string(&path).unwrap();
    let name = format!("{name}.toml");
    let source = Source {
        name: &name,
        text: &text,
    };
    Drill::read(&source).unwrap_err().to_string()
}

#[test]
fn show() {
    for name in ["words", "figure", "places", "numbers", "syntax"] {
        println!("== {name}\n{}", faults(name));
    }
    for entry in std::fs::read_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/configs/drills")).unwrap()
    {
        let path = entry.unwrap().path();
        let text = std::fs::read_to_string(&path).unwrap();
        match Drill::read(&Source {
            name: path.to_str().unwrap(),
            text: &text,
        }) {
            Ok(d) => println!("{} {}", d.title, d.stages.len()),
            Err(e) => println!("{e}"),
        }
    }
}
