//! A box that nobody has told yet what to practise: it says so and waits.

use crate::support::practice::*;
use underfoot::display::Page;
use underfoot::foot::{Action, FootState};
use underfoot::practice::{Library, Saved};

fn without_chart(saved: Option<&Saved>) -> Room {
    let mut settings = settings(2);
    settings.charts_named_in = "/etc/underfoot/underfoot.toml".into();
    let library = Library {
        charts: Vec::new(),
        drill: drill(DRILL),
        set: None,
    };
    Room::begun_again(library, settings, saved)
}

#[test]
fn the_page_tells_how_to_get_one_and_nothing_plays() {
    let mut room = without_chart(None);
    let how = Page::Message {
        title: "no chart yet".into(),
        lines: vec![
            "charts = [\"...\"] in".into(),
            "/etc/underfoot/underfoot.toml".into(),
        ],
    };
    assert_eq!(room.core.page(), how);
    let own_page = ["tuner", "input", "menu", "menu move", "choose"];
    let all = Action::ALL.iter().map(|(_, name, _)| *name);
    for action in all.filter(|name| !own_page.contains(name)) {
        room.act(action);
        room.seconds(0.5);
        assert_eq!(room.core.foot_state(), FootState::Stopped, "{action}");
        assert_eq!(room.core.page(), how, "{action}");
        assert_eq!((room.takes(), &room.saved), (0, &None), "{action}");
    }
    let said: Vec<&str> = room.said.iter().map(|(_, _, text)| &text[..]).collect();
    assert_eq!(said.first(), Some(&"no chart yet"), "{said:?}");
    let status = room.core.status();
    assert_eq!(
        (status.chart, status.stage, status.section),
        (None, None, None)
    );
}

#[test]
fn the_first_chart_comes_with_a_reload_and_the_last_place_with_it() {
    let mut room = without_chart(None);
    room.play("+1 start; +1 ");
    room.reload = Some(library(&[CHART, OTHER], DRILL));
    room.play("+1 reload; +1 start; 7");
    assert_eq!(room.heard(), "n n C D");
    let saved = Saved {
        chart: 1,
        title: "Other".into(),
        stage: 2,
        item: 0,
        tempo_qpm: 150.0,
        key: None,
        master_db: -30.0,
        turned: Vec::new(),
    };
    let mut room = without_chart(Some(&saved));
    room.reload = Some(library(&[CHART, OTHER], DRILL));
    room.play("+1 reload; +1 ");
    let status = room.core.status();
    assert_eq!(status.chart.as_deref(), Some("Other"));
    assert_eq!(status.stage.as_deref(), Some("three"));
    assert!((status.qpm - 150.0).abs() < 0.01);
    // No chart again is no reason to lose what there is.
    room.reload = Some(Library {
        charts: Vec::new(),
        drill: drill(DRILL),
        set: None,
    });
    room.play("+1 reload; +1 ");
    assert_eq!(room.core.status().chart.as_deref(), Some("Other"));
}
