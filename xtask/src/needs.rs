//! What the tests need of the machine beyond Rust: the one list, each with its purpose.

/// A Debian package, and how to see whether what it brings is already here.
pub struct DebianNeed {
    /// The package's name in Debian 12.
    pub package: &'static str,
    /// What the project uses it for.
    pub purpose: &'static str,
    /// What it brings, looked for on any system, whoever installed it.
    pub brings: Brings,
}

/// What is looked for.
pub enum Brings {
    /// A folder or file at a fixed place.
    Path(&'static str),
    /// A program on the search path, by any of these names.
    Program(&'static [&'static str]),
    /// Modules that the machine's own `python3` can import.
    PythonModules(&'static [&'static str]),
}

/// A Python package, pinned.
pub struct PythonNeed {
    /// The distribution's name.
    pub package: &'static str,
    /// The only version that will do.
    pub version: &'static str,
    /// What the project uses it for.
    pub purpose: &'static str,
}

/// The program that opens pages without a window, by the names systems give it.
pub const CHROMIUM: &[&str] = &["chromium", "chromium-browser", "google-chrome"];

/// Debian packages.
pub const DEBIAN: &[DebianNeed] = &[
    DebianNeed {
        package: "python3-venv",
        purpose: "makes the folder that holds the Python packages below",
        brings: Brings::PythonModules(&["venv", "ensurepip"]),
    },
    DebianNeed {
        package: "sonic-pi-samples",
        purpose: "real music recordings, 44.1 kHz, to send through the whole program",
        brings: Brings::Path("/usr/share/sonic-pi/samples"),
    },
    DebianNeed {
        package: "pocketsphinx-testdata",
        purpose: "real speech recordings, 16 kHz mono, to send through the whole program",
        brings: Brings::Path("/usr/share/pocketsphinx/test/data"),
    },
    DebianNeed {
        package: "chromium",
        purpose: "opens the report without a window and takes its picture",
        brings: Brings::Program(CHROMIUM),
    },
];

/// Python packages, for CPython 3.11 and later. The second group is what the first stands on, pinned
/// so that a run next year judges by the same numbers as a run today.
pub const PYTHON: &[PythonNeed] = &[
    python("numpy", "2.4.6", "arrays for every script that judges"),
    python(
        "scipy",
        "1.17.1",
        "filters, spectra and special functions as a second opinion",
    ),
    python(
        "scikit-rf",
        "2.2.0",
        "network theory as a second opinion on pads",
    ),
    python(
        "pyloudnorm",
        "0.2.0",
        "loudness as a second opinion on the trims",
    ),
    python(
        "soundfile",
        "0.14.0",
        "reads and writes audio files with code not ours",
    ),
    python("pandas", "3.1.1", "stood on by scikit-rf"),
    python("python-dateutil", "4.0.0", "stood on by pandas"),
    python("tzdata", "2026.6", "stood on by pandas"),
    python("typing_extensions", "4.16.0", "stood on by scikit-rf"),
    python("cffi", "2.1.1", "stood on by soundfile"),
    python("pycparser", "3.12", "stood on by cffi"),
];

const fn python(package: &'static str, version: &'static str, purpose: &'static str) -> PythonNeed {
    PythonNeed {
        package,
        version,
        purpose,
    }
}
