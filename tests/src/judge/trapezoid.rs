//! The circuit in time by the trapezoidal rule.

use super::dense::Factored;
use super::equations::Equations;
use penstock_dsp::circuit::{Node, OperatingPoint, Settings, Taps};

/// Newton's method ends when nothing moves by more: volts, amperes, webers.
const ENOUGH: f64 = 1e-12;
/// It also ends when a round moves by less than this and by no less than the one before: what is left
/// is rounding (47 uF between two nodes that move together amplify it most).
const ROUNDING: f64 = 1e-9;
/// Rounds of Newton's method at most; more is a failure of the judge.
const MOST_ROUNDS: usize = 200;

/// The circuit, one channel.
#[derive(Clone, Debug)]
pub struct Judge {
    equations: Equations,
    seconds: f64,
    rest: Vec<f64>,
    x: Vec<f64>,
    /// What the last step moved by.
    moved: Vec<f64>,
    /// f at the last sample.
    flows: Vec<f64>,
    /// Whether a row has a derivative.
    stores: Vec<bool>,
    factored: Factored,
}

impl Judge {
    /// At its operating point; the step in seconds.
    #[must_use]
    pub fn at_rest(settings: &Settings, seconds: f64) -> Self {
        let equations = Equations::of(settings);
        let rest = rest(&equations);
        let stores: Vec<bool> = (0..equations.size())
            .map(|row| equations.storage.row(row).iter().any(|value| *value != 0.0))
            .collect();
        Self {
            seconds,
            x: rest.clone(),
            moved: vec![0.0; rest.len()],
            flows: equations.flows(&rest, 0.0, 1.0),
            factored: factored(&equations, &stores, &rest, seconds),
            stores,
            rest,
            equations,
        }
    }

    /// The tubes at rest.
    #[must_use]
    pub fn operating_points(&self) -> Vec<OperatingPoint> {
        let tubes = self.equations.tubes(&self.rest);
        let point = |(triode, grid_volts, plate_volts): (penstock_dsp::circuit::Triode, _, _)| {
            let now = triode.currents(grid_volts, plate_volts);
            OperatingPoint {
                grid_volts,
                plate_volts,
                plate_amps: now.plate_amps,
                transconductance_siemens: now.plate_by_grid,
                plate_ohms: 1.0 / now.plate_by_plate,
            }
        };
        tubes.into_iter().map(point).collect()
    }

    /// One step further, to a sample at which the EMF is this.
    ///
    /// # Panics
    /// When Newton's method does not converge.
    pub fn process(&mut self, emf: f64) -> Taps {
        let mut moved = self.moved.clone();
        let (mut before, mut rounds, mut done) = (f64::INFINITY, 0, false);
        loop {
            let x: Vec<f64> = self.x.iter().zip(&moved).map(|(x, m)| x + m).collect();
            let flows = self.equations.flows(&x, emf, 1.0);
            if done {
                (self.x, self.moved, self.flows) = (x, moved, flows);
                return self.taps(emf);
            }
            let missing: Vec<f64> = (0..x.len())
                .map(|row| {
                    if self.stores[row] {
                        let stored = self.equations.storage.times(row, &moved);
                        -2.0 / self.seconds * stored - flows[row] - self.flows[row]
                    } else {
                        -flows[row]
                    }
                })
                .collect();
            let mut by = self.factored.solve(&missing);
            if largest(&by) > (0.02 * before).max(ROUNDING) {
                // Converges slowly: the factors are of another place.
                self.factored = factored(&self.equations, &self.stores, &x, self.seconds);
                by = self.factored.solve(&missing);
            }
            moved.iter_mut().zip(&by).for_each(|(m, by)| *m += by);
            let now = largest(&by);
            done = now < ENOUGH || (now < ROUNDING && now >= 0.5 * before);
            before = now;
            rounds += 1;
            assert!(rounds < MOST_ROUNDS, "the judge does not converge: {now}");
        }
    }

    fn taps(&self, emf: f64) -> Taps {
        let beyond_rest = |node| {
            let row = self.equations.node(node);
            row.map_or(0.0, |row| self.x[row] - self.rest[row])
        };
        let mic_in = beyond_rest(Node::MicHot) - beyond_rest(Node::MicCold);
        Taps {
            mic_in,
            transformer_in: beyond_rest(Node::Primary1),
            grid_1: beyond_rest(Node::Grid1),
            grid_2: beyond_rest(Node::Grid2),
            preamp_out: beyond_rest(Node::Out),
            in_amps: (emf - mic_in) / self.equations.source_ohms,
            source_noise: 0.0,
        }
    }
}

/// The derivatives of a step's equation, factored.
fn factored(equations: &Equations, stores: &[bool], x: &[f64], seconds: f64) -> Factored {
    let mut matrix = equations.slopes(x);
    for (row, _) in stores.iter().enumerate().filter(|(_, stores)| **stores) {
        let storage = equations.storage.row(row);
        for (to, from) in matrix.row_mut(row).iter_mut().zip(storage) {
            *to += 2.0 / seconds * from;
        }
    }
    matrix.factored()
}

/// The operating point: the supply is brought up in steps, Newton's method at each.
fn rest(equations: &Equations) -> Vec<f64> {
    const STEPS: usize = 30;
    let mut x = vec![0.0; equations.size()];
    for step in 1..=STEPS {
        let supply = step as f64 / STEPS as f64;
        let mut rounds = 0;
        loop {
            let mut missing = equations.flows(&x, 0.0, supply);
            missing.iter_mut().for_each(|f| *f = -*f);
            let by = equations.slopes(&x).factored().solve(&missing);
            // No further than 1 V at a time: the laws bend.
            let share = (1.0 / largest(&by)).min(1.0);
            x.iter_mut().zip(&by).for_each(|(x, by)| *x += share * by);
            rounds += 1;
            assert!(rounds < MOST_ROUNDS, "no operating point at {supply}");
            if largest(&by) < ENOUGH {
                break;
            }
        }
    }
    x
}

fn largest(values: &[f64]) -> f64 {
    values.iter().fold(0.0, |most, value| value.abs().max(most))
}
