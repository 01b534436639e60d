//! How two channels step: each with a model of its own, or both with the same.

use super::equations::PORTS;
use super::lanes::Lanes;
use super::network::{Column, Loops, Model, Network};
use super::wires::{Amps, Slopes};

/// The models of the first and of the second channel; `SAME` says that they are one.
#[derive(Clone, Copy)]
pub(super) struct Ways<'a, const SAME: bool> {
    pub(super) one: &'a Model,
    pub(super) other: &'a Model,
    /// What each takes of the last currents: its own `by_last`, or that for states of another model.
    pub(super) last: [&'a [Column; PORTS]; 2],
    /// Of both, by lanes.
    pub(super) loops: &'a Loops,
}

impl<'a> Ways<'a, true> {
    /// The same model for both.
    #[inline(always)]
    pub(super) fn same(model: &'a Model) -> Self {
        Self {
            one: model,
            other: model,
            last: [&model.by_last; 2],
            loops: &model.loops,
        }
    }
}

impl<'a> Ways<'a, false> {
    /// Two models, whose loops are put together in `room`.
    #[inline(always)]
    pub(super) fn pair<L: Lanes>([one, other]: [&'a Model; 2], room: &'a mut Loops) -> Self {
        for (to, (a, b)) in room
            .0
            .iter_mut()
            .zip(one.loops.0.iter().zip(&other.loops.0))
        {
            *to = L::load(a).paired(L::load(b)).store();
        }
        Self::of([one, other], room)
    }

    /// Two models, their loops put together.
    #[inline(always)]
    fn of([one, other]: [&'a Model; 2], loops: &'a Loops) -> Self {
        Self {
            one,
            other,
            last: [&one.by_last, &other.by_last],
            loops,
        }
    }
}

impl Ways<'_, false> {
    /// The slopes of two models alone.
    #[inline(always)]
    pub(super) fn slopes_of<L: Lanes>([one, other]: [&Model; 2]) -> Slopes<L> {
        let at = |n: usize| {
            let n = Loops::SLOPES + n;
            L::load(&one.loops.0[n]).paired(L::load(&other.loops.0[n]))
        };
        Slopes {
            plate_by_grid: at(0),
            plate_by_plate: at(1),
            grid_by_grid: at(2),
            core_by_flux: at(3),
            core_by_volts: at(4),
        }
    }
}

/// Room for the loops of two models, kept while they stay the same.
pub(super) struct Paired {
    loops: Loops,
    places: Option<[usize; 2]>,
}

impl Paired {
    pub(super) const NONE: Self = Self {
        loops: Loops::NOTHING,
        places: None,
    };

    /// Of the models of two places.
    #[inline(always)]
    pub(super) fn ways<'a, L: Lanes>(
        &'a mut self,
        network: &'a Network,
        places: [usize; 2],
    ) -> Ways<'a, false> {
        let models = places.map(|place| network.model(place));
        if self.places == Some(places) {
            return Ways::of(models, &self.loops);
        }
        self.places = Some(places);
        Ways::pair::<L>(models, &mut self.loops)
    }
}

impl<const SAME: bool> Ways<'_, SAME> {
    /// What a control takes of a current of its own tube.
    #[inline(always)]
    pub(super) fn own<L: Lanes>(self, control: usize, kind: usize) -> L {
        L::load(&self.loops.0[Loops::OWN + 3 * control + kind])
    }

    /// What a control takes of a current of the other tube.
    #[inline(always)]
    pub(super) fn across<L: Lanes>(self, control: usize, kind: usize) -> L {
        L::load(&self.loops.0[Loops::ACROSS + 3 * control + kind])
    }

    /// A control, and what currents add to it: `other` are those of the other tube.
    #[inline(always)]
    pub(super) fn led<L: Lanes>(self, control: usize, own: Amps<L>, other: Amps<L>, from: L) -> L {
        // Two chains: half the time from end to end.
        let one = self.own::<L>(control, 0).fma(own.plate, from);
        let two = self.across::<L>(control, 0).mul(other.plate);
        let one = self.own::<L>(control, 1).fma(own.grid, one);
        let two = self.across::<L>(control, 1).fma(other.grid, two);
        let one = self.own::<L>(control, 2).fma(own.core, one);
        let two = self.across::<L>(control, 2).fma(other.core, two);
        one.add(two)
    }

    /// How long a way currents lead at most, in both tubes together.
    #[inline(always)]
    pub(super) fn reach<L: Lanes>(self, by: Amps<L>) -> L {
        let reach = |kind: usize| &self.loops.0[Loops::REACH + kind];
        let one = L::load(reach(0)).mul(by.plate.abs());
        let one = L::load(reach(1)).fma(by.grid.abs(), one);
        let one = L::load(reach(2)).fma(by.core.abs(), one);
        one.add(one.swapped())
    }

    /// The slopes that are part of the exact steps.
    #[inline(always)]
    pub(super) fn slopes<L: Lanes>(self) -> Slopes<L> {
        let at = |n: usize| Loops::SLOPES + n;
        let all = &self.loops.0;
        Slopes {
            plate_by_grid: L::load(&all[at(0)]),
            plate_by_plate: L::load(&all[at(1)]),
            grid_by_grid: L::load(&all[at(2)]),
            core_by_flux: L::load(&all[at(3)]),
            core_by_volts: L::load(&all[at(4)]),
        }
    }
}
