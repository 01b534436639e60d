//! The circuit in time: one implicit step a sample.
//!
//! A step is mostly known beforehand: what the exact linear part makes of the state, of the EMF and of
//! what it left of the currents at the two samples before. Only the currents' newest rest is solved
//! for, from where a straight line through the last two leads; almost always the slopes there do for
//! the rest of the way. Otherwise, and when a tube goes to another region, the careful way is taken.

use super::apart::Apart;
use super::equations::{CONTROLS, PORTS, Ports, STATES, Setup, UNKNOWNS};
use super::group::{CHUNK, Group};
use super::lanes::{self, Portable};
use super::model::EMF_SAMPLES;
use super::network::{Column, Network, ROWS, STATE_ROWS};
use super::noise::Hiss;
use super::unrest::Unrest;
use super::ways::Paired;

/// The EMF at T1 is bounded, so that everything behind it is: in volts. No line output gives more (the
/// hottest full scale of a plan is 34.6 V peak).
const MOST_EMF_VOLTS: f64 = 50.0;
/// A circuit is at rest when no state is further off, in volts, milliamperes or milliwebers: gain and
/// output are those of rest to -140 dB.
const AT_REST: f64 = 1e-7;
/// A circuit for each channel, all set alike.
#[derive(Clone, Debug)]
pub(super) struct Solver {
    network: Box<Network>,
    channels: Vec<Channel>,
}

/// One channel.
#[derive(Clone, Debug)]
pub(super) struct Channel {
    pub(super) now: State,
    pub(super) hiss: Option<Hiss>,
    seed: u64,
}

/// Where a channel is.
#[derive(Clone, Copy, Debug)]
#[repr(align(32))]
pub(super) struct State {
    /// Deviation from rest, without what the newest rest of the currents adds.
    pub(super) known: Column,
    /// What noise adds in this step.
    pub(super) kick: Column,
    /// Controls of the last sample and of the one before it, beyond rest.
    pub(super) v: [[f64; CONTROLS]; 2],
    /// What the exact step left of the currents there, and one before.
    pub(super) left: [[f64; PORTS]; 3],
    /// Slopes there, by tube; those of the models when they are not known yet.
    pub(super) slopes: [[f64; 5]; 2],
    /// EMF samples, oldest first.
    pub(super) emf: [f64; EMF_SAMPLES],
    /// Place of the last sample, and of the model that stepped to it.
    pub(super) place: usize,
    pub(super) used: usize,
    pub(super) unrest: Unrest,
}

const AT_THE_POINT: State = State {
    known: [0.0; ROWS],
    kick: [0.0; ROWS],
    v: [[0.0; CONTROLS]; 2],
    left: [[0.0; PORTS]; 3],
    slopes: [[0.0; 5]; 2],
    emf: [0.0; EMF_SAMPLES],
    place: 0,
    used: 0,
    unrest: Unrest::CALM,
};

/// Voltages that follow from a sample, beyond rest.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Seen {
    pub(crate) grid_1: f64,
    pub(crate) grid_2: f64,
    pub(crate) out: f64,
    pub(crate) primary: f64,
    pub(crate) emf: f64,
}

impl Solver {
    /// At rest; the step in seconds. The channels' noises differ.
    pub(super) fn prepare(setup: &Setup, seconds: f64, noise: bool, channels: usize) -> Self {
        let channel = |seed: usize| Channel {
            now: AT_THE_POINT,
            hiss: None,
            seed: seed as u64,
        };
        let mut solver = Self {
            network: Box::new(Network::prepare(setup, seconds)),
            channels: (0..channels).map(channel).collect(),
        };
        solver.hiss(setup, seconds, noise);
        solver
    }

    /// As if it were prepared anew. Never allocates.
    pub(super) fn set(&mut self, setup: &Setup, seconds: f64, noise: bool) {
        *self.network = Network::prepare(setup, seconds);
        self.hiss(setup, seconds, noise);
        self.reset();
    }

    fn hiss(&mut self, setup: &Setup, seconds: f64, noise: bool) {
        let equations = &self.network.equations;
        let hiss = noise.then(|| Hiss::prepare(equations, setup, seconds, 0));
        for channel in &mut self.channels {
            channel.hiss.clone_from(&hiss);
            channel.seed_noise(channel.seed);
        }
    }

    /// Begins the noise of a seed, on the first channel; the others follow in order.
    pub(super) fn seed_noise(&mut self, seed: u64) {
        for (n, channel) in (0..).zip(&mut self.channels) {
            channel.seed_noise(seed.wrapping_add(n));
        }
    }

    /// Back to the operating point.
    pub(super) fn reset(&mut self) {
        for channel in &mut self.channels {
            channel.reset();
        }
    }

    /// Goes on where another circuit is, set differently: what its capacitors, leakages and cores
    /// hold beyond rest goes over. The EMF now counts `ratio` times. Never allocates.
    pub(super) fn adopt(&mut self, other: &Self, ratio: f64) {
        for (own, from) in self.channels.iter_mut().zip(&other.channels) {
            own.adopt(&self.network, from, &other.network, ratio);
        }
    }

    /// What is known of the states of a channel, in their own order.
    pub(super) fn held(&self, channel: usize) -> [f64; STATES] {
        let known = &self.channels[channel].now.known;
        STATE_ROWS.map(|row| known[row])
    }

    /// Goes on from these. What follows from the states is found in the next step.
    pub(super) fn hold(&mut self, channel: usize, states: &[f64; STATES]) {
        let known = &mut self.channels[channel].now.known;
        for (row, state) in STATE_ROWS.into_iter().zip(states) {
            known[row] = *state;
        }
    }

    /// Whether so little is left of what was that putting it to rest changes nothing that follows.
    pub(super) fn is_at_rest(&self) -> bool {
        let small = |values: &[f64]| values.iter().all(|value| value.abs() < AT_REST);
        self.channels.iter().all(|channel| {
            channel.hiss.is_none() && small(&channel.now.known) && small(&channel.now.emf)
        })
    }

    /// Every unknown at rest.
    pub(super) fn rest(&self) -> &[f64; UNKNOWNS] {
        &self.network.rest
    }

    /// Currents, slopes and laws at rest.
    pub(super) fn rest_ports(&self) -> Ports {
        self.network.equations.ports_at(&self.network.rest)
    }

    /// As many steps as there are values of EMF in each of N channels, one or two, from number `first`
    /// on; `each` is given, in blocks, the place of the channel, that of the block's first step, the voltages
    /// after the steps, and the values, which are of [`super::model::LOOK_AHEAD`] samples after a step's
    /// end, to be replaced. Channels that are not there are left alone.
    #[inline]
    pub(super) fn run<const N: usize>(
        &mut self,
        first: usize,
        samples: &mut [&mut [f64]; N],
        mut each: impl FnMut(usize, usize, &[Seen], &mut [f64]),
    ) {
        let frames = samples
            .iter()
            .map(|samples| samples.len())
            .min()
            .unwrap_or(0);
        let Some(channels) = self.channels.get_mut(first..first + N) else {
            return;
        };
        let mut emf = [[0.0; CHUNK]; N];
        let mut seen = [[Seen::default(); CHUNK]; N];
        for from in (0..frames).step_by(CHUNK) {
            let steps = CHUNK.min(frames - from);
            for (emf, samples) in emf.iter_mut().zip(&*samples) {
                emf[..steps].copy_from_slice(&samples[from..from + steps]);
            }
            self.network.run(channels, &emf, &mut seen, steps);
            for (c, (samples, seen)) in samples.iter_mut().zip(&seen).enumerate() {
                each(c, from, &seen[..steps], &mut samples[from..from + steps]);
            }
        }
    }
}

impl Network {
    /// Steps one channel or two, by the code that this processor runs.
    fn run(
        &self,
        channels: &mut [Channel],
        emf: &[[f64; CHUNK]],
        seen: &mut [[Seen; CHUNK]],
        steps: usize,
    ) {
        #[cfg(target_arch = "x86_64")]
        if self.avx2 {
            #[expect(unsafe_code, reason = "the processor has what `lanes::avx2` looks for")]
            unsafe {
                self.run_avx2(channels, emf, seen, steps);
            }
            return;
        }
        self.run_in::<Portable>(channels, emf, seen, steps);
    }

    #[cfg(target_arch = "x86_64")]
    #[target_feature(enable = "avx2,fma")]
    fn run_avx2(
        &self,
        channels: &mut [Channel],
        emf: &[[f64; CHUNK]],
        seen: &mut [[Seen; CHUNK]],
        steps: usize,
    ) {
        self.run_in::<lanes::Avx2>(channels, emf, seen, steps);
    }

    #[inline(always)]
    fn run_in<L: Apart>(
        &self,
        channels: &mut [Channel],
        emf: &[[f64; CHUNK]],
        seen: &mut [[Seen; CHUNK]],
        steps: usize,
    ) {
        if let (Some(channels), Some(emf), Some(seen)) = (
            channels.first_chunk_mut::<2>(),
            emf.first_chunk(),
            seen.first_chunk_mut(),
        ) {
            self.steps::<L, 2>(channels, emf, seen, steps);
        } else if let (Some(channels), Some(emf), Some(seen)) = (
            channels.first_chunk_mut::<1>(),
            emf.first_chunk(),
            seen.first_chunk_mut(),
        ) {
            self.steps::<L, 1>(channels, emf, seen, steps);
        }
    }

    #[inline(always)]
    fn steps<L: Apart, const N: usize>(
        &self,
        channels: &mut [Channel; N],
        emf: &[[f64; CHUNK]; N],
        seen: &mut [[Seen; CHUNK]; N],
        steps: usize,
    ) {
        let mut group = Group::<L, N>::of(channels);
        for (to, from) in group.emf.iter_mut().zip(emf) {
            for (to, from) in to[EMF_SAMPLES - 1..].iter_mut().zip(&from[..steps]) {
                *to = bounded(*from);
            }
        }
        let mut room = Paired::NONE;
        for n in 0..steps {
            for (kick, channel) in group.kick.iter_mut().zip(&mut *channels) {
                if let Some(hiss) = &mut channel.hiss {
                    *kick = hiss.next();
                }
            }
            let now = group.step(self, n, &mut room);
            for (seen, now) in seen.iter_mut().zip(now) {
                seen[n] = now;
            }
        }
        group.give_back(channels, steps);
    }
}

impl Channel {
    fn seed_noise(&mut self, seed: u64) {
        self.seed = seed;
        if let Some(hiss) = &mut self.hiss {
            hiss.seed(seed);
        }
    }

    pub(super) fn reset(&mut self) {
        self.now = AT_THE_POINT;
        self.seed_noise(self.seed);
    }

    fn adopt(&mut self, network: &Network, other: &Self, others: &Network, ratio: f64) {
        self.now = State {
            emf: other.now.emf.map(|emf| bounded(emf * ratio)),
            // The other's noise may be on, and this one's off.
            kick: [0.0; ROWS],
            ..other.now
        };
        network.go_on(self, others);
        self.seed_noise(other.seed);
        if let (Some(own), Some(other)) = (&mut self.hiss, &other.hiss) {
            own.adopt(other);
        }
    }
}

/// An EMF that the circuit takes.
#[inline(always)]
pub(super) fn bounded(emf: f64) -> f64 {
    if emf.is_finite() {
        emf.clamp(-MOST_EMF_VOLTS, MOST_EMF_VOLTS)
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Both codes on the same sound, from quiet to absurd: alike to -120 dB.
    #[test]
    fn every_processor_sounds_alike() {
        if !lanes::avx2() {
            println!("no AVX2 here, or forbidden: nothing to compare");
            return;
        }
        for (step, volts) in [(2, 0.01), (2, 0.1), (6, 0.1), (0, 3.0)] {
            let setup = Setup {
                source_ohms: 150.0,
                load_ohms: 10_000.0,
                step,
            };
            let mut one = Solver::prepare(&setup, 1.0 / 384e3, false, 1);
            let mut other = one.clone();
            other.network.avx2 = false;
            other.network.find_rest();
            let (mut off, mut all) = (0.0, 0.0);
            for n in 0..100_000 {
                let t = f64::from(n) / 384e3;
                let tone = |hz: f64| (std::f64::consts::TAU * hz * t).sin();
                let emf = volts * (tone(61.0) + tone(997.0) + tone(7_919.0)) / 3.0;
                let (mut a, mut b) = ([emf], [emf]);
                one.run(0, &mut [&mut a], |_, _, seen, to| to[0] = seen[0].out);
                other.run(0, &mut [&mut b], |_, _, seen, to| to[0] = seen[0].out);
                let ([a], [b]) = (a, b);
                off += (a - b) * (a - b);
                all += a * a;
            }
            let db = 10.0 * f64::log10(off / all);
            println!("step {step}, {volts} V: {db:.1} dB");
            assert!(db < -120.0, "step {step}, {volts} V: {db} dB");
        }
    }
}
