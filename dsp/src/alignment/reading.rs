//! An alignment as it is measured: "a tone of -18 dBFS reads +4 dBu on my meter, into 600 ohm".
//!
//! At the send, a meter of Z ohm and the converter's own impedance R divide the voltage, so the
//! unloaded level is the reading times (Z + R) / Z; a meter of which no ohms are said does not load.
//! At the return the level is that at the converter's terminals, however it came there; or, `from` a
//! generator of Z ohm, its unloaded level, which the converter's input R divides: reading times
//! R / (R + Z).

use super::FullScale;
use crate::units::{Db, Dbfs, Dbu, Dbv, Ohms, Volts};
use std::fmt;

/// Which converter was measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Converter {
    /// The meter stands at its output.
    Send,
    /// The level stands at its input, and it says the dBFS.
    Return,
}

/// A level in the unit in which it was read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Read {
    /// In dBu.
    Dbu(Dbu),
    /// In dBV.
    Dbv(Dbv),
    /// In volts RMS.
    Volts(Volts),
}

/// One reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Digital level of the tone, a sine.
    pub tone: Dbfs,
    /// What the meter says.
    pub level: Read,
    /// What loads the send (`into`), or what feeds the return (`from`); `None` when it is nothing.
    pub ohms: Option<Ohms>,
}

/// Tones that a reading may be of, in dBFS: below is noise, above is no sine.
pub const TONE_DBFS: (f64, f64) = (-60.0, 0.0);
/// Impedances of meters and generators, in ohms.
pub const METER_OHMS: (f64, f64) = (1.0, 10e6);

impl Read {
    /// The same voltage in dBu.
    #[must_use]
    pub fn dbu(self) -> Dbu {
        match self {
            Self::Dbu(level) => level,
            Self::Dbv(level) => Dbu::from_volts(Volts(10f64.powf(level.0 / 20.0))),
            Self::Volts(volts) => Dbu::from_volts(volts),
        }
    }

    /// So many dB higher, in the same unit.
    fn raised(self, by: Db) -> Self {
        match self {
            Self::Dbu(level) => Self::Dbu(level + by),
            Self::Dbv(level) => Self::Dbv(level + by),
            Self::Volts(volts) => Self::Volts(Volts(volts.0 * by.ratio())),
        }
    }
}

impl Reading {
    /// Reads "-18 reads +4 dBu into 600": `=` for `reads`, dBFS and ohm said or not, any case, a
    /// decimal comma, k for a thousand. `None` when it is nothing of the kind: a level without unit,
    /// `from` at the send or `into` at the return, a number that is none.
    #[must_use]
    pub fn parse(text: &str, converter: Converter) -> Option<Self> {
        let text = text
            .to_lowercase()
            .replace(',', ".")
            .replace('\u{2212}', "-");
        let (tone, rest) = text.split_once("reads").or_else(|| text.split_once('='))?;
        let word = match converter {
            Converter::Send => "into",
            Converter::Return => "from",
        };
        let (level, ohms) = match rest.split_once(word) {
            Some((level, ohms)) => (level, Some(parse_ohms(ohms)?)),
            None => (rest, None),
        };
        let tone = tone.trim();
        Some(Self {
            tone: Dbfs(finite(tone.strip_suffix("dbfs").unwrap_or(tone))?),
            level: parse_level(level.trim())?,
            ohms,
        })
    }

    /// The nearest reading that is taken: the tone within [`TONE_DBFS`], the ohms within
    /// [`METER_OHMS`].
    #[must_use]
    pub fn within_range(self) -> Self {
        Self {
            tone: Dbfs(self.tone.0.clamp(TONE_DBFS.0, TONE_DBFS.1)),
            ohms: self
                .ohms
                .map(|ohms| Ohms(ohms.0.clamp(METER_OHMS.0, METER_OHMS.1))),
            ..self
        }
    }

    /// The full scale that it means, at a send of this output impedance or a return of this input
    /// impedance.
    #[must_use]
    pub fn full_scale(&self, converter: Converter, own: Ohms) -> FullScale {
        let divided = self.ohms.map_or(Db(0.0), |other| match converter {
            Converter::Send => Db::from_ratio((other.0 + own.0) / other.0),
            Converter::Return => Db::from_ratio(own.0 / (own.0 + other.0)),
        });
        FullScale::from_reference(self.tone, self.level.dbu() + divided)
    }

    /// The same tone and meter with a level so many dB higher.
    #[must_use]
    pub fn raised(self, by: Db) -> Self {
        Self {
            level: self.level.raised(by),
            ..self
        }
    }

    /// As text that [`Reading::parse`] reads.
    #[must_use]
    pub fn text(&self, converter: Converter) -> String {
        let ohms = self.ohms.map_or(String::new(), |ohms| match converter {
            Converter::Send => format!(" into {}", ohms.0),
            Converter::Return => format!(" from {}", ohms.0),
        });
        format!("{} reads {}{ohms}", self.tone.0, self.level)
    }
}

impl fmt::Display for Read {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // A level carries its sign; adding zero turns a negative zero into a plain one.
        let sign = |value: f64| if value > 0.0 { "+" } else { "" };
        match self {
            Self::Dbu(Dbu(value)) => write!(f, "{}{} dBu", sign(*value), value + 0.0),
            Self::Dbv(Dbv(value)) => write!(f, "{}{} dBV", sign(*value), value + 0.0),
            Self::Volts(Volts(value)) => write!(f, "{value} V"),
        }
    }
}

fn finite(text: &str) -> Option<f64> {
    text.trim().parse().ok().filter(|n: &f64| n.is_finite())
}

fn parse_level(text: &str) -> Option<Read> {
    let number = |unit: &str| text.strip_suffix(unit).and_then(finite);
    if let Some(level) = number("dbu") {
        return Some(Read::Dbu(Dbu(level)));
    }
    if let Some(level) = number("dbv") {
        return Some(Read::Dbv(Dbv(level)));
    }
    let millivolts = number("mv").map(|millivolts| millivolts / 1e3);
    let volts = millivolts.or_else(|| number("v"))?;
    (volts > 0.0).then_some(Read::Volts(Volts(volts)))
}

fn parse_ohms(text: &str) -> Option<Ohms> {
    let text = text.trim();
    let text = ["ohms", "ohm", "\u{3c9}"]
        .iter()
        .find_map(|unit| text.strip_suffix(unit))
        .unwrap_or(text)
        .trim_end();
    let ohms = match text.strip_suffix('k') {
        Some(text) => finite(text)? * 1e3,
        None => finite(text)?,
    };
    (ohms > 0.0).then_some(Ohms(ohms))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn send(text: &str) -> Reading {
        Reading::parse(text, Converter::Send).expect(text)
    }

    #[test]
    fn what_people_write_is_understood_and_comes_back() {
        for (text, same) in [
            ("-18 reads +4 dBu into 600", "-18 reads +4 dBu into 600"),
            ("-18 dBFS = 4dbu into 0.6 kOhm", "-18 reads +4 dBu into 600"),
            ("\u{2212}20 reads -2,2 dBV", "-20 reads -2.2 dBV"),
            ("-18 = 1.228 V into 10k", "-18 reads 1.228 V into 10000"),
            ("-18 = 1228 mV", "-18 reads 1.228 V"),
            ("0 reads -0 dBu", "0 reads 0 dBu"),
        ] {
            let reading = send(text);
            assert_eq!(reading.text(Converter::Send), same, "{text}");
            assert_eq!(send(same), reading, "{text}");
        }
        let back = Reading::parse("-18 reads 4 dBu from 600", Converter::Return);
        assert_eq!(back.expect("it is one").ohms, Some(Ohms(600.0)));
    }

    #[test]
    fn nonsense_is_none() {
        for text in [
            "",
            "22",
            "-18",
            "-18 reads",
            "-18 reads 4",
            "reads 4 dBu",
            "-18 reads nan dBu",
            "-18 reads 0 V",
            "-18 reads 4 dBu into",
            "-18 reads 4 dBu into -600",
            "-18 reads 4 dBu from 600",
            "-18 reads 4 dBm",
        ] {
            assert_eq!(Reading::parse(text, Converter::Send), None, "{text}");
        }
        let into = Reading::parse("-18 reads 4 dBu into 600", Converter::Return);
        assert_eq!(into, None);
    }

    #[test]
    fn a_meter_loads_the_send_and_the_return_loads_a_generator() {
        // Voltage divider by hand: 600 ohm behind 600 ohm halve, 6.0206 dB.
        let loaded =
            send("-18 reads -2.0206 dBu into 600").full_scale(Converter::Send, Ohms(600.0));
        assert!((loaded.0.0 - 22.0).abs() < 1e-6);
        let open = send("-18 reads 1.2276530 V").full_scale(Converter::Send, Ohms(600.0));
        assert!((open.0.0 - 22.0).abs() < 1e-6);
        let back = Reading::parse("-20 reads 10.0206 dBu from 10k", Converter::Return);
        let back = back
            .expect("it is one")
            .full_scale(Converter::Return, Ohms(10e3));
        assert!((back.0.0 - 24.0).abs() < 1e-6);
    }
}
