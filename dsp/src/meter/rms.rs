//! RMS level by AES17, with crest factor and DC.
//!
//! RMS is that of the whole waveform, DC included, over the last so many seconds; its level is stated so
//! that a sine whose peak is full scale reads 0 dBFS (AES17, also IEC 61606). The crest factor is the
//! largest magnitude of the same stretch over that RMS: 3.01 dB for a sine. DC is the mean.
//!
//! The stretch is kept as a ring of pieces of 10 ms: a reading covers the last whole pieces, so that it does
//! not depend on how samples come.

use super::{Meter, finite};
use crate::units::SampleRate;

/// Length of a piece in seconds.
const PIECE_SECONDS: f64 = 0.01;

/// Sums over a piece.
#[derive(Clone, Copy, Debug, Default)]
struct Piece {
    sum: f64,
    squares: f64,
    peak: f64,
}

impl Piece {
    fn add(&mut self, sample: f64) {
        self.sum += sample;
        self.squares += sample * sample;
        self.peak = self.peak.max(sample.abs());
    }
}

/// One channel's RMS meter.
#[derive(Clone, Debug)]
pub struct Rms {
    ring: Vec<Piece>,
    next: usize,
    /// Whole pieces in the ring.
    whole: usize,
    now: Piece,
    taken: usize,
    piece_samples: usize,
}

impl Rms {
    /// Over the last `seconds`, from 0.01 up; allocates.
    #[must_use]
    pub fn prepare(rate: SampleRate, seconds: f64) -> Self {
        Self::prepare_at(rate.hz(), seconds)
    }

    /// The same for a rate in hertz.
    pub(super) fn prepare_at(rate_hz: f64, seconds: f64) -> Self {
        let pieces = (seconds / PIECE_SECONDS).round().max(1.0) as usize;
        Self {
            ring: vec![Piece::default(); pieces],
            next: 0,
            whole: 0,
            now: Piece::default(),
            taken: 0,
            piece_samples: (PIECE_SECONDS * rate_hz).round() as usize,
        }
    }

    /// Begins anew at another rate in hertz. Never allocates.
    pub(super) fn set_rate(&mut self, rate_hz: f64) {
        self.piece_samples = (PIECE_SECONDS * rate_hz).round() as usize;
        self.reset();
    }

    /// RMS in the samples' unit; nothing until 10 ms were heard.
    #[must_use]
    pub fn rms(&self) -> f64 {
        self.per_sample(|piece| piece.squares).sqrt()
    }

    /// Mean in the samples' unit.
    #[must_use]
    pub fn dc(&self) -> f64 {
        self.per_sample(|piece| piece.sum)
    }

    /// Peak over RMS as a ratio; `None` in silence.
    #[must_use]
    pub fn crest(&self) -> Option<f64> {
        let peak = self
            .pieces()
            .fold(0.0_f64, |most, piece| most.max(piece.peak));
        let rms = self.rms();
        (rms > 0.0).then(|| peak / rms)
    }

    fn pieces(&self) -> impl Iterator<Item = &Piece> {
        self.ring[..self.whole].iter()
    }

    fn per_sample(&self, of: impl Fn(&Piece) -> f64) -> f64 {
        let samples = self.whole * self.piece_samples;
        if samples == 0 {
            0.0
        } else {
            self.pieces().map(of).sum::<f64>() / samples as f64
        }
    }
}

impl Meter for Rms {
    fn reset(&mut self) {
        (self.next, self.whole, self.taken) = (0, 0, 0);
        self.now = Piece::default();
    }

    fn process(&mut self, samples: &[f64]) {
        for sample in samples {
            self.now.add(finite(*sample));
            self.taken += 1;
            if self.taken == self.piece_samples {
                self.ring[self.next] = self.now;
                self.next = (self.next + 1) % self.ring.len();
                self.whole = (self.whole + 1).min(self.ring.len());
                (self.now, self.taken) = (Piece::default(), 0);
            }
        }
    }
}
