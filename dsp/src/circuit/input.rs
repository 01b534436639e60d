//! T1, the input transformer, with what drives it and what loads it.
//!
//! ```text
//!   e --source+primary--+----leakage--secondary/n^2--+--- grid / n
//!                       |                            |
//!                  Lm || core                C n^2 || load / n^2, and the grid current times n
//! ```
//!
//! Everything is referred to the primary; n is the turns ratio. The source resistance is the pad's
//! output (through the attenuator), so that a wrong pad changes bass and top as on the bench.

use super::elements as el;
use super::linear::{StateSpace, Step};
use realfft::num_complex::Complex64;

/// States: magnetising current, leakage current, secondary voltage over n.
const SECONDARY: usize = 2;
/// Inputs: EMF, grid current.
const GRID: usize = 1;

/// The transformer in motion.
#[derive(Clone, Debug)]
pub(super) struct InputTransformer {
    network: StateSpace<3, 2>,
    step: Step<3, 2>,
    source_ohms: f64,
    /// Conductance at the node behind the primary resistance, core loss included.
    node_siemens: f64,
    state: [f64; 3],
    before: [f64; 2],
}

/// What the transformer offers the grid, before the grid takes its current.
#[derive(Clone, Copy, Debug)]
pub(super) struct Offer {
    /// Volts at the open secondary.
    pub(super) open_volts: f64,
    /// Resistance behind which they stand within this sample.
    pub(super) ohms: f64,
}

/// Voltage and current at the primary's terminals.
#[derive(Clone, Copy, Debug)]
pub(super) struct Primary {
    pub(super) volts: f64,
    pub(super) amps: f64,
}

fn secondary_farads(miller_farads: f64) -> f64 {
    (el::T1_SECONDARY_FARADS + miller_farads) * el::T1_RATIO * el::T1_RATIO
}

fn referred(secondary_ohms: f64) -> f64 {
    secondary_ohms / (el::T1_RATIO * el::T1_RATIO)
}

impl InputTransformer {
    /// For a source resistance in ohms and the grid's input capacitance.
    pub(super) fn prepare(source_ohms: f64, miller_farads: f64, rate_hz: f64) -> Self {
        let series = source_ohms + el::T1_PRIMARY_OHMS;
        let node_siemens = 1.0 / series + 1.0 / el::T1_CORE_OHMS;
        // Node voltage: (e/series - im - ik) / node.
        let node = [-1.0 / node_siemens, -1.0 / node_siemens, 0.0];
        let node_by_emf = 1.0 / (series * node_siemens);
        let (lm, lk) = (el::T1_MAGNETISING_HENRIES, el::T1_LEAKAGE_HENRIES);
        let capacity = secondary_farads(miller_farads);
        let secondary_ohms = referred(el::T1_SECONDARY_OHMS);
        let network = StateSpace {
            a: [
                [node[0] / lm, node[1] / lm, 0.0],
                [node[0] / lk, (node[1] - secondary_ohms) / lk, -1.0 / lk],
                [
                    0.0,
                    1.0 / capacity,
                    -1.0 / (capacity * referred(el::T1_LOAD_OHMS)),
                ],
            ],
            b: [
                [node_by_emf / lm, 0.0],
                [node_by_emf / lk, 0.0],
                [0.0, -el::T1_RATIO / capacity],
            ],
        };
        let step = network.trapezoidal(rate_hz);
        Self {
            network,
            step,
            source_ohms,
            node_siemens,
            state: [0.0; 3],
            before: [0.0; 2],
        }
    }

    /// Resistance from grid to ground at rest.
    pub(super) fn grid_dc_ohms(&self) -> f64 {
        -el::T1_RATIO * self.network.at_rest([0.0, 1.0])[SECONDARY]
    }

    /// At rest, with the grid drawing a constant current.
    pub(super) fn reset(&mut self, grid_amps: f64) {
        self.before = [0.0, grid_amps];
        self.state = self.network.at_rest(self.before);
    }

    /// Goes on where another transformer is, whose EMF now counts `ratio` times.
    pub(super) fn adopt(&mut self, other: &Self, ratio: f64) {
        self.state = other.state;
        self.before = [other.before[0] * ratio, other.before[1]];
    }

    /// The source that the grid sees in the sample with EMF `emf`.
    #[inline]
    pub(super) fn offer(&self, emf: f64) -> Offer {
        let open = self.step.next(&self.state, &self.before, &[emf, 0.0]);
        let ohms = -el::T1_RATIO * self.step.immediate(SECONDARY, GRID);
        Offer {
            open_volts: el::T1_RATIO * open[SECONDARY],
            ohms,
        }
    }

    /// Completes the sample with the grid current that was found.
    #[inline]
    pub(super) fn settle(&mut self, emf: f64, grid_amps: f64) -> Primary {
        let now = [emf, grid_amps];
        self.state = self.step.next(&self.state, &self.before, &now);
        self.before = now;
        let series = self.source_ohms + el::T1_PRIMARY_OHMS;
        let node = (emf / series - self.state[0] - self.state[1]) / self.node_siemens;
        let amps = (emf - node) / series;
        Primary {
            volts: emf - self.source_ohms * amps,
            amps,
        }
    }
}

/// Impedance at the primary's terminals and ratio of secondary to primary volts, at a frequency.
pub(super) fn small_signal(miller_farads: f64, hz: f64) -> (Complex64, Complex64) {
    let jw = Complex64::new(0.0, std::f64::consts::TAU * hz);
    let secondary = 1.0 / (jw * secondary_farads(miller_farads) + 1.0 / referred(el::T1_LOAD_OHMS));
    let branch = referred(el::T1_SECONDARY_OHMS) + jw * el::T1_LEAKAGE_HENRIES + secondary;
    let node =
        1.0 / (1.0 / branch + 1.0 / (jw * el::T1_MAGNETISING_HENRIES) + 1.0 / el::T1_CORE_OHMS);
    let impedance = node + el::T1_PRIMARY_OHMS;
    (
        impedance,
        el::T1_RATIO * node / impedance * secondary / branch,
    )
}
