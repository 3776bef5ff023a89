//! Another version of the program: offered where one was found, installed when a foot chooses it and nothing plays, and what came
//! of it.

use super::board::{Done, NowIs};
use super::core::Core;
use super::event::Effect;
use super::settings::Spoken;
use super::update_news::UpdateNews;
use super::update_words;
use crate::foot::Action;

impl Core {
    /// What a foot asks for. While the band plays nothing is installed: the program begins again with it.
    pub(super) fn update(&mut self) {
        let now = match self.board.update {
            _ if self.running().is_some() => NowIs::WhenStopped,
            Some(_) => {
                self.out.push(Effect::Update);
                NowIs::Looking
            }
            None => NowIs::NoneFound,
        };
        let what = Action::Update.name();
        let done = Done { what, now };
        self.board.note_done(done, self.now, self.settings.rate);
    }

    /// Something is told about another version: on the page at the next rest, by voice where nothing plays.
    pub(super) fn update_told(&mut self, news: UpdateNews) {
        if let UpdateNews::Offered(offer) = &news {
            let is_known = *offer == self.board.update;
            self.board.update.clone_from(offer);
            if is_known {
                return;
            }
        }
        // A stick that is gone offers nothing, and what was wrong with the one before is old.
        if let Some(page) = self.board.update_page.take() {
            self.board.take_back(&page);
        }
        if news != UpdateNews::Offered(None) {
            self.tell_update(news);
        }
        self.bind_switches();
        self.refresh();
    }

    fn tell_update(&mut self, news: UpdateNews) {
        self.board.just_done_is_told(Action::Update.name());
        let page = update_words::page(&news, &self.settings.map);
        self.board.tell(page.0.clone(), page.1.clone());
        // What came of an installation stands until it was read.
        if !matches!(news, UpdateNews::Done { .. }) {
            self.board.update_page = Some(page);
        }
        if self.running().is_none() && self.settings.spoken != Spoken::Asked {
            self.say_told(update_words::sentence(
                &news,
                &self.settings.map,
                self.settings.names,
            ));
        }
    }
}
