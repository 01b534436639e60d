//! What the window needs of the plugin, and nothing of a host: whoever implements [`Desk`] can be
//! drawn.

use super::View;
use super::choice::Stops;
use super::history::Step;
use crate::library::Library;
use crate::tone::Tone;
use penstock_dsp::analysis::{Peaks, StageDistortion};
use penstock_dsp::diagram::LevelDiagram;
use penstock_dsp::meter::MeterKind;
use penstock_dsp::plan::Plan;
use std::sync::Arc;

/// Where a control stands, in the order of the insert loop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Section {
    /// In the line above the sections: bypass, oversampling.
    Top,
    /// Before the send converter.
    Send,
    /// The pad.
    Pad,
    /// The preamp's switches.
    Preamp,
    /// After the return converter.
    Return,
    /// Facts of the studio, folded away under the sections.
    Rig,
}

impl Section {
    /// The four that stand side by side.
    pub const LOOP: [Self; 4] = [Self::Send, Self::Pad, Self::Preamp, Self::Return];

    /// The word over it.
    #[must_use]
    pub fn title(self) -> &'static str {
        match self {
            Self::Top => "Penstock",
            Self::Send => "Send",
            Self::Pad => "Pad",
            Self::Preamp => "Preamp",
            Self::Return => "Return",
            Self::Rig => "Rig",
        }
    }
}

/// What a control takes. Positions are normalised, 0 to 1.
#[derive(Clone, Debug, PartialEq)]
pub enum Kind {
    /// Any value of a range.
    Continuous {
        /// What one arrow key or one notch of the wheel moves, normalised, above 0 and at most 1.
        /// A tenth of it is the grid of a drag, a hundredth that of a fine drag.
        step: f32,
    },
    /// One of a few: their texts with unit, in order; the k-th of n stands at k/(n-1).
    Steps(Vec<String>),
    /// 0 off, 1 on.
    Toggle,
    /// The first of so many that are a list, shown and typed as one.
    List(usize),
    /// One of the others of a list: without a place of its own.
    Listed,
}

/// One control of the window.
#[derive(Clone, Debug, PartialEq)]
pub struct Control {
    /// Stable name, unique in the desk.
    pub id: &'static str,
    /// Where it stands.
    pub section: Section,
    /// One to three words; the section's title is not repeated.
    pub label: String,
    /// One sentence: what follows from changing it.
    pub help: String,
    /// Rarely needed: folded away with others of its kind until asked for.
    pub detail: bool,
    /// What it takes.
    pub kind: Kind,
}

/// Level at one point of the chain, over the last stretch heard.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PointReadout {
    /// Stable name.
    pub name: &'static str,
    /// At most two short words.
    pub label: &'static str,
    /// RMS volts of the whole waveform; 0 is silence.
    pub rms_volts: f64,
    /// Largest magnitude in volts.
    pub peak_volts: f64,
    /// RMS volts of the steady sine that the chosen meter reads so, of the louder channel; on its scale:
    /// [`MeterKind::shown`].
    pub meter_volts: f64,
    /// The same, held for 2 s and then falling.
    pub held_volts: f64,
    /// Mean in volts, of the channel where it is larger: at a grid, by how much its bias has moved.
    pub dc_volts: f64,
    /// RMS volts of the sine that reads 0 dBFS here (AES17); `None` where there is no dBFS.
    pub full_scale_volts: Option<f64>,
}

/// A sentence worth reading, and perhaps a move that can be clicked.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Note {
    /// One or two sentences, with a number.
    pub text: String,
    /// Whether it warns.
    pub unwise: bool,
    /// A control, and where it should be put, normalised.
    pub step: Option<(usize, f32)>,
}

/// Everything the window shows and cannot change.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Readout {
    /// The eight points in the order of the chain: bus first, return last.
    pub points: [PointReadout; 8],
    /// The level diagram without its programme; `None` while there is none.
    pub diagram: Option<LevelDiagram>,
    /// Whether its ceilings by distortion are still being searched.
    pub searching: bool,
    /// Frames clipped by the send converter since the last clear.
    pub clipped_send_frames: u64,
    /// Frames clipped by the return converter since the last clear.
    pub clipped_return_frames: u64,
    /// How often a channel went over full scale at the bus and at the return since the last clear.
    pub overs: [u64; 2],
    /// The pad asked for, in words; may be empty.
    pub pad_requested: String,
    /// The pad as built, with its resistors, in words; may be empty.
    pub pad_built: String,
    /// What is worth knowing of plan and programme, warnings first.
    pub notes: Vec<Note>,
    /// Whether a loudest passage is held, which can be forgotten.
    pub holds_loudest: bool,
    /// Harmonics at the analog points at the programme's level; `None` until they are found.
    pub stages: Option<Arc<[StageDistortion]>>,
    /// Which stage works hardest, in words; may be empty.
    pub hardest: String,
    /// Whether the loudness of bus and return is being measured.
    pub measures_loudness: bool,
    /// Both loudnesses, once there are any, with the trim that makes them alike.
    pub loudness: Option<Note>,
    /// The phantom caution, whenever a pad is shown.
    pub phantom: String,
    /// Time that the processor takes by the time it has: on the average, and the worst of late.
    pub load: [f32; 2],
    /// Whether what is said of the plan is about to follow.
    pub settling: bool,
    /// What went wrong inside, if something did.
    pub error: Option<String>,
    /// Latency in frames.
    pub latency_frames: u32,
    /// Sample rate, 0 while the host has not activated the plugin.
    pub sample_rate_hz: f64,
    /// Channels, 0 while the host has not activated the plugin.
    pub channels: u32,
    /// Whether the input passes unchanged.
    pub bypassed: bool,
}

/// What is kept of the rig for new instances.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum RigMemory {
    /// Nothing yet: nobody was asked.
    Nothing,
    /// Some facts; [`Desk::remembered_rig`] says which.
    #[default]
    Kept,
    /// Something that cannot be read; why, in words.
    Damaged(String),
}

/// The plugin as the window sees it. Controls are named by their index in [`Desk::controls`].
pub trait Desk {
    /// Every control, in the order of the window; constant for the desk's life.
    fn controls(&self) -> &[Control];
    /// Where control `i` stands, 0 to 1.
    fn normalized(&self, i: usize) -> f32;
    /// Where it stands by default.
    fn default_normalized(&self, i: usize) -> f32;
    /// The value at a position, with its unit.
    fn text(&self, i: usize, normalized: f32) -> String;
    /// The position of a typed value; `None` if it cannot be read.
    fn parse(&self, i: usize, text: &str) -> Option<f32>;
    /// Why control `i` changes nothing heard as the others stand; `None` if it does.
    fn idle(&self, i: usize) -> Option<&'static str>;
    /// Whether control `i` is about something that is not there as the others stand, and has no place then.
    fn is_absent(&self, _i: usize) -> bool {
        false
    }
    /// The only positions that control `i` takes as the others stand, rising, with their texts; `None` where
    /// its kind says all.
    fn stops(&self, _i: usize) -> Option<Stops> {
        None
    }
    /// What the list that begins with control `i` holds; may be empty.
    fn list_text(&self, _i: usize) -> String {
        String::new()
    }
    /// Where the controls of that list stand for a typed text.
    ///
    /// # Errors
    /// In words, what cannot be read, and what is taken.
    fn parse_list(&self, _i: usize, _text: &str) -> Result<Vec<(usize, f32)>, String> {
        Ok(Vec::new())
    }
    /// A gesture begins: the host opens an undo step.
    fn begin(&mut self, i: usize);
    /// Sets control `i`, between [`Desk::begin`] and [`Desk::end`]. It may follow late.
    fn set(&mut self, i: usize, normalized: f32);
    /// The gesture ends.
    fn end(&mut self, i: usize);
    /// Sets several controls by one gesture each, which undo takes back in one step under this name.
    fn together(&mut self, _name: &str, positions: &[(usize, f32)]) {
        for &(i, position) in positions {
            self.begin(i);
            self.set(i, position);
            self.end(i);
        }
    }
    /// What undo would do; only a desk that remembers knows.
    fn undoable(&self) -> Option<Step> {
        None
    }
    /// What redo would do.
    fn redoable(&self) -> Option<Step> {
        None
    }
    /// Takes the last choice back, by a gesture.
    fn undo(&mut self) {}
    /// Makes it again.
    fn redo(&mut self) {}
    /// The plan that the controls hold.
    fn plan(&self) -> Plan;
    /// Where every choice stands in a plan; the rig is none.
    fn choices(&self, plan: &Plan) -> Vec<(usize, f32)>;
    /// The presets; `None` where there are none.
    fn library(&mut self) -> Option<&mut Library> {
        None
    }
    /// What is kept of the rig for new instances.
    fn rig_memory(&self) -> RigMemory {
        RigMemory::Kept
    }
    /// Keeps the rig as it stands for new instances, and says so in words.
    ///
    /// # Errors
    /// In words, why it was not kept.
    fn remember_rig(&mut self) -> Result<String, String> {
        Ok(String::new())
    }
    /// Where the controls of the rig stand in what is kept; empty without any.
    fn remembered_rig(&self) -> Vec<(usize, f32)> {
        Vec::new()
    }
    /// What to show now.
    fn readout(&self) -> Readout;
    /// Which meter [`PointReadout::meter_volts`] comes from.
    fn meter(&self) -> MeterKind {
        MeterKind::default()
    }
    /// Chooses the meter.
    fn set_meter(&mut self, _: MeterKind) {}
    /// Forgets the clipped frames and the overs.
    fn clear_clips(&mut self);
    /// Forgets the loudest passage.
    fn forget_loudest(&mut self) {}
    /// Asks for the harmonics of a programme with these peaks: only while somebody looks at them.
    fn ask_stages(&mut self, _peaks: &Peaks) {}
    /// Starts or stops measuring the loudness of bus and return.
    fn measure_loudness(&mut self, _on: bool) {}
    /// The alignment tone that is on.
    fn tone(&self) -> Tone;
    /// Turns an alignment tone on, or all off.
    fn set_tone(&mut self, tone: Tone);
    /// How the window looks.
    fn view(&self) -> View;
    /// Changes how the window looks.
    fn set_view(&mut self, view: View);
}
