//! The circuit in time: one implicit step a sample.

use super::equations::{CONTROLS, DEPENDS, Equations, Laws, PORTS, Ports, STATES, Setup, UNKNOWNS};
use super::matrix::{Matrix, eliminate, eliminate_in_order};
use super::model::{EMF_SAMPLES, NOW, Output, StateSpace, Step, WIDE, widened};
use super::noise::Hiss;
use super::region::{self, PLACES};

/// Newton's method ends when no control moves by more, in volts (fluxes: milliwebers).
const TOLERANCE: f64 = 1e-3;
/// Below this the currents follow the controls in a straight line, to a hundred millionth.
const STRAIGHT: f64 = 3e-4;
/// Rounds at most; the worst input found needs fewer.
const MOST_ROUNDS: usize = 60;
/// The EMF at T1 is bounded, so that everything behind it is: in volts. No line output gives more (the
/// hottest full scale of a plan is 34.6 V peak).
const MOST_EMF_VOLTS: f64 = 50.0;
/// No state is larger, whatever happens.
const MOST_STATE: f64 = 1e7;
/// A circuit is at rest when no state is further off, in volts, milliamperes or milliwebers: gain and
/// output are those of rest to -140 dB.
const AT_REST: f64 = 1e-7;
/// A grid that moves further in one step leaps: of V1, of V2.
const LEAP_VOLTS: [f64; 2] = [1.0, 2.0];
/// The model in which no tube is part of the exact step.
const PASSIVE: usize = PLACES - 1;
/// The same, damped.
const DAMPED: usize = PLACES;
/// After so many leaps in a row it is the steps that swing, not the sound.
const SWINGS: u32 = 4;
/// No control moves further in one round of Newton's method.
const MOST_STEP: f64 = 50.0;

/// Slopes that are not always zero, in the order of [`DEPENDS`].
type Slopes = [f64; DEPENDS.len()];

/// One channel.
#[derive(Clone, Debug)]
pub(super) struct Solver {
    laws: Laws,
    /// Controls, currents and slopes at rest.
    rest_controls: [f64; CONTROLS],
    rest_amps: [f64; PORTS],
    rest_siemens: [f64; 2],
    rest: [f64; UNKNOWNS],
    /// By place of the tubes.
    models: [Model; PLACES + 1],
    /// Deviation from rest.
    state: [f64; WIDE],
    /// EMF samples, oldest first.
    emf: [f64; EMF_SAMPLES],
    /// Controls and currents of the last sample and of the one before it, beyond rest.
    v: [[f64; CONTROLS]; 2],
    amps: [[f64; PORTS]; 2],
    /// Place of the last sample, and of the model that stepped to it.
    place: usize,
    used: usize,
    /// How many steps to here were leaps.
    leaps: u32,
    hiss: Option<Hiss>,
    seed: u64,
    /// What noise adds in this step.
    kick: [f64; WIDE],
}

/// How to step at one place of the tubes.
#[derive(Clone, Debug)]
struct Model {
    /// The slopes that are part of the exact step.
    slopes: Slopes,
    controls: Output<CONTROLS>,
    controls_by_state: Matrix<CONTROLS, WIDE>,
    others: Output<{ UNKNOWNS - STATES }>,
    step: Step,
}

/// A step's solution.
#[derive(Clone, Copy, Debug)]
struct Found {
    state: [f64; WIDE],
    v: [f64; CONTROLS],
    amps: [f64; PORTS],
    /// By the order of [`DEPENDS`].
    slopes: Slopes,
}

impl Model {
    fn of(
        equations: &Equations,
        slopes: &Matrix<PORTS, CONTROLS>,
        seconds: f64,
        step: fn(&StateSpace, f64) -> Step,
    ) -> Self {
        let space = StateSpace::of(equations, slopes);
        Self {
            slopes: DEPENDS.map(|(port, control)| slopes[port][control]),
            controls: space.controls,
            controls_by_state: widened(&space.controls.by_state),
            others: space.rest,
            step: step(&space, seconds),
        }
    }

    /// What the exact step leaves of the currents.
    fn left(&self, v: &[f64; CONTROLS], amps: &[f64; PORTS]) -> [f64; PORTS] {
        let mut left = *amps;
        for ((port, control), slope) in DEPENDS.into_iter().zip(&self.slopes) {
            left[port] -= slope * v[control];
        }
        left
    }
}

impl Solver {
    /// At rest; the step in seconds.
    pub(super) fn prepare(setup: &Setup, seconds: f64, noise: bool) -> Self {
        let equations = Equations::build(setup);
        let laws = equations.laws;
        let rest = equations.rest();
        let rest_controls = equations.controls_at(&rest);
        let ports = laws.at(&rest_controls);
        let rest_slopes = ports.slopes();
        let model = |place: usize| {
            let slopes = region::slopes(&laws, place.min(PASSIVE), &rest_slopes);
            let step = if place == DAMPED {
                Step::damped
            } else {
                Step::of
            };
            Model::of(&equations, &slopes, seconds, step)
        };
        Self {
            laws,
            rest_controls,
            rest_amps: ports.amps(),
            rest_siemens: ports.tubes.map(|tube| tube.plate_by_grid),
            rest,
            models: std::array::from_fn(model),
            state: [0.0; WIDE],
            emf: [0.0; EMF_SAMPLES],
            v: [[0.0; CONTROLS]; 2],
            amps: [[0.0; PORTS]; 2],
            place: 0,
            used: 0,
            leaps: 0,
            hiss: noise.then(|| Hiss::prepare(&equations, setup, seconds, 0)),
            seed: 0,
            kick: [0.0; WIDE],
        }
    }

    /// Begins the noise of a seed.
    pub(super) fn seed_noise(&mut self, seed: u64) {
        self.seed = seed;
        if let Some(hiss) = &mut self.hiss {
            hiss.seed(seed);
        }
    }

    /// Back to the operating point.
    pub(super) fn reset(&mut self) {
        self.state = [0.0; WIDE];
        self.emf = [0.0; EMF_SAMPLES];
        self.v = [[0.0; CONTROLS]; 2];
        self.amps = [[0.0; PORTS]; 2];
        self.place = 0;
        self.used = 0;
        self.leaps = 0;
        self.kick = [0.0; WIDE];
        self.seed_noise(self.seed);
    }

    /// Goes on where another circuit is, set differently: what its capacitors, leakages and cores
    /// hold beyond rest goes over. The EMF now counts `ratio` times. Never allocates.
    pub(super) fn adopt(&mut self, other: &Self, ratio: f64) {
        self.state = other.state;
        self.emf = other.emf.map(|emf| bounded(emf * ratio));
        self.v = other.v;
        for n in 0..2 {
            self.amps[n] = self.beyond_rest(&self.v[n]).0;
        }
        self.place = other.place;
        self.used = other.used;
        self.leaps = other.leaps;
        self.seed_noise(other.seed);
        if let (Some(own), Some(other)) = (&mut self.hiss, &other.hiss) {
            own.adopt(other);
        }
    }

    /// Whether so little is left of what was that putting it to rest changes nothing that follows.
    pub(super) fn is_at_rest(&self) -> bool {
        let small = |values: &[f64]| values.iter().all(|value| value.abs() < AT_REST);
        self.hiss.is_none() && small(&self.state) && small(&self.emf)
    }

    /// Every unknown at rest.
    pub(super) fn rest(&self) -> &[f64; UNKNOWNS] {
        &self.rest
    }

    /// Currents, slopes and laws at rest.
    pub(super) fn rest_ports(&self) -> Ports {
        self.laws.at(&self.rest_controls)
    }

    /// A state in its deviation from rest, by row.
    pub(super) fn state(&self, row: usize) -> f64 {
        self.state[row]
    }

    /// An unknown without a derivative, in its deviation from rest, by row.
    pub(super) fn other(&self, row: usize) -> f64 {
        let n = row - STATES;
        let model = &self.models[self.used];
        let left = model.left(&self.v[0], &self.amps[0]);
        let by_state = model.others.by_state[n].iter().zip(&self.state);
        by_state.map(|(by, state)| by * state).sum::<f64>()
            + model.others.by_emf[n][0] * self.now_emf()
            + dot(&model.others.by_ports[n], &left)
    }

    /// The EMF of the sample that the last step ended at.
    pub(super) fn now_emf(&self) -> f64 {
        self.emf[NOW]
    }

    /// One step further: takes the EMF of [`super::model::LOOK_AHEAD`] samples after its end.
    #[inline]
    pub(super) fn step(&mut self, emf: f64) {
        self.emf.copy_within(1.., 0);
        self.emf[EMF_SAMPLES - 1] = bounded(emf);
        if let Some(hiss) = &mut self.hiss {
            self.kick[..STATES].copy_from_slice(&hiss.next());
        }
        let leapt = self.leaps > 0;
        let mut place = match self.leaps {
            0 => self.place,
            1..SWINGS => PASSIVE,
            _ => DAMPED,
        };
        let mut found = self.at_place(place);
        let there = self.place_of(&found);
        let leaps = there != self.place || self.moved_far(&found.v);
        self.leaps = if leaps {
            self.leaps.saturating_add(1)
        } else {
            0
        };
        if leaps && !leapt {
            place = PASSIVE;
            found = self.at_place(place);
        }
        self.place = self.place_of(&found);
        self.used = place;
        if found.state.iter().all(|state| state.abs() < MOST_STATE) {
            self.state = found.state;
            self.v = [found.v, self.v[0]];
            self.amps = [found.amps, self.amps[0]];
        } else {
            // Cannot happen with bounded EMF; if it does, silence is better than noise.
            self.reset();
        }
    }

    /// Whether a grid has moved so far within the step that no slopes hold for all of it.
    fn moved_far(&self, v: &[f64; CONTROLS]) -> bool {
        (v[0] - self.v[0][0]).abs() > LEAP_VOLTS[0] || (v[2] - self.v[0][2]).abs() > LEAP_VOLTS[1]
    }

    fn place_of(&self, found: &Found) -> usize {
        // The transconductances stand at the head of each tube's three.
        let siemens = |tube: usize| found.slopes[3 * tube] / self.rest_siemens[tube];
        let grid = |tube: usize| self.rest_controls[2 * tube] + found.v[2 * tube];
        region::place([0, 1].map(|tube| (grid(tube), siemens(tube))))
    }

    /// One step with the model of a place.
    fn at_place(&self, place: usize) -> Found {
        let model = &self.models[place];
        let step = &model.step;
        let mut known = self.kick;
        for (state, column) in self.state.iter().zip(&step.by_state) {
            take(&mut known, *state, column);
        }
        for (emf, column) in self.emf.iter().zip(&step.by_emf) {
            take(&mut known, *emf, column);
        }
        for n in 0..2 {
            let left = model.left(&self.v[n], &self.amps[n]);
            for (left, column) in left.iter().zip(&step.by_ports[1 - n]) {
                take(&mut known, *left, column);
            }
        }
        let mut offer = [0.0; CONTROLS];
        for (n, offer) in offer.iter_mut().enumerate() {
            *offer = dot(&model.controls_by_state[n], &known)
                + model.controls.by_emf[n][0] * self.now_emf();
        }
        let mut found = self.find(model, &offer);
        let left = model.left(&found.v, &found.amps);
        for (left, column) in left.iter().zip(&step.by_ports[2]) {
            take(&mut known, *left, column);
        }
        found.state = known;
        found
    }

    /// Currents beyond rest at deviations of the controls, and slopes.
    fn beyond_rest(&self, v: &[f64; CONTROLS]) -> ([f64; PORTS], Slopes) {
        let mut at = self.rest_controls;
        for (at, v) in at.iter_mut().zip(v) {
            *at += v;
        }
        let ports = self.laws.at(&at);
        let mut amps = ports.amps();
        for (amps, rest) in amps.iter_mut().zip(&self.rest_amps) {
            *amps -= rest;
        }
        (amps, ports.slopes_listed())
    }

    /// Solves `v = offer + K g(v)`. Newton's method from the last controls, moved on in a straight
    /// line; a round that does not bring the equation nearer is halved, so that it cannot diverge.
    fn find(&self, model: &Model, offer: &[f64; CONTROLS]) -> Found {
        let feedback = &model.step.feedback;
        let evaluate = |v: &[f64; CONTROLS]| {
            let (amps, slopes) = self.beyond_rest(v);
            let missing = missing(offer, feedback, v, &model.left(v, &amps));
            (amps, slopes, missing)
        };
        let mut v = self.v[0];
        if self.leaps == 0 {
            for (v, before) in v.iter_mut().zip(&self.v[1]) {
                *v += *v - before;
            }
        }
        let (mut amps, mut slopes, mut miss) = evaluate(&v);
        for _ in 0..MOST_ROUNDS {
            let move_by = model.newton(&slopes, &miss);
            let most = largest(&move_by);
            if !most.is_finite() {
                break;
            }
            if most < STRAIGHT {
                // So near that the slopes do for the rest of the way.
                for ((port, control), slope) in DEPENDS.into_iter().zip(&slopes) {
                    amps[port] += slope * move_by[control];
                }
                for (v, move_by) in v.iter_mut().zip(&move_by) {
                    *v += move_by;
                }
                break;
            }
            let mut share = (MOST_STEP / most).min(1.0);
            let before = size(&miss);
            for _ in 0..12 {
                let mut next = v;
                for (next, move_by) in next.iter_mut().zip(&move_by) {
                    *next += share * move_by;
                }
                let (next_amps, next_slopes, next_miss) = evaluate(&next);
                let nearer = size(&next_miss) < before || most < TOLERANCE;
                if nearer || share < 1e-3 {
                    (v, amps, slopes, miss) = (next, next_amps, next_slopes, next_miss);
                    break;
                }
                share *= 0.5;
            }
            if most < TOLERANCE {
                break;
            }
        }
        Found {
            state: [0.0; WIDE],
            v,
            amps,
            slopes,
        }
    }
}

impl Model {
    /// The step of Newton's method.
    #[inline]
    fn newton(&self, slopes: &Slopes, miss: &[f64; CONTROLS]) -> [f64; CONTROLS] {
        let feedback = &self.step.feedback;
        let mut matrix = [[0.0; CONTROLS]; CONTROLS];
        for (n, row) in matrix.iter_mut().enumerate() {
            row[n] = 1.0;
        }
        for (n, (port, control)) in DEPENDS.into_iter().enumerate() {
            let beyond = slopes[n] - self.slopes[n];
            for (row, feedback) in matrix.iter_mut().zip(feedback) {
                row[control] -= feedback[port] * beyond;
            }
        }
        let mut move_by = *miss;
        if eliminate_in_order(&mut matrix.clone(), &mut move_by) {
            return move_by;
        }
        let mut move_by = miss.map(|miss| [miss]);
        eliminate(&mut matrix, &mut move_by);
        move_by.map(|[move_by]| move_by)
    }
}

/// An EMF that the circuit takes.
fn bounded(emf: f64) -> f64 {
    if emf.is_finite() {
        emf.clamp(-MOST_EMF_VOLTS, MOST_EMF_VOLTS)
    } else {
        0.0
    }
}

/// offer + K g - v.
fn missing(
    offer: &[f64; CONTROLS],
    feedback: &Matrix<CONTROLS, PORTS>,
    v: &[f64; CONTROLS],
    g: &[f64; PORTS],
) -> [f64; CONTROLS] {
    let mut miss = *offer;
    for (n, miss) in miss.iter_mut().enumerate() {
        *miss += dot(&feedback[n], g) - v[n];
    }
    miss
}

#[inline]
fn take(to: &mut [f64; WIDE], share: f64, column: &[f64; WIDE]) {
    for (to, column) in to.iter_mut().zip(column) {
        *to += share * column;
    }
}

#[inline]
fn dot<const N: usize>(a: &[f64; N], b: &[f64; N]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// The largest magnitude; not a number when one is none.
fn largest(values: &[f64; CONTROLS]) -> f64 {
    values.iter().fold(0.0, |most: f64, value| {
        let size = value.abs();
        if size > most || size.is_nan() {
            size
        } else {
            most
        }
    })
}

fn size(miss: &[f64; CONTROLS]) -> f64 {
    miss.iter().map(|miss| miss * miss).sum()
}
