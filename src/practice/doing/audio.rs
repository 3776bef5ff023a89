//! The audio server goes, and comes back: the take goes on at the start of the bar that was lost.

use crate::audio::Command;
use crate::clock::tap::TapTempo;
use crate::foot::gesture::Gestures;
use crate::judging::PassRecords;
use crate::plan::cursor::Cursor;
use crate::plan::pass::PassKind;
use crate::plan::take::TakePlan;
use crate::practice::core::Core;
use crate::practice::event::Effect;
use crate::time::Frame;

impl Core {
    pub(in crate::practice) fn audio_lost(&mut self, why: String) {
        self.lost = Some(why);
        self.hearing.cut(self.now);
        self.judge_now();
        self.refresh();
    }

    pub(in crate::practice) fn audio_back(&mut self, at: Frame, rate: u32) {
        let lost_at = self.now;
        self.lost = None;
        self.forget_home();
        // Another server counts its frames anew.
        if rate != self.settings.rate || at < lost_at {
            self.gestures = Gestures::new(&self.settings.switches, rate);
            self.taps = TapTempo::new(rate);
        }
        if rate != self.settings.rate || at < lost_at {
            self.hearing = PassRecords::new(rate);
            self.last_take = None;
        }
        self.settings.rate = rate;
        self.now = at;
        self.send_levels(at);
        let Some(take) = self.take.take() else {
            self.bind_switches();
            return self.refresh();
        };
        let tick = take.timeline.tick(lost_at);
        let found = take
            .timeline
            .segment_at(tick)
            .map(|segment| (segment.clone(), segment.bar_at(tick)));
        self.epoch = take.epoch();
        let armed = take.armed.clone();
        let Some((segment, bar)) = found else {
            return self.refresh();
        };
        let pass = segment.pass.clone();
        let cursor = Cursor {
            material: pass.material.clone(),
            standing: pass.standing.clone(),
            from_bar: bar,
            count_in: (pass.kind == PassKind::CountIn).then_some(!pass.lap.chords.is_empty()),
            brings: None,
        };
        let first = segment.bar_start(bar);
        // The take was only interrupted: it goes on, so nothing is recorded as started.
        self.new_take(false);
        let mut resumed = TakePlan::new(cursor, self.begins(at, first));
        resumed.extend(first, self.tempo, &self.playing);
        resumed.settle();
        let replace = resumed.resend(first, &mut self.bar_ids);
        self.epoch = resumed.epoch();
        self.take = Some(resumed);
        self.out
            .push(Effect::Audio(Command::Start { at, tick: first }));
        self.out.push(Effect::Audio(replace));
        self.plan_reload(first);
        match armed {
            // A spot is where it was: the line of ticks goes on.
            Some(armed) if armed.is_spot() => self.rearm(Some(armed), at),
            Some(armed) => self.arm_again(armed, at),
            None if self.reloading.is_some() => self.rewrite_future(first, at),
            None => {}
        }
        self.bind_switches();
        self.refresh();
    }
}
