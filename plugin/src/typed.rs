//! A reading typed where a full scale stands: "-18 reads +4 dBu into 600".
//!
//! The window takes it in the fields of the full scales, and in those that say how much higher the
//! right channel's is; there it is what the right channel reads. It is turned into the parameter's
//! number at once, by the impedances of then.

use penstock_dsp::alignment::{Converter, Reading};
use penstock_dsp::plan::Plan;

/// What a reading typed for the parameter of this id means, in the parameter's unit; `None` when the
/// text is no reading, or the parameter takes none.
#[must_use]
pub fn reading(id: &str, text: &str, plan: &Plan) -> Option<f64> {
    let (converter, own, left) = if id.starts_with("rig.send.") {
        (Converter::Send, plan.rig.source, plan.rig.send_full_scale)
    } else {
        let back = plan.rig.return_full_scale;
        (Converter::Return, plan.rig.return_in, back)
    };
    let of = |text| {
        let reading = Reading::parse(text, converter)?;
        (reading.within_range() == reading).then(|| reading.full_scale(converter, own))
    };
    match id {
        "rig.send.full_scale_dbu" | "rig.return.full_scale_dbu" => of(text).map(|full| full.0.0),
        "rig.send.right_db" | "rig.return.right_db" => of(text).map(|full| (full.0 - left.0).0),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::params::{RowKind, rows};

    #[test]
    fn readings_become_the_number_of_their_field() {
        let mut plan = Plan::default();
        plan.assign("rig.send.source_ohms=600")
            .expect("a valid one");
        let near = |id: &str, text: &str, wanted: f64| {
            let got = reading(id, text, &plan).expect(text);
            assert!((got - wanted).abs() < 1e-6, "{id}: {text}: {got}");
        };
        // 600 ohm into 600 ohm halve the voltage: 6.0206 dB.
        near(
            "rig.send.full_scale_dbu",
            "-18 reads -2.0206 dBu into 600",
            22.0,
        );
        near("rig.send.full_scale_dbu", "-18 = 4 dBu", 22.0);
        near("rig.send.right_db", "-18 = 4.3 dBu", 0.3);
        near("rig.return.full_scale_dbu", "-20 reads +4 dBu", 24.0);
        near("rig.return.right_db", "-18 = 3.8 dBu", -0.2);
        for (id, text) in [
            ("rig.send.full_scale_dbu", "22"),
            ("rig.send.full_scale_dbu", "+22 dBu"),
            ("rig.send.source_ohms", "-18 reads +4 dBu"),
            ("send.trim_db", "-18 reads +4 dBu"),
            ("rig.send.full_scale_dbu", "-90 reads +4 dBu"),
        ] {
            assert_eq!(reading(id, text, &plan), None, "{id}: {text}");
        }
    }

    #[test]
    fn the_fields_are_numbers_in_decibels() {
        for id in [
            "rig.send.full_scale_dbu",
            "rig.send.right_db",
            "rig.return.right_db",
        ] {
            let row = rows().iter().find(|row| row.id == id).expect(id);
            assert!(matches!(row.kind, RowKind::Number { .. }), "{id}");
            assert!(row.unit.starts_with("dB"), "{id}");
        }
    }
}
