//! A user's hands in hosts that were not written here: the VST3 in pedalboard (on JUCE).

use std::io::{BufRead, BufReader, Write};
use std::path::PathBuf;
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::thread;
use std::time::Duration;

use penstock_tests::host::{Hands, MAP, display};
use penstock_tests::tools::workspace_dir;
use penstock_tests::{TempDir, bundle, long};

/// pedalboard, as a program that is told what to do.
struct Pedalboard {
    child: Child,
    to: ChildStdin,
    from: BufReader<ChildStdout>,
}

impl Pedalboard {
    fn start(map: &std::path::Path, home: &std::path::Path) -> Self {
        let python = std::env::var_os("PENSTOCK_PYTHON")
            .map_or_else(|| workspace_dir().join(".venv/bin/python"), PathBuf::from);
        let script = workspace_dir().join("tests/python/hands_pedalboard.py");
        let mut child = Command::new(python)
            .arg(script)
            .arg(bundle("Penstock.vst3"))
            .env(MAP, map)
            .env("HOME", home)
            .env("XDG_CONFIG_HOME", home)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("Python starts: cargo xtask setup");
        let to = child.stdin.take().expect("it was asked for");
        let from = BufReader::new(child.stdout.take().expect("it was asked for"));
        Self { child, to, from }
    }

    fn tell(&mut self, command: &str) {
        writeln!(self.to, "{command}").expect("pedalboard lives");
    }

    fn answer(&mut self) -> String {
        let mut line = String::new();
        let read = self.from.read_line(&mut line);
        assert!(read.is_ok_and(|count| count > 0), "pedalboard has ended");
        line.trim().to_owned()
    }

    fn ask(&mut self, command: &str) -> String {
        self.tell(command);
        self.answer()
    }

    /// Waits until a parameter is so for the host.
    fn expect(&mut self, name: &str, wanted: &str) {
        let question = format!("text {name}");
        for _ in 0..300 {
            if self.ask(&question) == wanted {
                return;
            }
            thread::sleep(Duration::from_millis(10));
        }
        let is = self.ask(&question);
        panic!("{name} is '{is}' for the host, and not '{wanted}'");
    }
}

impl Drop for Pedalboard {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The window that the host has made around the plugin's, which a user drags at a corner.
fn drag_corner(name: &str, width: u64, height: u64) {
    let found = Command::new("xdotool")
        .args(["search", "--onlyvisible", "--name", name])
        .output()
        .expect("xdotool: cargo xtask setup");
    let found = String::from_utf8_lossy(&found.stdout).into_owned();
    let window = found.split_whitespace().next();
    let window = window.unwrap_or_else(|| panic!("no window '{name}'"));
    let sizes = [width.to_string(), height.to_string()];
    let asked = Command::new("xdotool")
        .args(["windowsize", window])
        .args(sizes)
        .status();
    assert!(asked.is_ok_and(|status| status.success()));
}

/// The title of the window around the plugin's.
const FRAME: &str = "Pedalboard";

#[test]
fn pedalboard_is_used_and_closed_ten_times() {
    let _display = display();
    let dir = TempDir::new();
    let map = dir.file("map.json");
    let mut host = Pedalboard::start(&map, dir.path());
    let rounds = if long() { 200 } else { 10 };
    let mut clicks = 0;
    for round in 0..rounds {
        let _ = std::fs::remove_file(&map);
        host.tell("open");
        let mut hands = Hands::new(&map);
        let before: u64 = host.ask("frames").parse().expect("a number");
        let loss = format!("{} dB", 30 + round % 20);
        hands.find("Pad Loss");
        clicks += hands.type_over("Pad Loss", &loss);
        host.expect("Pad loss", &loss);
        hands.click("Penstock Bypass");
        host.expect("Bypass", if round % 2 == 0 { "on" } else { "off" });
        let size = hands.size().expect("a size");
        // Larger and smaller in turn, since each opening has the size of the last.
        let grows = round % 2 == 0;
        let aside = |side: u64, by: u64| if grows { side + by } else { side - by };
        drag_corner(FRAME, aside(size.0, 90), aside(size.1, 60));
        let other = hands.resized(size);
        assert_eq!(other.0 > size.0, grows, "{other:?} after {size:?}");
        assert_eq!(other.1 > size.1, grows, "{other:?} after {size:?}");
        let after: u64 = host.ask("frames").parse().expect("a number");
        assert!(after > before, "no audio ran in round {round}");
        host.tell("close");
        assert_eq!(host.answer(), "closed");
        assert!(matches!(host.child.try_wait(), Ok(None)), "round {round}");
    }
    println!("{rounds} rounds, {clicks} clicks to type {rounds} values");
}
