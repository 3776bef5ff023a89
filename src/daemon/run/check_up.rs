//! After a boot the doctor looks once, and the worst that it finds stands on the page.

use super::input::Input;
use super::live::Live;
use super::reloading::aside;
use crate::doctor::{Finding, System, examine};
use std::path::Path;
use std::time::Duration;

/// So long after the start the server and the devices have come, if they come.
const SETTLED: Duration = Duration::from_secs(8);
/// The page's title.
const TITLE: &str = "check the box";

impl Live {
    /// Looks where a service manager started us; whoever starts us by hand can ask. Lost devices, the server among them, the
    /// page tells by itself.
    pub(super) fn check_up(&self) {
        let Some(asked) = self
            .reloading
            .files
            .asked_as_a_service(&self.reloading.config)
        else {
            return;
        };
        let sender = self.inputs.sender();
        let _ = aside(move || {
            std::thread::sleep(SETTLED);
            let findings = examine(&System::read(Path::new("/"), &asked), &asked, None);
            for finding in &findings {
                log::warn!(
                    "doctor: {}: {} ({})",
                    finding.grade.name(),
                    finding.what,
                    finding.cure
                );
            }
            // The worst stands first.
            let worst = findings.into_iter().find(Finding::is_for_page);
            if let Some(worst) = worst {
                let _ = sender.send(Input::Trouble(TITLE.into(), vec![worst.what, worst.cure]));
            }
        });
    }
}
