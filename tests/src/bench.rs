//! The preamplifier on the bench: tones in steady state and bursts, measured in the time domain.
//!
//! A tone's harmonics are found by a coherent Fourier sum over whole periods under a Hann window,
//! which keeps what still settles slowly (bias, coupling) out of them.

use std::f64::consts::{SQRT_2, TAU};

use penstock_dsp::circuit::{GAIN_LOAD_OHMS, Preamp, Settings, Taps};
use penstock_dsp::units::{Db, Ohms};
use realfft::num_complex::Complex64;

/// Rate of the bench: 48 kHz eightfold.
pub const RATE_HZ: f64 = 384_000.0;
/// Volts of 0 dBu, effective (IEC 60268-2: 1 mW in 600 ohm).
pub const DBU_VOLTS: f64 = 0.774_596_669_241_483_4;
/// Harmonics measured, the fundamental included.
pub const HARMONICS: usize = 10;
/// Periods in a window of measurement at least.
const PERIODS: usize = 3;
/// Windows are not shorter than this, so that settling can be seen from one to the next.
const WINDOW_SECONDS: f64 = 0.05;
/// A tone that has not settled after this is not measured.
const MOST_SECONDS: f64 = 20.0;

/// The settings of the data sheet: 150 ohm source, attenuator off, 10 kohm load.
#[must_use]
pub fn stated(gain_db: f64) -> Settings {
    Settings {
        source: Ohms(150.0),
        attenuator: false,
        gain: Db(gain_db),
        load: Ohms(GAIN_LOAD_OHMS),
        noise: false,
    }
}

/// A ratio of voltages in decibels.
#[must_use]
pub fn decibels(ratio: f64) -> f64 {
    20.0 * ratio.log10()
}

/// Peak volts of a sine at a level in dBu.
#[must_use]
pub fn peak_volts(dbu: f64) -> f64 {
    SQRT_2 * DBU_VOLTS * 10f64.powf(dbu / 20.0)
}

/// A tone in steady state; peak volts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tone {
    /// The output's fundamental, second harmonic and so on.
    pub out: [f64; HARMONICS],
    /// Phase of the output's second harmonic against twice that of the fundamental, in degrees from
    /// -180 to 180: one tube that flattens the upper half-waves and one that flattens the lower are
    /// 180 degrees apart.
    pub second_degrees: f64,
    /// Fundamental at the terminals.
    pub mic_in: f64,
    /// Fundamental at T1's primary.
    pub transformer_in: f64,
    /// Fundamental at V1's grid.
    pub grid_1: f64,
    /// Fundamental at V2's grid.
    pub grid_2: f64,
}

impl Tone {
    /// Level of the fundamental at the output.
    #[must_use]
    pub fn dbu(&self) -> f64 {
        decibels(self.out[0] / SQRT_2 / DBU_VOLTS)
    }

    /// A harmonic by its order, in percent of the fundamental.
    #[must_use]
    pub fn percent(&self, order: usize) -> f64 {
        100.0 * self.out[order - 1] / self.out[0]
    }

    /// Harmonics 2 to 10 together, in percent of the fundamental.
    #[must_use]
    pub fn thd_percent(&self) -> f64 {
        let squares: f64 = self.out[1..].iter().map(|volts| volts * volts).sum();
        100.0 * squares.sqrt() / self.out[0]
    }

    /// Whether little has moved since the window before: each harmonic by less than a share of them
    /// all (or by less than -120 dB), the fundamental by less than a tenth of that share.
    fn is_settled(&self, before: &Self, share: f64) -> bool {
        let moved = |n: usize| (self.out[n] - before.out[n]).abs();
        let harmonics = self.thd_percent() / 100.0 * self.out[0];
        moved(0) < 0.1 * share * self.out[0]
            && (1..HARMONICS).all(|n| moved(n) < share * harmonics + 1e-6 * self.out[0])
    }
}

/// A preamplifier that is fed tones.
#[derive(Clone, Debug)]
pub struct Bench {
    preamp: Preamp,
}

impl Bench {
    /// At rest.
    #[must_use]
    pub fn new(settings: &Settings) -> Self {
        Self {
            preamp: Preamp::prepare(settings, RATE_HZ),
        }
    }

    /// One sample of EMF in volts.
    pub fn feed(&mut self, emf: f64) -> Taps {
        self.preamp.process(emf)
    }

    /// Plays a sine until its harmonics move by less than a part in 3000 of them all from one window
    /// to the next, and measures it; nothing is reset before.
    ///
    /// # Panics
    /// When it does not settle, or the frequency does not fit the rate.
    #[must_use]
    pub fn tone(&mut self, hz: f64, emf_peak: f64) -> Tone {
        self.tone_within(hz, emf_peak, 3e-4)
    }

    fn tone_within(&mut self, hz: f64, emf_peak: f64, share: f64) -> Tone {
        let mut before = self.window(hz, emf_peak);
        for _ in 0..(MOST_SECONDS / WINDOW_SECONDS) as usize {
            let now = self.window(hz, emf_peak);
            if now.is_settled(&before, share) {
                return now;
            }
            before = now;
        }
        panic!("{hz} Hz with {emf_peak} V does not settle: {before:?}");
    }

    /// The tone with its output at a level in dBu, to 0.01 dB; and the EMF for it.
    ///
    /// # Panics
    /// When the preamplifier cannot give that level.
    #[must_use]
    pub fn at_output(&mut self, hz: f64, dbu: f64, first_emf_peak: f64) -> (Tone, f64) {
        let mut emf_peak = first_emf_peak;
        for _ in 0..12 {
            let tone = self.tone(hz, emf_peak);
            let off = dbu - tone.dbu();
            if off.abs() < 0.01 {
                return (tone, emf_peak);
            }
            emf_peak *= 10f64.powf(off.clamp(-30.0, 12.0) / 20.0);
        }
        panic!("no {dbu} dBu at {hz} Hz");
    }

    /// The levels in dBu of a sine whose distortion rises to these percents, in ascending order, to
    /// 0.03 dB: sought upwards from an EMF that gives less than the first.
    ///
    /// # Panics
    /// When the first EMF gives more already, or 60 dB more still do not.
    #[must_use]
    pub fn dbu_at_thd<const N: usize>(
        &mut self,
        hz: f64,
        percents: [f64; N],
        first_emf_peak: f64,
    ) -> [f64; N] {
        // Decibels of EMF, logarithm of the distortion, level out.
        let mut measure = |decibels: f64, share: f64| {
            let emf_peak = first_emf_peak * 10f64.powf(decibels / 20.0);
            let tone = self.tone_within(hz, emf_peak, share);
            (decibels, tone.thd_percent().ln(), tone.dbu())
        };
        let mut low = measure(0.0, 1e-2);
        percents.map(|percent| {
            let wanted = percent.ln();
            assert!(low.1 < wanted, "more than {percent} % from the beginning");
            let mut high = measure(low.0 + 3.0, 1e-2);
            while high.1 < wanted {
                assert!(high.0 < 60.0, "never {percent} %");
                low = high;
                high = measure(high.0 + 3.0, 1e-2);
            }
            let line =
                |low: (f64, f64, f64), high: (f64, f64, f64)| (wanted - low.1) / (high.1 - low.1);
            while high.0 - low.0 > 0.1 {
                // Along the line, but off the ends, so that both of them close in.
                let share = line(low, high).clamp(0.2, 0.8);
                let middle = measure(low.0 + share * (high.0 - low.0), 1e-3);
                if (middle.1 - wanted).abs() < 0.003 {
                    return middle.2;
                }
                if middle.1 < wanted {
                    low = middle;
                } else {
                    high = middle;
                }
            }
            low.2 + (high.2 - low.2) * line(low, high)
        })
    }

    /// Plays one window and measures it, settled or not.
    fn window(&mut self, hz: f64, emf_peak: f64) -> Tone {
        let (frames, turns) = whole(hz);
        let in_time = (WINDOW_SECONDS * RATE_HZ / frames as f64).ceil() as usize;
        let length = frames * in_time.max(PERIODS.div_ceil(turns));
        let circle: Vec<Complex64> = (0..frames)
            .map(|n| Complex64::from_polar(1.0, TAU * n as f64 / frames as f64))
            .collect();
        let mut sums = [Complex64::default(); HARMONICS + 4];
        for n in 0..length {
            let turn = n * turns % frames;
            let taps = self.feed(emf_peak * circle[turn].im);
            let hann = 1.0 - (TAU * n as f64 / length as f64).cos();
            let mut place = 0;
            for sum in &mut sums[..HARMONICS] {
                place += turn;
                place -= if place >= frames { frames } else { 0 };
                *sum += circle[place].conj() * (hann * taps.preamp_out);
            }
            let others = [taps.mic_in, taps.transformer_in, taps.grid_1, taps.grid_2];
            for (sum, volts) in sums[HARMONICS..].iter_mut().zip(others) {
                *sum += circle[turn].conj() * (hann * volts);
            }
        }
        let volts = sums.map(|sum| 2.0 * sum.norm() / length as f64);
        Tone {
            out: std::array::from_fn(|n| volts[n]),
            second_degrees: (sums[1] / (sums[0] * sums[0])).arg().to_degrees(),
            mic_in: volts[HARMONICS],
            transformer_in: volts[HARMONICS + 1],
            grid_1: volts[HARMONICS + 2],
            grid_2: volts[HARMONICS + 3],
        }
    }
}

/// The least number of samples that holds whole periods, and how many.
fn whole(hz: f64) -> (usize, usize) {
    for turns in 1..=100 {
        let frames = turns as f64 * RATE_HZ / hz;
        if (frames - frames.round()).abs() < 1e-9 {
            return (frames.round() as usize, turns);
        }
    }
    panic!("{hz} Hz does not fit {RATE_HZ} Hz");
}
