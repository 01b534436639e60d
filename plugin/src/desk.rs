//! The window's view of the plugin: parameters through the host's gestures, levels from the bridge.

mod heard;
mod own;
mod still;

use crate::advice::{PHANTOM, Remark, loudness_remark, programme_remarks};
use crate::bridge::Bridge;
use crate::editor::{
    Control, Desk, Kind, Meter, Note, PointReadout, Readout, RigMemory, Section, Stops, View,
    consequence,
};
use crate::folder::config_folder;
use crate::levels::{Found, Levels};
use crate::library::Library;
use crate::params::{Group, ParamKind, Parameter, PlanParams, RowKind};
use crate::rig_file::{self, Remembered};
use crate::stages::{Stages, hardest};
use crate::tone::Tone;
use crate::typed;
use heard::Listener;
use nice_plug::context::gui::GuiContext;
use nice_plug::prelude::Param;
use penstock_dsp::analysis::Peaks;
use penstock_dsp::chain::Point;
use penstock_dsp::meter::MeterKind;
use penstock_dsp::pad::{Input, Network};
use penstock_dsp::plan::{NEWEST_MODEL_VERSION, Plan};
use std::cell::RefCell;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use still::Still;

/// The plugin as its window sees it.
pub struct PluginDesk {
    params: Arc<PlanParams>,
    bridge: Arc<Bridge>,
    /// None where pictures are taken without a host.
    host: Option<GuiContext>,
    levels: Levels,
    stages: Stages,
    controls: Vec<Control>,
    library: Library,
    /// What the settings remember of the rig, as they were when the window opened or was told to write.
    remembered: Remembered,
    memory: RefCell<Memory>,
}

/// What is not calculated anew for each picture.
#[derive(Default)]
struct Memory {
    still: Option<Still>,
    listener: Listener,
}

impl PluginDesk {
    /// For one opening of the window.
    #[must_use]
    pub fn new(
        params: Arc<PlanParams>,
        bridge: Arc<Bridge>,
        host: Option<GuiContext>,
        levels: Levels,
        stages: Stages,
    ) -> Self {
        let controls = params.all.iter().map(control).collect();
        bridge.choose_meter(params.view.get().meter.0);
        let settings = config_folder();
        Self {
            library: Library::new(settings.as_deref()),
            remembered: rig_file::load(settings.as_deref()),
            params,
            bridge,
            host,
            levels,
            stages,
            controls,
            memory: RefCell::default(),
        }
    }

    fn with<T>(&self, i: usize, act: impl FnOnce(&dyn Ask) -> T) -> Option<T> {
        self.params
            .all
            .get(i)
            .map(|parameter| match &parameter.value {
                ParamKind::Float(param) => act(param),
                ParamKind::Int(param) => act(param),
                ParamKind::Bool(param) => act(param),
            })
    }
}

/// The part of the framework's parameters that does not depend on their kind.
trait Ask {
    fn normalized(&self) -> f32;
    fn default(&self) -> f32;
    fn text(&self, normalized: f32) -> String;
    fn parse(&self, text: &str) -> Option<f32>;
}

impl<P: Param> Ask for P {
    fn normalized(&self) -> f32 {
        self.unmodulated_normalized_value()
    }

    fn default(&self) -> f32 {
        self.default_normalized_value()
    }

    fn text(&self, normalized: f32) -> String {
        self.normalized_value_to_string(normalized, true)
    }

    fn parse(&self, text: &str) -> Option<f32> {
        self.string_to_normalized_value(text)
    }
}

fn control(parameter: &Parameter) -> Control {
    let row = parameter.row;
    let section = match row.group {
        Group::Send => Section::Send,
        Group::Pad => Section::Pad,
        Group::Preamp => Section::Preamp,
        Group::Return => Section::Return,
        Group::Rig => Section::Rig,
        Group::Plugin => Section::Top,
    };
    // The section's title stands above its controls. In the rig it is part of the name.
    let prefix = format!("{} ", section.title());
    let short = row.name.strip_prefix(&prefix).unwrap_or(row.name);
    let kind = match &row.kind {
        _ if own::of_list(row.role).is_some_and(|(place, _)| place > 0) => Kind::Listed,
        RowKind::Number {
            min, max, skewed, ..
        } => match own::of_list(row.role) {
            Some((_, count)) => Kind::List(count),
            None => Kind::Continuous {
                // One notch: half a dB, or a hundredth of a skewed range.
                step: if *skewed {
                    0.01
                } else {
                    (0.5 / (max - min)) as f32
                },
            },
        },
        RowKind::Choice { words, .. } => Kind::Steps(words.clone()),
        RowKind::Flag { .. } => Kind::Toggle,
    };
    Control {
        id: row.id,
        section,
        label: capital(own::list_name(row.role).unwrap_or(short)),
        help: consequence(row.id).map_or_else(|| capital(row.help), str::to_owned),
        detail: is_detail(row.id),
        kind,
    }
}

/// What a pad, or a rig, is seldom asked for.
fn is_detail(id: &str) -> bool {
    matches!(
        id,
        "pad.loss_kind" | "pad.in_exact" | "pad.in_ohms" | "pad.parts"
    ) || id.starts_with("pad.resistor_")
        || id.starts_with("rig.") && id.ends_with(".right_db")
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().into_iter().flat_map(char::to_uppercase);
    first.chain(letters).collect()
}

impl Desk for PluginDesk {
    fn controls(&self) -> &[Control] {
        &self.controls
    }

    fn normalized(&self, i: usize) -> f32 {
        self.with(i, |param| param.normalized()).unwrap_or_default()
    }

    fn default_normalized(&self, i: usize) -> f32 {
        self.with(i, |param| param.default()).unwrap_or_default()
    }

    fn text(&self, i: usize, normalized: f32) -> String {
        self.with(i, |param| param.text(normalized))
            .unwrap_or_default()
    }

    fn parse(&self, i: usize, text: &str) -> Option<f32> {
        let (plan, _) = self.params.plan();
        let id = self.controls.get(i)?.id;
        let number = typed::reading(id, text, &plan);
        let text = number.map_or_else(|| text.to_owned(), |number| format!("{number:.3}"));
        self.with(i, |param| param.parse(&text)).flatten()
    }

    fn is_absent(&self, i: usize) -> bool {
        let role = self.params.all.get(i).map(|parameter| parameter.row);
        role.is_some_and(|row| own::is_absent(&self.params, row))
    }

    fn stops(&self, i: usize) -> Option<Stops> {
        own::stops(&self.params, i, |at| self.text(i, at))
    }

    fn list_text(&self, i: usize) -> String {
        own::list_text(&self.params, i)
    }

    fn parse_list(&self, i: usize, text: &str) -> Result<Vec<(usize, f32)>, String> {
        own::parse_list(&self.params, i, text)
    }

    fn idle(&self, i: usize) -> Option<&'static str> {
        let id = self.controls.get(i)?.id;
        let (plan, _) = self.params.plan();
        let of_pad = id.starts_with("pad.") && id != "pad.network";
        if of_pad && plan.pad.network == Network::None {
            return Some("No effect now: there is no pad.");
        }
        let places = [
            "pad.resistor_1_ohms",
            "pad.resistor_2_ohms",
            "pad.resistor_3_ohms",
        ];
        match places.iter().position(|place| *place == id) {
            Some(place) if place >= plan.pad.network.positions() => {
                return Some("No effect now: this network has fewer resistors.");
            }
            Some(_) if plan.pad.owned.list().is_empty() => {
                return Some("No effect now: the pad is designed until every resistor is there.");
            }
            None if of_pad && !plan.pad.owned.list().is_empty() => {
                return Some("No effect now: you own the pad.");
            }
            _ => {}
        }
        match (id, plan.pad.input) {
            ("pad.in_ohms", Input::AtLeast(_)) => {
                Some("No effect now: the load is a minimum, not exact.")
            }
            ("pad.in_ohms_min", Input::Exact(_)) => {
                Some("No effect now: the load is exact, not a minimum.")
            }
            _ => None,
        }
    }

    fn plan(&self) -> Plan {
        self.params.plan().0
    }

    fn choices(&self, plan: &Plan) -> Vec<(usize, f32)> {
        self.params.choices(plan)
    }

    fn library(&mut self) -> Option<&mut Library> {
        Some(&mut self.library)
    }

    fn rig_memory(&self) -> RigMemory {
        match &self.remembered {
            Remembered::Nothing => RigMemory::Nothing,
            Remembered::Rig(_) => RigMemory::Kept,
            Remembered::Damaged(why) => RigMemory::Damaged(why.clone()),
        }
    }

    fn remember_rig(&mut self) -> Result<String, String> {
        let settings = config_folder();
        let before = match &self.remembered {
            Remembered::Rig(rig) => **rig,
            Remembered::Nothing | Remembered::Damaged(_) => Plan::default().rig,
        };
        let plan = self.params.rig_over(before);
        let kept = rig_file::save(settings.as_deref(), &plan)?;
        self.remembered = rig_file::load(settings.as_deref());
        let kept = kept.map_or_else(String::new, |path| {
            format!(" The damaged file is now {}.", path.display())
        });
        Ok(format!("Remembered for new instances.{kept}"))
    }

    fn remembered_rig(&self) -> Vec<(usize, f32)> {
        match &self.remembered {
            Remembered::Rig(rig) => self.params.rig(**rig),
            Remembered::Nothing | Remembered::Damaged(_) => Vec::new(),
        }
    }

    fn begin(&mut self, i: usize) {
        if let (Some(parameter), Some(host)) = (self.params.all.get(i), &self.host) {
            // SAFETY: the pointer is into the parameters that this desk keeps alive.
            unsafe { host.raw_begin_set_parameter(parameter.pointer()) };
        }
    }

    fn set(&mut self, i: usize, normalized: f32) {
        if let (Some(parameter), Some(host)) = (self.params.all.get(i), &self.host) {
            // SAFETY: as above.
            unsafe { host.raw_set_parameter_normalized(parameter.pointer(), normalized) };
        }
    }

    fn end(&mut self, i: usize) {
        if let (Some(parameter), Some(host)) = (self.params.all.get(i), &self.host) {
            // SAFETY: as above.
            unsafe { host.raw_end_set_parameter(parameter.pointer()) };
        }
    }

    fn readout(&self) -> Readout {
        let (plan, _) = self.params.plan();
        self.levels.ask(&plan);
        let found = self.levels.found();
        let mut memory = self.memory.borrow_mut();
        let Memory { still, listener } = &mut *memory;
        if still.as_ref().is_none_or(|still| still.plan != plan) {
            *still = Some(Still::of(&plan));
            listener.plan_changed();
        }
        let Some(still) = still else {
            return Readout::default();
        };
        let heard = self.bridge.read();
        let own = still.own.as_ref();
        let reading = own.map_or(heard, |gains| own::instead(&plan, gains, heard));
        listener.listen(&reading, self.bridge.loudness.read());
        let stages = self.stages.found();
        let point = |point: Point| self.point(point, &plan, &reading);
        Readout {
            points: Point::ALL.map(point),
            searching: found.diagram.is_some() && !found.complete,
            notes: self.notes(still, listener, &found),
            holds_loudest: listener.heard().peak.is_some(),
            hardest: stages.as_deref().and_then(hardest).unwrap_or_default(),
            stages,
            measures_loudness: self.bridge.loudness.wanted(),
            loudness: loudness_remark(&plan, &listener.heard()).map(|remark| self.note(&remark)),
            settling: listener.is_settling(),
            phantom: PHANTOM.to_owned(),
            load: self.bridge.load.read(),
            diagram: found.diagram,
            overs: reading.overs,
            clipped_send_frames: reading.clipped.send_frames,
            clipped_return_frames: reading.clipped.return_frames,
            pad_requested: still.requested.clone(),
            pad_built: still.built.clone(),
            error: self.bridge.faulted().then(|| {
                format!(
                    "the circuit has failed and is left out, the bus passes on unchanged ({})",
                    self.bridge.fault()
                )
            }),
            latency_frames: self.bridge.latency_frames.load(Ordering::Relaxed),
            sample_rate_hz: f64::from(self.bridge.sample_rate_hz.load(Ordering::Relaxed)),
            channels: self.bridge.channels.load(Ordering::Relaxed),
            bypassed: self.params.bypassed(),
        }
    }

    fn meter(&self) -> MeterKind {
        self.bridge.meter()
    }

    fn set_meter(&mut self, kind: MeterKind) {
        self.bridge.choose_meter(kind);
        self.params.view.change(|view| view.meter = Meter(kind));
    }

    fn clear_clips(&mut self) {
        self.bridge.clear_clips();
    }

    fn forget_loudest(&mut self) {
        self.memory.borrow_mut().listener = Listener::default();
    }

    fn ask_stages(&mut self, peaks: &Peaks) {
        if peaks.iter().any(Option::is_some) {
            self.stages.ask(&self.params.plan().0, peaks);
        }
    }

    fn measure_loudness(&mut self, on: bool) {
        self.bridge.loudness.want(on);
    }

    fn tone(&self) -> Tone {
        self.params.tone.get()
    }

    fn set_tone(&mut self, tone: Tone) {
        self.params.tone.set(tone);
    }

    fn view(&self) -> View {
        self.params.view.get()
    }

    fn set_view(&mut self, view: View) {
        self.params.view.put(view);
    }
}

impl PluginDesk {
    fn point(&self, point: Point, plan: &Plan, reading: &crate::bridge::Reading) -> PointReadout {
        let full_scale = match point {
            Point::Bus => Some(plan.rig.send_full_scale),
            Point::Return => Some(plan.rig.return_full_scale),
            _ => None,
        };
        // At the digital points the figures are of full scale.
        let scale = full_scale.map_or(1.0, |full_scale| full_scale.peak().0);
        PointReadout {
            name: point.name(),
            label: point.label(),
            rms_volts: f64::from(reading.rms[point as usize]) * scale,
            peak_volts: f64::from(reading.peak[point as usize]) * scale,
            meter_volts: f64::from(reading.sine[point as usize]) * scale,
            held_volts: f64::from(reading.held[point as usize]) * scale,
            dc_volts: f64::from(reading.dc[point as usize]) * scale,
            full_scale_volts: full_scale.map(|full_scale| full_scale.volts().0),
        }
    }

    /// What is said of plan and programme, warnings first.
    fn notes(&self, still: &Still, listener: &Listener, found: &Found) -> Vec<Note> {
        let mut remarks = still.remarks.clone();
        remarks.extend(self.params.older_model().map(|saved| {
            Remark::caution(format!(
                "Saved with model version {saved}; it sounds through version \
                 {NEWEST_MODEL_VERSION}, the only one there is."
            ))
        }));
        // A diagram that is not this plan's yet says nothing of it.
        let diagram = found.diagram.as_ref().filter(|_| !listener.is_settling());
        let path = still.path.as_ref();
        remarks.extend(programme_remarks(
            &still.plan,
            path,
            diagram,
            &listener.heard(),
        ));
        remarks.sort_by_key(|remark| !remark.unwise);
        remarks.iter().map(|remark| self.note(remark)).collect()
    }

    fn note(&self, remark: &Remark) -> Note {
        let step = remark.step.as_ref().and_then(|step| {
            let i = self.params.index_of_key(step.key)?;
            let to = self.with(i, |param| param.parse(&step.value)).flatten()?;
            Some((i, to))
        });
        Note {
            text: remark.text.clone(),
            unwise: remark.unwise,
            step,
        }
    }
}
