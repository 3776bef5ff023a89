//! The configuration: any text gives settings or faults, and settings can be laid over and rebased.
#![no_main]

use libfuzzer_sys::fuzz_target;
use std::path::Path;
use underfoot::daemon::config::{Config, Overlay};
use underfoot::fault::Source;

fuzz_target!(|text: &str| {
    match Config::read(&Source { name: "-", text }) {
        Ok(mut config) => {
            config.rebase(Path::new("/etc/underfoot"));
            config.overlay(Overlay::default());
            assert!(config.foot.switches.len() <= 8);
            assert_eq!(config.foot.keys.len(), config.foot.switches.len());
            assert!(
                config
                    .levels
                    .all()
                    .all(|(_, db)| (-90.0..=6.0).contains(&db))
            );
        }
        Err(faults) => assert!(!faults.0.is_empty()),
    }
});
