//! The CLAP in qtractor, a workstation for Linux (Debian packages qtractor, jackd2): it loads a
//! session with the plugin, lives with it and saves its state and its parameters again. What is
//! heard is for the other hosts.

use std::fs;
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use penstock::params::rows;
use penstock_tests::host::{Hands, MAP, display};
use penstock_tests::tools::{missing, settings_dir, workspace_dir};
use penstock_tests::{TempDir, bundle, long};

/// A program that ends with the test.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn start(command: &mut Command, package: &str) -> Running {
    let program = command.get_program().to_string_lossy().into_owned();
    let child = command
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn();
    let what = format!("{program} (Debian package {package})");
    Running(child.unwrap_or_else(|_| panic!("{}", missing(&what))))
}

/// A session with the plugin on the master bus.
fn session(folder: &str, clap: &str) -> String {
    format!(
        "<!DOCTYPE qtractor-session>\n<session name=\"test\" version=\"0.9.31\">\n\
         <properties><directory>{folder}</directory><sample-rate>48000</sample-rate></properties>\n\
         <devices><audio-engine><audio-bus name=\"Master\" mode=\"duplex\">\n\
         <auto-connect>1</auto-connect><channels>2</channels><output-plugins>\n\
         <plugin type=\"CLAP\"><filename>{clap}</filename><index>0</index>\n\
         <label>Penstock</label><activated>1</activated></plugin>\n\
         </output-plugins></audio-bus></audio-engine><midi-engine/></devices>\n</session>\n"
    )
}

/// qtractor with the plugin in a session of its own, and what it stands on.
struct Host {
    qtractor: Running,
    _jack: Running,
    file: std::path::PathBuf,
}

impl Host {
    /// Starts it and waits until it has loaded the plugin.
    fn start(dir: &TempDir) -> Self {
        let stub = Command::new("cc")
            .args(["-shared", "-fPIC", "-w", "-o"])
            .arg(dir.file("no_sequencer.so"))
            .arg(workspace_dir().join("tests/data/no_sequencer.c"))
            .status();
        assert!(
            stub.is_ok_and(|status| status.success()),
            "{}",
            missing("a C compiler (cc)")
        );
        let clap = bundle("Penstock.clap");
        let file = dir.file("test.qtr");
        let text = session(&dir.arg(""), &clap.display().to_string());
        fs::write(&file, text).expect("a folder of ours");
        // A name for each, since tests run side by side.
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let count = COUNT.fetch_add(1, Ordering::Relaxed);
        let server = format!("penstock-tests-{}-{count}", std::process::id());
        let mut jack = Command::new("jackd");
        jack.args([
            "-r", "-n", &server, "-d", "dummy", "-r", "48000", "-p", "1024",
        ]);
        let jack = start(&mut jack, "jackd2");
        thread::sleep(Duration::from_secs(2));
        let mut qtractor = Command::new("qtractor");
        qtractor
            .arg(&file)
            .env("HOME", dir.path())
            .env("XDG_CONFIG_HOME", dir.path())
            .env("PENSTOCK_CONFIG_FOLDER", settings_dir())
            .env(MAP, dir.file("map.json"))
            .env("JACK_DEFAULT_SERVER", &server)
            .env("LD_PRELOAD", dir.file("no_sequencer.so"));
        let qtractor = start(&mut qtractor, "qtractor");
        let maps = format!("/proc/{}/maps", qtractor.0.id());
        wait("qtractor has not loaded the CLAP", || {
            fs::read_to_string(&maps).is_ok_and(|maps| maps.contains("Penstock.clap"))
        });
        Self {
            qtractor,
            _jack: jack,
            file,
        }
    }

    /// Sends the signal by which session managers ask it to save, and gives what it saves of the
    /// plugin.
    fn saved(&self) -> String {
        let _ = fs::remove_file(&self.file);
        let asked = Command::new("kill")
            .args(["-USR1", &self.qtractor.0.id().to_string()])
            .status();
        assert!(asked.is_ok_and(|status| status.success()));
        let mut saved = String::new();
        wait("qtractor has not saved", || {
            saved = fs::read_to_string(&self.file).unwrap_or_default();
            saved.contains("</session>") && saved.contains("<config key=\"state\">")
        });
        let plugin = saved.split("<plugin ").nth(1);
        plugin.expect("the plugin is saved").to_owned()
    }

    fn lives(&mut self) -> bool {
        matches!(self.qtractor.0.try_wait(), Ok(None))
    }
}

/// Waits for something that takes seconds.
#[track_caller]
fn wait(what: &str, mut until: impl FnMut() -> bool) {
    let end = Instant::now() + Duration::from_secs(90);
    while !until() {
        assert!(Instant::now() < end, "{what} after a minute and a half");
        thread::sleep(Duration::from_millis(200));
    }
}

#[test]
fn qtractor_loads_and_saves_it() {
    if !long() {
        eprintln!("left out: set PENSTOCK_LONG=1 (or run `cargo xtask test --long`)");
        return;
    }
    let _display = display();
    let dir = TempDir::new();
    let mut host = Host::start(&dir);
    // They live together for a while.
    thread::sleep(Duration::from_secs(10));
    let plugin = host.saved();
    assert!(plugin.contains("<activated>1</activated>"), "{plugin}");
    for row in rows() {
        let name = format!("name=\"{}\"", row.name);
        assert!(plugin.contains(&name), "{name} is not saved: {plugin}");
    }
    assert!(host.lives(), "qtractor lives on");
}

/// What xdotool says.
fn xdotool(words: &[&str]) -> String {
    let output = Command::new("xdotool").args(words).output();
    let output = output.unwrap_or_else(|_| panic!("{}", missing("xdotool")));
    String::from_utf8_lossy(&output.stdout).trim().to_owned()
}

/// The visible window of this name.
fn window(name: &str) -> String {
    let mut found = String::new();
    wait(&format!("no window '{name}'"), || {
        found = xdotool(&["search", "--onlyvisible", "--name", name]);
        !found.is_empty()
    });
    found.lines().next().unwrap_or_default().to_owned()
}

/// The title of the window around the plugin's.
const FRAME: &str = "Penstock - Master Out";

/// The window opened from the mixer, typed into, resized and closed, again and again while the engine
/// runs.
#[test]
fn qtractor_is_used_and_closed() {
    if !long() {
        eprintln!("left out: set PENSTOCK_LONG=1 (or run `cargo xtask test --long`)");
        return;
    }
    let _display = display();
    let dir = TempDir::new();
    let map = dir.file("map.json");
    let mut host = Host::start(&dir);
    // Its own key for the mixer.
    xdotool(&["windowfocus", "--sync", &window("test.qtr")]);
    xdotool(&["key", "F9"]);
    let mixer = window("Mixer");
    let (mut loss, mut clicks) = (String::new(), 0);
    for round in 0..200 {
        xdotool(&["windowraise", &mixer]);
        // The first entry under the bus at the right.
        xdotool(&["mousemove", "--window", &mixer, "550", "45"]);
        xdotool(&["click", "--repeat", "2", "--delay", "80", "1"]);
        let mut hands = Hands::new(&map);
        hands.find("Pad Loss");
        let frame = window(FRAME);
        loss = format!("{} dB", 30 + round % 20);
        clicks += hands.type_over("Pad Loss", &loss);
        hands.see("Pad Loss", &loss);
        // What it meters is measured on the audio thread, and noise is never twice the same.
        if round == 0 {
            hands.click("Preamp Noise on");
        }
        let metered = hands.read("Return: RMS", |text| !text.contains('\u{221e}'));
        hands.read("Return: RMS", |text| text != metered);
        // Back again too, since the next opening has the size of the last.
        let (width, height) = hands.size().expect("a size");
        for (width, height) in [(width + 90, height + 60), (width, height)] {
            let before = hands.size().expect("a size");
            let sides = [width, height].map(|side| side.to_string());
            xdotool(&["windowsize", &frame, &sides[0], &sides[1]]);
            assert_eq!(hands.resized(before), (width, height), "round {round}");
        }
        // The window manager's own key.
        xdotool(&["key", "alt+F4"]);
        wait("the window stays", || {
            xdotool(&["search", "--onlyvisible", "--name", FRAME]).is_empty()
        });
        // The window's thread ends a little after: what it draws until then is nothing to go by.
        wait("the closed window goes on drawing", || {
            let _ = fs::remove_file(&map);
            thread::sleep(Duration::from_millis(300));
            !map.exists()
        });
        assert!(host.lives(), "round {round}");
    }
    println!("200 rounds, {clicks} clicks to type 200 values");
    let plugin = host.saved();
    let entry = plugin
        .split("<param ")
        .find(|entry| entry.contains("\"Pad loss\""));
    // CLAP's unit is the place in the range, which is 0 to 80 dB.
    let value = entry.and_then(|entry| entry.split(['>', '<']).nth(1));
    let value: f64 = value.and_then(|text| text.parse().ok()).expect(&plugin);
    assert_eq!(format!("{:.0} dB", 80.0 * value), loss);
}
