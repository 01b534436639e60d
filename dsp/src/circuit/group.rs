//! One channel or two while they step: their states laid out for it, and the quick way of a step.
//!
//! Two channels step in one stream of instructions, so that the processor works on one while the other
//! waits for results. Each is computed as if it were alone: see [`super::lanes`].

use super::apart::Apart;
use super::currents::Drawn;
use super::direction::direction;
use super::lanes::Lanes;
use super::model::{EMF_SAMPLES, NOW};
use super::network::{CATHODE_1, Column, Network, ROWS};
use super::newton::{BOTH, Solution, bounded, channels_of, lanes_of};
use super::region;
use super::rows::{at, unrolled};
use super::solver::{Channel, Seen, State};
use super::unrest::Unrest;
use super::ways::{Paired, Ways};
use super::wires::{Amps, Controls, Slopes};

/// Steps between two looks at the channels' own memory.
pub(super) const CHUNK: usize = 64;
/// A first term longer than this is not followed.
const FAR: f64 = 0.1;
/// Terms of a way after the first.
const QUICK_TERMS: usize = 2;
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
    ready: bool,
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
        let (calm, steady) = (self.calm(), self.steady());
        let used = [self.used[0], self.used[last]];
        let accepted = if steady == 0 {
            0
        } else if used[0] == used[1] {
            let ways = Ways::same(network.model(used[0]));
            if steady == calm {
                self.quick(network, ways, n, calm)
            } else {
                L::restless(self, network, ways, n, steady)
            }
        } else {
            let ways = room.ways::<L>(network, used);
            if steady == calm {
                L::quick(self, network, ways, n, calm)
            } else {
                L::restless(self, network, ways, n, steady)
            }
        };
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

    /// Channels whose next step is taken by the model of their last one.
    #[inline(always)]
    fn steady(&self) -> u8 {
        let bit = |c: usize| u8::from(self.unrest[c].model(self.place[c]) == self.used[c]) << c;
        if N == 1 {
            bit(0) * BOTH
        } else {
            bit(0) | bit(N - 1)
        }
    }

    /// A step of the channels in `calm` that stay in their regions and need few rounds; gives those for
    /// which it was taken. The others are as they were.
    #[inline(always)]
    pub(super) fn quick<const SAME: bool>(
        &mut self,
        network: &Network,
        ways: Ways<'_, SAME>,
        n: usize,
        calm: u8,
    ) -> u8 {
        if !self.ready {
            L::look_ahead(self, ways, n);
        }
        let last = N - 1;
        let next = (self.side & 1) ^ 1;
        self.known[next] = self.completed(ways);
        let (one, other) = (&self.known[next][0], &self.known[next][last]);
        let from = Controls::of([at(one, 0), at(one, 4)], [at(other, 0), at(other, 4)]);
        let left = Amps::<L>::load(&self.left[0]);
        // A parabola through the last three.
        let steps = left.sub(Amps::load(&self.left[1]));
        let of = steps.add(steps).add(steps).add(Amps::load(&self.left[2]));
        let v = from.led(of, ways);
        let calm = calm & !self.leapt(v);
        if calm == 0 {
            return 0;
        }
        let ready = self.ready;
        if ready {
            // The step after this one is begun, since these computations can be done while the laws are
            // waited for.
            self.see_ahead(ways, n + 1, next);
        }
        let (mut found, length) =
            corrected(ways, v, of, &network.currents(v), L::splat(network.known));
        let straight = L::splat(network.straight);
        let open = calm & !channels_of(length.less(straight).bits());
        if open != 0 {
            L::on(
                self,
                network,
                ways,
                &Open {
                    from,
                    v,
                    length,
                    channels: open,
                },
                &mut found,
            );
        }
        let accepted = calm & self.stays(network, &found);
        self.gone = calm & !accepted;
        self.ready = accepted == BOTH;
        if accepted == BOTH && !ready {
            self.see_ahead(ways, n + 1, next);
        }
        self.take(accepted, &found);
        self.turn(accepted, next);
        accepted
    }

    /// Goes on with what is known of the next states, of these channels.
    #[inline(always)]
    fn turn(&mut self, channels: u8, next: usize) {
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

    /// A step of the channels in `steady` by the models of their last one, some of them without the tubes;
    /// gives those for which it was taken. Calm ones that leave their regions or leap are as they were.
    #[inline(always)]
    pub(super) fn restless_in<const SAME: bool>(
        &mut self,
        network: &Network,
        ways: Ways<'_, SAME>,
        n: usize,
        steady: u8,
    ) -> u8 {
        if !self.ready {
            self.look_ahead_in(ways, n);
        }
        let last = N - 1;
        let next = (self.side & 1) ^ 1;
        self.known[next] = self.completed(ways);
        let (one, other) = (&self.known[next][0], &self.known[next][last]);
        let from = Controls::of([at(one, 0), at(one, 4)], [at(other, 0), at(other, 4)]);
        let now = Solution {
            v: self.v[0],
            left: Amps::load(&self.left[0]),
            slopes: Slopes::load(&self.slopes),
        };
        let found = network.solve(ways, from, now, self.straight(network), steady);
        let stays = self.stays(network, &found);
        self.gone = steady & self.calm() & !stays;
        let accepted = steady & !self.gone;
        self.ready = false;
        self.take(accepted, &found);
        self.turn(accepted, next);
        self.arrive(network, &found, accepted, stays);
        accepted
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

    /// Channels whose tubes stay in their regions, and no grid of which leaps.
    #[inline(always)]
    fn stays(&self, network: &Network, found: &Solution<L>) -> u8 {
        let regions = network.regions(found.v.grid, found.slopes.plate_by_grid);
        let moved = (regions.0 ^ self.regions.0) | (regions.1 ^ self.regions.1);
        BOTH & !(moved | moved >> 2) & !self.leapt(found.v)
    }

    /// Channels in which a grid has moved so far within the step that no slopes hold for all of it.
    #[inline(always)]
    pub(super) fn leapt(&self, v: Controls<L>) -> u8 {
        let moved = v.grid.sub(self.v[0].grid).abs();
        let bits = L::load(&LEAP_VOLTS).less(moved).bits();
        (bits | bits >> 2) & BOTH
    }
}

/// What currents `of` led to the controls `v`, where these are drawn; corrected by the slopes there,
/// and how long a way that was.
#[inline(always)]
fn corrected<L: Apart, const SAME: bool>(
    ways: Ways<'_, SAME>,
    v: Controls<L>,
    of: Amps<L>,
    drawn: &Drawn<L>,
    limit: L,
) -> (Solution<L>, L) {
    let model = ways.slopes::<L>();
    let here = drawn.amps.sub(model.times(v));
    let miss = Controls::nothing().led(here.sub(of), ways);
    let beyond = drawn.slopes.sub(model);
    let (mut way, mut more) = (miss, beyond.times(miss));
    let known = channels_of(ways.reach(more).less(limit).bits());
    if known != BOTH {
        // From further off no single way leads straight to the end.
        let far = !channels_of(miss.length().less(L::splat(FAR)).bits());
        if (known | far) & BOTH != BOTH {
            L::longer(
                ways,
                &beyond,
                limit,
                known | far & BOTH,
                &mut way,
                &mut more,
            );
        }
    }
    let end = Solution {
        v: v.add(way),
        left: here.add(more),
        slopes: drawn.slopes,
    };
    (end, way.length())
}

/// Goes on from a way's first term, for the channels for which it is not `known` yet, along the series
/// `miss + K S miss + ...`, S being the slopes that the model does not have.
#[inline(always)]
pub(super) fn longer_in<L: Lanes, const SAME: bool>(
    ways: Ways<'_, SAME>,
    beyond: &Slopes<L>,
    limit: L,
    mut known: u8,
    way: &mut Controls<L>,
    more: &mut Amps<L>,
) {
    let miss = *way;
    let mut term = miss;
    for _ in 0..QUICK_TERMS {
        term = Controls::nothing().led(beyond.times(term), ways);
        let kept = lanes_of::<L>(known);
        let last = beyond.times(term);
        *way = way.where_set(kept, way.add(term));
        *more = more.where_set(kept, more.add(last));
        known |= channels_of(ways.reach(last).less(limit).bits());
        if known == BOTH {
            return;
        }
    }
    // The slopes are far from the model's: the series is no way to solve for it.
    let kept = lanes_of::<L>(known);
    let exact = direction(ways, beyond, miss);
    *way = way.where_set(kept, exact.0);
    *more = more.where_set(kept, exact.1);
}

/// A step that one correction did not solve.
pub(super) struct Open<L> {
    /// Controls without the newest currents.
    from: Controls<L>,
    /// Where the currents were looked up, and how far from there the correction led.
    v: Controls<L>,
    length: L,
    channels: u8,
}

impl<L: Apart, const N: usize> Group<L, N> {
    /// Goes on to where the equations hold.
    #[inline(always)]
    pub(super) fn on_in<const SAME: bool>(
        &self,
        network: &Network,
        ways: Ways<'_, SAME>,
        open: &Open<L>,
        found: &mut Solution<L>,
    ) {
        let share = bounded(L::splat(1.0), open.length);
        let v = open.v.moved(share, found.v.sub(open.v));
        let now = network.at(ways, v);
        let straight = L::splat(network.straight);
        let end = network.solve(ways, open.from, now, straight, open.channels);
        *found = end.where_set(lanes_of(open.channels), *found);
    }
}

/// Controls in the order of the rows.
#[inline(always)]
fn halves<L: Lanes>(&[a, b, c, d, e, f, g, h]: &[f64; 8]) -> [L; 2] {
    [L::load(&[a, b, c, d]), L::load(&[e, f, g, h])]
}
