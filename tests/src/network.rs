//! The matrix of a T section, and what follows from it.
//!
//! Source: the chain (ABCD) matrix of a T network and the impedance and transfer of a terminated
//! two-port, as in any textbook of network theory: `A = 1 + R1/R3`, `B = R1 + R2 + R1 R2/R3`,
//! `C = 1/R3`, `D = 1 + R2/R3`.

/// A T of two series arms and a shunt, in ohms; an L is one without its second arm.
#[derive(Clone, Copy, Debug)]
pub struct Tee {
    /// Series arm at the input.
    pub r1_ohms: f64,
    /// Series arm at the output.
    pub r2_ohms: f64,
    /// Shunt.
    pub r3_ohms: f64,
}

/// What a [`Tee`] does between a source and a load.
#[derive(Clone, Copy, Debug)]
pub struct Losses {
    /// Input impedance with the load connected.
    pub in_ohms: f64,
    /// Output impedance with the source connected.
    pub out_ohms: f64,
    /// Volts at the input over volts at the load.
    pub loaded_db: f64,
    /// The source's unloaded volts over volts at the load.
    pub unloaded_db: f64,
    /// Power loss between the network's own image impedances.
    pub matched_power_db: f64,
    /// Volts at the input over volts at the open output.
    pub open_circuit_db: f64,
}

/// 20 log10 of a ratio of voltages.
#[must_use]
pub fn decibels(ratio: f64) -> f64 {
    20.0 * ratio.log10()
}

impl Tee {
    /// What it does between `source_ohms` and `load_ohms`.
    #[must_use]
    pub fn between(&self, source_ohms: f64, load_ohms: f64) -> Losses {
        let Self {
            r1_ohms,
            r2_ohms,
            r3_ohms,
        } = *self;
        let a = 1.0 + r1_ohms / r3_ohms;
        let b = r1_ohms + r2_ohms + r1_ohms * r2_ohms / r3_ohms;
        let c = 1.0 / r3_ohms;
        let d = 1.0 + r2_ohms / r3_ohms;
        let in_ohms = (a * load_ohms + b) / (c * load_ohms + d);
        let loaded_db = decibels(a + b / load_ohms);
        Losses {
            in_ohms,
            out_ohms: (d * source_ohms + b) / (c * source_ohms + a),
            loaded_db,
            unloaded_db: loaded_db + decibels((in_ohms + source_ohms) / in_ohms),
            matched_power_db: decibels((a * d).sqrt() + (b * c).sqrt()),
            open_circuit_db: decibels(a),
        }
    }

    /// The L whose input arm and shunt give `in_ohms` into `load_ohms` and `out_ohms` from
    /// `source_ohms`: the one that sits on the edge of what a U or L can do for a least input
    /// impedance. Found by bisection on the shunt, so that no design formula is trusted. There is one
    /// only if arm and load without a shunt (`out_ohms - source_ohms + load_ohms`) stay below
    /// `in_ohms`.
    #[must_use]
    pub fn ell_with_both(source_ohms: f64, load_ohms: f64, in_ohms: f64, out_ohms: f64) -> Self {
        let arm_for = |shunt: f64| out_ohms * shunt / (shunt - out_ohms) - source_ohms;
        let input_of = |shunt: f64| arm_for(shunt) + shunt * load_ohms / (shunt + load_ohms);
        // Just above `out_ohms` the arm is endless; where it vanishes the input is lowest.
        let (mut low, mut high) = (out_ohms * (1.0 + 1e-9), out_ohms * 1e3);
        for _ in 0..200 {
            let middle = f64::midpoint(low, high);
            if input_of(middle) > in_ohms {
                low = middle;
            } else {
                high = middle;
            }
        }
        let r3_ohms = f64::midpoint(low, high);
        Self {
            r1_ohms: arm_for(r3_ohms),
            r2_ohms: 0.0,
            r3_ohms,
        }
    }
}
