//! Loudness of bus and return over the same stretch (ITU-R BS.1770), while the window asks for it: what the
//! loudness trim is made from. Whenever the plan changes it begins anew.

use penstock_dsp::meter::Loudness;
use penstock_dsp::plan::Plan;
use penstock_dsp::units::SampleRate;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};

/// A plan that has stood so long is measured: fades are over, a drag too.
const SETTLED_SECONDS: f64 = 0.5;
/// Between two figures.
const PUBLISH_SECONDS: f64 = 0.2;

/// What both sides reach.
#[derive(Debug, Default)]
pub struct Cells {
    wanted: AtomicBool,
    /// As bits of `f32`; seconds 0 while there is no figure.
    bus_lufs: AtomicU32,
    return_lufs: AtomicU32,
    seconds: AtomicU32,
}

/// One reading: bus and return in LUFS, and over how many seconds.
pub type Reading = ([f32; 2], f32);

impl Cells {
    /// Starts or stops it. From the window's thread.
    pub fn want(&self, wanted: bool) {
        self.wanted.store(wanted, Ordering::Relaxed);
    }

    /// Whether it runs.
    #[must_use]
    pub fn wanted(&self) -> bool {
        self.wanted.load(Ordering::Relaxed)
    }

    /// The latest figures, once there are any.
    #[must_use]
    pub fn read(&self) -> Option<Reading> {
        let [bus, back, seconds] = [&self.bus_lufs, &self.return_lufs, &self.seconds]
            .map(|cell| f32::from_bits(cell.load(Ordering::Relaxed)));
        (seconds > 0.0).then_some(([bus, back], seconds))
    }

    fn write(&self, reading: Option<Reading>) {
        let ([bus, back], seconds) = reading.unwrap_or_default();
        for (cell, value) in [
            (&self.bus_lufs, bus),
            (&self.return_lufs, back),
            (&self.seconds, seconds),
        ] {
            cell.store(value.to_bits(), Ordering::Relaxed);
        }
    }
}

/// Both meters on the audio thread.
pub struct Pair {
    bus: Loudness,
    back: Loudness,
    rate_hz: f64,
    plan: Option<Plan>,
    /// Since the plan last changed.
    settling_frames: usize,
    heard_frames: usize,
    unpublished_frames: usize,
    running: bool,
}

impl Pair {
    /// For a rate and one or two channels. Allocates.
    #[must_use]
    pub fn prepare(rate: SampleRate, channels: usize) -> Self {
        let meter = || Loudness::prepare(rate, channels, true);
        Self {
            bus: meter(),
            back: meter(),
            rate_hz: rate.hz(),
            plan: None,
            settling_frames: 0,
            heard_frames: 0,
            unpublished_frames: 0,
            running: false,
        }
    }

    /// Before a block: what is asked for, and through which plan. It ends with the window.
    pub fn attend(&mut self, cells: &Cells, plan: &Plan, open: bool) {
        if !open {
            cells.want(false);
        }
        let wanted = cells.wanted();
        if !wanted {
            if self.running {
                cells.write(None);
                self.running = false;
            }
            return;
        }
        if !self.running || self.plan != Some(*plan) {
            self.running = true;
            self.plan = Some(*plan);
            self.settling_frames = (SETTLED_SECONDS * self.rate_hz) as usize;
            self.heard_frames = 0;
            cells.write(None);
        }
    }

    /// What went in and what came back. Never allocates.
    pub fn process(&mut self, bus: &[&[f64]], back: &[&mut [f64]], cells: &Cells) {
        let frames = bus.first().map_or(0, |samples| samples.len());
        if !self.running {
            return;
        }
        if self.settling_frames > 0 {
            self.settling_frames = self.settling_frames.saturating_sub(frames);
            if self.settling_frames == 0 {
                self.bus.reset();
                self.back.reset();
            }
            return;
        }
        self.bus.process(bus);
        let mut planes: [&[f64]; crate::engine::CHANNELS] = [&[]; crate::engine::CHANNELS];
        for (plane, samples) in planes.iter_mut().zip(back) {
            *plane = samples;
        }
        self.back.process(&planes[..back.len()]);
        self.heard_frames += frames;
        self.unpublished_frames += frames;
        if self.unpublished_frames as f64 >= PUBLISH_SECONDS * self.rate_hz {
            self.unpublished_frames = 0;
            let both = [&self.bus, &self.back].map(Loudness::integrated_lufs);
            let seconds = (self.heard_frames as f64 / self.rate_hz) as f32;
            if let [Some(bus), Some(back)] = both {
                cells.write(Some(([bus as f32, back as f32], seconds)));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(pair: &mut Pair, cells: &Cells, plan: &Plan, blocks: usize, open: bool) {
        let bus: Vec<f64> = (0..480)
            .map(|n| (0.13 * f64::from(n)).sin() * 0.1)
            .collect();
        for _ in 0..blocks {
            let mut back: Vec<f64> = bus.iter().map(|sample| 2.0 * sample).collect();
            pair.attend(cells, plan, open);
            pair.process(&[&bus], &[&mut back], cells);
        }
    }

    /// Twice the volts are 6.02 LU more, whatever the programme (BS.1770 is linear before its logarithm).
    #[test]
    fn the_difference_is_the_gain_and_a_new_plan_begins_anew() {
        let cells = Cells::default();
        let mut plan = Plan::default();
        let mut pair = Pair::prepare(SampleRate::STUDIO, 1);
        run(&mut pair, &cells, &plan, 300, true);
        assert_eq!(cells.read(), None);
        cells.want(true);
        run(&mut pair, &cells, &plan, 300, true);
        let ([bus, back], seconds) = cells.read().expect("2.5 s are heard");
        assert!((back - bus - 6.02).abs() < 0.15, "{bus} {back}");
        assert!((2.0..=2.5).contains(&seconds), "{seconds}");
        plan.assign("return.trim_db=1").expect("a value");
        run(&mut pair, &cells, &plan, 2, true);
        assert_eq!(cells.read(), None);
        run(&mut pair, &cells, &plan, 200, true);
        assert!(cells.read().is_some());
        // With the window it ends.
        run(&mut pair, &cells, &plan, 1, false);
        assert!(cells.read().is_none() && !cells.wanted());
    }
}
