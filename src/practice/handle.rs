//! Events in, effects out. It decides by stamps alone, never by when an event happened to arrive, so the daemon and the
//! offline renderer come to the same music.

use super::core::Core;
use super::event::{Effect, Event, EventKind};
use super::mastered::ClockNews;
use super::settings::EDGE_SLACK_MS;
use crate::audio::Notice;
use crate::device::DeviceState;
use crate::time::Frame;

impl Core {
    /// Takes an event in and appends what is to be done to `effects`. Events must come in the order of their
    /// stamps, but for edges, which may be a little behind: they count by their own stamp.
    pub fn handle(&mut self, event: Event, effects: &mut Vec<Effect>) {
        let at = Frame(event.at.0.max(self.now.0));
        self.run_until(at);
        match event.what {
            EventKind::Edge(edge) => {
                self.touch_menu(edge.at);
                for gesture in self.feet.gestures.edge(edge) {
                    self.gesture(gesture);
                }
            }
            EventKind::Act(action) => self.act(action, event.at),
            EventKind::Begin { at } => {
                self.begin(at);
                self.bind_switches();
            }
            EventKind::Notice(notice) => self.notice(notice),
            EventKind::AudioLost { why } => self.audio_lost(why),
            EventKind::AudioBack { rate, at } => self.audio_back(at, rate),
            EventKind::Reload(read) => self.reload(read.0, read.1),
            EventKind::NeedsRestart(needs) => self.board.needs_restart = needs,
            EventKind::Device { name, state } => {
                self.board.device(&name, state == DeviceState::Present);
                self.refresh();
            }
            EventKind::Message { title, lines } => {
                self.board.tell(title, lines);
                self.bind_switches();
                self.refresh();
            }
            EventKind::Known(known) => self.known = known,
            EventKind::Proposal(proposal) => self.propose(*proposal),
            EventKind::Report(told) => self.report(told),
            EventKind::Update(news) => self.update_told(news),
            EventKind::WeakSpots(drill) => self.weak_spots(drill),
            EventKind::Heard(told) => self.heard(told),
            EventKind::Song(number) => self.song(number, event.at),
            EventKind::Tick => {}
        }
        if self.running().is_none() {
            self.tell_tune(None);
        }
        self.tell_leads();
        self.judge_due();
        self.go_on_when_found();
        self.keep_home();
        effects.append(&mut self.out);
    }

    /// When the core wants to be called at the latest, if a gesture is waiting.
    pub fn next_deadline(&self) -> Option<Frame> {
        let certain = self.feet.gestures.next_deadline()?;
        Some(Frame(
            certain.plus_ms(EDGE_SLACK_MS, self.settings.rate).0 + 1,
        ))
    }

    /// When something is due by itself: nothing happens sooner without an event.
    pub fn next_due(&self) -> Option<Frame> {
        let stands_still = self.board.no_sound.is_some();
        let running = self.running().filter(|_| !stands_still);
        let dues = [
            self.next_deadline(),
            running.and_then(|running| running.plan.next_due()),
            running.and_then(|running| running.finding.goes_on_at()),
            self.board.done_until().filter(|_| running.is_none()),
        ];
        dues.into_iter().flatten().min()
    }

    /// Whether a take plays.
    pub fn is_playing(&self) -> bool {
        self.running().is_some()
    }

    fn notice(&mut self, notice: Notice) {
        match notice {
            Notice::CueStarted {
                cue,
                form,
                frame,
                end,
            } => self.cue_started(cue, form, frame, end),
            Notice::CueSkipped { cue, .. } => self.cue_skipped(cue),
            Notice::BarStarted {
                epoch,
                start,
                frame,
            } => {
                // What an earlier take, or an earlier plan, still had to say is over.
                let running = self.running_mut().map(|running| &mut running.plan);
                if let Some(plan) = running.filter(|plan| plan.epoch() == epoch) {
                    plan.course.timeline.began(start, frame);
                }
            }
            Notice::Ended { frame } => self.ended(frame),
            Notice::ClockBegan { frame, tick, home } => self.begun_by_clock(frame, tick, home),
            Notice::Clock {
                frame,
                source,
                state,
                tick,
                tempo,
                scatter_us,
                lost,
            } => self.clock_told(ClockNews {
                frame,
                source,
                state,
                beat: (tick, tempo),
                scatter_us,
                lost,
            }),
            // An edge, where the shell takes it for one.
            Notice::Midi { .. } => {}
        }
    }
}
