//! The careful way of a step: a tube may go to another region, a grid may leap.
//!
//! A step within a region takes that region's slopes as its exact part. One that leads out of it, or
//! in which a grid leaps, is done again without any tube in the exact part; and when leap follows leap,
//! the damped way, which nothing can swing up.

use super::currents::left;
use super::equations::PORTS;
use super::lanes::Lanes;
use super::network::{Column, DAMPED, Network, PASSIVE, STATE_ROWS};
use super::rows::{add, at, stored};
use super::solver::{Channel, Found};

/// No state is larger, whatever happens.
const MOST_STATE: f64 = 1e7;
/// After so many leaps in a row it is the steps that swing, not the sound.
const SWINGS: u32 = 4;

impl Channel {
    /// A step that may go anywhere.
    #[inline(always)]
    pub(super) fn careful<L: Lanes>(&mut self, network: &Network) {
        let state = self.state(network);
        let amps = [0, 1].map(|n| self.amps(network, n));
        let leapt = self.now.leaps > 0;
        let mut place = match self.now.leaps {
            0 => self.now.place,
            1..SWINGS => PASSIVE,
            _ => DAMPED,
        };
        let mut found = self.at_place::<L>(network, place, &state, &amps);
        let there = self.place_of(network, &found.v, &found.slopes);
        let leaps = there != self.now.place || self.moved_far(&found.v);
        self.now.leaps = if leaps {
            self.now.leaps.saturating_add(1)
        } else {
            0
        };
        if leaps && !leapt {
            place = PASSIVE;
            found = self.at_place::<L>(network, place, &state, &amps);
        }
        self.now.place = self.place_of(network, &found.v, &found.slopes);
        if found.known.iter().all(|state| state.abs() < MOST_STATE) {
            self.keep(&found);
            // What was left before, as this model leaves it.
            self.now.left[1] = left(network.model(place), &self.now.v[1], &amps[0]);
            self.now.used = place;
        } else {
            // Cannot happen with bounded EMF; if it does, silence is better than noise.
            self.reset();
        }
        if self.now.leaps == 0 && self.now.place != self.now.used {
            self.go_over(
                network,
                self.now.place,
                &[self.amps(network, 0), self.amps(network, 1)],
            );
        }
    }

    /// Counts from another model from now on.
    fn go_over(&mut self, network: &Network, place: usize, amps: &[[f64; PORTS]; 2]) {
        let state = self.state(network);
        let model = network.model(place);
        for (n, amps) in amps.iter().enumerate() {
            self.now.left[n] = left(model, &self.now.v[n], amps);
        }
        self.now.used = place;
        self.count_from(network, &state);
    }

    /// The currents of the last sample, or of the one before it.
    fn amps(&self, network: &Network, n: usize) -> [f64; PORTS] {
        let slopes = network.model(self.now.used).slopes;
        let by = slopes.times(&self.now.v[n]);
        std::array::from_fn(|port| self.now.left[n][port] + by[port])
    }

    /// One step with the model of a place, from a complete state and the currents to it.
    #[inline(always)]
    fn at_place<L: Lanes>(
        &self,
        network: &Network,
        place: usize,
        state: &Column,
        amps: &[[f64; PORTS]; 2],
    ) -> Found {
        let now = &self.now;
        let model = network.model(place);
        let mut one: [L; 5] = std::array::from_fn(|n| at::<L>(&now.kick, 4 * n));
        for (row, column) in STATE_ROWS.into_iter().zip(&model.by_state) {
            add::<L>(&mut one, state[row], column);
        }
        for (emf, column) in now.emf.iter().zip(&model.by_emf) {
            add::<L>(&mut one, *emf, column);
        }
        for (n, amps) in amps.iter().enumerate() {
            let left = left(model, &now.v[n], amps);
            for (left, column) in left.iter().zip(&model.by_ports[1 - n]) {
                add::<L>(&mut one, *left, column);
            }
        }
        let known = stored(one);
        // From the last controls, moved on in a straight line.
        let mut v = now.v[0];
        if now.leaps == 0 {
            for (v, before) in v.iter_mut().zip(&now.v[1]) {
                *v += *v - before;
            }
        }
        let solution = network.solve::<L>(model, &known, &v);
        Found {
            known,
            v: solution.v,
            left: solution.left,
            slopes: solution.slopes,
        }
    }
}
