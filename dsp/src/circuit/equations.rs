//! From the table of elements to equations: `E x' + M x = S emf + b + N i(v)`, `v = W x`.
//!
//! Modified nodal analysis (any circuit textbook): one row a node, one a branch whose current is
//! unknown. The first [`STATES`] unknowns have a derivative, the rest follow from them at once.
//! Leakage currents are in milliamperes and fluxes in milliwebers, so that all unknowns are of like
//! size.

use super::core::{Core, CoreCurrent};
use super::elements::{ELEMENTS, Kind, Node, SUPPLY_VOLTS};
use super::matrix::{Matrix, add, product, solve, zero};
use super::triode::{Currents, Triode};

/// Unknowns with a derivative: eleven nodes, two leakage currents, two fluxes.
pub(crate) const STATES: usize = 15;
/// All unknowns.
pub(super) const UNKNOWNS: usize = 24;
/// Nonlinear currents: plate and grid of each tube, iron of each transformer.
pub(super) const PORTS: usize = 6;
/// What they depend on: two voltages a tube, flux and voltage an iron.
pub(super) const CONTROLS: usize = 8;

/// Which currents depend on which controls: all others have no slope.
pub(super) const DEPENDS: [(usize, usize); 10] = [
    (0, 0),
    (0, 1),
    (1, 0),
    (2, 2),
    (2, 3),
    (3, 2),
    (4, 4),
    (4, 5),
    (5, 6),
    (5, 7),
];

const LEAKAGE: usize = 11;
const FLUX: usize = 13;
const TURNS: usize = 22;
/// Milliamperes and milliwebers.
const MILLI: f64 = 1e-3;

/// The row of a node; ground, supply and the terminals have none.
pub(super) const fn row(node: Node) -> Option<usize> {
    let index = node as usize;
    if index < STATES - 4 {
        Some(index)
    } else if index < Node::Ground as usize {
        // Four rows of branches stand between.
        Some(index + 4)
    } else {
        None
    }
}

/// What the equations need to know of the surroundings and the switches.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Setup {
    /// Resistance of the source as T1's primary sees it.
    pub(super) source_ohms: f64,
    pub(super) load_ohms: f64,
    /// Index of the gain step.
    pub(super) step: usize,
}

/// The laws of the nonlinear elements.
#[derive(Clone, Copy, Debug)]
pub(super) struct Laws {
    pub(super) tubes: [Triode; 2],
    pub(super) cores: [Core; 2],
}

/// Nonlinear currents with their slopes by the controls.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Ports {
    pub(super) tubes: [Currents; 2],
    /// Slopes by milliwebers.
    pub(super) cores: [CoreCurrent; 2],
}

impl Laws {
    /// At these controls.
    pub(super) fn at(&self, v: &[f64; CONTROLS]) -> Ports {
        let core = |n: usize| {
            let mut current = self.cores[n].current(MILLI * v[4 + 2 * n], v[5 + 2 * n]);
            current.by_flux *= MILLI;
            current
        };
        Ports {
            tubes: [
                self.tubes[0].currents(v[0], v[1]),
                self.tubes[1].currents(v[2], v[3]),
            ],
            cores: [core(0), core(1)],
        }
    }
}

impl Ports {
    /// The currents: plate and grid of V1, of V2, iron of T1, of T2; in amperes.
    pub(super) fn amps(&self) -> [f64; PORTS] {
        let [one, two] = &self.tubes;
        [
            one.plate_amps,
            one.grid_amps,
            two.plate_amps,
            two.grid_amps,
            self.cores[0].amps,
            self.cores[1].amps,
        ]
    }

    /// The slopes that are not always zero, in the order of [`DEPENDS`].
    pub(super) fn slopes_listed(&self) -> [f64; DEPENDS.len()] {
        let [one, two] = &self.tubes;
        let [first, second] = &self.cores;
        [
            one.plate_by_grid,
            one.plate_by_plate,
            one.grid_by_grid,
            two.plate_by_grid,
            two.plate_by_plate,
            two.grid_by_grid,
            first.by_flux,
            first.by_volts,
            second.by_flux,
            second.by_volts,
        ]
    }

    /// The slopes: currents by controls.
    pub(super) fn slopes(&self) -> Matrix<PORTS, CONTROLS> {
        let mut slopes = zero();
        for ((port, control), slope) in DEPENDS.into_iter().zip(self.slopes_listed()) {
            slopes[port][control] = slope;
        }
        slopes
    }
}

/// The equations of a setup.
#[derive(Clone, Copy, Debug)]
pub(super) struct Equations {
    /// E.
    pub(super) storage: Matrix<UNKNOWNS, UNKNOWNS>,
    /// M.
    pub(super) conductance: Matrix<UNKNOWNS, UNKNOWNS>,
    /// S, by the EMF behind the source's resistance.
    pub(super) source: [f64; UNKNOWNS],
    /// b, by the supply.
    pub(super) supply: [f64; UNKNOWNS],
    /// N.
    pub(super) ports: Matrix<UNKNOWNS, PORTS>,
    /// W.
    pub(super) controls: Matrix<CONTROLS, UNKNOWNS>,
    pub(super) laws: Laws,
}

impl Equations {
    /// Builds them from the table.
    pub(super) fn build(setup: &Setup) -> Self {
        let mut equations = Self {
            storage: zero(),
            conductance: zero(),
            source: [0.0; UNKNOWNS],
            supply: [0.0; UNKNOWNS],
            ports: zero(),
            controls: zero(),
            laws: laws(),
        };
        let (mut tubes, mut leakages, mut irons, mut turns) = (0, 0, 0, 0);
        for element in &ELEMENTS {
            let (a, b) = (element.a, element.b);
            match element.kind {
                Kind::Resistor(value) => {
                    // The attenuator is part of the source: see `Preamp`.
                    if let Some(ohms) = value.at(setup.step, false) {
                        equations.resistor(a, b, ohms);
                    }
                }
                Kind::Capacitor(farads) => between(&mut equations.storage, a, b, farads),
                Kind::Leakage(henries) => {
                    equations.leakage(a, b, henries, LEAKAGE + leakages);
                    leakages += 1;
                }
                Kind::Turns(ratio) => {
                    equations.turns(a, b, ratio, TURNS + turns);
                    turns += 1;
                }
                Kind::Iron(_) => {
                    equations.iron(a, irons);
                    irons += 1;
                }
                Kind::Tube { grid, .. } => {
                    equations.tube(a, grid, b, tubes);
                    tubes += 1;
                }
            }
        }
        equations.resistor(Node::Primary1, Node::Ground, setup.source_ohms);
        if let Some(row) = row(Node::Primary1) {
            equations.source[row] = 1.0 / setup.source_ohms;
        }
        equations.resistor(Node::Out, Node::Ground, setup.load_ohms);
        equations
    }

    fn resistor(&mut self, a: Node, b: Node, ohms: f64) {
        between(&mut self.conductance, a, b, 1.0 / ohms);
        for (end, other) in [(a, b), (b, a)] {
            if other == Node::Supply
                && let Some(row) = row(end)
            {
                self.supply[row] += SUPPLY_VOLTS / ohms;
            }
        }
    }

    fn leakage(&mut self, a: Node, b: Node, henries: f64, branch: usize) {
        self.storage[branch][branch] = henries * MILLI;
        self.branch(a, branch, -1.0, MILLI);
        self.branch(b, branch, 1.0, -MILLI);
    }

    fn turns(&mut self, a: Node, b: Node, ratio: f64, branch: usize) {
        self.branch(a, branch, -ratio, MILLI);
        self.branch(b, branch, 1.0, -MILLI / ratio);
    }

    /// A node's share in a branch's equation, and the branch's share in the node's.
    fn branch(&mut self, node: Node, branch: usize, volts: f64, amps: f64) {
        if let Some(row) = row(node) {
            self.conductance[branch][row] += volts;
            self.conductance[row][branch] += amps;
        }
    }

    fn iron(&mut self, a: Node, n: usize) {
        self.storage[FLUX + n][FLUX + n] = 1.0;
        self.controls[4 + 2 * n][FLUX + n] = 1.0;
        if let Some(row) = row(a) {
            self.conductance[FLUX + n][row] = -1.0 / MILLI;
            self.controls[5 + 2 * n][row] = 1.0;
            self.ports[row][4 + n] = -1.0;
        }
    }

    fn tube(&mut self, plate: Node, grid: Node, cathode: Node, n: usize) {
        for (node, port, sign) in [
            (plate, 2 * n, -1.0),
            (cathode, 2 * n, 1.0),
            (grid, 2 * n + 1, -1.0),
            (cathode, 2 * n + 1, 1.0),
        ] {
            if let Some(row) = row(node) {
                self.ports[row][port] = sign;
            }
        }
        for (control, node, sign) in [
            (2 * n, grid, 1.0),
            (2 * n, cathode, -1.0),
            (2 * n + 1, plate, 1.0),
            (2 * n + 1, cathode, -1.0),
        ] {
            if let Some(row) = row(node) {
                self.controls[control][row] = sign;
            }
        }
    }

    /// The controls at these unknowns.
    pub(super) fn controls_at(&self, x: &[f64; UNKNOWNS]) -> [f64; CONTROLS] {
        let mut v = [0.0; CONTROLS];
        for (v, row) in v.iter_mut().zip(&self.controls) {
            *v = row.iter().zip(x).map(|(w, x)| w * x).sum();
        }
        v
    }

    /// Currents and slopes at these unknowns.
    pub(super) fn ports_at(&self, x: &[f64; UNKNOWNS]) -> Ports {
        self.laws.at(&self.controls_at(x))
    }

    /// M less N dI/dv W: what small signals see where the laws have these slopes.
    pub(super) fn linearised(
        &self,
        slopes: &Matrix<PORTS, CONTROLS>,
    ) -> Matrix<UNKNOWNS, UNKNOWNS> {
        let by_unknowns = product(slopes, &self.controls);
        let mut matrix = self.conductance;
        add(&mut matrix, -1.0, &product(&self.ports, &by_unknowns));
        matrix
    }

    /// The operating point: every unknown without signal. Newton's method, its steps bounded.
    pub(super) fn rest(&self) -> [f64; UNKNOWNS] {
        let mut x = [0.0; UNKNOWNS];
        for (node, volts) in START {
            if let Some(row) = row(node) {
                x[row] = volts;
            }
        }
        for _ in 0..60 {
            let ports = self.ports_at(&x);
            let amps = ports.amps();
            let mut short = zero::<UNKNOWNS, 1>();
            for (n, short) in short.iter_mut().enumerate() {
                let linear: f64 = self.conductance[n].iter().zip(&x).map(|(m, x)| m * x).sum();
                let nonlinear: f64 = self.ports[n].iter().zip(&amps).map(|(n, i)| n * i).sum();
                short[0] = self.supply[n] + nonlinear - linear;
            }
            solve(&mut self.linearised(&ports.slopes()), &mut short);
            let mut most: f64 = 0.0;
            for (x, step) in x.iter_mut().zip(&short) {
                *x += step[0].clamp(-20.0, 20.0);
                most = most.max(step[0].abs());
            }
            if most < 1e-12 {
                break;
            }
        }
        x
    }
}

/// Where the search for the operating point begins: about there.
const START: [(Node, f64); 6] = [
    (Node::Plate1, 200.0),
    (Node::Cathode1, 1.5),
    (Node::Bypass1, 1.5),
    (Node::Plate2, 120.0),
    (Node::Cathode2, 2.6),
    (Node::Grid1, 0.0),
];

fn between(matrix: &mut Matrix<UNKNOWNS, UNKNOWNS>, a: Node, b: Node, value: f64) {
    let (a, b) = (row(a), row(b));
    for end in [a, b].into_iter().flatten() {
        matrix[end][end] += value;
    }
    if let (Some(a), Some(b)) = (a, b) {
        matrix[a][b] -= value;
        matrix[b][a] -= value;
    }
}

/// The laws as the table has them, in its order.
fn laws() -> Laws {
    let mut tubes = ELEMENTS.iter().filter_map(|element| match element.kind {
        Kind::Tube { triode, .. } => Some(triode),
        _ => None,
    });
    let mut cores = ELEMENTS.iter().filter_map(|element| match element.kind {
        Kind::Iron(core) => Some(core),
        _ => None,
    });
    let mut next_tube = || tubes.next().expect("the table has two tubes");
    let tubes = [next_tube(), next_tube()];
    let mut next_core = || cores.next().expect("the table has two irons");
    Laws {
        tubes,
        cores: [next_core(), next_core()],
    }
}
