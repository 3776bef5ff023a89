//! What the box will show, as pictures: every page of a take, and a sheet of a drill's pages for each panel.

use crate::support::program::{command, root};

/// The exit code and standard error.
fn underfoot(arguments: &[&str]) -> (i32, String) {
    let home = tempfile::tempdir().expect("a directory");
    let output = command(home.path())
        .args(arguments)
        .output()
        .expect("underfoot");
    let error = String::from_utf8(output.stderr).expect("text");
    (output.status.code().expect("an exit code"), error)
}

fn of_project(path: &str) -> String {
    root(path).display().to_string()
}

/// One line a case: more arguments, the sheets, and the pixels of the first.
#[test]
fn a_sheet_of_pages_for_each_panel() {
    let chart = of_project("configs/charts/ferry-at-six.toml");
    let drill = of_project("configs/drills/roots.toml");
    let cases: [(&[&str], &[&str]); 2] = [
        (
            &[],
            &[
                "128x32.png",
                "128x64@0.96.png",
                "128x64@2.42.png",
                "256x64.png",
                "320x240.png",
            ],
        ),
        (
            &["--stage", "2", "--panel", "128x64@1.3"],
            &["128x64@1.30.png"],
        ),
    ];
    for (more, sheets) in cases {
        let dir = tempfile::tempdir().unwrap();
        let out = dir.path().join("sheets");
        let place = out.to_str().unwrap();
        let mut args = vec!["pages", &chart, "--drill", &drill, "-o", place];
        args.extend(more);
        assert_eq!(underfoot(&args), (0, String::new()), "{more:?}");
        let mut names: Vec<String> = std::fs::read_dir(&out)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        assert_eq!(names, sheets, "{more:?}");
        for name in names {
            let file = std::fs::File::open(out.join(&name)).unwrap();
            let reader = png::Decoder::new(std::io::BufReader::new(file));
            let reader = reader.read_info().unwrap();
            let info = reader.info();
            assert!(info.width == 1400 && info.height > 300, "{name}: {info:?}");
        }
    }
    let wrong = ["pages", &chart, "-o", "x", "--panel", "128"];
    let (code, error) = underfoot(&wrong);
    assert!(code == 64 && error.contains("pixels from 96x32"), "{error}");
}

/// Every page that a box would show: the count moves within a page, and the picture with it.
#[test]
fn render_writes_every_page_that_a_screen_would_show() {
    let dir = tempfile::tempdir().unwrap();
    let (pages, events) = (dir.path().join("pages"), dir.path().join("events"));
    let chart = of_project("configs/charts/ferry-at-six.toml");
    let drill = of_project("configs/drills/roots.toml");
    let (pages, events) = (pages.to_str().unwrap(), events.to_str().unwrap());
    let args = [
        "render",
        &chart,
        "--drill",
        &drill,
        "--passes",
        "1",
        "--silent-voice",
        "--pages",
        pages,
        "--events",
        events,
        "--panel",
        "320x240",
    ];
    assert_eq!(underfoot(&args).0, 0);
    let pictures = std::fs::read_dir(pages).unwrap().count();
    let text = std::fs::read_to_string(events).unwrap();
    let turned = text.matches("\"kind\":\"page\"").count();
    assert!(
        turned < pictures && pictures < 8 * turned,
        "{turned} turned, {pictures} pictures"
    );
}
