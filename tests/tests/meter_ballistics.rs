//! VU and PPM: rise, overshoot, bursts and return, at every rate and any block size.
//!
//! Sources: VU: IEC 60268-17 (99 % in 300 ms, 10 % allowed; over by 1.0 to 1.5 %). PPM: IEC 60268-10 as in
//! EBU Tech 3205-E table 2 (Type II: readings, tolerances and return) and the DIN/Nordic table of Type I
//! (its tolerances from memory).

use penstock_dsp::meter::{Meter, Ppm, PpmType, Rms, Vu};
use penstock_dsp::units::SampleRate;
use std::f64::consts::TAU;

const RATES_HZ: [f64; 6] = [44_100.0, 48_000.0, 88_200.0, 96_000.0, 176_400.0, 192_000.0];
const BLOCKS: [usize; 5] = [1, 7, 64, 480, 4096];

fn rate(rate_hz: f64) -> SampleRate {
    SampleRate::new(rate_hz).expect("a served rate")
}

fn tone(rate_hz: f64, hz: f64, seconds: f64) -> Vec<f64> {
    (0..(seconds * rate_hz).round() as usize)
        .map(|n| (TAU * hz * n as f64 / rate_hz).sin())
        .collect()
}

#[test]
fn iec_60268_17_rise_and_overshoot() {
    for rate_hz in RATES_HZ {
        let mut meter = Vu::prepare(rate(rate_hz));
        let (mut reached, mut most) = (None, 0.0_f64);
        for (n, sample) in tone(rate_hz, 1_000.0, 2.0).into_iter().enumerate() {
            meter.process(&[sample]);
            let part = meter.reading() * 2f64.sqrt();
            most = most.max(part);
            if part >= 0.99 && reached.is_none() {
                reached = Some(n as f64 / rate_hz);
            }
        }
        let reached = reached.expect("99 %");
        let steady = meter.reading() * 2f64.sqrt();
        println!("{rate_hz} Hz: 99 % after {reached:.4} s, at most {most:.4}, steady {steady:.5}");
        assert!((0.27..=0.33).contains(&reached));
        assert!((1.010..=1.015).contains(&most));
        assert!((steady - 1.0).abs() < 0.001);
    }
}

/// Largest reading of a burst against the steady tone's, in dB.
fn burst_db(which: PpmType, rate_hz: f64, hz: f64, seconds: f64) -> f64 {
    let most = |seconds: f64| {
        let mut meter = Ppm::prepare(which, rate(rate_hz));
        let mut most = 0.0_f64;
        // A meter may look at samples late.
        for sample in tone(rate_hz, hz, seconds).into_iter().chain([0.0; 64]) {
            meter.process(&[sample]);
            most = most.max(meter.reading());
        }
        most
    };
    20.0 * (most(seconds) / most(3.0)).log10()
}

#[test]
fn iec_60268_10_bursts() {
    // Milliseconds, hertz, reading and what is allowed, in dB.
    let type_1 = [
        (10.0, 5_000.0, -1.0, 0.5),
        (5.0, 5_000.0, -2.0, 1.0),
        (3.0, 5_000.0, -4.0, 1.0),
        (0.4, 5_000.0, -15.0, 4.0),
    ];
    let type_2 = [
        (100.0, 5_000.0, 0.0, 0.5),
        (10.0, 5_000.0, -2.0, 0.5),
        (5.0, 5_000.0, -4.0, 0.75),
        (1.5, 5_000.0, -9.0, 1.0),
        (0.5, 10_000.0, -17.0, 2.0),
    ];
    for rate_hz in RATES_HZ {
        for (which, bursts) in [(PpmType::I, &type_1[..]), (PpmType::IIa, &type_2[..])] {
            for (ms, hz, want, allowed) in bursts {
                let got = burst_db(which, rate_hz, *hz, ms / 1e3);
                println!("{which:?}, {rate_hz} Hz, {ms} ms: {got:.2} dB, {want} +-{allowed}");
                assert!((got - want).abs() <= *allowed, "{which:?} {ms} ms: {got}");
            }
        }
    }
}

#[test]
fn iec_60268_10_return() {
    for rate_hz in RATES_HZ {
        for (which, fall_db, want) in [(PpmType::I, 20.0, 1.7), (PpmType::IIa, 24.0, 2.8)] {
            let mut meter = Ppm::prepare(which, rate(rate_hz));
            meter.process(&tone(rate_hz, 1_000.0, 1.0));
            let from = meter.reading();
            let mut samples = 0.0;
            while 20.0 * (meter.reading() / from).log10() > -fall_db {
                meter.process(&[0.0]);
                samples += 1.0;
            }
            let seconds = samples / rate_hz;
            println!("{which:?}, {rate_hz} Hz: {fall_db} dB in {seconds:.3} s, {want} +-0.3");
            assert!((seconds - want).abs() <= 0.3);
        }
    }
}

/// A steady tone reads the same whatever its frequency.
#[test]
fn a_programme_meter_is_flat() {
    for which in [PpmType::I, PpmType::IIa] {
        for hz in [40.0, 100.0, 1_000.0, 5_000.0, 16_000.0] {
            let mut meter = Ppm::prepare(which, rate(48_000.0));
            let mut most = 0.0_f64;
            for sample in tone(48_000.0, hz, 2.0) {
                meter.process(&[sample]);
                most = most.max(meter.reading());
            }
            let db = 20.0 * most.log10();
            println!("{which:?}, {hz} Hz: {db:.2} dB");
            assert!(db.abs() < 0.5);
        }
    }
}

/// AES17: a sine of full scale reads 0 dBFS; a square 3.01 dB more; crest and mean as they are.
#[test]
fn aes17_rms_crest_and_dc() {
    for rate_hz in RATES_HZ {
        let sine = tone(rate_hz, 997.0, 2.0);
        let square: Vec<f64> = sine.iter().map(|x| x.signum()).collect();
        let raised: Vec<f64> = sine.iter().map(|x| x + 0.25).collect();
        let read = |samples: &[f64]| {
            let mut meter = Rms::prepare(rate(rate_hz), 1.0);
            meter.process(samples);
            meter
        };
        let dbfs = |rms: f64| 20.0 * (rms * 2f64.sqrt()).log10();
        assert!(dbfs(read(&sine).rms()).abs() < 0.001);
        assert!((dbfs(read(&square).rms()) - 3.0103).abs() < 0.001);
        let crest = read(&sine).crest().expect("a sine");
        assert!((20.0 * crest.log10() - 3.0103).abs() < 0.001);
        assert!((read(&raised).dc() - 0.25).abs() < 0.001);
        assert!(read(&vec![0.0; sine.len()]).crest().is_none());
    }
}

#[test]
fn blocks_change_no_reading() {
    let mut random = 1_u64;
    let noise: Vec<f64> = (0..48_000)
        .map(|n| {
            random ^= random << 13;
            random ^= random >> 7;
            random ^= random << 17;
            let burst = if n / 6_000 % 2 == 0 { 1.0 } else { 0.01 };
            burst * ((random >> 11) as f64 / (1_u64 << 52) as f64 - 1.0)
        })
        .collect();
    let all: Vec<[f64; 5]> = BLOCKS
        .iter()
        .map(|block| {
            let rate = rate(48_000.0);
            let mut vu = Vu::prepare(rate);
            let mut ppm = Ppm::prepare(PpmType::IIa, rate);
            let mut rms = Rms::prepare(rate, 0.3);
            for chunk in noise.chunks(*block) {
                vu.process(chunk);
                ppm.process(chunk);
                rms.process(chunk);
            }
            [
                vu.reading(),
                ppm.reading(),
                rms.rms(),
                rms.dc(),
                rms.crest().unwrap_or(0.0),
            ]
        })
        .collect();
    for other in &all {
        for (a, b) in other.iter().zip(&all[0]) {
            assert!((a - b).abs() <= 1e-6 * b.abs(), "{a} and {b}");
        }
    }
}
