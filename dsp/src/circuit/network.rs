//! The circuit's steps at one setting and rate, laid out for the processor.
//!
//! The unknowns are turned so that what the tubes and cores are controlled by stands first, and what
//! is measured stands together; see [`ROWS`]. What follows from the states at once (voltages of cores
//! and of the primary) is carried along as if it were a state, but moves nothing.

use super::currents::{Iron, Slopes};
use super::elements::Node;
use super::equations::{CONTROLS, Equations, PORTS, STATES, Setup, UNKNOWNS, row};
use super::lanes;
use super::matrix::{Matrix, identity, product, solve, transposed, zero};
use super::model::{EMF_SAMPLES, NOW, Output, StateSpace, Step};
use super::region::{self, PLACES};
use super::rows::take;
use super::tables::Tables;
use std::cell::OnceCell;

/// Numbers in a column: five vectors.
pub(super) const ROWS: usize = 20;
/// One column: what everything takes of one cause.
pub(super) type Column = [f64; ROWS];

/// Row of the cathode of V1, after the eight controls: grid and plate of V1, of V2, fluxes of T1, T2,
/// voltages of their cores. Then come the cathode of V2 and the output.
pub(super) const CATHODE_1: usize = 8;
/// Row of T1's primary; it is no state.
const PRIMARY: usize = 11;
/// Rows of the states: all but the voltages of cores and primary, and room.
pub(super) const STATE_ROWS: [usize; STATES] = [0, 1, 2, 3, 4, 5, 8, 9, 10, 12, 13, 14, 15, 16, 17];
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
/// The controls of [`Equations`] in the order of the rows.
const CONTROL_ROWS: [usize; CONTROLS] = [0, 1, 2, 3, 4, 6, 5, 7];

/// The model in which no tube is part of the exact step.
pub(super) const PASSIVE: usize = PLACES - 1;
/// The same, damped.
pub(super) const DAMPED: usize = PLACES;

/// One way to step.
#[derive(Clone, Debug)]
#[repr(align(32))]
pub(super) struct Model {
    /// By the states, in the order of [`STATE_ROWS`].
    pub(super) by_state: [Column; STATES],
    pub(super) by_emf: [Column; EMF_SAMPLES],
    /// By what is left of the currents, at the samples -1, 0 and 1.
    pub(super) by_ports: [[Column; PORTS]; 3],
    /// By the one at 0, for a state that does not count it yet: see `solver`.
    pub(super) by_last: [Column; PORTS],
    /// The slopes that are part of the exact step.
    pub(super) slopes: Slopes,
}

/// All of them, and the operating point.
#[derive(Clone, Debug)]
pub(super) struct Network {
    pub(super) equations: Equations,
    pub(super) tables: &'static Tables,
    pub(super) irons: [Iron; 2],
    /// Whether the code for AVX2 is run.
    pub(super) avx2: bool,
    /// Each is made when it is first stepped with: most sound needs one or two.
    models: [OnceCell<Model>; PLACES + 1],
    seconds: f64,
    rest_slopes: Matrix<PORTS, CONTROLS>,
    /// Every unknown at rest.
    pub(super) rest: [f64; UNKNOWNS],
    /// Controls at rest, in the order of the rows.
    pub(super) rest_controls: [f64; CONTROLS],
    /// Currents at rest: tubes, cores.
    pub(super) rest_amps: [f64; PORTS],
    /// Transconductances at rest, inverted.
    pub(super) rest_inverse: [f64; 2],
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
        for (n, control) in CONTROL_ROWS.into_iter().take(6).enumerate() {
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
                (6, Follows::of(&space.controls, CONTROL_ROWS[6])),
                (7, Follows::of(&space.controls, CONTROL_ROWS[7])),
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
        let last = step.by_ports.len() - 1;
        let mut model = Self {
            by_state: [[0.0; ROWS]; STATES],
            by_emf: std::array::from_fn(|k| {
                let now = if k == NOW { 1.0 } else { 0.0 };
                turn.column(&step.by_emf[k], now, None)
            }),
            by_ports: std::array::from_fn(|k| {
                std::array::from_fn(|port| {
                    turn.column(&step.by_ports[k][port], 0.0, (k == last).then_some(port))
                })
            }),
            by_last: [[0.0; ROWS]; PORTS],
            slopes: Slopes {
                by_grid: [slopes[0][0], slopes[1][0], slopes[2][2], slopes[3][2]],
                by_plate: [slopes[0][1], slopes[1][1], slopes[2][3], slopes[3][3]],
                cores: [[slopes[4][4], slopes[4][5]], [slopes[5][6], slopes[5][7]]],
            },
        };
        // Turned states to nodal ones, one step, and turned again.
        let turned = product(&transposed(&turn.back), &step.by_state);
        for (column, states) in model.by_state.iter_mut().zip(&turned) {
            *column = turn.column(states, 0.0, None);
        }
        for port in 0..PORTS {
            let mut by_last = model.by_ports[1][port];
            let by_new = model.by_ports[2][port];
            for (state, column) in STATE_ROWS.into_iter().zip(&model.by_state) {
                take(&mut by_last, by_new[state], column);
            }
            model.by_last[port] = by_last;
        }
        model
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
            seconds,
            rest_slopes: ports.slopes(),
            rest,
            rest_controls: CONTROL_ROWS.map(|control| at[control]),
            rest_amps: [0.0; PORTS],
            rest_inverse: ports.tubes.map(|tube| 1.0 / tube.plate_by_grid),
            tables: Tables::get(),
            irons: equations.laws.cores.map(|core| Iron::of(&core)),
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

    #[cold]
    fn make(&self, place: usize) -> Model {
        let laws = &self.equations.laws;
        let slopes = region::slopes(laws, place.min(PASSIVE), &self.rest_slopes);
        Model::of(&self.equations, &slopes, self.seconds, place == DAMPED)
    }

    /// The currents at rest as the steps find them, so that rest is exactly rest.
    pub(super) fn find_rest(&mut self) {
        self.rest_amps = [0.0; PORTS];
        self.rest_amps = self.currents_here(&[0.0; CONTROLS]).0;
    }
}

/// What moves every state, from nodal states, as a column.
pub(super) fn turned(equations: &Equations, space: &StateSpace, states: &[f64; STATES]) -> Column {
    Turn::of(equations, space).column(states, 0.0, None)
}
