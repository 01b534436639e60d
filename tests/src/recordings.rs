//! Real recordings, from Debian packages that `cargo xtask setup` installs.

use std::fs;
use std::path::{Path, PathBuf};

use crate::tools::missing;
use crate::wave::Wave;

const MUSIC: &str = "/usr/share/sonic-pi/samples";
const SPEECH: &str = "/usr/share/pocketsphinx/test/data";

/// Hand drums: FLAC, 44.1 kHz, stereo, 10.7 s, peak -9.8 dBFS (package sonic-pi-samples).
#[must_use]
pub fn drums_stereo() -> PathBuf {
    from_package(&format!("{MUSIC}/loop_tabla.flac"), "sonic-pi-samples")
}

/// An electric guitar: FLAC, 44.1 kHz, mono, 4.3 s, peak -3.1 dBFS (package sonic-pi-samples).
#[must_use]
pub fn guitar_mono() -> PathBuf {
    from_package(&format!("{MUSIC}/guit_e_slide.flac"), "sonic-pi-samples")
}

/// A loop up to full scale: FLAC, 44.1 kHz, stereo, 8 s (package sonic-pi-samples).
#[must_use]
pub fn loud_stereo() -> PathBuf {
    from_package(&format!("{MUSIC}/loop_mika.flac"), "sonic-pi-samples")
}

/// A read book: WAV, 16 bit, 16 kHz, mono, 7.1 s, peak -7.5 dBFS (package pocketsphinx-testdata).
#[must_use]
pub fn speech() -> PathBuf {
    let name = "librivox/sense_and_sensibility_01_austen_64kb-0870.wav";
    from_package(&format!("{SPEECH}/{name}"), "pocketsphinx-testdata")
}

/// Short speech that the package holds as bare 16-bit little-endian samples at 16 kHz, mono, 2.8 s
/// (package pocketsphinx-testdata).
///
/// # Panics
/// When the package is not installed.
#[must_use]
pub fn short_speech() -> Wave {
    let path = from_package(&format!("{SPEECH}/goforward.raw"), "pocketsphinx-testdata");
    let bytes = fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    let pairs = bytes
        .chunks_exact(2)
        .map(|pair| i16::from_le_bytes([pair[0], pair[1]]));
    let samples = pairs.map(|value| f32::from(value) / 32_768.0).collect();
    Wave {
        rate_hz: 16_000,
        channels: 1,
        samples,
    }
}

fn from_package(path: &str, package: &str) -> PathBuf {
    let path = Path::new(path);
    let what = format!("{} (Debian package {package})", path.display());
    assert!(path.is_file(), "{}", missing(&what));
    path.to_path_buf()
}

/// A path as the text of an argument.
///
/// # Panics
/// When it is not UTF-8.
#[must_use]
pub fn arg(path: &Path) -> String {
    path.to_str()
        .expect("recordings have names in UTF-8")
        .to_owned()
}
