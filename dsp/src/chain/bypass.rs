//! The way around the chain: equally late, faded.

use super::ramp::{Ramp, eased};
use super::{FADE_SECONDS, GRID_FRAMES};
use crate::units::SampleRate;

/// Delays the bus by the chain's latency and fades between it and what comes back.
#[derive(Clone, Debug)]
pub struct Bypass {
    /// The bus, one ring a channel.
    rings: Vec<Vec<f64>>,
    at: usize,
    /// Share of the bus in what is heard.
    share: Ramp,
    wanted: bool,
    fade_frames: u32,
    clock_frames: u64,
}

impl Bypass {
    /// For a latency in frames; allocates.
    #[must_use]
    pub fn prepare(rate: SampleRate, channels: usize, latency_frames: usize, on: bool) -> Self {
        Self {
            rings: vec![vec![0.0; latency_frames.max(1)]; channels],
            at: 0,
            share: Ramp::at(f64::from(u8::from(on))),
            wanted: on,
            fade_frames: (rate.hz() * FADE_SECONDS).round() as u32,
            clock_frames: 0,
        }
    }

    /// Asks for the way around, or through, from the next grid frame on.
    pub fn set(&mut self, on: bool) {
        self.wanted = on;
    }

    /// Forgets the bus; where it fades it is there.
    pub fn reset(&mut self) {
        self.rings.iter_mut().for_each(|ring| ring.fill(0.0));
        self.at = 0;
        self.clock_frames = 0;
        self.share = Ramp::at(f64::from(u8::from(self.wanted)));
    }

    /// Mixes the delayed bus into what came back, in place. Never allocates.
    pub fn process(&mut self, bus: &[&mut [f64]], back: &mut [&mut [f64]]) {
        let frames = back.iter().map(|samples| samples.len()).min().unwrap_or(0);
        for frame in 0..frames {
            if self.clock_frames.is_multiple_of(GRID_FRAMES as u64) {
                let target = f64::from(u8::from(self.wanted));
                self.share.head_for(target, self.fade_frames);
            }
            self.clock_frames += 1;
            let share = eased(self.share.next());
            for ((ring, bus), back) in self.rings.iter_mut().zip(bus).zip(back.iter_mut()) {
                let late = std::mem::replace(&mut ring[self.at], bus[frame]);
                let through = back[frame];
                back[frame] = through * (1.0 - share) + late * share;
            }
            self.at = (self.at + 1) % self.rings.first().map_or(1, Vec::len);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn around_is_the_bus_exactly_and_late() {
        let rate = SampleRate::new(48_000.0).expect("a served rate");
        let mut bypass = Bypass::prepare(rate, 1, 10, true);
        let mut bus: Vec<f64> = (0..50).map(f64::from).collect();
        let mut back = vec![1e3; 50];
        bypass.process(&[&mut bus], &mut [&mut back]);
        assert_eq!(back[..10], [0.0; 10]);
        assert_eq!(back[10..], bus[..40]);
    }

    #[test]
    fn it_fades_in_ten_milliseconds_from_the_grid() {
        let rate = SampleRate::new(48_000.0).expect("a served rate");
        let mut bypass = Bypass::prepare(rate, 1, 1, false);
        let mut run = |on: bool, frames: usize| {
            bypass.set(on);
            let (mut bus, mut back) = (vec![0.0; frames], vec![1.0; frames]);
            bypass.process(&[&mut bus], &mut [&mut back]);
            back
        };
        run(false, 33);
        let faded = run(true, 600);
        assert_eq!(faded[..31], [1.0; 31]);
        assert!((faded[31 + 239] - 0.5).abs() < 0.01);
        assert_eq!(faded[31 + 480], 0.0);
        assert!(
            faded
                .windows(2)
                // Steepest in the middle: 1.5 times the straight line.
                .all(|pair| (pair[0] - pair[1]).abs() < 1.51 / 480.0)
        );
    }
}
