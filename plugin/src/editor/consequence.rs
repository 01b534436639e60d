//! What follows from moving a control, one sentence each: the tooltips of the window.

/// The sentence for a parameter; `None` for one that has none yet.
#[must_use]
pub fn consequence(id: &str) -> Option<&'static str> {
    let of = [of_loop, of_pad, of_studio, of_own];
    of.into_iter().find_map(|of| of(id))
}

fn of_own(id: &str) -> Option<&'static str> {
    Some(match id {
        "preamp.own_gain_db" => {
            "More lifts the programme towards your unit's largest output; what is heard is our circuit's \
             nearest step."
        }
        "preamp.own_attenuator_db" => {
            "More spares your unit's input by as much, and brings the programme nearer to its noise."
        }
        "rig.preamp.kind" => {
            "With a unit of yours, levels, headroom and noise are by its data sheet, and what is heard is our \
             circuit's nearest."
        }
        "rig.preamp.in_ohms" => {
            "The load that the pad works into: it is designed for it, and loses more into a lower one."
        }
        "rig.preamp.max_in_dbu" => {
            "The ceiling at its input, attenuator off: without it nothing warns of too little pad."
        }
        "rig.preamp.max_out_dbu" => {
            "The ceiling at its output: without it nothing warns of too much gain."
        }
        "rig.preamp.ein_dbu" => {
            "Its equivalent input noise from 150 ohm, unweighted: without it there is no noise floor behind \
             it."
        }
        id if id.starts_with("rig.preamp.gain_step_") => {
            "The gains that your unit can be set to: with none any gain from 0 to 90 dB can be chosen."
        }
        id if id.starts_with("rig.preamp.attenuator_step_") => {
            "What its attenuator can be set to, with 0 where it can be off: with none it has no attenuator."
        }
        _ => return None,
    })
}

fn of_loop(id: &str) -> Option<&'static str> {
    Some(match id {
        "send.trim_db" => {
            "More sends a hotter line into the same pad: every stage behind works harder, and the \
             send converter clips sooner."
        }
        "send.polarity" => {
            "Inverted, the other half of an uneven wave meets the tubes' softer side; it is turned \
             back at the return."
        }
        "preamp.attenuator_db" => {
            "20 dB spares transformer and tubes like as much more pad, and lifts the noise by about \
             as much against the programme."
        }
        "preamp.gain_db" => {
            "Low steps make the first tube work hardest, high steps the second tube and the output \
             transformer; more gain also comes out louder."
        }
        "preamp.noise" => {
            "On, the hiss of pad and tubes is in the sound; off, only in the figures."
        }
        "return.pad_db" => {
            "More lets the preamp be driven far without clipping the return converter; return trim \
             makes the loudness good."
        }
        "return.trim_db" => {
            "Sets how loud the result comes back, without changing its colour; too much and it passes \
             full scale."
        }
        _ => return None,
    })
}

fn of_pad(id: &str) -> Option<&'static str> {
    Some(match id {
        "pad.network" => {
            "Decides what the send drives, what the preamp sees and whether the line stays balanced: \
             H, U and O keep hum out, T, L and pi do not."
        }
        "pad.loss_db" => {
            "More loss drives the tubes less and brings the programme nearer to the preamp's noise; \
             less drives them harder."
        }
        "pad.loss_kind" => {
            "The same number means another pad: loaded counts with this preamp connected, unloaded \
             from the open output, the other two as handbooks do."
        }
        "pad.in_exact" => {
            "On, the pad loads the send with exactly one impedance, as old line outputs ask for; off, \
             with at least the minimum."
        }
        "pad.in_ohms" => {
            "The load the send drives, when it is exact: lower is heavier and leaves less level."
        }
        "pad.in_ohms_min" => {
            "The heaviest load the send may see: higher spares the output and makes the pad's \
             resistors larger."
        }
        "pad.out_ohms" => {
            "The impedance the preamp's transformer is driven from: far from a microphone's 150 to \
             200 ohm, bass, top and noise change."
        }
        "pad.series" => {
            "Coarser series are easier to buy and miss the wanted loss by more; levels and sound are \
             those of the pad as built."
        }
        "pad.parts" => {
            "Single chooses all resistors together, pair joins two where it helps, nearest takes each \
             by itself: more parts, less error."
        }
        "pad.resistor_1_ohms" | "pad.resistor_2_ohms" | "pad.resistor_3_ohms" => {
            "A resistor of a pad you own, left to right as drawn, of one leg: once all are given, \
             your pad is used and none is designed."
        }
        _ => return None,
    })
}

fn of_studio(id: &str) -> Option<&'static str> {
    Some(match id {
        "rig.send.full_scale_dbu" => {
            "Wrong, every level and ceiling is wrong by as much: take it from the converter's data \
             sheet, unloaded."
        }
        "rig.send.source_ohms" => {
            "Higher loses more level into the same pad, and the pad is designed for it."
        }
        "rig.send.right_db" => {
            "The right channel drives pad and tubes harder by as much, where its converter sends more \
             for the same dBFS."
        }
        "rig.return.right_db" => {
            "The right channel comes back quieter by as much, where its converter takes more for the \
             same dBFS."
        }
        "rig.return.full_scale_dbu" => {
            "Lower clips the returning signal sooner and shows it louder in dBFS."
        }
        "rig.return.in_ohms" => {
            "The load on the preamp's output: 600 ohm makes its last stage work much harder than \
             10 kohm."
        }
        "rig.converters_clip" => {
            "Off, nothing stops at 0 dBFS as real converters do, and the tubes alone set the limits."
        }
        "oversampling" => {
            "More keeps loud, high tones free of aliasing and costs as much more processor; the \
             latency stays the same."
        }
        "bypass" => "The input passes unchanged and equally late; the loudness may jump.",
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::consequence;
    use crate::params::rows;

    #[test]
    fn every_parameter_has_one_sentence() {
        for row in rows() {
            let text = consequence(row.id).unwrap_or_else(|| panic!("{} has none", row.id));
            assert!(text.ends_with('.') && !text.contains(". "), "{text}");
            assert!(text.len() < 170, "{}: {text}", text.len());
        }
    }
}
