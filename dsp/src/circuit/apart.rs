//! Pieces of a step that are compiled by themselves: each then has the processor's registers to
//! itself, and what is rarely done is out of the way of the rest.

use super::group::Group;
use super::lanes::{Lanes, Portable};
use super::network::Network;
use super::newton::Solution;
use super::quick::{Beside, Open};
use super::ways::Ways;
use super::wires::{Amps, Controls, Slopes};

/// What processors are given to run.
pub(super) trait Apart: Lanes {
    /// See [`Group::look_ahead_in`].
    fn look_ahead<const SAME: bool, const N: usize>(
        group: &mut Group<Self, N>,
        ways: Ways<'_, SAME>,
        n: usize,
    );
    /// See [`Group::quick`].
    fn quick<const SAME: bool, const N: usize>(
        group: &mut Group<Self, N>,
        network: &Network,
        ways: Ways<'_, SAME>,
        n: usize,
        calm: u8,
    ) -> u8;
    /// See [`Group::restless_in`].
    fn restless<const SAME: bool, const N: usize>(
        group: &mut Group<Self, N>,
        network: &Network,
        ways: Ways<'_, SAME>,
        n: usize,
        steady: u8,
        calm: u8,
    ) -> u8;
    /// See [`Group::beside_in`].
    fn beside<const SAME: bool, const N: usize>(
        group: &Group<Self, N>,
        network: &Network,
        ways: Ways<'_, SAME>,
        from: Controls<Self>,
        calm: u8,
        beside: &mut Beside<Self>,
    );
    /// See [`Group::on_in`].
    fn on<const SAME: bool, const N: usize>(
        group: &Group<Self, N>,
        network: &Network,
        ways: Ways<'_, SAME>,
        open: &Open<Self>,
        found: &mut Solution<Self>,
    );
    /// See [`super::quick::longer_in`].
    fn longer<const SAME: bool>(
        ways: Ways<'_, SAME>,
        beyond: &Slopes<Self>,
        limit: Self,
        known: u8,
        way: &mut Controls<Self>,
        more: &mut Amps<Self>,
    );
    /// See [`Network::followed_in`].
    fn followed<const SAME: bool>(
        network: &Network,
        ways: Ways<'_, SAME>,
        known: Controls<Self>,
        start: &Solution<Self>,
        straight: Self,
        channel: u8,
    ) -> Solution<Self>;
    /// See [`Group::careful_in`].
    fn careful<const N: usize>(group: &mut Group<Self, N>, network: &Network, n: usize, wanted: u8);
}

impl Apart for Portable {
    #[inline(never)]
    fn look_ahead<const SAME: bool, const N: usize>(
        group: &mut Group<Self, N>,
        ways: Ways<'_, SAME>,
        n: usize,
    ) {
        group.look_ahead_in(ways, n);
    }
    #[inline(never)]
    fn quick<const SAME: bool, const N: usize>(
        group: &mut Group<Self, N>,
        network: &Network,
        ways: Ways<'_, SAME>,
        n: usize,
        calm: u8,
    ) -> u8 {
        group.quick(network, ways, n, calm)
    }
    #[inline(never)]
    fn restless<const SAME: bool, const N: usize>(
        group: &mut Group<Self, N>,
        network: &Network,
        ways: Ways<'_, SAME>,
        n: usize,
        steady: u8,
        calm: u8,
    ) -> u8 {
        group.restless_in(network, ways, n, steady, calm)
    }
    #[inline(never)]
    fn beside<const SAME: bool, const N: usize>(
        group: &Group<Self, N>,
        network: &Network,
        ways: Ways<'_, SAME>,
        from: Controls<Self>,
        calm: u8,
        beside: &mut Beside<Self>,
    ) {
        group.beside_in(network, ways, from, calm, beside);
    }
    #[inline(never)]
    fn on<const SAME: bool, const N: usize>(
        group: &Group<Self, N>,
        network: &Network,
        ways: Ways<'_, SAME>,
        open: &Open<Self>,
        found: &mut Solution<Self>,
    ) {
        group.on_in(network, ways, open, found);
    }
    #[inline(never)]
    fn longer<const SAME: bool>(
        ways: Ways<'_, SAME>,
        beyond: &Slopes<Self>,
        limit: Self,
        known: u8,
        way: &mut Controls<Self>,
        more: &mut Amps<Self>,
    ) {
        super::quick::longer_in(ways, beyond, limit, known, way, more);
    }
    #[inline(never)]
    fn followed<const SAME: bool>(
        network: &Network,
        ways: Ways<'_, SAME>,
        known: Controls<Self>,
        start: &Solution<Self>,
        straight: Self,
        channel: u8,
    ) -> Solution<Self> {
        network.followed_in(ways, known, *start, straight, channel)
    }
    #[inline(never)]
    fn careful<const N: usize>(
        group: &mut Group<Self, N>,
        network: &Network,
        n: usize,
        wanted: u8,
    ) {
        group.careful_in(network, n, wanted);
    }
}

#[cfg(target_arch = "x86_64")]
#[expect(
    unsafe_code,
    reason = "`lanes::Avx2` is used only where the processor has these features"
)]
mod avx2 {
    use super::super::lanes::Avx2;
    use super::{Amps, Apart, Beside, Controls, Group, Network, Open, Slopes, Solution, Ways};

    impl Apart for Avx2 {
        #[inline(always)]
        fn look_ahead<const SAME: bool, const N: usize>(
            group: &mut Group<Self, N>,
            ways: Ways<'_, SAME>,
            n: usize,
        ) {
            unsafe { look_ahead(group, ways, n) }
        }
        #[inline(always)]
        fn quick<const SAME: bool, const N: usize>(
            group: &mut Group<Self, N>,
            network: &Network,
            ways: Ways<'_, SAME>,
            n: usize,
            calm: u8,
        ) -> u8 {
            unsafe { quick(group, network, ways, n, calm) }
        }
        #[inline(always)]
        fn restless<const SAME: bool, const N: usize>(
            group: &mut Group<Self, N>,
            network: &Network,
            ways: Ways<'_, SAME>,
            n: usize,
            steady: u8,
            calm: u8,
        ) -> u8 {
            unsafe { restless(group, network, ways, n, steady, calm) }
        }
        #[inline(always)]
        fn beside<const SAME: bool, const N: usize>(
            group: &Group<Self, N>,
            network: &Network,
            ways: Ways<'_, SAME>,
            from: Controls<Self>,
            calm: u8,
            beside: &mut Beside<Self>,
        ) {
            unsafe { beside_apart(group, network, ways, from, calm, beside) }
        }
        #[inline(always)]
        fn on<const SAME: bool, const N: usize>(
            group: &Group<Self, N>,
            network: &Network,
            ways: Ways<'_, SAME>,
            open: &Open<Self>,
            found: &mut Solution<Self>,
        ) {
            unsafe { on(group, network, ways, open, found) }
        }
        #[inline(always)]
        fn longer<const SAME: bool>(
            ways: Ways<'_, SAME>,
            beyond: &Slopes<Self>,
            limit: Self,
            known: u8,
            way: &mut Controls<Self>,
            more: &mut Amps<Self>,
        ) {
            unsafe { longer(ways, beyond, limit, known, way, more) }
        }
        #[inline(always)]
        fn followed<const SAME: bool>(
            network: &Network,
            ways: Ways<'_, SAME>,
            known: Controls<Self>,
            start: &Solution<Self>,
            straight: Self,
            channel: u8,
        ) -> Solution<Self> {
            unsafe { followed(network, ways, known, start, straight, channel) }
        }
        #[inline(always)]
        fn careful<const N: usize>(
            group: &mut Group<Self, N>,
            network: &Network,
            n: usize,
            wanted: u8,
        ) {
            unsafe { careful(group, network, n, wanted) }
        }
    }

    #[target_feature(enable = "avx2,fma")]
    #[inline(never)]
    fn look_ahead<const SAME: bool, const N: usize>(
        group: &mut Group<Avx2, N>,
        ways: Ways<'_, SAME>,
        n: usize,
    ) {
        group.look_ahead_in(ways, n);
    }

    #[target_feature(enable = "avx2,fma")]
    #[inline(never)]
    fn quick<const SAME: bool, const N: usize>(
        group: &mut Group<Avx2, N>,
        network: &Network,
        ways: Ways<'_, SAME>,
        n: usize,
        calm: u8,
    ) -> u8 {
        group.quick(network, ways, n, calm)
    }

    #[target_feature(enable = "avx2,fma")]
    #[inline(never)]
    fn restless<const SAME: bool, const N: usize>(
        group: &mut Group<Avx2, N>,
        network: &Network,
        ways: Ways<'_, SAME>,
        n: usize,
        steady: u8,
        calm: u8,
    ) -> u8 {
        group.restless_in(network, ways, n, steady, calm)
    }

    #[target_feature(enable = "avx2,fma")]
    #[inline(never)]
    fn beside_apart<const SAME: bool, const N: usize>(
        group: &Group<Avx2, N>,
        network: &Network,
        ways: Ways<'_, SAME>,
        from: Controls<Avx2>,
        calm: u8,
        beside: &mut Beside<Avx2>,
    ) {
        group.beside_in(network, ways, from, calm, beside);
    }

    #[target_feature(enable = "avx2,fma")]
    #[inline(never)]
    fn on<const SAME: bool, const N: usize>(
        group: &Group<Avx2, N>,
        network: &Network,
        ways: Ways<'_, SAME>,
        open: &Open<Avx2>,
        found: &mut Solution<Avx2>,
    ) {
        group.on_in(network, ways, open, found);
    }

    #[target_feature(enable = "avx2,fma")]
    #[inline(never)]
    fn longer<const SAME: bool>(
        ways: Ways<'_, SAME>,
        beyond: &Slopes<Avx2>,
        limit: Avx2,
        known: u8,
        way: &mut Controls<Avx2>,
        more: &mut Amps<Avx2>,
    ) {
        super::super::quick::longer_in(ways, beyond, limit, known, way, more);
    }

    #[target_feature(enable = "avx2,fma")]
    #[inline(never)]
    fn followed<const SAME: bool>(
        network: &Network,
        ways: Ways<'_, SAME>,
        known: Controls<Avx2>,
        start: &Solution<Avx2>,
        straight: Avx2,
        channel: u8,
    ) -> Solution<Avx2> {
        network.followed_in(ways, known, *start, straight, channel)
    }

    #[target_feature(enable = "avx2,fma")]
    #[inline(never)]
    fn careful<const N: usize>(
        group: &mut Group<Avx2, N>,
        network: &Network,
        n: usize,
        wanted: u8,
    ) {
        group.careful_in(network, n, wanted);
    }
}
