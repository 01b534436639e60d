//! Everything that is true of one built pad, computed once for text, JSON and the sheet.

use super::PadArgs;
use super::job::{Built, Job};
use crate::cli::error::Failure;
use penstock_dsp::circuit::{GAIN_STEPS_DB, Settings, SmallSignal, equivalent_input_noise};
use penstock_dsp::pad::truth::{
    Cables, Hum, HumCase, Load, Noise, Phantom, Readings, Spread, hum, load, noise, phantom,
    readings, spread, transfer,
};
use penstock_dsp::pad::{LossKind, Network, Parts, Purchase};
use penstock_dsp::units::{Db, Dbfs, Dbu, Ohms};

/// Bus levels of the level test.
const TEST_DBFS: [f64; 2] = [-18.0, -6.0];
/// What our circuit gives at most: 3 % of distortion, by its data sheet.
const MOST_OUT_DBU: f64 = 26.0;
/// What parts are selected to when a pair shall match, in percent.
pub(super) const SELECTED_PERCENT: f64 = 0.1;

/// What is true of a pad between its source and its load.
pub(super) struct Facts {
    pub(super) tolerance_percent: f64,
    pub(super) spread: Spread,
    /// With parts selected to 0.1 %.
    pub(super) selected: Spread,
    pub(super) hum: Option<Hum>,
    pub(super) hum_tapped: Option<Hum>,
    pub(super) common_mode_ohms: f64,
    pub(super) cables: Cables,
    /// Frequencies in hertz and levels against 1 kHz in dB.
    pub(super) response: Vec<(f64, f64)>,
    pub(super) noise: Noise,
    /// Equivalent input noise of our circuit from this pad and from 150 ohm.
    pub(super) ein: Option<(Dbu, Dbu)>,
    /// At a steady full-scale sine.
    pub(super) load: Load,
    pub(super) unloaded: Dbu,
    pub(super) phantom: Phantom,
    pub(super) readings: Readings,
    pub(super) tests: [Test; 2],
    pub(super) remedy: Remedy,
    pub(super) choices: Vec<(Parts, Purchase)>,
}

/// What meters read at 1 kHz.
pub(super) struct Test {
    pub(super) bus: Dbfs,
    pub(super) line: Dbu,
    pub(super) mic: Dbu,
}

/// What puts a loss right that is not the one wanted.
pub(super) struct Remedy {
    /// Loss built less loss wanted.
    pub(super) off: Db,
    /// Send full scale with which the level at the preamplifier is as wanted.
    pub(super) send_full_scale: Dbu,
    /// The gain step that comes nearest, and the return trim for the rest.
    pub(super) gain: Db,
    pub(super) rest: Db,
}

impl Facts {
    pub(super) fn of(job: &Job, built: &Built, args: &PadArgs) -> Result<Self, Failure> {
        let pad = &built.build.as_built;
        let (source, load_ohms) = (built.request.source, built.request.load);
        let full_scale = if args.of_return {
            // What fills the converter behind it, but no more than a preamplifier gives.
            let fills =
                job.plan.rig.return_full_scale.0 + pad.loss(LossKind::Unloaded, source, load_ohms);
            Dbu(fills.0.min(MOST_OUT_DBU))
        } else {
            job.plan.rig.send_full_scale.0
        };
        let case = |centre_tapped| HumCase {
            source,
            load: load_ohms,
            common_mode: Ohms(args.common_mode_ohms),
            centre_tapped,
            share: args.tolerance_percent / 100.0,
        };
        let kind = built.request.kind;
        let spread_of = |percent: f64| spread(pad, kind, source, load_ohms, percent / 100.0);
        let at_full_scale = load(pad, full_scale.volts(), source, load_ohms);
        let cables = Cables {
            line_farads: args.line_cable_pf * 1e-12,
            mic_farads: args.mic_cable_pf * 1e-12,
        };
        Ok(Self {
            tolerance_percent: args.tolerance_percent,
            spread: spread_of(args.tolerance_percent),
            selected: spread_of(SELECTED_PERCENT),
            hum: hum(pad, &case(false)),
            hum_tapped: hum(pad, &case(true)),
            common_mode_ohms: args.common_mode_ohms,
            cables,
            response: response(job, built, cables),
            noise: noise(pad, source, load_ohms),
            ein: job.own_load.then(|| ein(job, pad.out_ohms(source))),
            unloaded: full_scale,
            tests: TEST_DBFS.map(|dbfs| {
                let emf = (full_scale + Db(dbfs)).volts();
                let driven = load(pad, emf, source, load_ohms);
                Test {
                    bus: Dbfs(dbfs),
                    line: Dbu::from_volts(driven.volts),
                    mic: Dbu::from_volts(driven.out),
                }
            }),
            load: at_full_scale,
            phantom: phantom(pad, source),
            readings: readings(pad),
            remedy: remedy(job, built),
            choices: choices(job, built)?,
        })
    }
}

/// Level at the preamplifier's terminals, ten frequencies a decade from 10 Hz to 100 kHz.
fn response(job: &Job, built: &Built, cables: Cables) -> Vec<(f64, f64)> {
    let settings = settings(job, built.build.as_built.out_ohms(built.request.source));
    let at = |hz: f64| {
        let impedance = if job.own_load {
            SmallSignal::at(&settings, hz).in_ohms
        } else {
            built.request.load.0.into()
        };
        let pad = &built.build.as_built;
        Db::from_ratio(transfer(pad, built.request.source, impedance, cables, hz).norm()).0
    };
    let stated = at(1000.0);
    let hz = |step: i32| 10f64.powf(1.0 + f64::from(step) / 10.0);
    (0..=40)
        .map(|step| (hz(step), at(hz(step)) - stated))
        .collect()
}

fn settings(job: &Job, source: Ohms) -> Settings {
    Settings {
        source,
        attenuator: job.plan.preamp.attenuator.0 > 0.0,
        gain: job.plan.preamp.gain,
        load: penstock_dsp::chain::return_load(&job.plan),
        noise: true,
    }
}

fn ein(job: &Job, out_ohms: Ohms) -> (Dbu, Dbu) {
    let from = |source| equivalent_input_noise(&settings(job, source));
    (from(out_ohms), from(Ohms(150.0)))
}

fn remedy(job: &Job, built: &Built) -> Remedy {
    let request = &built.request;
    let loss = built
        .build
        .as_built
        .loss(request.kind, request.source, request.load);
    let off = loss - request.loss;
    let wanted = job.plan.preamp.gain.0 + off.0;
    let nearest = GAIN_STEPS_DB
        .into_iter()
        .min_by(|a, b| (a - wanted).abs().total_cmp(&(b - wanted).abs()))
        .unwrap_or(wanted);
    Remedy {
        off,
        send_full_scale: job.plan.rig.send_full_scale.0 + off,
        gain: Db(nearest),
        rest: Db(wanted - nearest),
    }
}

/// What each way of choosing comes to: what perfection would cost.
fn choices(job: &Job, built: &Built) -> Result<Vec<(Parts, Purchase)>, Failure> {
    let network = built.request.network;
    if built.owned || network == Network::None || job.stock_name() == "ideal" {
        return Ok(Vec::new());
    }
    [Parts::Nearest, Parts::Single, Parts::Pair]
        .into_iter()
        .map(|parts| {
            let build = job.purchase(&built.request, &built.build.ideal, parts)?;
            Ok((parts, build.purchase))
        })
        .collect()
}
