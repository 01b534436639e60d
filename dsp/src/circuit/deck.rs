//! The preamplifier as lines of a SPICE deck (ngspice), from the same table as the equations.
//!
//! Fluxes are the voltages of nodes `flux_1`, `flux_2` in milliwebers. A tube's noise is that of a
//! resistor at room temperature, put in series with the grid by a controlled source of gain one, so
//! that a noise analysis counts it.

use super::core::Core;
use super::elements::{ELEMENTS, Element, Kind, Node, SUPPLY_VOLTS, step_of};
use super::noise::tube_noise_ohms;
use super::preamp::Settings;
use super::triode::{GridLaw, PLATE_SHARE_VOLTS, PlateLaw, Triode};
use std::fmt::{self, Write};

/// Writes every element that conducts at these settings; the terminals are `mic_hot` and `mic_cold`,
/// the output `out_hot` against ground, the supply's node `supply`. The load is written, the source
/// is not.
///
/// # Errors
/// When `out` does not take the text.
pub fn write_deck(out: &mut impl Write, settings: &Settings) -> fmt::Result {
    writeln!(out, "Vsupply supply 0 {SUPPLY_VOLTS:e}")?;
    let step = step_of(settings.gain.0);
    let mut irons = 0;
    for element in &ELEMENTS {
        let Element {
            name,
            kind,
            a,
            b,
            purpose,
        } = element;
        let (from, to) = (a.name(), b.name());
        match kind {
            Kind::Resistor(value) => match value.at(step, settings.attenuator) {
                Some(ohms) if ohms.is_finite() => writeln!(out, "{name} {from} {to} {ohms:e}")?,
                Some(_) => writeln!(out, "* {name} is open: {purpose}")?,
                // A leg that is a wire; a shunt that is open has no node of its own.
                None if *a != Node::Primary1 => writeln!(out, "V{name} {from} {to} 0")?,
                None => writeln!(out, "* {name} is open: {purpose}")?,
            },
            Kind::Capacitor(farads) => writeln!(out, "{name} {from} {to} {farads:e}")?,
            Kind::Leakage(henries) => writeln!(out, "{name} {from} {to} {henries:e}")?,
            Kind::Turns(ratio) => {
                writeln!(out, "E{name} {from} 0 {to} 0 {:e}", 1.0 / ratio)?;
                writeln!(out, "F{name} 0 {to} E{name} {:e}", 1.0 / ratio)?;
            }
            Kind::Iron(core) => {
                irons += 1;
                iron(out, name, from, irons, core)?;
            }
            Kind::Tube { triode, grid } => tube(out, name, [from, grid.name(), to], triode)?,
        }
    }
    writeln!(out, "Rload out_hot out_cold {:e}", settings.load.0)?;
    writeln!(out, "Vcold out_cold 0 0")
}

fn iron(out: &mut impl Write, name: &str, node: &str, n: usize, core: &Core) -> fmt::Result {
    let flux = format!("(1e-3*v(flux_{n}))");
    let knee = format!("({flux}/{:e})", core.knee_webers);
    let wall = format!("({flux}/{:e})", core.wall_webers);
    // Explicit products: a power keeps or loses the sign, as the simulator likes.
    let wall_2 = format!("({wall}*{wall})");
    writeln!(out, "Bflux{n} 0 flux_{n} I = v({node})")?;
    writeln!(out, "Cflux{n} flux_{n} 0 1e-3")?;
    writeln!(
        out,
        "{name} {node} 0 I = {flux}/{:e}*(1+{knee}*{knee}+{wall_2}*{wall_2}*{wall_2}*{wall_2})\
         +v({node})/{:e}*{knee}*{knee}",
        core.henries, core.loss_ohms
    )
}

fn soft(argument: &str) -> String {
    format!("(ln(1+exp(min({argument},36)))+max({argument}-36,0))")
}

fn grid_amps(law: &GridLaw, volts: &str) -> String {
    let soft = soft(&format!("({:e}*{volts})", law.c));
    format!(
        "({:e}*({soft}/{:e})**{:e}+{:e})",
        law.g, law.c, law.xi, law.leak_amps
    )
}

fn tube(out: &mut impl Write, name: &str, nodes: [&str; 3], triode: &Triode) -> fmt::Result {
    let [plate, grid, cathode] = nodes;
    writeln!(out, "RN{name} noise_{name} 0 {:e}", tube_noise_ohms(name))?;
    writeln!(out, "EN{name} {grid} inner_{name} noise_{name} 0 1")?;
    let grid_volts = format!("v(inner_{name},{cathode})");
    let plate_volts = format!("v({plate},{cathode})");
    let grid_amps = grid_amps(&triode.grid, &grid_volts);
    writeln!(out, "B{name}G inner_{name} {cathode} I = {grid_amps}")?;
    let plate_amps = match triode.plate {
        PlateLaw::Koren {
            mu,
            ex,
            kg1,
            kp,
            kvb,
        } => {
            let root = format!("sqrt({kvb:e}+{plate_volts}*{plate_volts})");
            let soft = soft(&format!("({kp:e}*({:e}+{grid_volts}/{root}))", 1.0 / mu));
            format!("2/{kg1:e}*(max({plate_volts},0)*{soft}/{kp:e})**{ex:e}")
        }
        PlateLaw::Dempwolf { g, mu, gamma, c } => {
            let soft = soft(&format!("({c:e}*({plate_volts}/{mu:e}+{grid_volts}))"));
            let [middle, width] = PLATE_SHARE_VOLTS;
            format!(
                "({g:e}*({soft}/{c:e})**{gamma:e}-{grid_amps})\
                 /(1+exp(-({plate_volts}-{middle:e})/{width:e}))"
            )
        }
    };
    writeln!(out, "B{name}P {plate} {cathode} I = {plate_amps}")
}
