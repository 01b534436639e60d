//! The CLAP in qtractor, a workstation for Linux (Debian packages qtractor, jackd2): it loads a
//! session with the plugin, lives with it and saves its state and its parameters again. What is
//! heard is for the other hosts.

use std::fs;
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use penstock::params::rows;
use penstock_tests::host::display;
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

#[test]
fn qtractor_loads_and_saves_it() {
    if !long() {
        eprintln!("left out: set PENSTOCK_LONG=1 (or run `cargo xtask test --long`)");
        return;
    }
    let _display = display();
    let dir = TempDir::new();
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
    fs::write(&file, session(&dir.arg(""), &clap.display().to_string())).expect("a folder of ours");
    let server = format!("penstock-tests-{}", std::process::id());
    let mut jack = Command::new("jackd");
    jack.args([
        "-r", "-n", &server, "-d", "dummy", "-r", "48000", "-p", "1024",
    ]);
    let _jack = start(&mut jack, "jackd2");
    thread::sleep(Duration::from_secs(2));
    let mut qtractor = Command::new("qtractor");
    qtractor.env("PENSTOCK_CONFIG_FOLDER", settings_dir());
    qtractor
        .arg(&file)
        .env("HOME", dir.path())
        .env("JACK_DEFAULT_SERVER", &server)
        .env("LD_PRELOAD", dir.file("no_sequencer.so"));
    let mut host = start(&mut qtractor, "qtractor");
    let maps = format!("/proc/{}/maps", host.0.id());
    let end = Instant::now() + Duration::from_secs(60);
    while !fs::read_to_string(&maps).is_ok_and(|maps| maps.contains("Penstock.clap")) {
        assert!(
            Instant::now() < end,
            "qtractor has not loaded the CLAP after a minute"
        );
        thread::sleep(Duration::from_millis(200));
    }
    // They live together for a while; then the signal by which session managers ask it to save.
    thread::sleep(Duration::from_secs(10));
    let asked = Command::new("kill")
        .args(["-USR1", &host.0.id().to_string()])
        .status();
    assert!(asked.is_ok_and(|status| status.success()));
    let saved = loop {
        let saved = fs::read_to_string(&file).unwrap_or_default();
        if saved.contains("</session>") && saved.contains("<config key=\"state\">") {
            break saved;
        }
        assert!(
            Instant::now() < end + Duration::from_secs(60),
            "qtractor has not saved: {saved}"
        );
        thread::sleep(Duration::from_millis(200));
    };
    let plugin = saved.split("<plugin ").nth(1).expect("the plugin is saved");
    assert!(plugin.contains("<activated>1</activated>"), "{plugin}");
    for row in rows() {
        let name = format!("name=\"{}\"", row.name);
        assert!(plugin.contains(&name), "{name} is not saved: {plugin}");
    }
    assert!(matches!(host.0.try_wait(), Ok(None)), "qtractor lives on");
}
