//! The first take after the program came up is quieter, and the page says so.

use crate::support::practice::*;
use underfoot::audio::{Command, Level};
use underfoot::display::Page;
use underfoot::foot::Action;
use underfoot::practice::{Core, Effect, Event, EventKind};
use underfoot::time::Frame;

/// A core, and the master levels that it sent.
struct Levels {
    core: Core,
    at: u64,
    sent: Vec<f32>,
}

impl Levels {
    fn new() -> Levels {
        let mut settings = settings(1);
        settings.master_db = -12.0;
        let mut core = Core::new(library(&[CHART], DRILL), settings, None);
        core.start_quietly();
        let (at, sent) = (0, Vec::new());
        Levels { core, at, sent }
    }

    fn does(&mut self, what: EventKind) -> &mut Levels {
        self.at += 48_000;
        let at = Frame(self.at);
        let mut effects = Vec::new();
        self.core.handle(Event { at, what }, &mut effects);
        self.sent
            .extend(effects.iter().filter_map(|effect| match effect {
                Effect::Audio(Command::Level {
                    level: Level::Master,
                    db,
                    ..
                }) => Some(*db),
                _ => None,
            }));
        self
    }

    fn begins(&mut self) -> &mut Levels {
        let at = Frame(self.at + 48_000);
        self.does(EventKind::Begin { at })
    }

    fn acts(&mut self, action: Action) -> &mut Levels {
        self.does(EventKind::Act(action))
    }
}

#[test]
fn the_first_take_is_quiet_and_the_next_is_not() {
    use Action::{Louder, Softer, Stop};
    let mut levels = Levels::new();
    let notes = |levels: &Levels| match levels.core.page() {
        Page::Ready { notes, .. } => notes,
        page => panic!("{page:?}"),
    };
    assert_eq!(notes(&levels), ["quiet start"]);
    levels.begins().acts(Stop);
    assert!(!matches!(levels.core.page(), Page::Ready { notes, .. } if !notes.is_empty()));
    levels.begins();
    levels.acts(Stop).begins();
    assert_eq!(levels.sent, [-24.0, -12.0]);
    // A level that is chosen goes on from what is heard, and no later take leaps up from it.
    for (action, chosen) in [(Louder, -21.0), (Softer, -27.0)] {
        let mut levels = Levels::new();
        levels.begins().acts(action).acts(Stop).begins();
        assert_eq!(levels.sent, [-24.0, chosen], "{action:?}");
    }
}
