//! One resistance-coupled triode stage, solved on its load line.
//!
//! ```text
//!                      supply
//!                        |
//!                  plate_ohms
//!                        +----||----+---- out
//!   e --drive_ohms-- G  P   coupling|
//!                     K          load_ohms
//!                     |             |
//!            cathode_ohms (degenerates)
//!            bias_ohms || bypass_farads
//! ```
//!
//! Per sample two equations are solved for the grid-to-cathode and plate-to-cathode voltages by
//! Newton's method: the grid loop (drive minus grid-current drop minus cathode) and the plate's
//! load line. The voltages of the two capacitors move slowly and are stepped after each solution.
//! Both equations are monotone, so that a nested bisection, used when Newton does not arrive
//! within its cap, always finds the one solution.

use penstock_dsp::circuit::{Currents, Triode};
use penstock_dsp::units::parallel;

/// Elements of a stage, in volts, ohms and farads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StageElements {
    /// The tube.
    pub tube: Triode,
    /// Supply.
    pub supply_volts: f64,
    /// Plate load.
    pub plate_ohms: f64,
    /// Cathode resistor without bypass; may be 0.
    pub cathode_ohms: f64,
    /// Cathode resistor with bypass; may be 0.
    pub bias_ohms: f64,
    /// Bypass capacitor across `bias_ohms`.
    pub bypass_farads: f64,
    /// Coupling capacitor to what follows.
    pub coupling_farads: f64,
    /// What follows.
    pub load_ohms: f64,
}

/// Voltages and currents at rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OperatingPoint {
    /// Grid to cathode.
    pub grid_volts: f64,
    /// Plate to cathode.
    pub plate_volts: f64,
    /// Currents and slopes there.
    pub currents: Currents,
}

/// A stage in motion.
#[derive(Clone, Debug)]
pub struct Stage {
    elements: StageElements,
    rest: OperatingPoint,
    /// Share by which each capacitor closes on its target in one sample.
    bypass_step: f64,
    coupling_step: f64,
    /// Seconds per farad: volts a current leaves on the coupling capacitor in one sample.
    coupling_charge: f64,
    bypass_volts: f64,
    coupling_volts: f64,
    guess: (f64, f64),
}

/// What a stage does in one sample.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StageOut {
    /// Grid to ground.
    pub grid_volts: f64,
    /// Across the load.
    pub load_volts: f64,
    /// Into the grid.
    pub grid_amps: f64,
}

/// The equations of one sample: `e` drives through `drive_ohms`, the plate sees the straight line
/// `line_volts - line_ohms * current`, the cathode stands on `cathode_volts`.
struct LoadLine<'a> {
    tube: &'a Triode,
    e: f64,
    drive_ohms: f64,
    cathode_ohms: f64,
    cathode_volts: f64,
    line_volts: f64,
    line_ohms: f64,
}

impl LoadLine<'_> {
    /// Newton stops below this step, in volts, and then takes it along the slopes: what remains is
    /// of the order of its square, 1e-12 V.
    const TOLERANCE_VOLTS: f64 = 1e-6;
    const MOST_ITERATIONS: usize = 24;

    /// Both residuals in volts and the currents there.
    fn residuals(&self, vg: f64, vp: f64) -> (f64, f64, Currents) {
        let c = self.tube.currents(vg, vp);
        let cathode = self.cathode_volts + self.cathode_ohms * (c.plate_amps + c.grid_amps);
        let grid = vg + cathode + self.drive_ohms * c.grid_amps - self.e;
        let plate = vp + cathode + self.line_ohms * c.plate_amps - self.line_volts;
        (grid, plate, c)
    }

    /// Grid and plate voltages to the cathode, and the currents.
    fn solve(&self, guess: (f64, f64)) -> (f64, f64, Currents) {
        let (mut vg, mut vp) = guess;
        for _ in 0..Self::MOST_ITERATIONS {
            let (grid, plate, c) = self.residuals(vg, vp);
            let by_grid = self.cathode_ohms * (c.plate_by_grid + c.grid_by_grid);
            let by_plate = self.cathode_ohms * c.plate_by_plate;
            let (j11, j12) = (1.0 + by_grid + self.drive_ohms * c.grid_by_grid, by_plate);
            let (j21, j22) = (
                by_grid + self.line_ohms * c.plate_by_grid,
                1.0 + by_plate + self.line_ohms * c.plate_by_plate,
            );
            let determinant = j11 * j22 - j12 * j21;
            let step_g = (j22 * grid - j12 * plate) / determinant;
            let step_p = (j11 * plate - j21 * grid) / determinant;
            if step_g.abs() < Self::TOLERANCE_VOLTS && step_p.abs() < Self::TOLERANCE_VOLTS {
                // The last step, along the slopes: the error falls with its square.
                let by_steps = c.plate_by_grid * step_g + c.plate_by_plate * step_p;
                let plate_amps = c.plate_amps - by_steps;
                let grid_amps = c.grid_amps - c.grid_by_grid * step_g;
                let settled = Currents {
                    plate_amps,
                    grid_amps,
                    ..c
                };
                return (vg - step_g, vp - step_p, settled);
            }
            // Near the onset of grid current the curvature is of the order of 0.1 V; far larger
            // steps would jump across the knee. Far from it the step may grow with the distance.
            let most = 2.0 + 0.5 * vg.abs();
            vg -= step_g.clamp(-most, most);
            vp -= step_p.clamp(-100.0, 100.0);
        }
        self.bisect()
    }

    /// The one solution by nested bisection: slow, certain.
    #[cold]
    fn bisect(&self) -> (f64, f64, Currents) {
        let reach = 10.0 + self.e.abs() + self.cathode_volts.abs() + self.line_volts.abs();
        let (mut low, mut high) = (-3.0 * reach, reach);
        let mut vp = 0.0;
        for _ in 0..64 {
            let vg = 0.5 * (low + high);
            let (mut low_p, mut high_p) = (-100.0 * reach, 100.0 * reach);
            for _ in 0..64 {
                vp = 0.5 * (low_p + high_p);
                if self.residuals(vg, vp).1 > 0.0 {
                    high_p = vp;
                } else {
                    low_p = vp;
                }
            }
            if self.residuals(vg, vp).0 > 0.0 {
                high = vg;
            } else {
                low = vg;
            }
        }
        let vg = 0.5 * (low + high);
        (vg, vp, self.tube.currents(vg, vp))
    }
}

impl Stage {
    /// Finds the operating point and steps for a rate in hertz. `drive_dc_ohms` is the resistance
    /// from grid to ground at rest.
    #[must_use]
    pub fn prepare(elements: StageElements, drive_dc_ohms: f64, rate_hz: f64) -> Self {
        let at_rest = LoadLine {
            tube: &elements.tube,
            e: 0.0,
            drive_ohms: drive_dc_ohms,
            cathode_ohms: elements.cathode_ohms + elements.bias_ohms,
            cathode_volts: 0.0,
            line_volts: elements.supply_volts,
            line_ohms: elements.plate_ohms,
        };
        let (grid_volts, plate_volts, currents) =
            at_rest.solve((-1.0, elements.supply_volts / 2.0));
        let share = |seconds: f64| -(-1.0 / (rate_hz * seconds)).exp_m1();
        let mut stage = Self {
            elements,
            rest: OperatingPoint {
                grid_volts,
                plate_volts,
                currents,
            },
            bypass_step: share(elements.bias_ohms * elements.bypass_farads),
            coupling_step: share(elements.load_ohms * elements.coupling_farads),
            coupling_charge: 1.0 / (rate_hz * elements.coupling_farads),
            bypass_volts: 0.0,
            coupling_volts: 0.0,
            guess: (0.0, 0.0),
        };
        stage.reset();
        stage
    }

    /// Back to the operating point.
    pub fn reset(&mut self) {
        let e = &self.elements;
        let cathode_amps = self.rest.currents.plate_amps + self.rest.currents.grid_amps;
        self.bypass_volts = e.bias_ohms * cathode_amps;
        self.coupling_volts = e.supply_volts - e.plate_ohms * self.rest.currents.plate_amps;
        self.guess = (self.rest.grid_volts, self.rest.plate_volts);
    }

    /// Voltages and currents at rest.
    #[must_use]
    pub fn operating_point(&self) -> OperatingPoint {
        self.rest
    }

    /// One sample: `e` volts behind `drive_ohms` at the grid.
    #[inline]
    pub fn process(&mut self, e: f64, drive_ohms: f64) -> StageOut {
        let el = &self.elements;
        let ratio = el.plate_ohms / el.load_ohms;
        let line = LoadLine {
            tube: &el.tube,
            e,
            drive_ohms,
            cathode_ohms: el.cathode_ohms,
            cathode_volts: self.bypass_volts,
            line_volts: (el.supply_volts + ratio * self.coupling_volts) / (1.0 + ratio),
            line_ohms: parallel(el.plate_ohms, el.load_ohms),
        };
        let (vg, vp, c) = line.solve(self.guess);
        self.guess = (vg, vp);
        let plate = line.line_volts - line.line_ohms * c.plate_amps;
        let load_volts = plate - self.coupling_volts;
        let cathode_amps = c.plate_amps + c.grid_amps;
        self.bypass_volts += (el.bias_ohms * cathode_amps - self.bypass_volts) * self.bypass_step;
        self.coupling_volts += load_volts * self.coupling_step;
        StageOut {
            grid_volts: e - drive_ohms * c.grid_amps,
            load_volts,
            grid_amps: c.grid_amps,
        }
    }

    /// Charges the coupling capacitor by a current that what follows draws besides `load_ohms`.
    #[inline]
    pub fn draw(&mut self, amps: f64) {
        self.coupling_volts += amps * self.coupling_charge;
    }
}
