//! The quick way of a step, and how it is gone on with where that is not enough.

use super::apart::Apart;
use super::careful::leaping;
use super::currents::Drawn;
use super::direction::{Cores, direction};
use super::group::Group;
use super::lanes::Lanes;
use super::network::Network;
use super::newton::{BOTH, Solution, bounded, channels_of, lanes_of};
use super::rows::at;
use super::ways::Ways;
use super::wires::{Amps, Controls, Slopes};

/// A first term longer than this is not followed.
const FAR: f64 = 0.1;
/// Terms of a way after the first.
const QUICK_TERMS: usize = 2;

impl<L: Apart, const N: usize> Group<L, N> {
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
        let (of, v) = self.led_to(ways, from);
        let calm = calm & !self.leapt(v);
        if calm == 0 {
            return 0;
        }
        let drawn = network.currents(v);
        let ready = self.ready;
        if ready {
            // The step after this one is begun: these computations are done while the laws are waited for,
            // which, being older, go first.
            self.see_ahead(ways, n + 1, next);
        }
        let (mut found, length) = corrected(ways, v, of, &drawn, L::splat(network.known), calm);
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
        let regions = network.regions(found.v.grid, found.slopes.plate_by_grid);
        let accepted = calm & self.stays(regions, found.v);
        self.gone = calm & !accepted;
        self.ready = accepted == BOTH;
        if accepted == BOTH && !ready {
            self.see_ahead(ways, n + 1, next);
        }
        self.take(accepted, &found);
        self.turn(accepted, next);
        accepted
    }

    /// A step of the channels in `restless`, by the models of their last one, which do without the tubes, and
    /// of those in `calm`, of which there is none or one, the other being restless: what the quick way takes
    /// of a calm one is the start of its way here, and both are solved for at once. Each gets what it
    /// would get alone. Gives those for which the step was taken; a calm one that was not is as it was.
    #[inline(always)]
    pub(super) fn restless_in<const SAME: bool>(
        &mut self,
        network: &Network,
        ways: Ways<'_, SAME>,
        n: usize,
        restless: u8,
        calm: u8,
    ) -> u8 {
        self.look_ahead_in(ways, n);
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
        let mut beside = Beside {
            now,
            end: now,
            done: 0,
            open: 0,
        };
        if calm != 0 {
            L::beside(self, network, ways, from, calm, &mut beside);
        }
        let straight = if beside.open == 0 {
            leaping(network)
        } else {
            self.straight(network)
        };
        let open = restless | beside.open;
        let mut found = network.solve(ways, from, beside.now, straight, open);
        if beside.done != 0 {
            found = beside.end.where_set(lanes_of(beside.done), found);
        }
        let regions = network.regions(found.v.grid, found.slopes.plate_by_grid);
        let stays = self.stays(regions, found.v);
        let solved = beside.open | beside.done;
        let accepted = restless | solved & stays;
        self.gone = solved & !accepted;
        self.take(accepted, &found);
        self.turn(accepted, next);
        self.arrive(network, regions, restless, stays);
        self.ready = false;
        accepted
    }

    /// Where a parabola through the last three currents leads to: these, and the controls there.
    #[inline(always)]
    fn led_to<const SAME: bool>(
        &self,
        ways: Ways<'_, SAME>,
        from: Controls<L>,
    ) -> (Amps<L>, Controls<L>) {
        let left = Amps::<L>::load(&self.left[0]);
        let steps = left.sub(Amps::load(&self.left[1]));
        let of = steps.add(steps).add(steps).add(Amps::load(&self.left[2]));
        (of, from.led(of, ways))
    }

    /// How far the quick way leads a channel in `calm` whose neighbour is restless.
    #[inline(always)]
    pub(super) fn beside_in<const SAME: bool>(
        &self,
        network: &Network,
        ways: Ways<'_, SAME>,
        from: Controls<L>,
        calm: u8,
        beside: &mut Beside<L>,
    ) {
        let (of, v) = self.led_to(ways, from);
        let calm = calm & !self.leapt(v);
        if calm == 0 {
            return;
        }
        let drawn = network.currents(v);
        let limit = L::splat(network.known);
        let (end, length) = corrected(ways, v, of, &drawn, limit, calm);
        let straight = L::splat(network.straight);
        beside.open = calm & !channels_of(length.less(straight).bits());
        beside.done = calm & !beside.open;
        beside.end = end;
        if beside.open != 0 {
            let near = Open {
                from,
                v,
                length,
                channels: beside.open,
            };
            let near = near.start(network, ways, &end);
            beside.now = near.where_set(lanes_of(beside.open), beside.now);
        }
    }
}

/// A calm channel's part in a step of which the other is restless.
pub(super) struct Beside<L> {
    /// Where both are solved for from.
    now: Solution<L>,
    /// Where the quick way has led.
    end: Solution<L>,
    /// The channel, when that is the end of its step, and when it is not.
    done: u8,
    open: u8,
}

/// What currents `of` led to the controls `v`, where these are drawn; corrected by the slopes there,
/// and how long a way that was, for the channels in `wanted`.
#[inline(always)]
fn corrected<L: Apart, const SAME: bool>(
    ways: Ways<'_, SAME>,
    v: Controls<L>,
    of: Amps<L>,
    drawn: &Drawn<L>,
    limit: L,
    wanted: u8,
) -> (Solution<L>, L) {
    let model = ways.slopes::<L>();
    let here = drawn.amps.sub(model.times(v));
    let miss = Controls::nothing().led(here.sub(of), ways);
    let beyond = drawn.slopes.sub(model);
    let (mut way, mut more) = (miss, beyond.times(miss));
    let known = channels_of(ways.reach(more).less(limit).bits()) | BOTH & !wanted;
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
    let exact = direction(ways, &Cores::of(ways, beyond), beyond, miss);
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
        let now = open.start(network, ways, found);
        let straight = L::splat(network.straight);
        let end = network.solve(ways, open.from, now, straight, open.channels);
        *found = end.where_set(lanes_of(open.channels), *found);
    }
}

impl<L: Apart> Open<L> {
    /// Where the correction led, or as far on the way there as a round may go.
    #[inline(always)]
    fn start<const SAME: bool>(
        &self,
        network: &Network,
        ways: Ways<'_, SAME>,
        found: &Solution<L>,
    ) -> Solution<L> {
        let share = bounded(L::splat(1.0), self.length);
        network.at(ways, self.v.moved(share, found.v.sub(self.v)))
    }
}
