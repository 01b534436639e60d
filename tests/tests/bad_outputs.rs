//! Results that cannot be written: nothing lost, nothing half-written.

use std::fs;
use std::path::Path;
use std::process::Command;

use penstock_tests::run::{Outcome, assert_refusal, finish};
use penstock_tests::temp::Snapshot;
use penstock_tests::tools::program;
use penstock_tests::{TempDir, Wave, refused_in, run_in};

/// A second of mono at 48 kHz: 192 kB as a result.
fn source(dir: &TempDir) {
    Wave::programme(48_000, 0.2, 1.0, 1).write(&dir.file("in.wav"));
}

#[test]
fn places_that_cannot_be_written() {
    let dir = TempDir::new();
    source(&dir);
    fs::write(dir.file("file"), b"not a folder").expect("the folder can be written");
    fs::create_dir(dir.file("folder")).expect("the folder can be written");
    for out in [
        "nowhere/out.wav",
        "file/out.wav",
        "folder",
        "/proc/penstock-out.wav",
        "",
    ] {
        refused_in(dir.path(), &["render", "in.wav", out], &[out]);
        refused_in(dir.path(), &["render", "in.wav", out, "--force"], &[out]);
    }
    for out in ["file/out", "file", "/proc/penstock-out"] {
        refused_in(dir.path(), &["compare", "in.wav", "--out", out], &[out]);
    }
    // A bad setting is noticed before anything is made.
    refused_in(
        dir.path(),
        &["render", "in.wav", "out.wav", "--format", "s16"],
        &["s16", "s24"],
    );
}

/// Runs the program with files limited to 64 KiB and the signal for it ignored, so that writing
/// fails as on a full disk.
fn run_with_small_files(dir: &Path, args: &[&str]) -> Outcome {
    let mut command = Command::new("bash");
    let script = "trap '' XFSZ; ulimit -f 64; exec \"$0\" \"$@\"";
    command
        .args(["-c", script])
        .arg(program())
        .args(args)
        .current_dir(dir);
    finish(command)
}

#[test]
fn a_limit_on_the_size_of_files() {
    let dir = TempDir::new();
    source(&dir);
    fs::write(dir.file("old.wav"), b"dear to somebody").expect("the folder can be written");
    let before = Snapshot::of(dir.path());
    for args in [
        vec!["render", "in.wav", "out.wav"],
        vec!["render", "in.wav", "out.wav", "--format", "s24", "--json"],
        vec!["render", "in.wav", "old.wav", "--force"],
    ] {
        let outcome = run_with_small_files(dir.path(), &args);
        assert_refusal(&outcome, &format!("{args:?}"), &["out.wav|old.wav"]);
        before.assert_unchanged(&format!("{args:?}"));
    }
    let outcome = run_with_small_files(dir.path(), &["compare", "in.wav", "--out", "out"]);
    assert_eq!(outcome.status, 2, "compare: {}", outcome.stderr);
    before.assert_unchanged("compare");
}

/// A file system of 64 KiB in memory, unmounted when dropped.
struct SmallDisk<'a>(&'a Path);

impl<'a> SmallDisk<'a> {
    /// None where this user may not mount.
    fn mount(place: &'a Path) -> Option<Self> {
        fs::create_dir(place).expect("the folder can be written");
        let mut mount = Command::new("mount");
        mount
            .args(["-t", "tmpfs", "-o", "size=64k", "tmpfs"])
            .arg(place);
        let done = mount.output().is_ok_and(|output| output.status.success());
        done.then_some(Self(place))
    }
}

impl Drop for SmallDisk<'_> {
    fn drop(&mut self) {
        // Without this the folder of the test could not be removed.
        let _ = Command::new("umount").arg(self.0).status();
    }
}

#[test]
fn a_full_disk() {
    let dir = TempDir::new();
    source(&dir);
    let place = dir.file("disk");
    let Some(_disk) = SmallDisk::mount(&place) else {
        // The limit on the size of files, above, is tested on every machine.
        eprintln!("no right to mount here: the full disk is tested by the limit on files alone");
        return;
    };
    fs::write(place.join("old.wav"), b"dear to somebody").expect("there is room for this");
    let before = Snapshot::of(&place);
    for args in [
        vec!["render", "in.wav", "disk/out.wav"],
        vec!["render", "in.wav", "disk/old.wav", "--force"],
        vec!["compare", "in.wav", "--out", "disk/out"],
    ] {
        let outcome = run_in(dir.path(), &args);
        assert_refusal(&outcome, &format!("{args:?}"), &["disk"]);
        before.assert_unchanged(&format!("{args:?}"));
    }
}
