//! Reads a system below a root: `/`, or a tree that a test made.
// The adapter of this room: it opens the kernel's files.
#![allow(clippy::disallowed_methods)]

use super::parse;
use super::system::{Asked, Card, Governor, Process, System, UsbDevice, Wear};
use std::path::{Path, PathBuf};

/// USB classes that sound or are stepped on: audio, human interface, a serial line (USB class codes, usb.org).
const USB_CLASSES: [&str; 4] = ["01", "03", "02", "ff"];

impl System {
    /// The system below `root`, as far as `asked` needs it. What cannot be read is left out.
    pub fn read(root: &Path, asked: &Asked) -> System {
        let tree = Tree(root);
        let text = |path| tree.text(path).unwrap_or_default();
        let files = asked.soundfonts.iter().chain(&asked.speech);
        let present = files.filter(|path| tree.at(path).is_file()).cloned();
        let heat = |cpu: &PathBuf| tree.number(&cpu.join("thermal_throttle/core_throttle_count"));
        let cpus = tree.list("sys/devices/system/cpu", "cpu");
        System {
            processes: tree.processes(),
            users: parse::users(&text("etc/passwd")),
            groups: parse::groups(&text("etc/group")),
            mounts: parse::mounts(&text("proc/self/mounts")),
            governors: cpus.iter().filter_map(|cpu| tree.governor(cpu)).collect(),
            clock_source: tree
                .text("sys/devices/system/clocksource/clocksource0/current_clocksource"),
            usb: tree
                .list("sys/bus/usb/devices", "")
                .iter()
                .filter_map(|device| tree.usb(device))
                .collect(),
            low_supplies: tree.low_supplies(),
            throttled: tree
                .text("sys/devices/platform/soc/soc:firmware/get_throttled")
                .and_then(|text| parse::hex(&text)),
            heat_throttles: cpus.iter().filter_map(heat).sum(),
            serial_lines: parse::serial_lines(&text("proc/tty/driver/serial")),
            cards: tree.cards(),
            jack_card: parse::assigned(&text("etc/default/underfoot-jackd"), "JACK_CARD"),
            wear: tree
                .list("sys/block", "mmcblk")
                .iter()
                .filter_map(|disk| tree.wear(disk))
                .collect(),
            present: present.collect(),
            free_bytes: asked
                .state
                .as_deref()
                .and_then(|state| tree.free_bytes(state)),
            starts_at_boot: tree
                .at("etc/systemd/system/multi-user.target.wants/underfoot.service")
                .is_symlink(),
        }
    }
}

/// A root with its files.
struct Tree<'a>(&'a Path);

impl Tree<'_> {
    fn at(&self, path: impl AsRef<Path>) -> PathBuf {
        let path = path.as_ref();
        self.0.join(path.strip_prefix("/").unwrap_or(path))
    }

    fn text(&self, path: impl AsRef<Path>) -> Option<String> {
        let bytes = std::fs::read(self.at(path)).ok()?;
        Some(String::from_utf8_lossy(&bytes).trim().to_string())
    }

    fn number(&self, path: &Path) -> Option<u64> {
        self.text(path)?.parse().ok()
    }

    /// What lies in a directory and begins so, by name.
    fn list(&self, dir: impl AsRef<Path>, begins: &str) -> Vec<PathBuf> {
        let dir = dir.as_ref();
        let entries = std::fs::read_dir(self.at(dir))
            .into_iter()
            .flatten()
            .flatten();
        let names = entries.map(|entry| entry.file_name());
        let wanted = names.filter(|name| name.to_string_lossy().starts_with(begins));
        let mut found: Vec<PathBuf> = wanted.map(|name| dir.join(name)).collect();
        found.sort();
        found
    }

    fn processes(&self) -> Vec<Process> {
        let pid = |dir: &PathBuf| dir.file_name()?.to_str()?.parse().ok();
        let dirs = self.list("proc", "");
        dirs.iter()
            .filter_map(|dir| self.process(pid(dir)?, dir))
            .collect()
    }

    fn process(&self, pid: u32, dir: &Path) -> Option<Process> {
        let arguments = self.text(dir.join("cmdline"))?;
        let mut process = Process {
            pid,
            name: self.text(dir.join("comm"))?,
            arguments: arguments.split('\0').map(str::to_string).collect(),
            ..Process::default()
        };
        parse::credentials(
            &mut process,
            &self.text(dir.join("status")).unwrap_or_default(),
        );
        parse::limits(
            &mut process,
            &self.text(dir.join("limits")).unwrap_or_default(),
        );
        let threads = self.list(dir.join("task"), "");
        let stat = |thread: &PathBuf| {
            self.text(thread.join("stat"))
                .is_some_and(|stat| parse::is_realtime(&stat))
        };
        process.is_realtime = threads.iter().any(stat);
        Some(process)
    }

    fn governor(&self, cpu: &Path) -> Option<Governor> {
        let read = |name: &str| self.text(cpu.join("cpufreq").join(name));
        Some(Governor {
            name: read("scaling_governor")?,
            driver: read("scaling_driver").unwrap_or_default(),
        })
    }

    fn usb(&self, device: &Path) -> Option<UsbDevice> {
        let place = device.file_name()?.to_string_lossy().into_owned();
        let control = self.text(device.join("power/control"))?;
        // Its interfaces stand in its own directory: "1-2:1.0" in "1-2".
        let interfaces = self.list(device, &format!("{place}:"));
        let class = |interface: &PathBuf| {
            self.text(interface.join("bInterfaceClass"))
                .unwrap_or_default()
        };
        let counts = interfaces
            .iter()
            .any(|interface| USB_CLASSES.contains(&class(interface).as_str()));
        counts.then(|| UsbDevice {
            name: self
                .text(device.join("product"))
                .unwrap_or_else(|| place.clone()),
            may_sleep: control == "auto"
                && self
                    .text(device.join("power/autosuspend_delay_ms"))
                    .is_some_and(|ms| !ms.starts_with('-')),
            place,
        })
    }

    /// Sensors whose lowest critical limit is undercut now (the kernel's hwmon sysfs interface).
    fn low_supplies(&self) -> Vec<String> {
        let sensors = self.list("sys/class/hwmon", "hwmon");
        let is_low = |sensor: &PathBuf| {
            let alarms = self.list(sensor, "in").into_iter();
            alarms
                .filter(|file| file.to_string_lossy().ends_with("_lcrit_alarm"))
                .any(|file| self.number(&file) == Some(1))
        };
        let low = sensors.iter().filter(|sensor| is_low(sensor));
        low.map(|sensor| self.text(sensor.join("name")).unwrap_or_default())
            .collect()
    }

    fn cards(&self) -> Vec<Card> {
        let outputs = |card: &PathBuf| {
            let streams = self.list(card, "pcm").into_iter();
            streams
                .filter(|stream| stream.to_string_lossy().ends_with('p'))
                .collect::<Vec<_>>()
        };
        let runs = |stream: &PathBuf| {
            let states = self
                .list(stream, "sub")
                .into_iter()
                .filter_map(|sub| self.text(sub.join("status")));
            states
                .into_iter()
                .any(|state| state.contains("state: RUNNING"))
        };
        let card = |card: PathBuf| {
            let outputs = outputs(&card);
            let name = self.text(card.join("id"))?;
            (!outputs.is_empty()).then(|| Card {
                name,
                runs: outputs.iter().any(runs),
            })
        };
        let cards = self.list("proc/asound", "card").into_iter();
        let numbered = cards.filter(|card| {
            card.to_string_lossy()
                .ends_with(|last: char| last.is_ascii_digit())
        });
        numbered.filter_map(card).collect()
    }

    fn wear(&self, disk: &Path) -> Option<Wear> {
        let used = self.text(disk.join("device/life_time"))?;
        Some(Wear {
            name: disk.file_name()?.to_string_lossy().into_owned(),
            tenths: used.split_whitespace().filter_map(parse::hex).max()?,
            end_of_life: self
                .text(disk.join("device/pre_eol_info"))
                .and_then(|text| parse::hex(&text))
                .unwrap_or(0),
        })
    }

    /// What a user may still write there, or in the nearest directory above that is there.
    fn free_bytes(&self, path: &Path) -> Option<u64> {
        let told = path
            .ancestors()
            .find_map(|path| rustix::fs::statvfs(self.at(path)).ok())?;
        Some(told.f_bavail * told.f_frsize)
    }
}
