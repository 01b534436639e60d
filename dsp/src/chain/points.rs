//! The points of the path, and who listens there.

use crate::circuit::{Seen, Tapped};
use crate::pad::TwoPort;

/// A point of the path, in order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Point {
    /// The digital signal that is sent.
    Bus,
    /// The send converter's output, loaded by the pad.
    LineOut,
    /// After the pad, at the preamp's terminals.
    MicIn,
    /// After the preamp's input attenuator.
    TransformerIn,
    /// At the first tube's grid.
    Grid1,
    /// At the second tube's grid.
    Grid2,
    /// Into the return's input.
    PreampOut,
    /// Back through the converter, after the return trim.
    Return,
}

impl Point {
    /// Every point, in order.
    pub const ALL: [Self; 8] = [
        Self::Bus,
        Self::LineOut,
        Self::MicIn,
        Self::TransformerIn,
        Self::Grid1,
        Self::Grid2,
        Self::PreampOut,
        Self::Return,
    ];

    /// The name in plans, JSON and reports.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Bus => "bus",
            Self::LineOut => "line_out",
            Self::MicIn => "mic_in",
            Self::TransformerIn => "transformer_in",
            Self::Grid1 => "grid_1",
            Self::Grid2 => "grid_2",
            Self::PreampOut => "preamp_out",
            Self::Return => "return",
        }
    }

    /// The name for people.
    #[must_use]
    pub fn label(self) -> &'static str {
        match self {
            Self::Bus => "Bus",
            Self::LineOut => "Line out",
            Self::MicIn => "Mic in",
            Self::TransformerIn => "Transformer in",
            Self::Grid1 => "Grid 1",
            Self::Grid2 => "Grid 2",
            Self::PreampOut => "Preamp out",
            Self::Return => "Return",
        }
    }

    /// Whether the signal there is digital: its level is in dBFS first, and its volts are what the
    /// converter's alignment makes of it.
    #[must_use]
    pub fn is_digital(self) -> bool {
        matches!(self, Self::Bus | Self::Return)
    }
}

/// Voltages of one oversampled sample at the analog points, in volts.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[expect(missing_docs, reason = "the names are those of `Point`")]
pub struct PointVolts {
    pub line_out: f64,
    pub mic_in: f64,
    pub transformer_in: f64,
    pub grid_1: f64,
    pub grid_2: f64,
    pub preamp_out: f64,
}

impl PointVolts {
    /// All of them, in the order of the chain: [`Point::LineOut`] to [`Point::PreampOut`].
    #[inline]
    #[must_use]
    pub fn in_order(&self) -> [f64; 6] {
        [
            self.line_out,
            self.mic_in,
            self.transformer_in,
            self.grid_1,
            self.grid_2,
            self.preamp_out,
        ]
    }
}

/// A block of one channel at the analog points, at the oversampled rate; worked out as it is asked for.
#[derive(Debug)]
pub struct AnalogBlock<'a>(Volts<'a>);

#[derive(Debug)]
enum Volts<'a> {
    Known(&'a [PointVolts]),
    Tapped {
        tapped: &'a Tapped<'a>,
        pad: TwoPort,
        line_noise: &'a [f64],
    },
}

/// Without noise every point is one of four voltages in a row, or takes of the last one, T1's primary, and of an EMF.
pub(crate) struct Plain<'a> {
    /// What is seen of each sample.
    pub(crate) seen: &'a [Seen],
    /// What the line output and the input terminals take of primary and EMF.
    pub(crate) line_out: [f64; 2],
    pub(crate) mic_in: [f64; 2],
}

impl<'a> AnalogBlock<'a> {
    /// Of voltages that are known.
    #[must_use]
    pub fn of(volts: &'a [PointVolts]) -> Self {
        Self(Volts::Known(volts))
    }

    /// Behind the send's pad; what noise adds to the line, one a sample or none at all.
    pub(super) fn tapped(tapped: &'a Tapped<'a>, pad: TwoPort, line_noise: &'a [f64]) -> Self {
        Self(Volts::Tapped {
            tapped,
            pad,
            line_noise,
        })
    }

    /// Shows the voltages, sample by sample.
    #[inline]
    pub fn each(&self, mut show: impl FnMut(PointVolts)) {
        match &self.0 {
            Volts::Known(volts) => volts.iter().for_each(|volts| show(*volts)),
            Volts::Tapped {
                tapped,
                pad,
                line_noise,
            } => {
                for (n, taps) in tapped.all().enumerate() {
                    let noise = line_noise.get(n).copied().unwrap_or(0.0);
                    show(PointVolts {
                        line_out: pad.a * taps.mic_in + pad.b * taps.in_amps + noise,
                        mic_in: taps.mic_in,
                        transformer_in: taps.transformer_in,
                        grid_1: taps.grid_1,
                        grid_2: taps.grid_2,
                        preamp_out: taps.preamp_out,
                    });
                }
            }
        }
    }

    /// Without noise.
    #[inline]
    pub(crate) fn plain(&self) -> Option<Plain<'_>> {
        let Volts::Tapped { tapped, pad, .. } = &self.0 else {
            return None;
        };
        let seen = tapped.plain()?;
        let [volts, amps] = tapped.input();
        let line = |n: usize| pad.a * volts[n] + pad.b * amps[n];
        Some(Plain {
            seen,
            line_out: [line(0), line(1)],
            mic_in: volts,
        })
    }
}

/// Listens along the path, a block of a channel at a time. Blocks are as they come: of bus and return up to
/// 32 samples, of the analog points up to 64. Each method is called from `process` and must not allocate.
pub trait Observer {
    /// Whether anybody listens: if not, nothing need be worked out for it.
    #[inline]
    fn listens(&self) -> bool {
        true
    }
    /// Bus samples (full scale = 1.0), before the send trim.
    fn bus(&mut self, channel: usize, samples: &[f64]);
    /// The analog points, at the oversampled rate.
    fn analog(&mut self, channel: usize, block: &AnalogBlock<'_>);
    /// Returned samples (full scale = 1.0), after the return trim.
    fn back(&mut self, channel: usize, samples: &[f64]);
}

/// Nobody listens.
impl Observer for () {
    #[inline]
    fn listens(&self) -> bool {
        false
    }
    fn bus(&mut self, _: usize, _: &[f64]) {}
    fn analog(&mut self, _: usize, _: &AnalogBlock<'_>) {}
    fn back(&mut self, _: usize, _: &[f64]) {}
}

/// Both listen.
impl<A: Observer, B: Observer> Observer for (A, B) {
    fn listens(&self) -> bool {
        self.0.listens() || self.1.listens()
    }
    fn bus(&mut self, channel: usize, samples: &[f64]) {
        self.0.bus(channel, samples);
        self.1.bus(channel, samples);
    }
    fn analog(&mut self, channel: usize, block: &AnalogBlock<'_>) {
        self.0.analog(channel, block);
        self.1.analog(channel, block);
    }
    fn back(&mut self, channel: usize, samples: &[f64]) {
        self.0.back(channel, samples);
        self.1.back(channel, samples);
    }
}

/// Perhaps one listens.
impl<A: Observer> Observer for Option<A> {
    fn listens(&self) -> bool {
        self.as_ref().is_some_and(Observer::listens)
    }
    fn bus(&mut self, channel: usize, samples: &[f64]) {
        if let Some(one) = self {
            one.bus(channel, samples);
        }
    }
    fn analog(&mut self, channel: usize, block: &AnalogBlock<'_>) {
        if let Some(one) = self {
            one.analog(channel, block);
        }
    }
    fn back(&mut self, channel: usize, samples: &[f64]) {
        if let Some(one) = self {
            one.back(channel, samples);
        }
    }
}
