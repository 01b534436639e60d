//! The window in pictures, against those in `snapshots`.
//!
//! Drawn by the plugin's own renderer on Mesa's llvmpipe, so they do not hang on a graphics card. After
//! a change that is meant: `UPDATE_SNAPSHOTS=1 cargo xtask test picture`, and look at what git shows.

use std::fs::File;
use std::io::BufWriter;
use std::path::Path;

use crate::legible::assert_legible;
use image::RgbImage;
use image::codecs::png::{CompressionType, FilterType, PngEncoder};
use penstock::editor::{Desk, Readout};
use penstock_window_tests::{RATE_HZ, Screen, Shared, Stage, Walk, Window, programme};

/// One picture.
struct Shot {
    name: &'static str,
    size: [f32; 2],
    zoom: f32,
    dark: bool,
    unfolded: bool,
    /// The rig alone.
    rig_open: bool,
    channels: usize,
    /// Peak of the programme, of full scale; 0 is silence.
    peak: f32,
    texts: &'static [(&'static str, &'static str)],
}

/// As a new instance shows a programme some 10 dB under full scale.
const USUAL: Shot = Shot {
    name: "light",
    size: [860.0, 620.0],
    zoom: 1.0,
    dark: false,
    unfolded: false,
    rig_open: false,
    channels: 2,
    peak: 0.3,
    texts: &[],
};

/// Few, for each has to be looked at: both colours, both scales, one and two channels, everything
/// unfolded, nothing and too much to hear, a unit of the user's own.
const SHOTS: [Shot; 6] = [
    USUAL,
    Shot {
        name: "dark-unfolded",
        dark: true,
        unfolded: true,
        size: [1280.0, 800.0],
        ..USUAL
    },
    Shot {
        name: "dark-mono-smallest-200",
        size: [760.0, 480.0],
        zoom: 2.0,
        dark: true,
        channels: 1,
        ..USUAL
    },
    Shot {
        name: "overload",
        peak: 1.0,
        texts: &[
            ("send.trim_db", "6"),
            ("preamp.gain_db", "58"),
            ("pad.loss_db", "30"),
        ],
        ..USUAL
    },
    SILENCE,
    Shot {
        name: "own-unit",
        rig_open: true,
        size: [860.0, 800.0],
        texts: &[
            ("rig.preamp.kind", "own unit"),
            ("rig.preamp.in_ohms", "2400"),
            ("rig.preamp.gain_step_1_db", "20"),
            ("rig.preamp.gain_step_2_db", "35"),
            ("rig.preamp.gain_step_3_db", "50"),
            ("rig.preamp.gain_step_4_db", "65"),
            ("rig.preamp.attenuator_step_1_db", "0"),
            ("rig.preamp.attenuator_step_2_db", "15"),
            ("rig.preamp.max_in_dbu", "-8"),
            ("rig.preamp.max_out_dbu", "21"),
            ("rig.preamp.ein_dbu", "-127"),
            ("preamp.own_gain_db", "50"),
        ],
        ..USUAL
    },
];

const SILENCE: Shot = Shot {
    name: "silence",
    peak: 0.0,
    ..USUAL
};

impl Shot {
    fn open(&self) -> (Window, Shared) {
        let screen = Screen::shared().expect("a screen without a display");
        let renderer = screen.renderer();
        assert!(
            renderer.contains("llvmpipe"),
            "pictures are compared on llvmpipe, not on {renderer}: LIBGL_ALWAYS_SOFTWARE=1"
        );
        let stage = Stage::with(self.texts);
        let mut view = stage.params.view.get();
        view.dark = self.dark;
        view.zoom_percent = (100.0 * self.zoom) as u16;
        (view.rig_open, view.details_open) = (self.unfolded || self.rig_open, self.unfolded);
        stage.params.view.put(view);
        let mut engine = stage.engine(self.channels);
        engine.reset(&stage.params, &stage.bridge);
        let mut audio = programme(RATE_HZ as usize, self.channels, self.peak);
        stage.play(&mut engine, &mut audio);
        let mut window = stage.open(self.size, self.zoom, Some(screen.clone()));
        window.wait();
        (window, screen)
    }
}

/// A pixel is another when one of its colours has moved by more than this, of 255.
const SAME: u8 = 12;
/// Another version of Mesa smooths an edge a little otherwise; a figure, a line or a colour that has
/// changed is more.
const MOST_OTHERS: usize = 6;

/// How many pixels are others; all, when the sizes are.
fn others(one: &RgbImage, other: &RgbImage) -> usize {
    if one.dimensions() != other.dimensions() {
        return usize::MAX;
    }
    let far = |one: &u8, other: &u8| one.abs_diff(*other) > SAME;
    let pairs = one.pixels().zip(other.pixels());
    pairs
        .filter(|(one, other)| {
            one.0
                .iter()
                .zip(&other.0)
                .any(|(one, other)| far(one, other))
        })
        .count()
}

/// One opening of each serves all that is asked of it, for finding ceilings takes longer than the rest.
#[test]
fn pictures_are_as_they_were_and_can_be_read() {
    let mut failures = Vec::new();
    let mut seen = Vec::new();
    for shot in &SHOTS {
        let (window, screen) = shot.open();
        let picture = screen.picture(&window);
        failures.extend(compare(shot.name, &picture).err());
        assert_legible(shot.name, &window, &picture);
        seen.push((picture, window.state().readout()));
    }
    tells_apart(&seen[0], &seen[3], &seen[4]);
    assert!(
        failures.is_empty(),
        "{}\nIf that is meant: UPDATE_SNAPSHOTS=1 cargo xtask test picture",
        failures.join("\n")
    );
}

/// Against the known picture; or makes it the known one.
fn compare(name: &str, picture: &RgbImage) -> Result<(), String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("snapshots");
    let path = folder.join(format!("{name}.png"));
    let known = image::open(&path).map(|known| known.to_rgb8());
    let count = known.map_or(usize::MAX, |known| others(&known, picture));
    if count <= MOST_OTHERS {
        return Ok(());
    }
    if std::env::var_os("UPDATE_SNAPSHOTS").is_some() {
        save(picture, &path);
        println!("{} is written", path.display());
        return Ok(());
    }
    let new = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{name}.png"));
    save(picture, &new);
    let (new, path) = (new.display(), path.display());
    Err(format!("{new} has {count} other pixels than {path}"))
}

/// What it is about is seen: sound is not silence, an overload is counted in words.
fn tells_apart(
    sound: &(RgbImage, Readout),
    overload: &(RgbImage, Readout),
    silence: &(RgbImage, Readout),
) {
    assert!(others(&silence.0, &sound.0) > 500);
    assert!(others(&overload.0, &sound.0) > 500);
    assert_eq!(sound.1.clipped_return_frames, 0);
    let clipped = overload.1.clipped_send_frames + overload.1.clipped_return_frames;
    assert!(clipped > 100, "{clipped} frames clipped");
}

/// As small as it gets: pictures stay in the history for ever.
fn save(picture: &RgbImage, path: &Path) {
    let file = File::create(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    let encoder = PngEncoder::new_with_quality(
        BufWriter::new(file),
        CompressionType::Best,
        FilterType::Adaptive,
    );
    picture
        .write_with_encoder(encoder)
        .expect("a picture can be written");
}

/// The comparison would see a single figure that has changed.
#[test]
fn a_picture_with_another_digit_is_another() {
    let [one, other] = [&[][..], &[("send.trim_db", "0.1")]].map(|texts| {
        let (window, screen) = Shot { texts, ..SILENCE }.open();
        screen.picture(&window)
    });
    let count = others(&one, &other);
    println!("{count} other pixels");
    assert!(count > 2 * MOST_OTHERS, "only {count} pixels");
}
