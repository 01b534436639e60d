//! The points of the path, and who listens there.

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

/// Listens along the path; each method is called from `process` and must not allocate.
pub trait Observer {
    /// A bus sample (full scale = 1.0), before the send trim.
    fn bus(&mut self, channel: usize, sample: f64);
    /// The analog points, at the oversampled rate.
    fn analog(&mut self, channel: usize, volts: &PointVolts);
    /// A returned sample (full scale = 1.0), after the return trim.
    fn back(&mut self, channel: usize, sample: f64);
}

/// Nobody listens.
impl Observer for () {
    fn bus(&mut self, _: usize, _: f64) {}
    fn analog(&mut self, _: usize, _: &PointVolts) {}
    fn back(&mut self, _: usize, _: f64) {}
}

/// Both listen.
impl<A: Observer, B: Observer> Observer for (A, B) {
    fn bus(&mut self, channel: usize, sample: f64) {
        self.0.bus(channel, sample);
        self.1.bus(channel, sample);
    }
    #[inline]
    fn analog(&mut self, channel: usize, volts: &PointVolts) {
        self.0.analog(channel, volts);
        self.1.analog(channel, volts);
    }
    fn back(&mut self, channel: usize, sample: f64) {
        self.0.back(channel, sample);
        self.1.back(channel, sample);
    }
}

/// Perhaps one listens.
impl<A: Observer> Observer for Option<A> {
    fn bus(&mut self, channel: usize, sample: f64) {
        if let Some(one) = self {
            one.bus(channel, sample);
        }
    }
    #[inline]
    fn analog(&mut self, channel: usize, volts: &PointVolts) {
        if let Some(one) = self {
            one.analog(channel, volts);
        }
    }
    fn back(&mut self, channel: usize, sample: f64) {
        if let Some(one) = self {
            one.back(channel, sample);
        }
    }
}
