//! The circuit in time: one implicit step a sample.
//!
//! A step is mostly known beforehand: what the exact linear part makes of the state, of the EMF and of
//! what it left of the currents at the two samples before. Only the currents' newest rest is solved
//! for, from where a straight line through the last two leads; almost always the slopes there do for
//! the rest of the way. Otherwise, and when a tube goes to another region, the careful way is taken.

use super::currents::{Beyond, Slopes, left};
use super::equations::{CONTROLS, PORTS, Ports, Setup, UNKNOWNS};
use super::lanes::{self, Lanes, Portable};
use super::model::{EMF_SAMPLES, NOW};
use super::network::{CATHODE_1, Column, Model, Network, ROWS, STATE_ROWS};
use super::noise::Hiss;
use super::region;
use super::rows::{add, at, controls, lanes as lanes_of, led, stored, take, unrolled};

/// How near a way must lead so that the currents follow the controls in a straight line: by control,
/// in volts and milliwebers. Plates and cores' voltages count less.
const STRAIGHT: [[f64; 4]; 2] = [[3e-4, 1e-2, 3e-4, 1e-2], [3e-4, 3e-4, 1e-2, 1e-2]];
/// A way is known when one more term moves its end by no more than this share of that.
const KNOWN_SHARE: f64 = 3e-4;
/// Rounds of the quick way, and terms in each.
const QUICK_ROUNDS: usize = 3;
const QUICK_TERMS: usize = 2;
/// The EMF at T1 is bounded, so that everything behind it is: in volts. No line output gives more (the
/// hottest full scale of a plan is 34.6 V peak).
const MOST_EMF_VOLTS: f64 = 50.0;
/// A circuit is at rest when no state is further off, in volts, milliamperes or milliwebers: gain and
/// output are those of rest to -140 dB.
const AT_REST: f64 = 1e-7;
/// A grid that moves further in one step leaps: of V1, of V2.
const LEAP_VOLTS: [f64; 2] = [1.0, 2.0];

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
    hiss: Option<Hiss>,
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
    /// What the exact step left of the currents there.
    pub(super) left: [[f64; PORTS]; 2],
    /// EMF samples, oldest first.
    pub(super) emf: [f64; EMF_SAMPLES],
    /// Place of the last sample, and of the model that stepped to it.
    pub(super) place: usize,
    pub(super) used: usize,
    /// How many steps to here were leaps.
    pub(super) leaps: u32,
}

const AT_THE_POINT: State = State {
    known: [0.0; ROWS],
    kick: [0.0; ROWS],
    v: [[0.0; CONTROLS]; 2],
    left: [[0.0; PORTS]; 2],
    emf: [0.0; EMF_SAMPLES],
    place: 0,
    used: 0,
    leaps: 0,
};

/// Voltages that follow from a sample, beyond rest.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Seen {
    pub(super) grid_1: f64,
    pub(super) grid_2: f64,
    pub(super) out: f64,
    pub(super) primary: f64,
    pub(super) emf: f64,
}

/// A step's solution.
#[derive(Clone, Copy, Debug)]
pub(super) struct Found {
    pub(super) known: Column,
    pub(super) v: [f64; CONTROLS],
    pub(super) left: [f64; PORTS],
    pub(super) slopes: Slopes,
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

    /// As many steps as there are values of EMF in each of N channels, from number `first` on; every
    /// value, of [`super::model::LOOK_AHEAD`] samples after a step's end, is replaced by what `each`
    /// makes of the place of the channel, of the sample, and of the voltages after it. Channels that are
    /// not there are left alone.
    #[inline]
    pub(super) fn run<const N: usize>(
        &mut self,
        first: usize,
        samples: &mut [&mut [f64]; N],
        each: impl FnMut(usize, usize, Seen) -> f64,
    ) {
        let Some(channels) = self.channels.get_mut(first..) else {
            return;
        };
        if let Some(channels) = channels.first_chunk_mut::<N>() {
            self.network.run(channels, samples, each);
        }
    }
}

impl Network {
    /// Steps channels together: their computations are independent, so that the processor does one
    /// while the other waits for its own results.
    #[inline]
    fn run<const N: usize>(
        &self,
        channels: &mut [Channel; N],
        samples: &mut [&mut [f64]; N],
        each: impl FnMut(usize, usize, Seen) -> f64,
    ) {
        #[cfg(target_arch = "x86_64")]
        if self.avx2 {
            #[expect(unsafe_code, reason = "the processor has what `lanes::avx2` looks for")]
            unsafe {
                self.run_avx2(channels, samples, each);
            }
            return;
        }
        self.run_on::<Portable, N>(channels, samples, each);
    }

    #[cfg(target_arch = "x86_64")]
    #[target_feature(enable = "avx2,fma")]
    fn run_avx2<const N: usize>(
        &self,
        channels: &mut [Channel; N],
        samples: &mut [&mut [f64]; N],
        each: impl FnMut(usize, usize, Seen) -> f64,
    ) {
        self.run_on::<lanes::Avx2, N>(channels, samples, each);
    }

    #[inline(always)]
    fn run_on<L: Lanes, const N: usize>(
        &self,
        channels: &mut [Channel; N],
        samples: &mut [&mut [f64]; N],
        mut each: impl FnMut(usize, usize, Seen) -> f64,
    ) {
        let frames = samples
            .iter()
            .map(|samples| samples.len())
            .min()
            .unwrap_or(0);
        for n in 0..frames {
            for (c, (channel, samples)) in channels.iter_mut().zip(&mut *samples).enumerate() {
                let sample = &mut samples[n];
                *sample = each(c, n, channel.step::<L>(self, *sample));
            }
        }
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
        let from = &other.now;
        self.now = State {
            emf: from.emf.map(|emf| bounded(emf * ratio)),
            // The other's noise may be on, and this one's off.
            kick: [0.0; ROWS],
            ..*from
        };
        let model = network.model(from.used);
        for n in 0..2 {
            let (amps, _) = network.currents_here(&from.v[n]);
            self.now.left[n] = left(model, &from.v[n], &amps);
        }
        self.count_from(network, &other.state(others));
        self.seed_noise(other.seed);
        if let (Some(own), Some(other)) = (&mut self.hiss, &other.hiss) {
            own.adopt(other);
        }
    }

    /// Every row, complete.
    pub(super) fn state(&self, network: &Network) -> Column {
        let mut state = self.now.known;
        let model = network.model(self.now.used);
        for (share, column) in self.now.left[0].iter().zip(&model.by_ports[2]) {
            take(&mut state, *share, column);
        }
        state
    }

    /// The opposite of [`Channel::state`]: takes out of a complete state what the newest rest of the
    /// currents adds to it.
    pub(super) fn count_from(&mut self, network: &Network, state: &Column) {
        self.now.known = *state;
        let model = network.model(self.now.used);
        for (share, column) in self.now.left[0].iter().zip(&model.by_ports[2]) {
            take(&mut self.now.known, -share, column);
        }
    }

    #[inline(always)]
    fn step<L: Lanes>(&mut self, network: &Network, emf: f64) -> Seen {
        self.now.emf.copy_within(1.., 0);
        self.now.emf[EMF_SAMPLES - 1] = bounded(emf);
        if let Some(hiss) = &mut self.hiss {
            self.now.kick = hiss.next();
        }
        if self.now.leaps > 0 || !self.quick::<L>(network) {
            self.careful::<L>(network);
        }
        let model = network.model(self.now.used);
        let mut seen = at::<L>(&self.now.known, CATHODE_1);
        for (share, column) in self.now.left[0].iter().zip(&model.by_ports[2]) {
            seen = at::<L>(column, CATHODE_1).fma(L::splat(*share), seen);
        }
        let [cathode_1, cathode_2, out, primary] = seen.store();
        Seen {
            grid_1: self.now.v[0][0] + cathode_1,
            grid_2: self.now.v[0][2] + cathode_2,
            out,
            primary,
            emf: self.now.emf[NOW],
        }
    }

    #[inline(always)]
    pub(super) fn keep(&mut self, found: &Found) {
        let now = &mut self.now;
        now.known = found.known;
        now.v = [found.v, now.v[0]];
        now.left = [found.left, now.left[0]];
    }

    /// A step that stays in its region and needs few rounds; says whether it was one, and otherwise
    /// leaves everything as it was.
    #[inline(always)]
    fn quick<L: Lanes>(&mut self, network: &Network) -> bool {
        let now = &self.now;
        let model = network.model(now.used);
        let known = self.known_on::<L>(model);
        let mut of = [0.0; PORTS];
        for (n, of) in of.iter_mut().enumerate() {
            *of = 2.0 * now.left[0][n] - now.left[1][n];
        }
        let feedback = &model.by_ports[2];
        let mut v = led::<L>([known[0], known[1]], &of, feedback);
        for _ in 0..QUICK_ROUNDS {
            let at_v = controls(v);
            let (amps, slopes) = network.currents::<L>(&at_v);
            let mut left = left(model, &at_v, &amps);
            let mut news = left;
            for (news, of) in news.iter_mut().zip(&of) {
                *news -= of;
            }
            let miss = led::<L>([L::splat(0.0); 2], &news, feedback);
            let beyond = Beyond::<L>::of(&slopes, &model.slopes);
            let mut way = miss;
            let mut is_known = within::<L>(miss, KNOWN_SHARE);
            for _ in 0..QUICK_TERMS {
                if is_known {
                    break;
                }
                let next = led::<L>(miss, &beyond.amps(way), feedback);
                is_known = within::<L>([next[0].sub(way[0]), next[1].sub(way[1])], KNOWN_SHARE);
                way = next;
            }
            let more = if is_known {
                beyond.amps(way)
            } else {
                // The slopes are far from the model's: the series is no way to solve for it.
                let (move_by, more) = model.newton::<L>(&slopes, &controls(miss));
                way = lanes_of::<L>(&move_by);
                more
            };
            v = [v[0].add(way[0]), v[1].add(way[1])];
            for (left, more) in left.iter_mut().zip(&more) {
                *left += more;
            }
            if within::<L>(way, 1.0) {
                let v = controls(v);
                if self.place_of(network, &v, &slopes) != now.place || self.moved_far(&v) {
                    return false;
                }
                self.now.known = stored(known);
                self.now.v = [v, self.now.v[0]];
                self.now.left = [left, self.now.left[0]];
                return true;
            }
            // The next round counts from where these currents would lead.
            of = left;
            v = led::<L>([known[0], known[1]], &of, feedback);
        }
        false
    }

    /// What is known of the new state, when the model stays the same.
    #[inline(always)]
    fn known_on<L: Lanes>(&self, model: &Model) -> [L; 5] {
        let now = &self.now;
        // Two sums, so that one addition need not wait for the other. Loops would keep them in memory.
        let mut one: [L; 5] = std::array::from_fn(|n| at::<L>(&now.kick, 4 * n));
        let mut two = [L::splat(0.0); 5];
        unrolled!(N in 0 1 2 3 4 5 => add::<L>(&mut one, now.emf[N], &model.by_emf[N]));
        unrolled!(N in 0 1 2 3 4 5 => add::<L>(&mut two, now.left[1][N], &model.by_ports[0][N]));
        unrolled!(N in 0 1 2 3 4 5 6 => {
            add::<L>(&mut one, now.known[STATE_ROWS[N]], &model.by_state[N]);
        });
        unrolled!(N in 7 8 9 10 11 12 13 14 => {
            add::<L>(&mut two, now.known[STATE_ROWS[N]], &model.by_state[N]);
        });
        unrolled!(N in 0 1 2 => add::<L>(&mut one, now.left[0][N], &model.by_last[N]));
        unrolled!(N in 3 4 5 => add::<L>(&mut two, now.left[0][N], &model.by_last[N]));
        [
            one[0].add(two[0]),
            one[1].add(two[1]),
            one[2].add(two[2]),
            one[3].add(two[3]),
            one[4].add(two[4]),
        ]
    }

    /// Whether a grid has moved so far within the step that no slopes hold for all of it.
    #[inline(always)]
    pub(super) fn moved_far(&self, v: &[f64; CONTROLS]) -> bool {
        let before = &self.now.v[0];
        (v[0] - before[0]).abs() > LEAP_VOLTS[0] || (v[2] - before[2]).abs() > LEAP_VOLTS[1]
    }

    #[inline(always)]
    pub(super) fn place_of(
        &self,
        network: &Network,
        v: &[f64; CONTROLS],
        slopes: &Slopes,
    ) -> usize {
        let rest = &network.rest_controls;
        let inverse = &network.rest_inverse;
        region::place([
            (rest[0] + v[0], slopes.by_grid[0] * inverse[0]),
            (rest[2] + v[2], slopes.by_grid[2] * inverse[1]),
        ])
    }
}

/// An EMF that the circuit takes.
#[inline(always)]
fn bounded(emf: f64) -> f64 {
    if emf.is_finite() {
        emf.clamp(-MOST_EMF_VOLTS, MOST_EMF_VOLTS)
    } else {
        0.0
    }
}

/// Whether a way is shorter than a share of what is straight.
#[inline(always)]
fn within<L: Lanes>(way: [L; 2], share: f64) -> bool {
    let share = L::splat(share);
    let [one, two] = STRAIGHT;
    way[0].abs().all_less(L::load(&one).mul(share))
        && way[1].abs().all_less(L::load(&two).mul(share))
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
                one.run(0, &mut [&mut a], |_, _, seen| seen.out);
                other.run(0, &mut [&mut b], |_, _, seen| seen.out);
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
