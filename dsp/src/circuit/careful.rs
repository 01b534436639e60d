//! The careful way of a step: a tube may go to another region, a grid may leap.
//!
//! A step within a region takes that region's slopes as its exact part. One that leads out of it, or
//! in which a grid leaps, is done again without any tube in the exact part; and when leap follows leap,
//! the damped way, which nothing can swing up.

use super::apart::Apart;
use super::group::{Group, PORT_LANES, Rows};
use super::lanes::{self, Lanes, Portable};
use super::model::NOW;
use super::network::{Column, DAMPED, Loops, Model, Network, PASSIVE, STATE_ROWS};
use super::newton::{BOTH, Solution, lanes_of};
use super::region;
use super::rows::{add, at, stored, unrolled};
use super::solver::Channel;
use super::unrest::Unrest;
use super::ways::Ways;
use super::wires::{Amps, Controls, Slopes};

/// Four states together are no larger, whatever happens.
const MOST_STATE: f64 = 1e7;
/// In a leap, whose step is of lower order, the last way may be so much longer.
const LEAPING: f64 = 30.0;

/// Where a careful step starts from: everything complete.
struct Start<L, const N: usize> {
    states: [Column; N],
    /// Currents at the last sample, and at the one before it.
    amps: [Amps<L>; 2],
}

/// Where it leads.
#[derive(Clone, Copy)]
struct End<L, const N: usize> {
    known: [[L; 5]; N],
    solution: Solution<L>,
}

impl<L: Apart, const N: usize> Group<L, N> {
    /// A step of the channels in `wanted` that may go anywhere.
    #[inline(always)]
    pub(super) fn careful_in(&mut self, network: &Network, n: usize, wanted: u8) {
        let start = self.start(network);
        // What the quick way has found to lead away need not be found again.
        let gone: [bool; N] = std::array::from_fn(|c| self.gone >> c & 1 == 1);
        let mut place: [usize; N] = std::array::from_fn(|c| {
            let calm = gone[c] && self.unrest[c].is_calm();
            if calm {
                PASSIVE
            } else {
                self.unrest[c].model(self.place[c])
            }
        });
        let apart = place.map(|place| place >= PASSIVE);
        let mut end = self.at_places(network, n, place, &start, wanted);
        let there = self.places_of(network, &end.solution);
        let leapt = self.leapt(end.solution.v);
        let mut again = 0;
        for c in 0..N {
            if !wants::<N>(wanted, c) {
                continue;
            }
            let leaps = there[c] != self.place[c] || leapt >> c & 1 == 1 || gone[c];
            self.unrest[c].count(leaps);
            if leaps && !apart[c] {
                place[c] = PASSIVE;
                again |= 1 << c;
            }
        }
        if again != 0 {
            let again = if N == 1 { BOTH } else { again };
            let other = self.at_places(network, n, place, &start, again);
            end.solution = other.solution.where_set(lanes_of(again), end.solution);
            for c in 0..N {
                if wants::<N>(again, c) {
                    end.known[c] = other.known[c];
                }
            }
        }
        self.settle(network, place, &start, &end, wanted);
    }

    /// Everything complete, from the models used last.
    #[inline(always)]
    fn start(&self, network: &Network) -> Start<L, N> {
        let models = self.models(network, self.used);
        let mut states = *self.known();
        for c in 0..N {
            let mut rows = [L::splat(0.0); 5];
            unrolled!(V in 0 1 2 3 4 => rows[V] = at::<L>(&self.known()[c], 4 * V));
            self.add_ports(&mut rows, &models[c.min(1)].by_new, &self.left[0], c);
            states[c] = stored(rows);
        }
        let slopes = Ways::slopes_of::<L>(models);
        Start {
            states,
            amps: [
                Amps::<L>::load(&self.left[0]).add(slopes.times(self.v[0])),
                Amps::<L>::load(&self.left[1]).add(slopes.times(self.v[1])),
            ],
        }
    }

    /// One step with the models of these places; found for the channels in `wanted` only.
    #[inline(always)]
    fn at_places(
        &self,
        network: &Network,
        n: usize,
        places: [usize; N],
        start: &Start<L, N>,
        wanted: u8,
    ) -> End<L, N> {
        let models = self.models(network, places);
        let mut room = Loops::NOTHING;
        let ways = Ways::pair::<L>(models, &mut room);
        let left = left_of(&ways.slopes(), self.v, start.amps);
        let mut known = [[L::splat(0.0); 5]; N];
        for c in 0..N {
            if wants::<N>(wanted, c) {
                known[c] = self.known_from(models[c], n, c, &start.states[c], &left, places[c]);
            }
        }
        let last = N - 1;
        let from = Controls::of([known[0][0], known[0][1]], [known[last][0], known[last][1]]);
        let straight = self.straight(network);
        let now = Solution {
            v: self.v[0],
            left: Amps::load(&left[0]),
            slopes: Slopes::load(&self.slopes),
        };
        End {
            known,
            solution: network.solve(ways, from, now, straight, wanted),
        }
    }

    /// What is known of a channel's new state, from a complete one.
    #[inline(always)]
    fn known_from(
        &self,
        model: &Model,
        n: usize,
        c: usize,
        state: &Column,
        left: &[Rows; 2],
        place: usize,
    ) -> [L; 5] {
        let mut sum = [L::splat(0.0); 5];
        unrolled!(V in 0 1 2 3 4 => sum[V] = at::<L>(&self.kick[c], 4 * V));
        unrolled!(K in 0 1 2 3 4 5 6 7 8 9 10 11 12 13 14 => {
            add::<L>(&mut sum, state[STATE_ROWS[K]], &model.by_state[K]);
        });
        if place == DAMPED {
            // Takes nothing of the others.
            add::<L>(&mut sum, self.emf[c][n + NOW], &model.by_emf[NOW]);
        } else {
            unrolled!(K in 0 1 2 3 4 5 => {
                add::<L>(&mut sum, self.emf[c][n + K], &model.by_emf[K]);
            });
            self.add_ports(&mut sum, &model.by_now, &left[0], c);
            self.add_ports(&mut sum, &model.by_before, &left[1], c);
        }
        sum
    }

    #[inline(always)]
    fn add_ports(&self, sum: &mut [L; 5], columns: &[Column; 6], left: &Rows, c: usize) {
        unrolled!(PORT in 0 1 2 3 4 5 => {
            let (kind, lane) = PORT_LANES[PORT];
            add::<L>(sum, left[kind][lane + c], &columns[PORT]);
        });
    }

    /// Takes what was found, and goes on with the models of the places where the channels are.
    #[inline(always)]
    fn settle(
        &mut self,
        network: &Network,
        places: [usize; N],
        start: &Start<L, N>,
        end: &End<L, N>,
        wanted: u8,
    ) {
        let there = self.places_of(network, &end.solution);
        self.take(wanted, &end.solution);
        // What was left before, as these models leave it.
        let slopes = Ways::slopes_of::<L>(self.models(network, places));
        let before = start.amps[0].sub(slopes.times(self.v[1]));
        let lanes = lanes_of::<L>(wanted);
        let now = Amps::<L>::load(&self.left[0]);
        let kept = before.where_set(lanes, Amps::load(&self.left[1]));
        // The third one that lies on their line.
        let line = before.add(before).sub(now);
        self.left[1] = kept.store();
        self.left[2] = line.where_set(lanes, Amps::load(&self.left[2])).store();
        for c in 0..N {
            if !wants::<N>(wanted, c) {
                continue;
            }
            self.known_mut()[c] = stored(end.known[c]);
            self.used[c] = places[c];
            self.be_at(network, c, there[c]);
        }
    }

    /// These channels are in such regions after a step by the models of their last one; in those that are
    /// not in `stays` something leapt.
    #[inline(always)]
    pub(super) fn arrive(&mut self, network: &Network, regions: (u8, u8), channels: u8, stays: u8) {
        let moved = (regions.0 ^ self.regions.0) | (regions.1 ^ self.regions.1);
        let theirs = channels | channels << 2;
        self.regions.0 = regions.0 & theirs | self.regions.0 & !theirs;
        self.regions.1 = regions.1 & theirs | self.regions.1 & !theirs;
        for c in 0..N {
            if wants::<N>(channels, c) {
                self.unrest[c].count(stays >> c & 1 == 0);
                let mut place = self.place[c];
                if (moved | moved >> 2) >> c & 1 == 1 {
                    place = region::place(regions.0, regions.1, c);
                }
                self.be_at(network, c, place);
            }
        }
    }

    /// Takes a channel's place, and goes over to its model when that is due.
    #[inline(always)]
    fn be_at(&mut self, network: &Network, c: usize, place: usize) {
        self.place[c] = place;
        if !is_bounded::<L>(&self.known()[c]) {
            // Cannot happen with bounded EMF; if it does, silence is better than noise.
            self.put_to_rest(c);
        } else if self.unrest[c].is_calm() && self.place[c] != self.used[c] {
            self.go_over(network, c);
        }
    }

    /// Counts from the model of the place where a channel is, from now on.
    #[inline(always)]
    fn go_over(&mut self, network: &Network, c: usize) {
        let start = self.start(network);
        self.used[c] = self.place[c];
        self.count_from(network, c, &start);
    }

    /// Takes over a complete state for the models that are used.
    #[inline(always)]
    fn count_from(&mut self, network: &Network, c: usize, start: &Start<L, N>) {
        let models = self.models(network, self.used);
        let left = left_of(&Ways::slopes_of::<L>(models), self.v, start.amps);
        self.take_left(c, &left);
        let mut rows = [L::splat(0.0); 5];
        unrolled!(V in 0 1 2 3 4 => rows[V] = at::<L>(&start.states[c], 4 * V));
        let minus = self.left[0].map(|lanes| lanes.map(|amps| -amps));
        self.add_ports(&mut rows, &models[c.min(1)].by_new, &minus, c);
        self.known_mut()[c] = stored(rows);
    }

    /// What is left of the currents of one channel; the third one lies on their line.
    #[inline(always)]
    fn take_left(&mut self, c: usize, left: &[Rows; 2]) {
        for kind in 0..3 {
            for lane in [c, c + 2] {
                let (now, before) = (left[0][kind][lane], left[1][kind][lane]);
                for lane in lane..=lane + usize::from(N == 1) {
                    for (to, amps) in self.left.iter_mut().zip([now, before, 2.0 * before - now]) {
                        to[kind][lane] = amps;
                    }
                }
            }
        }
    }

    #[cold]
    #[inline(never)]
    fn put_to_rest(&mut self, c: usize) {
        self.known_mut()[c] = [0.0; super::network::ROWS];
        let mask = lanes_of::<L>(if N == 1 { BOTH } else { 1 << c });
        let nothing = Controls::nothing();
        self.v = [
            nothing.where_set(mask, self.v[0]),
            nothing.where_set(mask, self.v[1]),
        ];
        for lanes in self.left.iter_mut().flatten() {
            let nothing = mask.select(L::splat(0.0), L::load(lanes));
            *lanes = nothing.store();
        }
        (self.place[c], self.used[c], self.unrest[c]) = (0, 0, Unrest::CALM);
        self.find_regions();
    }

    /// Models of the channels, both the same if there is one.
    #[inline(always)]
    fn models<'a>(&self, network: &'a Network, places: [usize; N]) -> [&'a Model; 2] {
        [network.model(places[0]), network.model(places[N - 1])]
    }

    /// How long the last way may be.
    #[inline(always)]
    pub(super) fn straight(&self, network: &Network) -> L {
        let straight = L::splat(network.straight);
        lanes_of::<L>(self.calm()).select(straight, leaping(network))
    }

    /// Where the channels would be.
    #[inline(always)]
    fn places_of(&self, network: &Network, solution: &Solution<L>) -> [usize; N] {
        let (conducting, cut_off) = network.regions(solution.v.grid, solution.slopes.plate_by_grid);
        std::array::from_fn(|c| region::place(conducting, cut_off, c))
    }
}

impl Network {
    /// Lets a channel go on that another network brought to where it is.
    pub(super) fn go_on(&self, channel: &mut Channel, from: &Self) {
        #[cfg(target_arch = "x86_64")]
        if self.avx2 {
            #[expect(unsafe_code, reason = "the processor has what `lanes::avx2` looks for")]
            unsafe {
                self.go_on_avx2(channel, from);
            }
            return;
        }
        self.go_on_in::<Portable>(channel, from);
    }

    #[cfg(target_arch = "x86_64")]
    #[target_feature(enable = "avx2,fma")]
    fn go_on_avx2(&self, channel: &mut Channel, from: &Self) {
        self.go_on_in::<lanes::Avx2>(channel, from);
    }

    #[inline(always)]
    fn go_on_in<L: Apart>(&self, channel: &mut Channel, from: &Self) {
        let mut group = Group::<L, 1>::of(std::array::from_ref(channel));
        let mut start = group.start(from);
        // The voltages go on; the currents are those of this network.
        let drawn = self.currents(group.v[0]);
        start.amps = [drawn.amps, self.currents(group.v[1]).amps];
        group.slopes = drawn.slopes.store();
        group.count_from(self, 0, &start);
        group.give_back(std::array::from_mut(channel), 0);
    }
}

/// How long the last way of a leaping channel may be.
#[inline(always)]
pub(super) fn leaping<L: Lanes>(network: &Network) -> L {
    L::splat(network.straight).mul(L::splat(LEAPING))
}

/// Whether every state is a number and not too large; which a sum of their sizes tells.
#[inline(always)]
fn is_bounded<L: Lanes>(states: &Column) -> bool {
    let mut sum = at::<L>(states, 0).abs();
    unrolled!(V in 1 2 3 4 => sum = sum.add(at::<L>(states, 4 * V).abs()));
    sum.less(L::splat(MOST_STATE)).bits() == 0b1111
}

/// What models leave of currents at two samples.
#[inline(always)]
fn left_of<L: Lanes>(slopes: &Slopes<L>, v: [Controls<L>; 2], amps: [Amps<L>; 2]) -> [Rows; 2] {
    [
        amps[0].sub(slopes.times(v[0])).store(),
        amps[1].sub(slopes.times(v[1])).store(),
    ]
}

/// Whether a channel's bit is set; one channel alone has both.
#[inline(always)]
fn wants<const N: usize>(channels: u8, c: usize) -> bool {
    channels >> c & 1 == 1 || (N == 1 && channels != 0)
}
