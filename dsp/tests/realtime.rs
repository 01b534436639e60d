//! No `process` allocates: every path of the signal code under an allocator that aborts on use.

use assert_no_alloc::{AllocDisabler, assert_no_alloc};
use penstock_dsp::chain::{Chain, Point};
use penstock_dsp::circuit::GAIN_STEPS_DB;
use penstock_dsp::diagram::{LevelDiagram, LimitKind};
use penstock_dsp::meter::{
    Loudness, Meter, MeterKind, MetersAlong, PeakMeter, PointMeter, Ppm, PpmType, Rms, TruePeak, Vu,
};
use penstock_dsp::oversample::Oversampling;
use penstock_dsp::pad::Network;
use penstock_dsp::plan::Plan;
use penstock_dsp::statistics::StatisticsMeter;
use penstock_dsp::units::{Db, SampleRate};

#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

/// Programme, overload, silence, and what must never arrive.
fn hostile(frames: usize) -> Vec<f64> {
    (0..frames)
        .map(|n| match n / (frames / 4) {
            0 => 0.5 * (n as f64 * 0.13).sin(),
            1 => 100.0 * (n as f64 * 0.7).sin(),
            2 => 0.0,
            _ => [f64::NAN, f64::INFINITY, -1e300, 1e-310, 1.0][n % 5],
        })
        .collect()
}

fn run(plan: &Plan, rate_hz: f64, oversampling: Oversampling) {
    let rate = SampleRate::new(rate_hz).expect("a served rate");
    let mut chain = Chain::prepare(plan, rate, 2, oversampling).expect("a pad that can be built");
    let mut meter = PointMeter::prepare(plan, oversampling.factor(rate));
    let (mut left, mut right) = (hostile(1000), hostile(1000));
    assert_no_alloc(|| {
        // Blocks shorter and longer than the chain's own.
        let mut from = 0;
        for size in [1, 2, 63, 64, 65, 805] {
            let to = from + size;
            chain.process(&mut [&mut left[from..to], &mut right[from..to]], &mut meter);
            from = to;
        }
        assert_eq!(from, 1000);
        chain.reset();
    });
    for samples in [&left, &right] {
        // Largest swing of the circuit over the return's full scale, with room: 300 V supply.
        assert!(
            samples
                .iter()
                .all(|sample| sample.is_finite() && sample.abs() < 100.0)
        );
    }
    assert!(
        meter
            .levels(0)
            .iter()
            .all(|level| level.volts.0.is_finite())
    );
}

#[test]
fn no_path_allocates_and_everything_stays_finite() {
    for oversampling in Oversampling::ALL {
        for rate_hz in [44_100.0, 48_000.0, 192_000.0] {
            run(&Plan::default(), rate_hz, oversampling);
        }
    }
}

#[test]
fn the_hottest_settings_neither_allocate_nor_escape() {
    for gain_db in GAIN_STEPS_DB {
        for network in [Network::U, Network::None] {
            for attenuator_db in [0.0, 20.0] {
                let mut plan = Plan::default();
                plan.preamp.gain = Db(gain_db);
                plan.preamp.attenuator = Db(attenuator_db);
                plan.pad.network = network;
                plan.rig.converters_clip = gain_db < 40.0;
                run(&plan, 48_000.0, Oversampling::One);
            }
        }
    }
}

#[test]
fn reset_is_as_new() {
    let rate = SampleRate::new(48_000.0).expect("a served rate");
    let fresh = |chain: &mut Chain| {
        let mut audio: Vec<f64> = (0..500).map(|n| (f64::from(n) * 0.2).sin()).collect();
        chain.process(&mut [&mut audio], &mut ());
        audio
    };
    let plan = Plan::default();
    let mut chain = Chain::prepare(&plan, rate, 1, Oversampling::Four).expect("a pad");
    let first = fresh(&mut chain);
    assert_ne!(first, fresh(&mut chain));
    chain.reset();
    assert_eq!(first, fresh(&mut chain));
}

#[test]
fn silence_from_the_start_is_silence() {
    let rate = SampleRate::new(48_000.0).expect("a served rate");
    for gain_db in GAIN_STEPS_DB {
        let mut plan = Plan::default();
        plan.preamp.gain = Db(gain_db);
        let mut chain = Chain::prepare(&plan, rate, 1, Oversampling::Four).expect("a pad");
        let mut audio = vec![0.0; 48_000];
        chain.process(&mut [&mut audio], &mut ());
        // The operating point is settled before the first sample: no thump above -180 dBFS.
        let peak = audio
            .iter()
            .fold(0.0_f64, |peak, sample| peak.max(sample.abs()));
        assert!(peak < 1e-9, "{gain_db} dB: {peak}");
    }
}

#[test]
fn statistics_of_a_programme_allocate_nothing_while_it_runs() {
    let (plan, rate) = (
        Plan::default(),
        SampleRate::new(44_100.0).expect("a served rate"),
    );
    let diagram = LevelDiagram::of_plan(&plan).expect("a pad");
    let limits = [diagram.limits(), diagram.limits()];
    let setting = Oversampling::One;
    let mut chain = Chain::prepare(&plan, rate, 2, setting).expect("a pad");
    let mut meter = StatisticsMeter::prepare(&plan, rate, 2, setting, &limits);
    let (mut left, mut right) = (hostile(200_000), hostile(200_000));
    assert_no_alloc(|| chain.process(&mut [&mut left, &mut right], &mut meter));
    let found = meter.read();
    assert!(found.points().all(|(_, point)| point.peak.0.is_finite()));
    let bus = &found.sides[1].as_ref().expect("a right channel")[0];
    // A quarter of it is a sine of 40 dB over full scale: every sample but a few is clipped.
    let clip = bus
        .above
        .iter()
        .find(|above| above.limit.kind == LimitKind::Clip);
    let seconds = clip.expect("converters clip").seconds;
    assert!((1.0..2.5).contains(&seconds), "{seconds}");
}

/// The unit's return has a filter of its own; inside our circuit nothing is known.
#[test]
fn nor_do_those_of_an_own_preamplifier() {
    let mut plan = Plan::default();
    for set in ["rig.preamp.kind=own", "preamp.gain_db=45"] {
        plan.assign(set).expect("a plan");
    }
    let rate = SampleRate::new(44_100.0).expect("a served rate");
    let limits = [
        LevelDiagram::of_plan(&plan).expect("a pad").limits(),
        Default::default(),
    ];
    let setting = Oversampling::Two;
    let mut chain = Chain::prepare(&plan, rate, 2, setting).expect("a pad");
    let mut meters = (
        PointMeter::prepare(&plan, setting.factor(rate)),
        StatisticsMeter::prepare(&plan, rate, 2, setting, &limits),
    );
    let (mut left, mut right) = (hostile(8_000), hostile(8_000));
    assert_no_alloc(|| chain.process(&mut [&mut left, &mut right], &mut meters));
    let found = meters.1.read();
    for (_, point) in found.points() {
        let is_inside = matches!(
            point.point,
            Point::TransformerIn | Point::Grid1 | Point::Grid2
        );
        assert_eq!(point.is_there(), !is_inside);
        assert_eq!(point.peak.0.is_finite(), !is_inside);
    }
}

/// Loudness that is kept for a report may grow; what is shown live may not.
#[test]
fn no_meter_allocates_or_loses_its_head() {
    let rate = SampleRate::new(48_000.0).expect("a served rate");
    let samples = hostile(4_000);
    let mut meters: Vec<Box<dyn Meter>> = vec![
        Box::new(PeakMeter::prepare(rate, 1.0)),
        Box::new(TruePeak::prepare()),
        Box::new(Rms::prepare(rate, 0.3)),
        Box::new(Vu::prepare(rate)),
        Box::new(Ppm::prepare(PpmType::I, rate)),
        Box::new(Ppm::prepare(PpmType::IIa, rate)),
    ];
    let mut loudness = Loudness::prepare(rate, 2, true);
    assert_no_alloc(|| {
        for _ in 0..100 {
            for meter in &mut meters {
                meter.process(&samples);
            }
            loudness.process(&[&samples, &samples]);
        }
        meters.iter_mut().for_each(|meter| meter.reset());
        loudness.reset();
    });
    // Every meter at every point, changed while it runs.
    let mut along = MetersAlong::prepare(MeterKind::Peak, rate, 4, 2);
    let plan = Plan::default();
    let mut chain = Chain::prepare(&plan, rate, 2, Oversampling::Four).expect("a pad");
    let (mut left, mut right) = (hostile(1000), hostile(1000));
    assert_no_alloc(|| {
        for kind in MeterKind::ALL {
            along.set(kind, 4);
            chain.process(&mut [&mut left, &mut right], &mut along);
            let readings = along.take(0).into_iter().chain(along.take(1)).flatten();
            for reading in readings {
                assert!(reading.now.is_finite() && reading.most.is_finite());
            }
        }
        along.reset();
    });
    let mut vu = Vu::prepare(rate);
    vu.process(&samples);
    assert!(vu.reading().is_finite());
}
