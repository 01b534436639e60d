//! The loudness trim: one fixed gain a setting, measured once; nothing rides gain.
//!
//! Every setting is brought to the loudness of the source. Nothing limits: where a trimmed setting
//! would pass full scale, what is played, the source included, comes down by the same amount.

use crate::units::Db;

/// What a file measures before trimming.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// Integrated loudness; `None` where the standard has no value.
    pub lufs: Option<f64>,
    /// Largest sample magnitude, full scale = 1.0.
    pub peak: f64,
}

/// The gains that make a comparison fair.
#[derive(Clone, Debug, PartialEq)]
pub struct Trims {
    /// For each setting: to the loudness of the source.
    pub settings: Vec<Db>,
    /// For the source and every trimmed setting alike, where full scale must not be passed: 0 dB,
    /// or negative.
    pub common: Db,
}

/// Trims for settings of one source. Where a loudness is missing the trim is 0 dB.
#[must_use]
pub fn trims(source: Measured, settings: &[Measured]) -> Trims {
    let alone = settings
        .iter()
        .map(|setting| match (source.lufs, setting.lufs) {
            (Some(wanted), Some(given)) => Db(wanted - given),
            _ => Db(0.0),
        });
    let alone: Vec<Db> = alone.collect();
    let peaks = settings
        .iter()
        .zip(&alone)
        .map(|(setting, trim)| setting.peak * trim.ratio());
    let highest = peaks.fold(source.peak, f64::max);
    let common = if highest > 1.0 {
        -Db::from_ratio(highest)
    } else {
        Db(0.0)
    };
    Trims {
        settings: alone,
        common,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn settings_meet_the_source_and_are_played_lower_together() {
        let source = Measured {
            lufs: Some(-20.0),
            peak: 0.5,
        };
        let quiet = Measured {
            lufs: Some(-26.0),
            peak: 0.4,
        };
        let dense = Measured {
            lufs: Some(-18.0),
            peak: 0.5,
        };
        let found = trims(source, &[dense]);
        assert_eq!((found.common, found.settings), (Db(0.0), vec![Db(-2.0)]));
        let found = trims(source, &[Measured { peak: 0.8, ..quiet }, dense]);
        assert_eq!(found.settings, vec![Db(6.0), Db(-2.0)]);
        let over = Db::from_ratio(0.8 * Db(6.0).ratio());
        assert!((found.common.0 + over.0).abs() < 1e-12 && over.0 > 0.0);
    }

    #[test]
    fn without_a_loudness_nothing_moves() {
        let silent = Measured {
            lufs: None,
            peak: 0.0,
        };
        assert_eq!(trims(silent, &[silent]).settings, vec![Db(0.0)]);
    }
}
