//! The meters as one chooses them: their names, what their scales show, and any of them as one.

use super::{Meter, PeakMeter, Ppm, PpmType, Rms, TruePeak, Vu};
use crate::units::{Dbu, SINE_PEAK_OVER_RMS, SampleRate, Volts};

/// Integration of the RMS meter, in seconds: common practice for one that can be read, no source.
pub const RMS_SECONDS: f64 = 0.3;
/// 0 VU in dBu (IEC 60268-17).
const VU_ZERO_DBU: f64 = 4.0;
/// 0 dB of the Type I scale in dBu: 1.55 V (IEC 60268-10, the DIN scale).
const TYPE_I_ZERO_DBU: f64 = 6.0;
/// Mark 4 of the Type IIa scale is 0 dBu, marks are 4 dB apart (IEC 60268-10).
const TYPE_IIA_MARK: f64 = 4.0;
const TYPE_IIA_DB_A_MARK: f64 = 4.0;

/// Which meter is read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum MeterKind {
    /// Largest sample.
    #[default]
    Peak,
    /// Largest magnitude between the samples (BS.1770 Annex 2).
    TruePeak,
    /// RMS over 300 ms (AES17).
    Rms,
    /// VU (IEC 60268-17).
    Vu,
    /// Programme meter Type I (IEC 60268-10).
    Ppm1,
    /// Programme meter Type IIa (IEC 60268-10).
    Ppm2a,
}

/// What a scale shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shown {
    /// The figure; minus infinity for silence, but for Type IIa, whose marks go on downwards.
    pub value: f64,
    /// Its unit.
    pub unit: &'static str,
}

impl MeterKind {
    /// Every one.
    pub const ALL: [Self; 6] = [
        Self::Peak,
        Self::TruePeak,
        Self::Rms,
        Self::Vu,
        Self::Ppm1,
        Self::Ppm2a,
    ];

    /// The name in options, JSON and saved states.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Peak => "peak",
            Self::TruePeak => "true-peak",
            Self::Rms => "rms",
            Self::Vu => "vu",
            Self::Ppm1 => "ppm1",
            Self::Ppm2a => "ppm2a",
        }
    }

    /// The one of this name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.name() == name)
    }

    /// The name for people.
    #[must_use]
    pub fn label(self) -> &'static str {
        match self {
            Self::Peak => "Sample peak",
            Self::TruePeak => "True peak",
            Self::Rms => "RMS",
            Self::Vu => "VU",
            Self::Ppm1 => "PPM Type I",
            Self::Ppm2a => "PPM Type IIa",
        }
    }

    /// The name where there is little room.
    #[must_use]
    pub fn short(self) -> &'static str {
        match self {
            Self::Peak => "sample",
            Self::TruePeak => "true peak",
            Self::Rms => "RMS 0.3 s",
            Self::Vu => "VU",
            Self::Ppm1 => "PPM I",
            Self::Ppm2a => "PPM IIa",
        }
    }

    /// RMS of the steady sine that reads so much, in the reading's unit: what stands in a level diagram.
    #[must_use]
    pub fn sine_rms(self, reading: f64) -> f64 {
        match self {
            Self::Rms | Self::Vu => reading,
            Self::Peak | Self::TruePeak | Self::Ppm1 | Self::Ppm2a => reading / SINE_PEAK_OVER_RMS,
        }
    }

    /// What the scale shows of that sine at a point with or without a full scale. VU and programme meters
    /// have scales of their own, referred to dBu everywhere; the others show dBFS where there is one.
    #[must_use]
    pub fn shown(self, sine: Dbu, full_scale: Option<Dbu>) -> Shown {
        let digital = |unit| match full_scale {
            Some(full_scale) => Shown {
                value: (sine - full_scale).0,
                unit,
            },
            None => Shown {
                value: sine.0,
                unit: "dBu",
            },
        };
        match self {
            Self::Peak | Self::Rms => digital("dBFS"),
            Self::TruePeak => digital("dBTP"),
            Self::Vu => Shown {
                value: sine.0 - VU_ZERO_DBU,
                unit: "VU",
            },
            Self::Ppm1 => Shown {
                value: sine.0 - TYPE_I_ZERO_DBU,
                unit: "dB",
            },
            Self::Ppm2a => Shown {
                value: TYPE_IIA_MARK + sine.0 / TYPE_IIA_DB_A_MARK,
                unit: "PPM",
            },
        }
    }
}

/// Any of the meters on one channel, changed without allocating.
#[derive(Clone, Debug)]
pub struct AnyMeter {
    kind: MeterKind,
    peak: PeakMeter,
    true_peak: TruePeak,
    rms: Rms,
    vu: Vu,
    ppm: Ppm,
    /// The highest reading since reset, looked at after each call.
    most: f64,
}

impl AnyMeter {
    /// For a rate, at rest; allocates.
    #[must_use]
    pub fn prepare(kind: MeterKind, rate: SampleRate) -> Self {
        Self::prepare_at(kind, rate.hz())
    }

    /// For a rate in hertz, which oversampling may have made higher than a file's.
    pub(super) fn prepare_at(kind: MeterKind, rate_hz: f64) -> Self {
        Self {
            kind,
            peak: PeakMeter::prepare_at(rate_hz, f64::INFINITY),
            true_peak: TruePeak::prepare_at(rate_hz),
            rms: Rms::prepare_at(rate_hz, RMS_SECONDS),
            vu: Vu::prepare_at(rate_hz),
            ppm: Ppm::prepare_at(type_of(kind), rate_hz),
            most: 0.0,
        }
    }

    /// Begins anew as another meter or at another rate. Never allocates.
    pub(super) fn become_at(&mut self, kind: MeterKind, rate_hz: f64) {
        self.kind = kind;
        match kind {
            MeterKind::Peak => self.peak = PeakMeter::prepare_at(rate_hz, f64::INFINITY),
            MeterKind::TruePeak => self.true_peak = TruePeak::prepare_at(rate_hz),
            MeterKind::Rms => self.rms.set_rate(rate_hz),
            MeterKind::Vu => self.vu = Vu::prepare_at(rate_hz),
            MeterKind::Ppm1 | MeterKind::Ppm2a => {
                self.ppm = Ppm::prepare_at(type_of(kind), rate_hz);
            }
        }
        self.most = 0.0;
    }

    /// What the meter shows now, in the samples' unit: of peak meters the largest since this was asked
    /// last, peaks for these and programme meters, RMS for the others.
    pub fn take_reading(&mut self) -> f64 {
        match self.kind {
            MeterKind::Peak => self.peak.take_recent(),
            MeterKind::TruePeak => self.true_peak.take_recent(),
            MeterKind::Rms => self.rms.rms(),
            MeterKind::Vu => self.vu.reading(),
            MeterKind::Ppm1 | MeterKind::Ppm2a => self.ppm.reading(),
        }
    }

    /// The highest reading since reset.
    #[must_use]
    pub fn most(&self) -> f64 {
        match self.kind {
            MeterKind::Peak => self.peak.most(),
            MeterKind::TruePeak => self.true_peak.most(),
            _ => self.most,
        }
    }
}

impl Meter for AnyMeter {
    fn reset(&mut self) {
        self.peak.reset();
        self.true_peak.reset();
        self.rms.reset();
        self.vu.reset();
        self.ppm.reset();
        self.most = 0.0;
    }

    fn process(&mut self, samples: &[f64]) {
        let now = match self.kind {
            MeterKind::Peak => return self.peak.process(samples),
            MeterKind::TruePeak => return self.true_peak.process(samples),
            MeterKind::Rms => {
                self.rms.process(samples);
                self.rms.rms()
            }
            MeterKind::Vu => {
                self.vu.process(samples);
                self.vu.reading()
            }
            MeterKind::Ppm1 | MeterKind::Ppm2a => {
                self.ppm.process(samples);
                self.ppm.reading()
            }
        };
        self.most = self.most.max(now);
    }
}

fn type_of(kind: MeterKind) -> PpmType {
    if kind == MeterKind::Ppm1 {
        PpmType::I
    } else {
        PpmType::IIa
    }
}

/// The sine that a reading in volts stands for.
#[must_use]
pub fn sine_of(kind: MeterKind, reading_volts: f64) -> Dbu {
    Dbu::from_volts(Volts(kind.sine_rms(reading_volts)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scales_are_those_of_the_standards() {
        // IEC 60268-17: 0 VU at 1.228 V. IEC 60268-10: mark 4 at 0 dBu and 6 at +8 dBu; 0 dB of Type I
        // at 1.55 V, alignment of 0.775 V 6 dB lower on that scale.
        let at =
            |kind: MeterKind, volts: f64| kind.shown(Dbu::from_volts(Volts(volts)), None).value;
        assert!(at(MeterKind::Vu, 1.228).abs() < 0.01);
        assert!(at(MeterKind::Ppm1, 1.55).abs() < 0.03);
        assert!((at(MeterKind::Ppm1, 0.7746) + 6.0).abs() < 0.01);
        assert!((at(MeterKind::Ppm2a, 0.7746) - 4.0).abs() < 0.01);
        assert!((at(MeterKind::Ppm2a, 1.946) - 6.0).abs() < 0.01);
        let full_scale = Some(Dbu(22.0));
        assert_eq!(MeterKind::Rms.shown(Dbu(4.0), full_scale).value, -18.0);
        assert_eq!(MeterKind::TruePeak.shown(Dbu(4.0), full_scale).unit, "dBTP");
        for kind in MeterKind::ALL {
            assert_eq!(MeterKind::from_name(kind.name()), Some(kind));
        }
    }

    /// A steady sine reads its own level on every meter, at any rate.
    #[test]
    fn every_meter_reads_a_steady_sine_alike() {
        for rate_hz in [48_000.0, 96_000.0, 384_000.0] {
            for kind in MeterKind::ALL {
                let mut meter = AnyMeter::prepare_at(MeterKind::Peak, rate_hz);
                meter.become_at(kind, rate_hz);
                let turn = std::f64::consts::TAU * 1_000.0 / rate_hz;
                let sine = (0..(2.0 * rate_hz) as usize).map(|n| (turn * n as f64).sin());
                let sine: Vec<f64> = sine.collect();
                sine.chunks(64).for_each(|chunk| meter.process(chunk));
                let rms = kind.sine_rms(meter.take_reading());
                let db = 20.0 * (rms * SINE_PEAK_OVER_RMS).log10();
                println!("{kind:?} at {rate_hz} Hz: {db:.3} dB");
                assert!(db.abs() < 0.01, "{kind:?} {rate_hz}: {db}");
            }
        }
    }
}
