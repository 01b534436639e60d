//! One channel or two while they step, and their states laid out for it.
//!
//! Two channels step in one stream of instructions, so that the processor works on one while the other
//! waits for results. Each is computed as if it were alone: see [`super::lanes`].

use super::apart::Apart;
use super::lanes::Lanes;
use super::model::{EMF_SAMPLES, NOW};
use super::network::{CATHODE_1, Column, Network, PASSIVE, ROWS};
use super::newton::{BOTH, Solution, lanes_of};
use super::region;
use super::rows::{at, unrolled};
use super::solver::{Channel, Seen, State};
use super::unrest::Unrest;
use super::ways::{Paired, Ways};
use super::wires::{Amps, Controls, Slopes};

/// Steps between two looks at the channels' own memory.
pub(super) const CHUNK: usize = 64;
/// A grid that moves further in one step leaps, in volts: of V1, of V2.
const LEAP_VOLTS: [f64; 4] = [1.0, 1.0, 2.0, 2.0];

/// Currents in lanes, in memory: plates, grids, cores.
pub(super) type Rows = [[f64; 4]; 3];
/// Where the currents of a channel's ports are in those: kind, and lane of the first channel.
pub(super) const PORT_LANES: [(usize, usize); 6] = [(0, 0), (1, 0), (0, 2), (1, 2), (2, 0), (2, 2)];

/// See [`State`]; `N` is 1 or 2.
pub(super) struct Group<L, const N: usize> {
    /// What is known of the states: of the last step, and room for the next one.
    pub(super) known: [[Column; N]; 2],
    pub(super) side: usize,
    /// What the next step takes of all but the newest currents; whether that is there.
    pub(super) ahead: [Column; N],
    pub(super) ready: bool,
    /// Channels whose step was solved for, but led out of their regions or leapt.
    pub(super) gone: u8,
    pub(super) kick: [Column; N],
    pub(super) hisses: bool,
    pub(super) v: [Controls<L>; 2],
    /// Of the last three samples.
    pub(super) left: [Rows; 3],
    pub(super) slopes: [[f64; 4]; 5],
    /// EMF from five samples before on, and a place for one that is looked at for nothing.
    pub(super) emf: [[f64; CHUNK + EMF_SAMPLES]; N],
    pub(super) place: [usize; N],
    /// The same as bits of lanes: see [`Network::regions`].
    pub(super) regions: (u8, u8),
    pub(super) used: [usize; N],
    pub(super) unrest: [Unrest; N],
}

impl<L: Apart, const N: usize> Group<L, N> {
    /// Takes over channels.
    #[inline(always)]
    pub(super) fn of(channels: &[Channel; N]) -> Self {
        let last = N - 1;
        let (one, other) = (&channels[0].now, &channels[last].now);
        let left = |n: usize| {
            let mut rows = [[0.0; 4]; 3];
            for (port, (kind, lane)) in PORT_LANES.into_iter().enumerate() {
                rows[kind][lane] = one.left[n][port];
                rows[kind][lane + 1] = other.left[n][port];
            }
            rows
        };
        let mut group = Self {
            known: [[[0.0; ROWS]; N]; 2],
            side: 0,
            ahead: [[0.0; ROWS]; N],
            ready: false,
            gone: 0,
            kick: [[0.0; ROWS]; N],
            hisses: false,
            v: [
                Controls::of(halves(&one.v[0]), halves(&other.v[0])),
                Controls::of(halves(&one.v[1]), halves(&other.v[1])),
            ],
            left: [left(0), left(1), left(2)],
            slopes: std::array::from_fn(|n| {
                std::array::from_fn(|lane| {
                    let now = if lane % 2 == 0 { one } else { other };
                    now.slopes[lane / 2][n]
                })
            }),
            emf: [[0.0; CHUNK + EMF_SAMPLES]; N],
            place: [0; N],
            used: [0; N],
            unrest: [Unrest::CALM; N],
            regions: (0, 0),
        };
        for (c, Channel { now, .. }) in channels.iter().enumerate() {
            group.known[0][c] = now.known;
            group.kick[c] = now.kick;
            group.hisses |= channels[c].hiss.is_some();
            group.emf[c][..EMF_SAMPLES - 1].copy_from_slice(&now.emf[1..]);
            group.place[c] = now.place;
            group.used[c] = now.used;
            group.unrest[c] = now.unrest;
        }
        group.find_regions();
        group
    }

    /// Gives them back after so many steps.
    #[inline(always)]
    pub(super) fn give_back(&self, channels: &mut [Channel; N], steps: usize) {
        let v = [self.v[0].store(), self.v[1].store()];
        for (c, channel) in channels.iter_mut().enumerate() {
            let mut emf = [0.0; EMF_SAMPLES];
            if steps == 0 {
                emf = channel.now.emf;
            } else {
                emf.copy_from_slice(&self.emf[c][steps - 1..][..EMF_SAMPLES]);
            }
            channel.now = State {
                known: self.known()[c],
                kick: self.kick[c],
                v: v.map(|[grid, plate, flux, core]| {
                    std::array::from_fn(|row| {
                        let lane = c + 2 * (row / 2 % 2);
                        [[grid, plate], [flux, core]][row / 4][row % 2][lane]
                    })
                }),
                left: self
                    .left
                    .map(|rows| PORT_LANES.map(|(kind, lane)| rows[kind][lane + c])),
                slopes: [0, 1].map(|tube| self.slopes.map(|lanes| lanes[2 * tube + c])),
                emf,
                place: self.place[c],
                used: self.used[c],
                unrest: self.unrest[c],
            };
        }
    }

    /// What is known of the states of the channels.
    #[inline(always)]
    pub(super) fn known(&self) -> &[Column; N] {
        &self.known[self.side & 1]
    }

    #[inline(always)]
    pub(super) fn known_mut(&mut self) -> &mut [Column; N] {
        &mut self.known[self.side & 1]
    }

    /// One step; what is seen after it in each channel.
    #[inline(always)]
    pub(super) fn step(&mut self, network: &Network, n: usize, room: &mut Paired) -> [Seen; N] {
        let last = N - 1;
        self.gone = 0;
        let calm = self.calm();
        let (steady, crosses) = self.steady();
        let used = [self.used[0], self.used[last]];
        let mut accepted = 0;
        if steady != 0 && used[0] == used[1] && crosses == 0 {
            let ways = Ways::same(network.model(used[0]));
            accepted = if steady & !calm == 0 {
                self.quick(network, ways, n, steady & calm)
            } else {
                L::restless(self, network, ways, n, steady & !calm, steady & calm)
            };
        } else if steady != 0 {
            let mut ways = room.ways::<L>(network, used);
            for (c, last) in ways.last.iter_mut().enumerate() {
                if crosses >> c & 1 == 1 {
                    *last = network.crossing(used[c]);
                }
            }
            accepted = if steady & !calm == 0 {
                L::quick(self, network, ways, n, steady & calm)
            } else {
                L::restless(self, network, ways, n, steady & !calm, steady & calm)
            };
        }
        if accepted != BOTH {
            L::careful(self, network, n, BOTH & !accepted);
            self.find_regions();
            self.ready = false;
        }
        let mut seen = [Seen::default(); N];
        let (grid_1, grid_2) = {
            let [a, b, c, d] = self.v[0].grid.store();
            ([a, b], [c, d])
        };
        for c in 0..N {
            let model = network.model(self.used[c]);
            let mut rows = at::<L>(&self.known()[c], CATHODE_1);
            unrolled!(PORT in 0 1 2 3 4 5 => {
                let (kind, lane) = PORT_LANES[PORT];
                let share = L::splat(self.left[0][kind][lane + c]);
                rows = at::<L>(&model.by_new[PORT], CATHODE_1).fma(share, rows);
            });
            let [cathode_1, cathode_2, out, primary] = rows.store();
            seen[c] = Seen {
                grid_1: grid_1[c] + cathode_1,
                grid_2: grid_2[c] + cathode_2,
                out,
                primary,
                emf: self.emf[c][n + NOW],
            };
        }
        seen
    }

    /// The regions that belong to the places.
    pub(super) fn find_regions(&mut self) {
        self.regions = (0, 0);
        for lane in 0..4 {
            let place = self.place[(lane % 2).min(N - 1)];
            let (conducting, cut_off) = region::of_tube(place, lane / 2);
            self.regions.0 |= u8::from(conducting) << lane;
            self.regions.1 |= u8::from(cut_off) << lane;
        }
    }

    /// Channels that do not leap.
    #[inline(always)]
    pub(super) fn calm(&self) -> u8 {
        let bit = |c: usize| u8::from(self.unrest[c].is_calm()) << c;
        if N == 1 {
            bit(0) * BOTH
        } else {
            bit(0) | bit(N - 1)
        }
    }

    /// Channels whose next step is taken by the model of their last one, or that cross over between the
    /// two models without tubes; and those that cross, whose models are changed. These two leave the same
    /// of the currents, so that what was before needs not be counted anew.
    #[inline(always)]
    fn steady(&mut self) -> (u8, u8) {
        let (mut steady, mut crosses) = (0, 0);
        for c in 0..N {
            let (to, used) = (self.unrest[c].model(self.place[c]), self.used[c]);
            let crossed = to != used && to.min(used) >= PASSIVE;
            if crossed {
                self.used[c] = to;
            }
            steady |= u8::from(crossed || to == used) << c;
            crosses |= u8::from(crossed) << c;
        }
        if N == 1 {
            (steady * BOTH, crosses * BOTH)
        } else {
            (steady, crosses)
        }
    }

    /// Goes on with what is known of the next states, of these channels.
    #[inline(always)]
    pub(super) fn turn(&mut self, channels: u8, next: usize) {
        if channels == BOTH {
            self.side = next;
        } else if channels != 0 {
            for c in 0..N {
                if channels >> c & 1 == 0 {
                    self.known[next][c] = self.known[next ^ 1][c];
                }
            }
            self.side = next;
        }
    }

    /// Controls and currents of the next sample, of these channels.
    #[inline(always)]
    pub(super) fn take(&mut self, channels: u8, found: &Solution<L>) {
        let [now, before] = self.v;
        let [left, left_before, oldest] = self.left;
        if channels == BOTH {
            self.v = [found.v, now];
            self.left = [found.left.store(), left, left_before];
            self.slopes = found.slopes.store();
        } else if channels != 0 {
            let mask = lanes_of::<L>(channels);
            self.v = [found.v.where_set(mask, now), now.where_set(mask, before)];
            let old = Amps::<L>::load(&left);
            let older = Amps::<L>::load(&left_before);
            self.left = [
                found.left.where_set(mask, old).store(),
                old.where_set(mask, older).store(),
                older.where_set(mask, Amps::load(&oldest)).store(),
            ];
            let slopes = Slopes::load(&self.slopes);
            self.slopes = found.slopes.where_set(mask, slopes).store();
        }
    }

    /// Channels whose tubes stay in their regions when these are the new ones, and no grid of which leaps.
    #[inline(always)]
    pub(super) fn stays(&self, regions: (u8, u8), v: Controls<L>) -> u8 {
        let moved = (regions.0 ^ self.regions.0) | (regions.1 ^ self.regions.1);
        BOTH & !(moved | moved >> 2) & !self.leapt(v)
    }

    /// Channels in which a grid has moved so far within the step that no slopes hold for all of it.
    #[inline(always)]
    pub(super) fn leapt(&self, v: Controls<L>) -> u8 {
        let moved = v.grid.sub(self.v[0].grid).abs();
        let bits = L::load(&LEAP_VOLTS).less(moved).bits();
        (bits | bits >> 2) & BOTH
    }
}

/// Controls in the order of the rows.
#[inline(always)]
fn halves<L: Lanes>(&[a, b, c, d, e, f, g, h]: &[f64; 8]) -> [L; 2] {
    [L::load(&[a, b, c, d]), L::load(&[e, f, g, h])]
}
