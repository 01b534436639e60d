//! The whole path under random plans that change at random moments, and random sound: nothing
//! allocates, every point stays within what source and supply allow, and after silence it rests exactly.
//!
//! `PENSTOCK_LONG` (set and not `0`) makes a minute of sound half an hour.

use assert_no_alloc::{AllocDisabler, assert_no_alloc};
use penstock_dsp::chain::{AnalogBlock, Chain, Observer};
use penstock_dsp::oversample::Oversampling;
use penstock_dsp::plan::{KEYS, Kind, Later, Plan, Value};
use penstock_dsp::units::SampleRate;

#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

/// No voltage of the output is larger: the supply's 300 V less than halved by T2, with room for what
/// its leakage and iron kick back.
const MOST_OUT_VOLTS: f64 = 150.0;
/// V1's grid: the largest EMF taken (50 V) times T1's turns, and as much again for its ringing.
const MOST_GRID_1_VOLTS: f64 = 2.0 * 8.0 * 50.0;
/// V2's grid follows V1's plate, which swings within the supply.
const MOST_GRID_2_VOLTS: f64 = 300.0;
/// Behind the converters: the largest output into the most sensitive return (0 dBu), the largest
/// trim (40 dB), and twice that for the half-bands' overshoot.
const MOST_SAMPLE: f64 = MOST_OUT_VOLTS / 1.095 * 100.0 * 2.0;
/// The longest silence until all has died away: from the largest sample to 1e-9 are 31 time
/// constants, of which the slowest is below 2 s.
const MOST_SILENCE_SECONDS: usize = 60;

/// splitmix64 (Steele, Lea, Flood, 2014).
struct Random(u64);

impl Random {
    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn below(&mut self, number: usize) -> usize {
        (self.bits() % number as u64) as usize
    }

    /// Any plan that the table of keys allows.
    fn plan(&mut self) -> Plan {
        let mut plan = Plan::default();
        // Noise never rests; it has tests of its own.
        for key in KEYS.iter().filter(|key| key.name != "preamp.noise") {
            let value = match (key.later, key.kind) {
                (Later::Nothing, Kind::Number { min, max }) => {
                    Value::Number(self.between(min, max))
                }
                (Later::Nothing, Kind::Steps(steps)) => {
                    Value::Number(steps[self.below(steps.len())])
                }
                (Later::Nothing, Kind::Words(words)) => {
                    Value::Word(words[self.below(words.len())].to_owned())
                }
                (Later::Nothing, Kind::Flag) => Value::Flag(self.below(2) == 1),
                _ => continue,
            };
            // Half of the keys keep their default: exact and least input impedance exclude each
            // other.
            if self.below(2) == 1 {
                (key.set)(&mut plan, &value);
            }
        }
        plan
    }

    /// A stretch of sound, of any kind and level.
    fn sound(&mut self, into: &mut Vec<f64>, rate_hz: f64) {
        let frames = (self.between(0.001, 0.4) * rate_hz) as usize;
        let level = 10.0_f64.powf(self.between(-6.0, 0.5));
        let turn = std::f64::consts::TAU * 10.0_f64.powf(self.between(0.7, 4.5)) / rate_hz;
        let every = 1 + self.below(3_000);
        const NEVER: [f64; 7] = [
            f64::NAN,
            f64::INFINITY,
            f64::NEG_INFINITY,
            1e30,
            -1e300,
            1e-310,
            0.0,
        ];
        let kind = self.below(8);
        into.clear();
        into.extend((0..frames).map(|n| match kind {
            0 => level * self.between(-1.0, 1.0),
            1 => level * (turn * n as f64).sin(),
            2 => level * (turn * n as f64).sin().signum(),
            3 if n % every == 0 => level,
            4 => NEVER[self.below(NEVER.len())],
            5 => [1e30, -1e30][n / every % 2],
            6 => level,
            _ => 0.0,
        }));
    }
}

/// The largest magnitudes at three points; infinite when one was not a number.
#[derive(Debug, Default)]
struct Most {
    grid_1: f64,
    grid_2: f64,
    out: f64,
}

fn larger(most: &mut f64, volts: f64) {
    let size = if volts.is_finite() {
        volts.abs()
    } else {
        f64::INFINITY
    };
    *most = most.max(size);
}

impl Observer for Most {
    fn bus(&mut self, _: usize, _: &[f64]) {}
    fn analog(&mut self, _: usize, block: &AnalogBlock<'_>) {
        block.each(|volts| {
            larger(&mut self.grid_1, volts.grid_1);
            larger(&mut self.grid_2, volts.grid_2);
            larger(&mut self.out, volts.preamp_out);
        });
    }
    fn back(&mut self, _: usize, _: &[f64]) {}
}

/// Whether the slow case is to run.
fn long() -> bool {
    std::env::var_os("PENSTOCK_LONG").is_some_and(|value| !value.is_empty() && value != "0")
}

fn fuzz(rate_hz: f64, seed: u64) {
    let seconds = if long() { 450.0 } else { 15.0 };
    let rate = SampleRate::new(rate_hz).expect("a served rate");
    let mut random = Random(seed);
    let mut chain = Chain::prepare_nearest(&Plan::default(), rate, 1, Oversampling::Four);
    let (mut most, mut sound) = (Most::default(), Vec::new());
    let (mut done, mut largest) = (0, 0.0_f64);
    while (done as f64) < seconds * rate_hz {
        random.sound(&mut sound, rate_hz);
        let (mut from, frames) = (0, sound.len());
        while from < frames {
            if random.below(12) == 0 {
                let plan = random.plan();
                let oversampling = Oversampling::ALL[random.below(4)];
                assert_no_alloc(|| chain.set(&plan, oversampling));
            }
            let to = frames.min(from + 1 + random.below(2_000));
            let block = &mut sound[from..to];
            assert_no_alloc(|| chain.process(&mut [block], &mut most));
            block
                .iter()
                .for_each(|sample| larger(&mut largest, *sample));
            let ok = most.out < MOST_OUT_VOLTS
                && most.grid_1 < MOST_GRID_1_VOLTS
                && most.grid_2 < MOST_GRID_2_VOLTS
                && largest < MOST_SAMPLE;
            assert!(
                ok,
                "{rate_hz} Hz, seed {seed}, frame {}: {most:?}, sample {largest}",
                done + from
            );
            from = to;
        }
        done += frames;
    }
    let silent_seconds = until_rest(&mut chain, rate_hz as usize);
    println!("{rate_hz} Hz: {most:?}, sample {largest:.1}, at rest after {silent_seconds} s");
}

/// Silence until what comes back is exactly nothing, in seconds.
fn until_rest(chain: &mut Chain, rate_hz: usize) -> usize {
    let mut second = vec![0.0; rate_hz];
    for seconds in 1..=MOST_SILENCE_SECONDS {
        second.fill(0.0);
        assert_no_alloc(|| chain.process(&mut [&mut second], &mut ()));
        if second.iter().all(|sample| *sample == 0.0) {
            return seconds;
        }
    }
    let peak = second.iter().fold(0.0_f64, |peak, s| peak.max(s.abs()));
    panic!("{rate_hz} Hz: {peak} after {MOST_SILENCE_SECONDS} s of silence");
}

#[test]
fn at_44_100() {
    fuzz(44_100.0, 1);
}

#[test]
fn at_48_000() {
    fuzz(48_000.0, 2);
}

#[test]
fn at_96_000() {
    fuzz(96_000.0, 3);
}

#[test]
fn at_192_000() {
    fuzz(192_000.0, 4);
}
