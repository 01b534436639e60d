//! What the tests need of the machine beyond Rust: the one list, each with its purpose.

/// A Debian package, and how to see whether what it brings is already here.
pub struct DebianNeed {
    /// The package's name in Debian 12.
    pub package: &'static str,
    /// What the project uses it for.
    pub purpose: &'static str,
    /// What it brings, looked for on any system, whoever installed it.
    pub brings: Brings,
    /// Whether only the slow cases (`--long`) need it.
    pub long: bool,
}

/// What is looked for.
pub enum Brings {
    /// A folder or file at a fixed place.
    Path(&'static str),
    /// A shared library, relative to any of the folders where systems keep them.
    Library(&'static str),
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
    debian(
        "python3-venv",
        "makes the folder that holds the Python packages below",
        Brings::PythonModules(&["venv", "ensurepip"]),
    ),
    debian(
        "sonic-pi-samples",
        "real music recordings, 44.1 kHz, to send through the whole program",
        Brings::Path("/usr/share/sonic-pi/samples"),
    ),
    debian(
        "pocketsphinx-testdata",
        "real speech recordings, 16 kHz mono, to send through the whole program",
        Brings::Path("/usr/share/pocketsphinx/test/data"),
    ),
    debian(
        "chromium",
        "opens the report without a window and takes its picture",
        Brings::Program(CHROMIUM),
    ),
    debian(
        "poppler-utils",
        "counts the pages of a printed build sheet and reads them",
        Brings::Program(&["pdfinfo"]),
    ),
    debian(
        "xvfb",
        "a screen for the plugin's window where there is none",
        Brings::Program(&["Xvfb"]),
    ),
    debian(
        "openbox",
        "the window manager of that screen",
        Brings::Program(&["openbox"]),
    ),
    debian(
        "xsettingsd",
        "the desktop settings without which some hosts die on opening a window",
        Brings::Program(&["xsettingsd"]),
    ),
    debian(
        "xdotool",
        "finds windows, clicks and types in them",
        Brings::Program(&["xdotool"]),
    ),
    debian(
        "x11-utils",
        "tells what is on a screen (xprop, xwininfo)",
        Brings::Program(&["xprop"]),
    ),
    debian(
        "imagemagick",
        "takes pictures of windows and counts their colours",
        Brings::Program(&["import"]),
    ),
    debian(
        "libegl1",
        "the plugin's window draws with it",
        Brings::Library("libEGL.so.1"),
    ),
    debian(
        "libegl-mesa0",
        "what it draws with",
        Brings::Library("libEGL_mesa.so.0"),
    ),
    debian(
        "libgl1-mesa-dri",
        "draws without a graphics card",
        Brings::Library("dri/swrast_dri.so"),
    ),
    debian(
        "libx11-xcb1",
        "the plugin's window talks to the screen with it",
        Brings::Library("libX11-xcb.so.1"),
    ),
    debian(
        "libxkbcommon-x11-0",
        "the plugin's window reads the keyboard with it",
        Brings::Library("libxkbcommon-x11.so.0"),
    ),
    debian(
        "ardour",
        "its scanner reads the VST3 bundle",
        Brings::Path("/usr/lib/ardour7/ardour-vst3-scanner"),
    ),
    debian(
        "ngspice",
        "runs the program's decks: operating points, gains, reference clips",
        Brings::Program(&["ngspice"]),
    ),
    debian(
        "valgrind",
        "counts the instructions that the signal code takes",
        Brings::Program(&["valgrind"]),
    ),
    slow(
        "qtractor",
        "a whole host, driven by hand-made clicks",
        Brings::Program(&["qtractor"]),
    ),
    slow(
        "jackd2",
        "the sound server without which that host does not start",
        Brings::Program(&["jackd"]),
    ),
];

const fn debian(package: &'static str, purpose: &'static str, brings: Brings) -> DebianNeed {
    DebianNeed {
        package,
        purpose,
        brings,
        long: false,
    }
}

/// What only the slow cases need.
const fn slow(package: &'static str, purpose: &'static str, brings: Brings) -> DebianNeed {
    DebianNeed {
        package,
        purpose,
        brings,
        long: true,
    }
}

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
    python(
        "pedalboard",
        "0.9.26",
        "a VST3 host: processes, automates, opens the window",
    ),
    python("dawdreamer", "0.9.0", "another VST3 host"),
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
