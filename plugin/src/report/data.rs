//! What a report shows, as plain values.
//!
//! The program fills these from its analysis; the report computes no level of its own beyond
//! differences of what it is given. Conventions are those of the project: dBFS by the AES17
//! sine-RMS convention, 0 dBu = sqrt(0.6) V, volts RMS unless the name says peak, ohms leg to leg,
//! a positive loss is a reduction. `None` (and any value that is not finite) means "not defined",
//! for instance the level of silence, and is shown as a dash.

use penstock_dsp::diagram::LevelDiagram;

/// A whole report: the rig, and each recording with its settings.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Report {
    /// Version of the program that made it, for instance `0.1.0`.
    pub program_version: String,
    /// Which circuit made the sound.
    pub model_version: u32,
    /// Facts of the studio, one line each, in the order to be shown.
    pub rig: Vec<Fact>,
    /// Remarks that qualify the whole report, such as "levels hold for your own unit".
    pub notes: Vec<String>,
    /// Warnings about the whole run, in plain words.
    pub warnings: Vec<String>,
    /// The recordings compared, in order.
    pub recordings: Vec<Recording>,
}

/// One line of facts.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Fact {
    /// What it is, for instance "Send full scale".
    pub name: String,
    /// Its value with unit, for instance "0 dBFS = +22 dBu, −18 dBFS = +4 dBu".
    pub value: String,
}

/// One source recording and what each setting made of it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Recording {
    /// Short name to show, usually the file's name; it heads every table and picture.
    pub name: String,
    /// True for the synthesised demo; every mention is then labelled as invented,
    /// unless the name says so itself.
    pub invented: bool,
    /// Sample rate in hertz.
    pub sample_rate_hz: f64,
    /// Number of channels, 1 or 2.
    pub channels: usize,
    /// Length in seconds.
    pub seconds: f64,
    /// Integrated loudness of the file as given (ITU-R BS.1770).
    pub lufs: Option<f64>,
    /// Sample peak of the file as given.
    pub peak_dbfs: Option<f64>,
    /// How far every player and render, the source's player included, was lowered so that no peak
    /// clips; 0 when nothing had to come down.
    pub common_reduction_db: f64,
    /// Which part of the recording the players hold.
    pub excerpt: Excerpt,
    /// The file as given; drawn lowered by `common_reduction_db`.
    pub waveform: Waveform,
    /// The file as given; drawn lowered by `common_reduction_db`.
    pub spectrum: Spectrum,
    /// The excerpt as a WAV file, `common_reduction_db` applied; empty for no player.
    pub player_wav: Vec<u8>,
    /// The settings, in order.
    pub settings: Vec<Setting>,
}

/// A part of a recording.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Excerpt {
    /// Where it starts.
    pub start_seconds: f64,
    /// How long it is.
    pub seconds: f64,
}

/// One setting: what was chosen, and what came of it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Setting {
    /// Its number, from 1.
    pub id: u32,
    /// What was varied, for instance "pad 34 dB, gain 34 dB".
    pub name: String,
    /// Plan keys that differ from the base plan.
    pub changes: Vec<Change>,
    /// The whole plan as TOML.
    pub plan_toml: String,
    /// Integrated loudness of the render as written, trim and common reduction included.
    pub lufs: Option<f64>,
    /// The fixed trim that made it as loud as the source, common reduction included.
    pub trim_db: f64,
    /// Sample peak of the render as written.
    pub peak_dbfs: Option<f64>,
    /// Distortion of a 1 kHz sine with the programme's peak.
    pub thd_percent: Option<f64>,
    /// Harmonics of the same sine; H2 to H5 are drawn, all are listed.
    pub harmonics: Vec<Harmonic>,
    /// Frames the send converter clipped.
    pub clipped_send_frames: u64,
    /// Frames the return converter clipped.
    pub clipped_return_frames: u64,
    /// Levels along the chain, bus first.
    pub points: Vec<LevelPoint>,
    /// Ceilings, floors and programme, to be drawn; `None` for no picture.
    pub diagram: Option<LevelDiagram>,
    /// The render as written.
    pub waveform: Waveform,
    /// The render as written, analysed as the source was.
    pub spectrum: Spectrum,
    /// The excerpt as a WAV file; empty for no player.
    pub player_wav: Vec<u8>,
    /// Name of the full render beside the report.
    pub file_name: String,
    /// The pad as built; `None` when there is no pad.
    pub pad: Option<PadBuild>,
    /// What is unwise about this setting, in plain words.
    pub warnings: Vec<String>,
}

/// A plan key and its value.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Change {
    /// Key with dots, for instance `pad.loss_db`.
    pub key: String,
    /// Its value as written in a plan.
    pub value: String,
}

/// A harmonic relative to its fundamental.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Harmonic {
    /// 2 for the second harmonic.
    pub order: u32,
    /// Level re the fundamental in dB.
    pub level_db: Option<f64>,
}

/// Which scale a point of the chain belongs to.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Scale {
    /// An analogue point, in dBu.
    #[default]
    Dbu,
    /// A digital point before the send converter.
    SendDbfs,
    /// A digital point after the return converter.
    ReturnDbfs,
}

/// The programme at one point of the chain.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct LevelPoint {
    /// Stable name, for instance `mic_in`.
    pub name: String,
    /// Name for people, for instance "Mic in".
    pub label: String,
    /// Where it is drawn.
    pub scale: Scale,
    /// RMS level.
    pub rms_dbu: Option<f64>,
    /// Level of the sine with the programme's peak.
    pub peak_sine_dbu: Option<f64>,
    /// RMS volts; not shown at digital points.
    pub volts_rms: Option<f64>,
    /// Peak volts; not shown at digital points.
    pub volts_peak: Option<f64>,
    /// RMS re full scale, at digital points.
    pub rms_dbfs: Option<f64>,
    /// Sample peak re full scale, at digital points.
    pub peak_dbfs: Option<f64>,
    /// Level of the sine at which this point clips or distorts, counting only what lies before it.
    pub ceiling_dbu: Option<f64>,
    /// What happens there, for instance "converter clips".
    pub ceiling_note: String,
}

/// A waveform reduced to columns of equal duration.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Waveform {
    /// Smallest and largest sample of each column, full scale = 1, over all channels.
    pub min_max: Vec<(f64, f64)>,
}

/// A long-term spectrum.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Spectrum {
    /// Frequency in hertz and level in dBFS of the band around it, ascending.
    pub hz_dbfs: Vec<(f64, f64)>,
    /// Bandwidth of the bands in words, for instance "third-octave bands".
    pub bands: String,
}

/// A pad as it is built.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PadBuild {
    /// Network name: `H`, `T`, `U`, `L`, `O` or `pi`.
    pub network: String,
    /// Where its values come from, for instance `E96`, `ideal` or "own".
    pub series: String,
    /// Resistors, in the order of the drawing.
    pub resistors: Vec<Resistor>,
    /// Impedance the source sees, preamp connected.
    pub in_ohms: Option<f64>,
    /// Source impedance the preamp sees, source connected.
    pub out_ohms: Option<f64>,
    /// Volts in over volts out, preamp connected.
    pub loss_loaded_db: Option<f64>,
    /// The loss that was asked for, in words, for instance "40 dB loaded".
    pub requested: String,
}

/// A resistor of a pad.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Resistor {
    /// Where it sits, for instance "series, each leg".
    pub label: String,
    /// Its value.
    pub ohms: f64,
    /// How many are needed, for instance 2 for one in each leg.
    pub count: u32,
}

impl Setting {
    /// Level of one harmonic, if it was measured.
    pub fn harmonic_db(&self, order: u32) -> Option<f64> {
        let found = self.harmonics.iter().find(|h| h.order == order)?;
        found.level_db.filter(|db| db.is_finite())
    }
}

impl Recording {
    /// Loudness of the source as its player sounds, lowered with the rest.
    pub fn played_lufs(&self) -> Option<f64> {
        self.lufs.map(|lufs| lufs - self.common_reduction_db)
    }

    /// Sample peak of the source as its player sounds.
    pub fn played_peak_dbfs(&self) -> Option<f64> {
        self.peak_dbfs.map(|peak| peak - self.common_reduction_db)
    }

    /// The source's waveform as its player sounds.
    pub fn played_waveform(&self) -> Waveform {
        let gain = 10f64.powf(-self.common_reduction_db / 20.0);
        let lowered = self
            .waveform
            .min_max
            .iter()
            .map(|&(low, high)| (low * gain, high * gain));
        Waveform {
            min_max: lowered.collect(),
        }
    }

    /// The source's spectrum as its player sounds.
    pub fn played_spectrum(&self) -> Spectrum {
        let lower = |&(hz, dbfs): &(f64, f64)| (hz, dbfs - self.common_reduction_db);
        Spectrum {
            hz_dbfs: self.spectrum.hz_dbfs.iter().map(lower).collect(),
            bands: self.spectrum.bands.clone(),
        }
    }
}
