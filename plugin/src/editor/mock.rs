//! A desk without a plugin: every kind of control, and a log of what was asked of it.

use super::desk::{Control, Desk, Kind, PointReadout, Readout, RigMemory, Section};
use super::view::View;
use crate::library::Library;
use crate::tone::Tone;
use penstock_dsp::analysis::Peaks;
use penstock_dsp::diagram::LevelDiagram;
use penstock_dsp::plan::{Plan, find};

/// What the window asked for.
#[derive(Clone, Debug, PartialEq)]
pub enum Asked {
    /// A gesture began.
    Begin(usize),
    /// A value was set.
    Set(usize, f32),
    /// A gesture ended.
    End(usize),
    /// The counters were cleared.
    Clear,
}

struct Range {
    min: f32,
    max: f32,
    unit: &'static str,
    log: bool,
}

/// The desk.
pub struct Mock {
    controls: Vec<Control>,
    ranges: Vec<Option<Range>>,
    /// Where the controls stand.
    pub at: Vec<f32>,
    defaults: Vec<f32>,
    /// Whether a set value takes at once.
    pub follows: bool,
    /// What was asked.
    pub asked: Vec<Asked>,
    /// What is shown.
    pub readout: Readout,
    /// How it looks.
    pub view: View,
    /// The tone asked for.
    pub tone: Tone,
    /// How often harmonics were asked for.
    pub stages_asked: usize,
    /// The presets.
    pub library: Option<Library>,
    /// What is kept of the rig.
    pub memory: RigMemory,
    /// Where the rig's controls stood when it was remembered.
    pub remembered: Vec<(usize, f32)>,
}

const POINTS: [(&str, &str, f64); 8] = [
    ("bus", "Bus", 1.0),
    ("line_out", "Line out", 0.98),
    ("mic_in", "Mic in", 0.009_8),
    ("transformer_in", "Transf. in", 0.009_8),
    ("grid_1", "Grid 1", 0.098),
    ("grid_2", "Grid 2", 1.9),
    ("preamp_out", "Preamp out", 0.97),
    ("return", "Return", 0.97),
];

impl Mock {
    /// A programme of this RMS at the bus, in volts.
    pub fn new(bus_volts: f64) -> Self {
        let mut mock = Self {
            controls: Vec::new(),
            ranges: Vec::new(),
            at: Vec::new(),
            defaults: Vec::new(),
            follows: true,
            asked: Vec::new(),
            readout: readout(bus_volts),
            view: View::default(),
            tone: Tone::Off,
            stages_asked: 0,
            library: None,
            memory: RigMemory::Kept,
            remembered: Vec::new(),
        };
        mock.fill_loop();
        mock.fill_rig();
        mock.remembered = mock.rig();
        mock
    }

    fn rig(&self) -> Vec<(usize, f32)> {
        let all = self.controls.iter().zip(&self.at).enumerate();
        all.filter(|(_, (control, _))| control.section == Section::Rig)
            .map(|(i, (_, at))| (i, *at))
            .collect()
    }

    /// Where control `i` stands in a plan.
    fn position_in(&self, i: usize, plan: &Plan) -> Option<f32> {
        let control = &self.controls[i];
        let value = plan.get(find(control.id)?)?;
        match (&control.kind, &self.ranges[i]) {
            (Kind::Steps(texts), _) => {
                let word = value.to_string();
                let starts = |text: &String| text.split(' ').next() == Some(word.as_str());
                let k = texts.iter().position(starts)?;
                Some(k as f32 / (texts.len() - 1) as f32)
            }
            (_, Some(range)) => Some(range.position(value.number()? as f32)),
            _ => None,
        }
    }

    /// The index of a control.
    pub fn index(&self, id: &str) -> usize {
        self.controls.iter().position(|c| c.id == id).unwrap()
    }

    fn fill_loop(&mut self) {
        use Section::{Pad, Preamp, Return, Send, Top};
        let db = |min, max| (min, max, "dB", false);
        self.toggle(
            Top,
            "bypass",
            "Bypass",
            "Passes the input unchanged, at the same latency.",
            0.0,
        );
        let factors = ["1x", "2x", "4x", "8x"];
        self.steps(Top, "oversampling", "Oversampling", &factors, 2);
        self.range(Send, "send.trim_db", "Trim", db(-40.0, 12.0), 0.0);
        let polarities = ["normal", "inverted"];
        self.steps(Send, "send.polarity", "Polarity", &polarities, 0);
        let networks = ["none", "H", "T", "U", "L"];
        self.steps(Pad, "pad.network", "Network", &networks, 3);
        self.range(Pad, "pad.loss_db", "Loss", db(0.0, 80.0), 40.0);
        let kinds = ["loaded", "unloaded", "matched-power", "open-circuit"];
        self.steps(Pad, "pad.loss_kind", "Counted", &kinds, 0);
        self.steps(Pad, "pad.in_rule", "Load rule", &["at least", "exactly"], 0);
        let ohms = |min, max| (min, max, "ohm", true);
        self.range(Pad, "pad.in_ohms", "Send sees", ohms(10.0, 1e5), 2000.0);
        self.range(Pad, "pad.out_ohms", "Preamp sees", ohms(10.0, 2e3), 150.0);
        let series = ["ideal", "E12", "E24", "E96"];
        self.steps(Pad, "pad.series", "Resistors", &series, 3);
        let gains = [
            "28 dB", "34 dB", "40 dB", "46 dB", "52 dB", "58 dB", "64 dB",
        ];
        self.steps(Preamp, "preamp.gain_db", "Gain", &gains, 2);
        self.steps(
            Preamp,
            "preamp.attenuator_db",
            "Attenuator",
            &["0 dB", "20 dB"],
            0,
        );
        self.range(Return, "return.trim_db", "Trim", db(-60.0, 40.0), 0.0);
    }

    fn fill_rig(&mut self) {
        use Section::Rig;
        let dbu = (0.0, 30.0, "dBu", false);
        self.range(Rig, "rig.send.full_scale_dbu", "Send full scale", dbu, 22.0);
        self.range(
            Rig,
            "rig.send.source_ohms",
            "Send source",
            (1.0, 2000.0, "ohm", true),
            50.0,
        );
        self.range(
            Rig,
            "rig.return.full_scale_dbu",
            "Return full scale",
            dbu,
            22.0,
        );
        self.range(
            Rig,
            "rig.return.in_ohms",
            "Return input",
            (600.0, 1e5, "ohm", true),
            1e4,
        );
        self.toggle(
            Rig,
            "rig.converters_clip",
            "Converters clip",
            "Clips as converters do.",
            1.0,
        );
    }

    fn push(&mut self, control: Control, range: Option<Range>, at: f32) {
        self.controls.push(control);
        self.ranges.push(range);
        self.at.push(at);
        self.defaults.push(at);
    }

    fn range(
        &mut self,
        section: Section,
        id: &'static str,
        label: &str,
        (min, max, unit, log): (f32, f32, &'static str, bool),
        value: f32,
    ) {
        let range = Range {
            min,
            max,
            unit,
            log,
        };
        let at = range.position(value);
        let control = Control {
            id,
            section,
            label: label.to_owned(),
            help: format!("More of {label} drives the first tube harder."),
            detail: false,
            kind: Kind::Continuous {
                step: if log { 0.01 } else { 1.0 / (max - min) },
            },
        };
        self.push(control, Some(range), at);
    }

    fn steps(&mut self, section: Section, id: &'static str, label: &str, texts: &[&str], k: usize) {
        let control = Control {
            id,
            section,
            label: label.to_owned(),
            help: format!("{label} changes which part works hard."),
            detail: matches!(id, "pad.loss_kind" | "pad.in_rule"),
            kind: Kind::Steps(texts.iter().map(|text| (*text).to_owned()).collect()),
        };
        let at = k as f32 / (texts.len() - 1) as f32;
        self.push(control, None, at);
    }

    fn toggle(&mut self, section: Section, id: &'static str, label: &str, help: &str, at: f32) {
        let control = Control {
            id,
            section,
            label: label.to_owned(),
            help: help.to_owned(),
            detail: false,
            kind: Kind::Toggle,
        };
        self.push(control, None, at);
    }
}

impl Range {
    fn position(&self, value: f32) -> f32 {
        if self.log {
            (value / self.min).ln() / (self.max / self.min).ln()
        } else {
            (value - self.min) / (self.max - self.min)
        }
    }

    fn value(&self, at: f32) -> f32 {
        if self.log {
            self.min * (self.max / self.min).powf(at)
        } else {
            self.min + at * (self.max - self.min)
        }
    }
}

fn readout(bus_volts: f64) -> Readout {
    let mut readout = Readout {
        pad_requested: "U, 40.00 dB loaded; the send sees at least 2000 ohm, the preamp 150 ohm"
            .to_owned(),
        pad_built:
            "U of E96: each leg 5.36 kohm (2 off), shunt 118 ohm; 40.03 dB loaded, the send \
                    sees 10.8 kohm, the preamp 117 ohm"
                .to_owned(),
        diagram: LevelDiagram::of_plan(&Plan::default()).ok(),
        phantom: crate::advice::PHANTOM.to_owned(),
        latency_frames: 64,
        sample_rate_hz: 48_000.0,
        channels: 2,
        ..Readout::default()
    };
    for (point, (name, label, gain)) in readout.points.iter_mut().zip(POINTS) {
        let digital = matches!(name, "bus" | "return");
        *point = PointReadout {
            name,
            label,
            rms_volts: bus_volts * gain,
            peak_volts: bus_volts * gain * 3.9,
            meter_volts: bus_volts * gain,
            held_volts: bus_volts * gain,
            dc_volts: 0.0,
            full_scale_volts: digital.then_some(9.752),
        };
    }
    readout
}

impl Desk for Mock {
    fn controls(&self) -> &[Control] {
        &self.controls
    }

    fn normalized(&self, i: usize) -> f32 {
        self.at[i]
    }

    fn default_normalized(&self, i: usize) -> f32 {
        self.defaults[i]
    }

    fn text(&self, i: usize, normalized: f32) -> String {
        match (&self.controls[i].kind, &self.ranges[i]) {
            (Kind::Steps(texts), _) => {
                let last = (texts.len() - 1) as f32;
                texts[(normalized * last).round() as usize].clone()
            }
            (_, Some(range)) => {
                let value = range.value(normalized);
                match range.unit {
                    "ohm" if value >= 9999.5 => format!("{:.1} kohm", value / 1e3),
                    "ohm" => format!("{value:.0} ohm"),
                    unit => format!("{value:.1} {unit}"),
                }
            }
            _ => if normalized >= 0.5 { "on" } else { "off" }.to_owned(),
        }
    }

    fn parse(&self, i: usize, text: &str) -> Option<f32> {
        let range = self.ranges[i].as_ref()?;
        let text = text.trim().to_lowercase();
        let end = text
            .find(|c: char| !(c.is_ascii_digit() || "+-.".contains(c)))
            .unwrap_or(text.len());
        let value: f32 = text[..end].parse().ok()?;
        let kilo = if text[end..].trim_start().starts_with('k') {
            1e3
        } else {
            1.0
        };
        Some(range.position(value * kilo).clamp(0.0, 1.0))
    }

    fn idle(&self, i: usize) -> Option<&'static str> {
        let straight = self.at[self.index("pad.network")] == 0.0;
        let of_pad = self.controls[i].section == Section::Pad;
        (straight && of_pad && self.controls[i].id != "pad.network").then_some("There is no pad.")
    }

    fn begin(&mut self, i: usize) {
        self.asked.push(Asked::Begin(i));
    }

    fn set(&mut self, i: usize, normalized: f32) {
        self.asked.push(Asked::Set(i, normalized));
        if self.follows {
            self.at[i] = normalized;
        }
    }

    fn end(&mut self, i: usize) {
        self.asked.push(Asked::End(i));
    }

    fn plan(&self) -> Plan {
        Plan::default()
    }

    fn choices(&self, plan: &Plan) -> Vec<(usize, f32)> {
        let choices =
            (0..self.controls.len()).filter(|i| Section::LOOP.contains(&self.controls[*i].section));
        choices
            .filter_map(|i| Some((i, self.position_in(i, plan)?)))
            .collect()
    }

    fn library(&mut self) -> Option<&mut Library> {
        self.library.as_mut()
    }

    fn rig_memory(&self) -> RigMemory {
        self.memory.clone()
    }

    fn remember_rig(&mut self) -> Result<String, String> {
        self.memory = RigMemory::Kept;
        self.remembered = self.rig();
        Ok("Remembered.".to_owned())
    }

    fn remembered_rig(&self) -> Vec<(usize, f32)> {
        match self.memory {
            RigMemory::Kept => self.remembered.clone(),
            RigMemory::Nothing | RigMemory::Damaged(_) => Vec::new(),
        }
    }

    fn readout(&self) -> Readout {
        self.readout.clone()
    }

    fn clear_clips(&mut self) {
        self.asked.push(Asked::Clear);
        self.readout.clipped_send_frames = 0;
        self.readout.clipped_return_frames = 0;
    }

    fn ask_stages(&mut self, _: &Peaks) {
        self.stages_asked += 1;
    }

    fn measure_loudness(&mut self, on: bool) {
        self.readout.measures_loudness = on;
    }

    fn tone(&self) -> Tone {
        self.tone
    }

    fn set_tone(&mut self, tone: Tone) {
        self.tone = tone;
    }

    fn view(&self) -> View {
        self.view
    }

    fn set_view(&mut self, view: View) {
        self.view = view.clamped();
    }
}
