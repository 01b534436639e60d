//! The circuit's steps at one setting and rate, laid out for the processor.
//!
//! The unknowns are turned so that what the tubes and cores are controlled by stands first, and what
//! is measured stands together; see [`ROWS`]. What follows from the states at once (voltages of cores
//! and of the primary) is carried along as if it were a state, but moves nothing.

use super::currents::Iron;
use super::elements::Node;
use super::equations::{CONTROLS, Equations, PORTS, STATES, Setup, UNKNOWNS, row};
use super::lanes;
use super::matrix::{Matrix, identity, product, solve, transposed, zero};
use super::model::{EMF_SAMPLES, NOW, Output, StateSpace, Step};
use super::region::{self, CUT_OFF_SHARE, PLACES};
use super::rows::take;
use super::tables::Tables;
use super::wires::LESS_WEIGHT;
use std::cell::OnceCell;

/// Numbers in a column: five vectors.
pub(super) const ROWS: usize = 20;
/// One column: what everything takes of one cause.
pub(super) type Column = [f64; ROWS];

/// Row of the cathode of V1, after the eight controls: grid and plate of V1, of V2, flux and core's
/// voltage of T1, of T2. Then come the cathode of V2 and the output.
pub(super) const CATHODE_1: usize = 8;
/// Row of T1's primary; it is no state.
pub(super) const PRIMARY: usize = 11;
/// Rows of the states: all but the voltages of cores and primary, and room.
pub(super) const STATE_ROWS: [usize; STATES] = [0, 1, 2, 3, 4, 6, 8, 9, 10, 12, 13, 14, 15, 16, 17];
/// Nodes of the states behind the controls, by row, and the branches of the leakages.
const OTHERS: [Node; 7] = [
    Node::Cathode1,
    Node::Cathode2,
    Node::Out,
    Node::Bypass1,
    Node::Coupled,
    Node::Primary2,
    Node::Damped,
];
const LEAKAGES: [usize; 2] = [11, 12];
/// Rows of the controls that are states; those of the cores' voltages are not.
const STATE_CONTROLS: [usize; 6] = [0, 1, 2, 3, 4, 6];
const CORES: [usize; 2] = [5, 7];

/// The model in which no tube is part of the exact step.
pub(super) const PASSIVE: usize = PLACES - 1;
/// The same, damped.
pub(super) const DAMPED: usize = PLACES;

/// What is unknown of a step may amount to so much in a second: 0.1 microvolts a step at 384 kHz.
const KNOWN_VOLTS_A_SECOND: f64 = 0.0384;

/// The error of a straight line goes with the square of a way: a millivolt at 384 kHz.
const STRAIGHT_VOLTS_2_A_SECOND: f64 = 0.384;

/// One way to step.
#[derive(Clone, Debug)]
#[repr(align(32))]
pub(super) struct Model {
    /// By the states, in the order of [`STATE_ROWS`].
    pub(super) by_state: [Column; STATES],
    pub(super) by_emf: [Column; EMF_SAMPLES],
    /// By what is left of the currents, at the samples -1, 0 and 1.
    pub(super) by_before: [Column; PORTS],
    pub(super) by_now: [Column; PORTS],
    pub(super) by_new: [Column; PORTS],
    /// By the one at 0, for a state that does not count it yet: see `solver`.
    pub(super) by_last: [Column; PORTS],
    /// What happens at once.
    pub(super) loops: Loops,
}

/// In lanes, what the newest currents add to the controls: by control (grid, plate, flux, core's voltage)
/// and current (plate, grid, core), of the same tube, then of the other one; then the slopes that are part
/// of the exact step: plate by grid, by plate, grid by grid, core by flux, by volts; then how long a way (see
/// `wires::Controls::length`) one ampere leads at most, by current.
#[derive(Clone, Debug)]
#[repr(align(32))]
pub(super) struct Loops(pub(super) [[f64; 4]; 32]);

impl Loops {
    pub(super) const OWN: usize = 0;
    pub(super) const ACROSS: usize = 12;
    pub(super) const SLOPES: usize = 24;
    pub(super) const REACH: usize = 29;
    /// Room for some.
    pub(super) const NOTHING: Self = Self([[0.0; 4]; 32]);
}

/// All of them, and the operating point.
#[derive(Clone, Debug)]
pub(super) struct Network {
    pub(super) equations: Equations,
    pub(super) tables: &'static Tables,
    pub(super) iron: Iron,
    /// Whether the code for AVX2 is run.
    pub(super) avx2: bool,
    /// Each is made when it is first stepped with: most sound needs one or two.
    models: [OnceCell<Model>; PLACES + 1],
    /// What the models without tubes take of the last currents, of states that the other of them led to.
    crossings: [OnceCell<[Column; PORTS]>; 2],
    seconds: f64,
    /// A way is known when one more term cannot move its end by more, in volts.
    pub(super) known: f64,
    /// How long a way may be (see `wires::Controls::length`) for the currents to follow in a straight line.
    pub(super) straight: f64,
    rest_slopes: Matrix<PORTS, CONTROLS>,
    /// Every unknown at rest.
    pub(super) rest: [f64; UNKNOWNS],
    /// Controls at rest, in lanes.
    pub(super) rest_controls: [[f64; 4]; 4],
    /// Currents at rest, in lanes.
    pub(super) rest_amps: [[f64; 4]; 3],
    /// Transconductances below which a tube is cut off, in lanes.
    pub(super) cut_off: [f64; 4],
}

/// How the states turn, and the rows that follow from them.
struct Turn {
    forth: Matrix<STATES, STATES>,
    back: Matrix<STATES, STATES>,
    follows: [(usize, Follows); 3],
}

struct Follows {
    by_state: [f64; STATES],
    by_emf: f64,
    by_ports: [f64; PORTS],
}

impl Follows {
    fn of<const R: usize>(output: &Output<R>, n: usize) -> Self {
        Self {
            by_state: output.by_state[n],
            by_emf: output.by_emf[n][0],
            by_ports: output.by_ports[n],
        }
    }
}

impl Turn {
    fn of(equations: &Equations, space: &StateSpace) -> Self {
        let mut forth = zero::<STATES, STATES>();
        for (n, control) in STATE_CONTROLS.into_iter().enumerate() {
            forth[n].copy_from_slice(&equations.controls[control][..STATES]);
        }
        let nodes = OTHERS.map(|node| row(node).unwrap_or(0));
        for (n, state) in nodes.into_iter().chain(LEAKAGES).enumerate() {
            forth[6 + n][state] = 1.0;
        }
        let mut back = identity();
        solve(&mut forth.clone(), &mut back);
        let primary = row(Node::Primary1).unwrap_or(STATES) - STATES;
        Self {
            forth,
            back,
            follows: [
                (CORES[0], Follows::of(&space.controls, CORES[0])),
                (CORES[1], Follows::of(&space.controls, CORES[1])),
                (PRIMARY, Follows::of(&space.rest, primary)),
            ],
        }
    }

    /// A column from states, of which `emf` and the port `port` count at once.
    fn column(&self, states: &[f64; STATES], emf: f64, port: Option<usize>) -> Column {
        let mut column = [0.0; ROWS];
        for (row, forth) in STATE_ROWS.into_iter().zip(&self.forth) {
            column[row] = dot(forth, states);
        }
        for (row, follows) in &self.follows {
            column[*row] = dot(&follows.by_state, states)
                + emf * follows.by_emf
                + port.map_or(0.0, |port| follows.by_ports[port]);
        }
        column
    }
}

/// In lanes: a number for each tube.
fn both(one: f64, two: f64) -> [f64; 4] {
    [one, one, two, two]
}

fn dot(a: &[f64; STATES], b: &[f64; STATES]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

impl Model {
    fn of(
        equations: &Equations,
        slopes: &Matrix<PORTS, CONTROLS>,
        seconds: f64,
        damped: bool,
    ) -> Self {
        let space = StateSpace::of(equations, slopes);
        let step = if damped {
            Step::damped(&space, seconds)
        } else {
            Step::of(&space, seconds)
        };
        let turn = Turn::of(equations, &space);
        let ports = |k: usize| {
            std::array::from_fn(|port| {
                turn.column(&step.by_ports[k][port], 0.0, (k == 2).then_some(port))
            })
        };
        let mut model = Self {
            by_state: [[0.0; ROWS]; STATES],
            by_emf: std::array::from_fn(|k| {
                let now = if k == NOW { 1.0 } else { 0.0 };
                turn.column(&step.by_emf[k], now, None)
            }),
            by_before: ports(0),
            by_now: ports(1),
            by_new: ports(2),
            by_last: [[0.0; ROWS]; PORTS],
            loops: Loops::NOTHING,
        };
        model.loops.0[Loops::SLOPES..Loops::REACH].copy_from_slice(&[
            both(slopes[0][0], slopes[2][2]),
            both(slopes[0][1], slopes[2][3]),
            both(slopes[1][0], slopes[3][2]),
            both(slopes[4][4], slopes[5][6]),
            both(slopes[4][5], slopes[5][7]),
        ]);
        // Rows: grid and plate of V1, of V2, and so on. Ports: plate and grid of V1, of V2, cores.
        for (control, rows) in [[0, 2], [1, 3], [4, 6], [5, 7]].into_iter().enumerate() {
            for (kind, ports) in [[0, 2], [1, 3], [4, 5]].into_iter().enumerate() {
                let by = |row: usize, port: usize| model.by_new[ports[port]][rows[row]];
                let (own, across) = (both(by(0, 0), by(1, 1)), both(by(0, 1), by(1, 0)));
                model.loops.0[Loops::OWN + 3 * control + kind] = own;
                model.loops.0[Loops::ACROSS + 3 * control + kind] = across;
                let weight = if control % 2 == 0 { 1.0 } else { LESS_WEIGHT };
                for (lane, reach) in model.loops.0[Loops::REACH + kind].iter_mut().enumerate() {
                    *reach += weight * (own[lane].abs() + across[(lane + 2) % 4].abs());
                }
            }
        }
        // Turned states to nodal ones, one step, and turned again.
        let turned = product(&transposed(&turn.back), &step.by_state);
        for (column, states) in model.by_state.iter_mut().zip(&turned) {
            *column = turn.column(states, 0.0, None);
        }
        model.by_last = model.by_last_of(&model);
        model
    }

    /// What a step takes of the last currents, for states that `from` led to and that do not count them.
    fn by_last_of(&self, from: &Self) -> [Column; PORTS] {
        let mut by_last = self.by_now;
        for (by_last, by_new) in by_last.iter_mut().zip(&from.by_new) {
            for (state, column) in STATE_ROWS.into_iter().zip(&self.by_state) {
                take(by_last, by_new[state], column);
            }
        }
        by_last
    }
}

impl Network {
    /// For a setup; the step in seconds. Never allocates, once the tables are there.
    pub(super) fn prepare(setup: &Setup, seconds: f64) -> Self {
        let equations = Equations::build(setup);
        let rest = equations.rest();
        let at = equations.controls_at(&rest);
        let ports = equations.laws.at(&at);
        let mut network = Self {
            models: [const { OnceCell::new() }; PLACES + 1],
            crossings: [const { OnceCell::new() }; 2],
            seconds,
            known: KNOWN_VOLTS_A_SECOND * seconds,
            straight: (STRAIGHT_VOLTS_2_A_SECOND * seconds).sqrt(),
            rest_slopes: ports.slopes(),
            rest,
            rest_controls: [[0, 2], [1, 3], [4, 6], [5, 7]]
                .map(|[one, two]| both(at[one], at[two])),
            rest_amps: [[0.0; 4]; 3],
            cut_off: {
                let [one, two] = ports.tubes.map(|tube| tube.plate_by_grid);
                both(one, two).map(|siemens| CUT_OFF_SHARE * siemens)
            },
            tables: Tables::get(),
            iron: Iron::of(&equations.laws.cores),
            avx2: lanes::avx2(),
            equations,
        };
        network.find_rest();
        // What the first step needs.
        network.model(0);
        network
    }

    /// How to step at a place. Never allocates.
    #[inline(always)]
    pub(super) fn model(&self, place: usize) -> &Model {
        self.models[place].get_or_init(|| self.make(place))
    }

    /// What the model `to`, one of the two without tubes, takes of the last currents when the other was
    /// stepped with before. Never allocates.
    #[inline(always)]
    pub(super) fn crossing(&self, to: usize) -> &[Column; PORTS] {
        self.crossings[to - PASSIVE].get_or_init(|| {
            let from = PASSIVE + DAMPED - to;
            self.model(to).by_last_of(self.model(from))
        })
    }

    #[cold]
    fn make(&self, place: usize) -> Model {
        let laws = &self.equations.laws;
        let slopes = region::slopes(laws, place.min(PASSIVE), &self.rest_slopes);
        Model::of(&self.equations, &slopes, self.seconds, place == DAMPED)
    }

    /// The currents at rest as the steps find them, so that rest is exactly rest.
    pub(super) fn find_rest(&mut self) {
        self.rest_amps = [[0.0; 4]; 3];
        self.rest_amps = self.rest_here();
    }
}

/// What moves every state, from nodal states, as a column.
pub(super) fn turned(equations: &Equations, space: &StateSpace, states: &[f64; STATES]) -> Column {
    Turn::of(equations, space).column(states, 0.0, None)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What a model without tubes takes of the last currents is what it takes of the complete state that the
    /// other one leaves, and of the currents themselves.
    #[test]
    fn crossing_counts_the_last_currents_as_the_other_model_left_them() {
        let setup = Setup {
            source_ohms: 150.0,
            load_ohms: 10_000.0,
            step: 6,
        };
        let network = Network::prepare(&setup, 1.0 / 384e3);
        for (from, to) in [(PASSIVE, DAMPED), (DAMPED, PASSIVE)] {
            let (left, goes_on) = (network.model(from), network.model(to));
            for port in 0..PORTS {
                let mut want = goes_on.by_now[port];
                for (state, row) in STATE_ROWS.into_iter().enumerate() {
                    take(&mut want, left.by_new[port][row], &goes_on.by_state[state]);
                }
                assert_ne!(want, goes_on.by_last[port], "the two models are one");
                let got = network.crossing(to)[port];
                let largest = want.iter().fold(0.0_f64, |most, row| most.max(row.abs()));
                for (got, want) in got.iter().zip(&want) {
                    assert!(
                        (got - want).abs() <= 1e-12 * largest,
                        "{from} to {to}: {got} {want}"
                    );
                }
            }
        }
    }
}
