//! Files that cannot be used: refused in one sentence, with nothing written.

use std::fs::{self, File};
use std::io::Write;

use penstock_tests::broken::{riff, write_all};
use penstock_tests::{TempDir, Wave, refused_in};

/// Arguments of every verb that reads a file, for the file `name`.
fn readers(name: &str) -> [Vec<&str>; 4] {
    [
        vec!["render", name, "out.wav"],
        vec!["levels", name],
        vec!["levels", name, "--json"],
        vec!["compare", name, "--out", "out"],
    ]
}

#[test]
fn broken_files() {
    let dir = TempDir::new();
    for broken in write_all(dir.path()) {
        for args in readers(broken.name) {
            let names: Vec<&str> = [&[broken.name], broken.says].concat();
            refused_in(dir.path(), &args, &names);
        }
    }
}

#[test]
fn no_file_and_no_file_at_all() {
    let dir = TempDir::new();
    fs::create_dir(dir.file("folder.wav")).expect("the folder can be written");
    for name in ["missing.wav", "nowhere/in.wav", "folder.wav"] {
        for args in readers(name) {
            refused_in(dir.path(), &args, &[name]);
        }
    }
}

#[test]
fn a_bad_file_costs_the_existing_result_nothing() {
    // Even with `--force`: what is there stays until there is something to replace it.
    let dir = TempDir::new();
    fs::write(dir.file("out.wav"), b"dear to somebody").expect("the folder can be written");
    for broken in write_all(dir.path()) {
        let args = ["render", broken.name, "out.wav", "--force"];
        refused_in(dir.path(), &args, &[broken.name]);
    }
}

#[test]
fn a_result_over_4_gib_is_refused_before_the_work() {
    // 2.4 GB of 16-bit silence (sparse: it takes no room on the disk) would become 4.8 GB of floats.
    let dir = TempDir::new();
    let bytes = 2_400_000_000u32;
    let header = riff(1, 2, 96_000, 16, bytes, b"");
    let mut file = File::create(dir.file("giant.wav")).expect("the folder can be written");
    file.write_all(&header).expect("the folder can be written");
    let length = header.len() as u64 + u64::from(bytes);
    file.set_len(length).expect("a sparse file can be made");
    drop(file);
    let names = ["giant.wav|out.wav", "4 G|4,|4.|4-G|429"];
    refused_in(dir.path(), &["render", "giant.wav", "out.wav"], &names);
}

#[test]
fn plan_files() {
    let dir = TempDir::new();
    Wave::programme(48_000, 0.1, 0.2, 1).write(&dir.file("in.wav"));
    let plans: [(&str, &str, &[&str]); 12] = [
        ("syntax.toml", "[pad\nloss_db = 40\n", &[]),
        ("not_toml.toml", "a letter, not a plan", &[]),
        ("word.toml", "[pad]\nloss_db = \"forty\"\n", &["loss_db"]),
        ("number.toml", "[pad]\nnetwork = 3\n", &["network"]),
        (
            "truth.toml",
            "[rig]\nconverters_clip = 1\n",
            &["converters_clip"],
        ),
        ("section.toml", "pad = 40\n", &["pad"]),
        (
            "range.toml",
            "[send]\ntrim_db = 13\n",
            &["trim_db", "13", "12"],
        ),
        (
            "grid.toml",
            "[preamp]\ngain_db = 41\n",
            &["gain_db", "41", "40"],
        ),
        (
            "key.toml",
            "[pad]\nlos_db = 40\n",
            &["los_db", "pad.loss_db|loss_db"],
        ),
        ("table.toml", "[padd]\nloss_db = 40\n", &["padd"]),
        ("nan.toml", "[pad]\nloss_db = nan\n", &["loss_db"]),
        ("inf.toml", "[return]\ntrim_db = -inf\n", &["trim_db"]),
    ];
    for (name, text, says) in plans {
        fs::write(dir.file(name), text).expect("the folder can be written");
        for args in [
            vec!["render", "in.wav", "out.wav", "--plan", name],
            vec!["levels", "--level-dbfs", "-20", "--plan", name, "--json"],
            vec!["pad", "--plan", name],
            vec!["compare", "in.wav", "--out", "out", "--plan", name],
        ] {
            let names = [&[name], says].concat();
            refused_in(dir.path(), &args, &names);
        }
    }
    refused_in(
        dir.path(),
        &["pad", "--plan", "missing.toml"],
        &["missing.toml"],
    );
}
