//! What is unwise about a plan or a programme, in plain words, each with its number and, where there is
//! one, a move that mends it. Used by report and window.

mod own;
mod pads;
mod programme;

pub use own::{noise_remark, own_remarks};
pub use pads::pad_remarks;
pub use programme::{Heard, Path, loudness_remark, programme_remarks};

use penstock_dsp::alignment::EBU_R68;
use penstock_dsp::plan::{Plan, Straight};
use penstock_dsp::units::Db;

/// A sentence about a plan or a programme.
#[derive(Clone, Debug, PartialEq)]
pub struct Remark {
    /// What is so, with its number.
    pub text: String,
    /// Whether it is unwise; otherwise it is only worth knowing.
    pub unwise: bool,
    /// What mends it or leads further.
    pub step: Option<Step>,
}

/// One move: a key of the plan and the value it takes, as written in a plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// The key.
    pub key: &'static str,
    /// Its value, without unit.
    pub value: String,
}

impl Step {
    /// A number to the tenth.
    pub(crate) fn number(key: &'static str, value: f64) -> Self {
        // Minus zero is nothing that anybody reads.
        let value = format!("{}", (value * 10.0).round() / 10.0 + 0.0);
        Self { key, value }
    }
}

impl Remark {
    /// Unwise, with nothing to be done about it here.
    #[must_use]
    pub fn caution(text: impl Into<String>) -> Self {
        Self {
            text: text.into(),
            unwise: true,
            step: None,
        }
    }

    /// Worth knowing.
    #[must_use]
    pub fn hint(text: impl Into<String>) -> Self {
        Self {
            unwise: false,
            ..Self::caution(text)
        }
    }

    /// With a move.
    #[must_use]
    pub fn with(self, step: Option<Step>) -> Self {
        Self { step, ..self }
    }

    /// For a report, which cannot be clicked.
    #[must_use]
    pub fn sentence(&self) -> String {
        match &self.step {
            Some(step) => format!("{} Suggested: {} = {}.", self.text, step.key, step.value),
            None => self.text.clone(),
        }
    }
}

/// Shown wherever a pad is.
pub const PHANTOM: &str = "Phantom power off before a line output meets a microphone input.";

/// Alignments that differ by less are alike: the tenth of a dB to which they are set.
const ALIKE_DB: f64 = 0.05;

/// Remarks on send against return and right against left, where they differ.
#[must_use]
pub fn alignment_remarks(plan: &Plan) -> Vec<String> {
    let rig = &plan.rig;
    let [left, right] = [0, 1].map(|channel| rig.straight(channel));
    let differ = |one: Db, other: Db| (one.0 - other.0).abs() >= ALIKE_DB;
    let mut remarks = Vec::new();
    if differ(left.stated, Db(0.0)) || differ(right.stated, Db(0.0)) {
        // Minus zero is nothing that anybody reads.
        let back = |straight: Straight| EBU_R68 + straight.through + Db(0.0);
        let backs = if differ(left.stated, right.stated) {
            format!("{:.1} dBFS left, {:.1} right", back(left).0, back(right).0)
        } else {
            format!("{:.1} dBFS", back(left).0)
        };
        remarks.push(format!(
            "Send and return are aligned differently: through a plain cable {} dBFS come back as {backs}.",
            EBU_R68.0
        ));
    }
    let sides = [
        ("send", rig.send_right, rig.send_full_scale_of(1)),
        ("return", rig.return_right, rig.return_full_scale_of(1)),
    ];
    for (name, offset, full_scale) in sides {
        if differ(offset, Db(0.0)) {
            remarks.push(format!(
                "Right is not left: the {name}'s full scale is {:+.2} dB higher there, {:+.2} dBu.",
                offset.0, full_scale.0.0
            ));
        }
    }
    remarks
}
