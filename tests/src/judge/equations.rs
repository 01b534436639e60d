//! The circuit as `E x' + f(x) = 0`: a row a node (what flows out of it), a row a branch whose current
//! is unknown, a row a flux.

use super::dense::Square;
use penstock_dsp::circuit::{
    Core, ELEMENTS, Element, Kind, Node, SUPPLY_VOLTS, Settings, Triode, Value, step_of,
};

/// An element whose current is not proportional to anything.
#[derive(Clone, Copy, Debug)]
enum Curved {
    Tube {
        triode: Triode,
        plate: Option<usize>,
        grid: Option<usize>,
        cathode: Option<usize>,
    },
    Iron {
        core: Core,
        node: usize,
        flux: usize,
    },
}

/// The equations at some settings.
#[derive(Clone, Debug)]
pub(super) struct Equations {
    nodes: Vec<Node>,
    attenuator: bool,
    /// E.
    pub(super) storage: Square,
    /// The linear part of f.
    linear: Square,
    curved: Vec<Curved>,
    /// What an EMF of 1 V adds to f.
    by_emf: Vec<f64>,
    /// What the whole supply adds to f.
    by_supply: Vec<f64>,
    pub(super) source_ohms: f64,
}

/// Where a node is found when the attenuator is out: its legs are wires.
fn merged(node: Node, attenuator: bool) -> Node {
    match node {
        Node::MicHot if !attenuator => Node::Primary1,
        Node::MicCold if !attenuator => Node::Ground,
        other => other,
    }
}

/// Every node that has an unknown voltage, in the order in which the table first names it.
fn nodes(attenuator: bool) -> Vec<Node> {
    let mut nodes = Vec::new();
    for element in &ELEMENTS {
        let grid = match element.kind {
            Kind::Tube { grid, .. } => grid,
            _ => element.a,
        };
        for node in [element.a, element.b, grid] {
            let node = merged(node, attenuator);
            if node != Node::Ground && !nodes.contains(&node) {
                nodes.push(node);
            }
        }
    }
    nodes
}

impl Equations {
    pub(super) fn of(settings: &Settings) -> Self {
        let nodes = nodes(settings.attenuator);
        let branches = ELEMENTS
            .iter()
            .filter(|element| matches!(element.kind, Kind::Leakage(_) | Kind::Turns(_)))
            .count();
        let irons = ELEMENTS
            .iter()
            .filter(|element| matches!(element.kind, Kind::Iron(_)))
            .count();
        // The last unknown is the supply's current.
        let size = nodes.len() + branches + irons + 1;
        let mut equations = Self {
            nodes,
            attenuator: settings.attenuator,
            storage: Square::zero(size),
            linear: Square::zero(size),
            curved: Vec::new(),
            by_emf: vec![0.0; size],
            by_supply: vec![0.0; size],
            source_ohms: settings.source.0,
        };
        equations.surround(settings);
        let mut next = equations.nodes.len();
        for element in &ELEMENTS {
            equations.element(element, settings, &mut next);
        }
        assert_eq!(next, size - 1);
        equations
    }

    /// How many unknowns there are.
    pub(super) fn size(&self) -> usize {
        self.by_emf.len()
    }

    /// The unknown that is a node's voltage; ground has none.
    pub(super) fn node(&self, node: Node) -> Option<usize> {
        let node = merged(node, self.attenuator);
        self.nodes.iter().position(|other| *other == node)
    }

    /// Source, load and supply.
    fn surround(&mut self, settings: &Settings) {
        let (hot, cold) = (self.node(Node::MicHot), self.node(Node::MicCold));
        conductance(&mut self.linear, hot, cold, 1.0 / settings.source.0);
        for (end, sign) in [(hot, -1.0), (cold, 1.0)] {
            if let Some(end) = end {
                self.by_emf[end] = sign / settings.source.0;
            }
        }
        let out = self.node(Node::Out);
        conductance(&mut self.linear, out, None, 1.0 / settings.load.0);
        let branch = self.size() - 1;
        if let Some(supply) = self.node(Node::Supply) {
            self.linear.row_mut(supply)[branch] = 1.0;
            self.linear.row_mut(branch)[supply] = 1.0;
        }
        self.by_supply[branch] = -SUPPLY_VOLTS;
    }

    /// One element; those with an unknown of their own take the `next`.
    fn element(&mut self, element: &Element, settings: &Settings, next: &mut usize) {
        let (a, b) = (self.node(element.a), self.node(element.b));
        match element.kind {
            Kind::Resistor(value) => {
                let ohms = match value {
                    Value::Fixed(ohms) => ohms,
                    Value::ByGain(ohms) => ohms[step_of(settings.gain.0)],
                    Value::Attenuator(ohms) if settings.attenuator => ohms,
                    Value::Attenuator(_) => return,
                };
                conductance(&mut self.linear, a, b, 1.0 / ohms);
            }
            Kind::Capacitor(farads) => conductance(&mut self.storage, a, b, farads),
            Kind::Leakage(henries) => {
                // L i' - (va - vb) = 0
                self.storage.row_mut(*next)[*next] = henries;
                self.through(a, *next, -1.0, 1.0);
                self.through(b, *next, 1.0, -1.0);
                *next += 1;
            }
            Kind::Turns(ratio) => {
                // vb - ratio va = 0; what flows into a is ratio times what flows out of b.
                self.through(a, *next, -ratio, ratio);
                self.through(b, *next, 1.0, -1.0);
                *next += 1;
            }
            Kind::Iron(core) => {
                // flux' - va = 0
                let node = a.expect("iron stands at a node");
                self.storage.row_mut(*next)[*next] = 1.0;
                self.linear.row_mut(*next)[node] = -1.0;
                let flux = *next;
                self.curved.push(Curved::Iron { core, node, flux });
                *next += 1;
            }
            Kind::Tube { triode, grid } => self.curved.push(Curved::Tube {
                triode,
                plate: a,
                grid: self.node(grid),
                cathode: b,
            }),
        }
    }

    /// A branch's equation takes a node's voltage, the node's row the branch's current.
    fn through(&mut self, node: Option<usize>, branch: usize, volts: f64, amps: f64) {
        if let Some(node) = node {
            self.linear.row_mut(branch)[node] += volts;
            self.linear.row_mut(node)[branch] += amps;
        }
    }

    /// f at these unknowns, with a share of the supply.
    pub(super) fn flows(&self, x: &[f64], emf: f64, supply: f64) -> Vec<f64> {
        let mut f: Vec<f64> = (0..self.size())
            .map(|row| {
                self.linear.times(row, x) + emf * self.by_emf[row] + supply * self.by_supply[row]
            })
            .collect();
        for curved in &self.curved {
            curved.flows(x, &mut |row, amps| f[row] += amps);
        }
        f
    }

    /// The derivatives of f by the unknowns.
    pub(super) fn slopes(&self, x: &[f64]) -> Square {
        let mut slopes = self.linear.clone();
        for curved in &self.curved {
            curved.slopes(x, &mut |row, column, slope| {
                slopes.row_mut(row)[column] += slope;
            });
        }
        slopes
    }

    /// Grid to cathode and plate to cathode of each tube, in the order of the table.
    pub(super) fn tubes(&self, x: &[f64]) -> Vec<(Triode, f64, f64)> {
        let tubes = self.curved.iter().filter_map(|curved| match *curved {
            Curved::Tube {
                triode,
                plate,
                grid,
                cathode,
            } => {
                let cathode = volts(x, cathode);
                Some((triode, volts(x, grid) - cathode, volts(x, plate) - cathode))
            }
            Curved::Iron { .. } => None,
        });
        tubes.collect()
    }
}

impl Curved {
    fn flows(&self, x: &[f64], add: &mut impl FnMut(usize, f64)) {
        match *self {
            Self::Tube {
                triode,
                plate,
                grid,
                cathode,
            } => {
                let at = volts(x, cathode);
                let now = triode.currents(volts(x, grid) - at, volts(x, plate) - at);
                for (node, amps) in [
                    (plate, now.plate_amps),
                    (grid, now.grid_amps),
                    (cathode, -now.plate_amps - now.grid_amps),
                ] {
                    if let Some(node) = node {
                        add(node, amps);
                    }
                }
            }
            Self::Iron { core, node, flux } => add(node, core.current(x[flux], x[node]).amps),
        }
    }

    fn slopes(&self, x: &[f64], add: &mut impl FnMut(usize, usize, f64)) {
        match *self {
            Self::Tube {
                triode,
                plate,
                grid,
                cathode,
            } => {
                let at = volts(x, cathode);
                let now = triode.currents(volts(x, grid) - at, volts(x, plate) - at);
                let by_plate = [now.plate_by_plate, 0.0];
                let by_grid = [now.plate_by_grid, now.grid_by_grid];
                let by_cathode = [-by_plate[0] - by_grid[0], -by_grid[1]];
                for (column, [of_plate, of_grid]) in
                    [(plate, by_plate), (grid, by_grid), (cathode, by_cathode)]
                {
                    let Some(column) = column else { continue };
                    for (row, slope) in [
                        (plate, of_plate),
                        (grid, of_grid),
                        (cathode, -of_plate - of_grid),
                    ] {
                        if let Some(row) = row {
                            add(row, column, slope);
                        }
                    }
                }
            }
            Self::Iron { core, node, flux } => {
                let now = core.current(x[flux], x[node]);
                add(node, flux, now.by_flux);
                add(node, node, now.by_volts);
            }
        }
    }
}

fn volts(x: &[f64], node: Option<usize>) -> f64 {
    node.map_or(0.0, |node| x[node])
}

/// A conductance or capacitance between two nodes.
fn conductance(matrix: &mut Square, a: Option<usize>, b: Option<usize>, value: f64) {
    for (end, other) in [(a, b), (b, a)] {
        let Some(end) = end else { continue };
        matrix.row_mut(end)[end] += value;
        if let Some(other) = other {
            matrix.row_mut(end)[other] -= value;
        }
    }
}
