//! The window's view of the plugin: parameters through the host's gestures, levels from the bridge.

use crate::advice::{PHANTOM, alignment_remarks, pad_remarks};
use crate::bridge::Bridge;
use crate::editor::{Control, Desk, Kind, PointReadout, Readout, Section, View, consequence};
use crate::levels::Levels;
use crate::params::{Group, ParamKind, Parameter, PlanParams, RowKind};
use crate::tone::Tone;
use crate::typed;
use nice_plug::context::gui::GuiContext;
use nice_plug::prelude::Param;
use penstock_dsp::chain::{Point, build_nearest};
use penstock_dsp::meter::MeterKind;
use penstock_dsp::pad::{Input, LossKind, Network, Pad};
use penstock_dsp::plan::{NEWEST_MODEL_VERSION, Plan};
use std::sync::Arc;
use std::sync::atomic::Ordering;

/// The plugin as its window sees it.
pub struct PluginDesk {
    params: Arc<PlanParams>,
    bridge: Arc<Bridge>,
    host: GuiContext,
    levels: Levels,
    controls: Vec<Control>,
}

impl PluginDesk {
    /// For one opening of the window.
    #[must_use]
    pub fn new(
        params: Arc<PlanParams>,
        bridge: Arc<Bridge>,
        host: GuiContext,
        levels: Levels,
    ) -> Self {
        let controls = params.all.iter().map(control).collect();
        Self {
            params,
            bridge,
            host,
            levels,
            controls,
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
        RowKind::Number {
            min, max, skewed, ..
        } => Kind::Continuous {
            // One notch: half a dB, or a hundredth of a skewed range.
            step: if *skewed {
                0.01
            } else {
                (0.5 / (max - min)) as f32
            },
        },
        RowKind::Choice { words, .. } => Kind::Steps(words.clone()),
        RowKind::Flag { .. } => Kind::Toggle,
    };
    Control {
        id: row.id,
        section,
        label: capital(short),
        help: consequence(row.id).map_or_else(|| capital(row.help), str::to_owned),
        detail: is_detail(row.id),
        kind,
    }
}

/// What a pad is seldom asked for.
fn is_detail(id: &str) -> bool {
    matches!(
        id,
        "pad.loss_kind" | "pad.in_exact" | "pad.in_ohms" | "pad.parts"
    ) || id.starts_with("pad.resistor_")
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

    fn begin(&mut self, i: usize) {
        if let Some(parameter) = self.params.all.get(i) {
            // SAFETY: the pointer is into the parameters that this desk keeps alive.
            unsafe { self.host.raw_begin_set_parameter(parameter.pointer()) };
        }
    }

    fn set(&mut self, i: usize, normalized: f32) {
        if let Some(parameter) = self.params.all.get(i) {
            // SAFETY: as above.
            unsafe {
                self.host
                    .raw_set_parameter_normalized(parameter.pointer(), normalized);
            }
        }
    }

    fn end(&mut self, i: usize) {
        if let Some(parameter) = self.params.all.get(i) {
            // SAFETY: as above.
            unsafe { self.host.raw_end_set_parameter(parameter.pointer()) };
        }
    }

    fn readout(&self) -> Readout {
        let (plan, _) = self.params.plan();
        let reading = self.bridge.read();
        self.levels.ask(&plan);
        let found = self.levels.found();
        let (build, _) = build_nearest(&plan);
        let mut notes = pad_remarks(&plan);
        notes.extend(alignment_remarks(&plan));
        notes.extend(self.params.older_model().map(|saved| {
            format!(
                "Saved with model version {saved}; it sounds through version \
                 {NEWEST_MODEL_VERSION}, the only one there is."
            )
        }));
        if reading.clipped.return_frames > 0 {
            notes.push(format!(
                "The return converter clipped in {} frames.",
                reading.clipped.return_frames
            ));
        }
        notes.push(PHANTOM.to_owned());
        let point = |point: Point| self.point(point, &plan, &reading);
        Readout {
            points: Point::ALL.map(point),
            searching: found.diagram.is_some() && !found.complete,
            diagram: found.diagram,
            overs: reading.overs,
            clipped_send_frames: reading.clipped.send_frames,
            clipped_return_frames: reading.clipped.return_frames,
            pad_requested: requested(&plan),
            pad_built: built(&plan, &build.as_built, build.load),
            notes,
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
    }

    fn clear_clips(&mut self) {
        self.bridge.clear_clips();
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
}

fn requested(plan: &Plan) -> String {
    let pad = &plan.pad;
    match pad.network {
        Network::None => String::new(),
        network if !pad.owned.list().is_empty() => format!("{}, your own", network.name()),
        network => format!(
            "{} {} dB {}",
            network.name(),
            pad.loss.0,
            pad.loss_kind.name()
        ),
    }
}

fn built(plan: &Plan, pad: &Pad, load: penstock_dsp::units::Ohms) -> String {
    let network = pad.network();
    if network == Network::None {
        return "straight in".to_owned();
    }
    let resistor = |(position, ohms): (usize, &f64)| {
        let ohms = if ohms.is_finite() {
            format!("{} ohm", rounded(*ohms))
        } else {
            "open".to_owned()
        };
        match (network.count(position), network.position_name(position)) {
            (2, _) => format!("2 x {ohms}"),
            (_, name) if name.starts_with("shunt") => format!("shunt {ohms}"),
            _ => ohms,
        }
    };
    let resistors: Vec<String> = pad.values().iter().enumerate().map(resistor).collect();
    format!(
        "{}: {:.2} dB, in {:.0} ohm, out {:.0} ohm",
        resistors.join(", "),
        pad.loss(LossKind::Loaded, plan.rig.source, load).0,
        pad.in_ohms(load).0,
        pad.out_ohms(plan.rig.source).0
    )
}

/// A resistor's value with at most two decimals.
fn rounded(ohms: f64) -> f64 {
    (ohms * 100.0).round() / 100.0
}
