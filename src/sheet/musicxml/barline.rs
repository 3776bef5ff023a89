//! Bar lines: repeats, endings, double bars.

use super::reader::{PartReader, passes};
use super::xml::{children, text};
use crate::sheet::lead::Backward;
use roxmltree::Node;

impl PartReader<'_> {
    pub(super) fn barline(&mut self, element: Node<'_, '_>) {
        let left = element.attribute("location") == Some("left");
        for one in children(element) {
            match one.tag_name().name() {
                "repeat" => self.repeat_sign(one, left),
                "ending" => self.ending(one),
                "segno" if left => self.bar.flow.segno = true,
                "segno" => self.next.segno = true,
                "coda" => self.bar.flow.coda = true,
                "bar-style" if text(one) == "light-light" => match left {
                    true => {
                        if let Some(before) = self.sheet.measures.last_mut() {
                            before.double_bar = true;
                        }
                    }
                    false => self.bar.double_bar = true,
                },
                _ => {}
            }
        }
    }

    fn repeat_sign(&mut self, node: Node<'_, '_>, left: bool) {
        match (node.attribute("direction"), left) {
            (Some("forward"), true) => self.bar.flow.forward = true,
            (Some("forward"), false) => self.next.forward = true,
            (Some("backward"), _) => {
                let times = node
                    .attribute("times")
                    .map(|times| times.trim().parse::<u32>());
                if times.as_ref().is_some_and(Result::is_err) {
                    self.warn("a repeat that does not say how often is played twice");
                }
                let backward = Some(Backward {
                    times: times.and_then(Result::ok).map(|times| times.max(1)),
                    after_jump: node.attribute("after-jump") == Some("yes"),
                });
                match (left, self.sheet.measures.last_mut()) {
                    (true, Some(before)) => before.flow.backward = backward,
                    _ => self.bar.flow.backward = backward,
                }
            }
            _ => self.warn("a repeat without a direction is left out"),
        }
    }

    fn ending(&mut self, node: Node<'_, '_>) {
        if node.attribute("type") != Some("start") {
            self.bar.flow.ending_stop = true;
            return;
        }
        let written = node.attribute("number").unwrap_or_default();
        let mut passes = passes(written);
        if passes.is_empty() {
            passes = super::reader::passes(text(node));
        }
        if passes.is_empty() {
            let before = self
                .sheet
                .measures
                .iter()
                .rev()
                .find_map(|one| one.flow.ending.as_ref());
            let highest = before.and_then(|passes| passes.iter().max()).copied();
            let next = highest.unwrap_or(0).saturating_add(1);
            self.warn(format!(
                "an ending without a number is taken for pass {next}"
            ));
            passes.push(next);
        }
        self.bar.flow.ending = Some(passes);
    }
}
