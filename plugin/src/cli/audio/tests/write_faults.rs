//! Writing where it must not or cannot succeed: nothing is overwritten, nothing half is left.

use std::fs;

use super::{Folder, read_all};
use crate::cli::audio::{AudioError, Encoding, Writer};

fn create(path: &std::path::Path, force: bool) -> Result<Writer, AudioError> {
    Writer::create(path, 48_000, 1, Encoding::F32, None, force)
}

/// The sentence of an error, which must be one of output.
fn sentence<T>(outcome: Result<T, AudioError>) -> String {
    let Err(error) = outcome else {
        panic!("no error")
    };
    assert!(!error.is_input());
    let sentence = error.to_string();
    sentence
        .strip_prefix(&format!("{} ", error.path().display()))
        .expect("the file")
        .to_owned()
}

#[test]
fn an_existing_target_is_left_alone_without_force() {
    let folder = Folder::new("exists");
    let path = folder.file("a.wav", b"precious");
    assert_eq!(
        sentence(create(&path, false)),
        "exists already and is left alone; --force replaces it"
    );
    assert_eq!(fs::read(&path).unwrap(), b"precious");
    assert_eq!(folder.names(), ["a.wav"]);

    // With force it is kept until the new one is whole.
    let mut writer = create(&path, true).unwrap();
    writer.write(&[&[0.5; 10]]).unwrap();
    assert_eq!(fs::read(&path).unwrap(), b"precious");
    writer.finish().unwrap();
    assert_eq!(read_all(&path, 99).unwrap().1, [[0.5; 10]]);
    assert_eq!(folder.names(), ["a.wav"]);
}

#[test]
fn a_target_that_appears_meanwhile_is_left_alone() {
    let folder = Folder::new("appears");
    let path = folder.path("a.wav");
    let mut writer = create(&path, false).unwrap();
    writer.write(&[&[0.5; 10]]).unwrap();
    fs::write(&path, b"precious").unwrap();
    assert!(sentence(writer.finish()).starts_with("exists already"));
    assert_eq!(fs::read(&path).unwrap(), b"precious");
    assert_eq!(folder.names(), ["a.wav"]);
}

#[test]
fn an_unfinished_file_leaves_nothing() {
    let folder = Folder::new("unfinished");
    let mut writer = create(&folder.path("a.wav"), false).unwrap();
    writer.write(&[&vec![0.5; 100_000]]).unwrap();
    let names = folder.names();
    assert_eq!(
        names,
        [format!(".a.wav.{}.partial", std::process::id())],
        "hidden, beside"
    );
    drop(writer);
    assert_eq!(folder.names(), [""; 0]);
}

#[test]
fn two_writers_of_one_target_do_not_meet() {
    let folder = Folder::new("two");
    let path = folder.path("a.wav");
    let mut first = create(&path, false).unwrap();
    let mut second = create(&path, false).unwrap();
    first.write(&[&[0.25; 4]]).unwrap();
    second.write(&[&[0.5; 4]]).unwrap();
    first.finish().unwrap();
    assert!(sentence(second.finish()).starts_with("exists already"));
    assert_eq!(read_all(&path, 99).unwrap().1, [[0.25; 4]]);
    assert_eq!(folder.names(), ["a.wav"]);
}

#[test]
fn places_where_no_file_can_be_are_refused() {
    let folder = Folder::new("places");
    let gone = sentence(create(&folder.path("no/such/a.wav"), true));
    assert!(gone.starts_with("cannot be created: "), "{gone}");
    let folder_error = "is a directory, but must be a regular file";
    assert_eq!(sentence(create(&folder.path(""), true)), folder_error);
    assert_eq!(
        sentence(create(std::path::Path::new("/"), true)),
        folder_error
    );
    let file = folder.file("a.wav", b"precious");
    let below = sentence(create(&file.join("b.wav"), true));
    assert!(below.starts_with("cannot be created: "), "{below}");
    assert_eq!(folder.names(), ["a.wav"]);
}

#[test]
fn a_name_of_full_length_is_written() {
    let folder = Folder::new("long-name");
    let name = format!("{}.wav", "a".repeat(251));
    let mut writer = create(&folder.path(&name), false).unwrap();
    writer.write(&[&[0.5]]).unwrap();
    writer.finish().unwrap();
    assert_eq!(folder.names(), [name]);
}

#[cfg(unix)]
#[test]
fn links_are_followed_and_devices_are_refused() {
    let folder = Folder::new("links");
    let device = sentence(create(std::path::Path::new("/dev/null"), true));
    assert_eq!(device, "is a device or pipe, but must be a regular file");
    let real = folder.file("real.wav", b"old");
    let link = folder.path("link.wav");
    std::os::unix::fs::symlink(&real, &link).unwrap();
    assert!(sentence(create(&link, false)).starts_with("exists already"));
    let mut writer = create(&link, true).unwrap();
    writer.write(&[&[0.5; 2]]).unwrap();
    writer.finish().unwrap();
    assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
    assert_eq!(read_all(&real, 9).unwrap().1, [[0.5; 2]]);
    // One that leads nowhere counts as a name that is taken.
    let loose = folder.path("loose.wav");
    std::os::unix::fs::symlink(folder.path("gone.wav"), &loose).unwrap();
    assert!(sentence(create(&loose, false)).starts_with("exists already"));
    assert_eq!(folder.names(), ["link.wav", "loose.wav", "real.wav"]);
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_said_and_leaves_nothing() {
    let folder = Folder::new("full");
    let path = folder.path("a.wav");
    let full = "does not fit on its disk (No space left on device (os error 28)); what was \
                written of it has been removed";
    // /dev/full answers every write like a full disk.
    let mut writer = Writer::create_onto(&path, std::path::Path::new("/dev/full")).unwrap();
    assert_eq!(folder.names().len(), 1, "the temporary file is there");
    assert_eq!(sentence(writer.write(&[&vec![0.5; 100_000]])), full);
    assert_eq!(
        sentence(writer.finish()),
        "was not written, because an earlier write failed"
    );
    assert_eq!(folder.names(), [""; 0]);
    // A file so short that everything is written at its end.
    let mut writer = Writer::create_onto(&path, std::path::Path::new("/dev/full")).unwrap();
    writer.write(&[&[0.5]]).unwrap();
    assert_eq!(sentence(writer.finish()), full);
    assert_eq!(folder.names(), [""; 0]);
}

#[test]
fn more_than_4_gib_is_refused_before_anything_is_written() {
    let folder = Folder::new("4gib");
    let path = folder.path("a.wav");
    // 4 GiB are 2^32 bytes. In stereo float, with a header of 58 bytes, at most
    // (2^32 - 3 - 58) / 8 frames fit; one more is too much.
    let most = ((1u64 << 32) - 3 - 58) / 8;
    let create = |frames| Writer::create(&path, 96_000, 2, Encoding::F32, Some(frames), false);
    assert_eq!(
        sentence(create(most + 1)),
        format!(
            "would hold {} frames and pass 4 GiB, the most that a WAV file can hold; {most} \
             frames (93.2 minutes) fit",
            most + 1
        )
    );
    assert!(sentence(create(u64::MAX)).starts_with("would hold 18446744073709551615 frames"));
    assert_eq!(folder.names(), [""; 0]);
    drop(create(most).unwrap());
}

#[test]
fn a_file_that_grows_past_4_gib_is_refused() {
    let folder = Folder::new("grows");
    let mut writer = create(&folder.path("a.wav"), false).unwrap();
    writer.pretend_frames(((1u64 << 32) - 3 - 58) / 4 - 10);
    writer.write(&[&[0.0; 10]]).unwrap();
    assert!(sentence(writer.write(&[&[0.0]])).contains("pass 4 GiB"));
    assert!(sentence(writer.finish()).starts_with("was not written"));
    assert_eq!(folder.names(), [""; 0]);
}

#[test]
fn what_is_not_finite_is_not_written() {
    let folder = Folder::new("write-nan");
    for (encoding, value) in [
        (Encoding::F32, f64::NAN),
        (Encoding::S24, f64::INFINITY),
        (Encoding::F32, 1e300),
    ] {
        let path = folder.path("a.wav");
        let mut writer = Writer::create(&path, 48_000, 2, encoding, None, false).unwrap();
        writer.write(&[&[0.0; 48_000], &[0.0; 48_000]]).unwrap();
        let error = sentence(writer.write(&[&[0.0, 0.0], &[0.0, value]]));
        assert!(
            error.contains("at frame 48001 (1.000 s), channel 2"),
            "{error}"
        );
        drop(writer);
    }
    assert_eq!(folder.names(), [""; 0]);
}

#[test]
fn shapes_that_could_not_be_read_back_are_refused() {
    let folder = Folder::new("shapes");
    let path = folder.path("a.wav");
    let create = |rate, channels| Writer::create(&path, rate, channels, Encoding::S24, None, true);
    assert!(sentence(create(48_000, 3)).starts_with("has 3 channels"));
    assert!(sentence(create(48_000, 0)).starts_with("has 0 channels"));
    assert!(sentence(create(384_000, 1)).starts_with("has a sample rate of 384000 Hz"));
    assert_eq!(folder.names(), [""; 0]);
}
