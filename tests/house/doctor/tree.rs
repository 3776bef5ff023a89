//! A box's `/proc`, `/sys`, `/etc` and `/usr` in a directory.

use std::fs;
use std::path::Path;
use tempfile::TempDir;

/// The process numbers of a healthy box.
pub const DAEMON: u32 = 30;
pub const SERVER: u32 = 20;

pub struct Tree(TempDir);

impl Tree {
    /// A box on which everything is as it should be.
    pub fn healthy() -> Tree {
        let tree = Tree(tempfile::tempdir().unwrap());
        for (path, text) in [
            (
                "etc/passwd",
                "root:x:0:0:root:/root:/bin/sh\nunderfoot:x:990:990::/var/lib/underfoot:/usr/sbin/nologin\nplayer:x:1000:1000::/home/player:/bin/bash\n",
            ),
            (
                "etc/group",
                "audio:x:29:underfoot\ndialout:x:20:underfoot,player\ngpio:x:997:underfoot\nunderfoot:x:990:\n",
            ),
            (
                "etc/default/underfoot-jackd",
                "# the card\nJACK_CARD=CODEC\n",
            ),
            (
                "sys/devices/system/cpu/cpu0/cpufreq/scaling_governor",
                "performance\n",
            ),
            (
                "sys/devices/system/cpu/cpu0/cpufreq/scaling_driver",
                "cpufreq-dt\n",
            ),
            (
                "sys/devices/system/cpu/cpu0/thermal_throttle/core_throttle_count",
                "0\n",
            ),
            (
                "sys/devices/system/clocksource/clocksource0/current_clocksource",
                "arch_sys_counter\n",
            ),
            ("sys/class/hwmon/hwmon1/name", "supply\n"),
            ("sys/class/hwmon/hwmon1/in0_lcrit_alarm", "0\n"),
            ("sys/devices/platform/soc/soc:firmware/get_throttled", "0\n"),
            ("sys/bus/usb/devices/1-2/product", "Two In Two Out\n"),
            ("sys/bus/usb/devices/1-2/power/control", "on\n"),
            (
                "sys/bus/usb/devices/1-2/power/autosuspend_delay_ms",
                "2000\n",
            ),
            ("sys/bus/usb/devices/1-2/1-2:1.0/bInterfaceClass", "01\n"),
            // A hub may sleep.
            ("sys/bus/usb/devices/usb1/power/control", "auto\n"),
            ("sys/bus/usb/devices/usb1/power/autosuspend_delay_ms", "0\n"),
            ("sys/bus/usb/devices/usb1/1-0:1.0/bInterfaceClass", "09\n"),
            ("sys/block/mmcblk0/device/life_time", "0x01 0x02\n"),
            ("sys/block/mmcblk0/device/pre_eol_info", "0x01\n"),
            (
                "proc/tty/driver/serial",
                "serinfo:1.0 driver revision:\n0: uart:16550A port:000003F8 irq:4 tx:12 rx:300 RTS|DTR\n",
            ),
            ("proc/asound/card0/id", "CODEC\n"),
            (
                "proc/asound/card0/pcm0p/sub0/status",
                "state: RUNNING\nowner_pid   : 20\n",
            ),
            ("proc/asound/card1/id", "Board\n"),
            ("proc/asound/card1/pcm0p/sub0/status", "closed\n"),
            ("usr/share/sounds/sf2/TimGM6mb.sf2", ""),
            ("usr/bin/espeak-ng", ""),
        ] {
            tree.write(path, text);
        }
        fs::create_dir_all(tree.root().join("var/lib/underfoot")).unwrap();
        tree.mounts("ext4", "rw,relatime");
        tree.process(
            SERVER,
            "jackd",
            &["/usr/bin/jackd", "-R", "-d", "alsa", "-d", "hw:CODEC"],
            "Uid:\t990\nGid:\t990\nGroups:\t29\n",
        );
        tree.thread(SERVER, 1);
        tree.process(
            DAEMON,
            "underfoot",
            &["/usr/bin/underfoot", "run"],
            "Uid:\t990\nGid:\t990\nGroups:\t29 20 997\n",
        );
        tree
    }

    pub fn root(&self) -> &Path {
        self.0.path()
    }

    pub fn write(&self, path: &str, text: &str) {
        let path = self.root().join(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
    }

    pub fn remove(&self, path: &str) {
        fs::remove_file(self.root().join(path)).unwrap();
    }

    /// The root is read-only, and where things are kept is mounted so.
    pub fn mounts(&self, kind: &str, options: &str) {
        let text = format!(
            "/dev/mmcblk0p2 / ext4 ro,noatime 0 0\nproc /proc proc rw 0 0\n/dev/x /var/lib/underfoot {kind} {options} 0 0\n"
        );
        self.write("proc/self/mounts", &text);
    }

    /// A process with its rights, scheduled as any other.
    pub fn process(&self, pid: u32, name: &str, arguments: &[&str], status: &str) {
        self.write(&format!("proc/{pid}/comm"), &format!("{name}\n"));
        self.write(
            &format!("proc/{pid}/cmdline"),
            &format!("{}\0", arguments.join("\0")),
        );
        self.write(
            &format!("proc/{pid}/status"),
            &format!("Name:\t{name}\n{status}"),
        );
        self.limits(pid, "95", "unlimited");
        self.write(&format!("proc/{pid}/task/{pid}/stat"), &stat(pid, name, 0));
    }

    pub fn limits(&self, pid: u32, realtime: &str, lock: &str) {
        let text = format!(
            "Limit                     Soft Limit           Hard Limit           Units     \n\
             Max locked memory         {lock:20} unlimited            bytes     \n\
             Max realtime priority     {realtime:20} 95                             \n"
        );
        self.write(&format!("proc/{pid}/limits"), &text);
    }

    /// The thread of a process that plays, scheduled so (sched(7): 0 other, 1 FIFO).
    pub fn thread(&self, pid: u32, policy: u32) {
        let tid = pid + 1;
        self.write(
            &format!("proc/{pid}/task/{tid}/stat"),
            &stat(tid, "jack (rt)", policy),
        );
    }

    pub fn end(&self, pid: u32) {
        fs::remove_dir_all(self.root().join(format!("proc/{pid}"))).unwrap();
    }
}

/// A line of `stat`: fields 3 to 40, the policy, and what follows.
fn stat(id: u32, name: &str, policy: u32) -> String {
    let fields = ["0"; 37].join(" ");
    format!("{id} ({name}) S {fields} {policy} 0 0 0\n")
}
