//! The dsp chain driven by a list of changes, without plugin or host: what a host must hear.

use penstock::params::PlanParams;
use penstock_dsp::chain::Chain;
use penstock_dsp::oversample::Oversampling;
use penstock_dsp::plan::Plan;
use penstock_dsp::units::SampleRate;

use crate::equal::BOUND;
use crate::host::Audio;

/// A gain step from a frame of a run on: `(frame, decibels)`.
pub type Move = (usize, f64);

/// A chain that begins with the plugin's defaults, but for what is assigned.
pub struct Driven {
    chain: Chain,
    plan: Plan,
    oversampling: Oversampling,
}

impl Driven {
    /// At rest.
    ///
    /// # Panics
    /// When the rate is none that is served, or an assignment (`KEY=VALUE`) none that is taken.
    #[must_use]
    pub fn new(rate_hz: u32, channels: usize, assignments: &[&str]) -> Self {
        let (mut plan, oversampling) = PlanParams::default().plan();
        for assignment in assignments {
            plan.assign(assignment).expect("a key and its value");
        }
        let rate = SampleRate::new(f64::from(rate_hz)).expect("a served rate");
        let chain = Chain::prepare(&plan, rate, channels, oversampling).expect("the default pad");
        Self {
            chain,
            plan,
            oversampling,
        }
    }

    /// Audio through it, moves (sorted by frame) where they fall; bounded as the plugin bounds.
    ///
    /// # Panics
    /// When a move names no gain step.
    #[must_use]
    pub fn run(&mut self, audio: &Audio, moves: &[Move]) -> Audio {
        let wide = |samples: &Vec<f32>| samples.iter().map(|x| f64::from(*x)).collect();
        let mut audio: Vec<Vec<f64>> = audio.iter().map(wide).collect();
        let frames = audio[0].len();
        let mut from = 0;
        for (at, gain_db) in moves {
            self.pass(&mut audio, from, *at);
            from = *at;
            let assignment = format!("preamp.gain_db={gain_db}");
            self.plan.assign(&assignment).expect("a gain step");
            self.chain.set(&self.plan, self.oversampling);
        }
        self.pass(&mut audio, from, frames);
        let bound = f64::from(BOUND);
        let narrow = |samples: &Vec<f64>| {
            let bounded = samples.iter().map(|x| x.clamp(-bound, bound) as f32);
            bounded.collect()
        };
        audio.iter().map(narrow).collect()
    }

    fn pass(&mut self, audio: &mut [Vec<f64>], from: usize, to: usize) {
        let pieces = audio.iter_mut().map(|samples| &mut samples[from..to]);
        let mut pieces: Vec<&mut [f64]> = pieces.collect();
        self.chain.process(&mut pieces, &mut ());
    }
}
