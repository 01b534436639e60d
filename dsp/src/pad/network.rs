//! The networks as data: which resistors there are, between which nodes, in the order of the drawing.
//!
//! Drawn from left (the source) to right (the load), every network has up to three *positions*; in a
//! balanced network a series position is two resistors, one in each leg.

/// Which resistors there are, and where.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Network {
    /// No pad: straight in.
    None,
    /// Balanced: an arm in each leg before and after the shunt (five resistors).
    H,
    /// Unbalanced form of the H (three resistors).
    T,
    /// Balanced: an arm in each leg before the shunt (three resistors).
    U,
    /// Unbalanced form of the U (two resistors).
    L,
    /// Balanced: an arm in each leg between two shunts (four resistors).
    O,
    /// Unbalanced form of the O (three resistors).
    Pi,
}

/// A node of a pad.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Joint {
    InHot,
    InCold,
    MidHot,
    MidCold,
    OutHot,
    OutCold,
}

/// One resistor of a network.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Branch {
    /// Which of the three values it has: its position in the drawing.
    pub position: usize,
    /// One end, the other end.
    pub ends: [Joint; 2],
}

use Joint::{InCold, InHot, MidCold, MidHot, OutCold, OutHot};

const fn branch(position: usize, from: Joint, to: Joint) -> Branch {
    Branch {
        position,
        ends: [from, to],
    }
}

const H: [Branch; 5] = [
    branch(0, InHot, MidHot),
    branch(0, InCold, MidCold),
    branch(1, MidHot, MidCold),
    branch(2, MidHot, OutHot),
    branch(2, MidCold, OutCold),
];
const T: [Branch; 3] = [
    branch(0, InHot, MidHot),
    branch(1, MidHot, InCold),
    branch(2, MidHot, OutHot),
];
const U: [Branch; 3] = [
    branch(0, InHot, OutHot),
    branch(0, InCold, OutCold),
    branch(1, OutHot, OutCold),
];
const L: [Branch; 2] = [branch(0, InHot, OutHot), branch(1, OutHot, InCold)];
const O: [Branch; 4] = [
    branch(0, InHot, InCold),
    branch(1, InHot, OutHot),
    branch(1, InCold, OutCold),
    branch(2, OutHot, OutCold),
];
const PI: [Branch; 3] = [
    branch(0, InHot, InCold),
    branch(1, InHot, OutHot),
    branch(2, OutHot, InCold),
];

impl Network {
    /// Every network, in the order of the plan's words.
    pub const ALL: [Self; 7] = [
        Self::None,
        Self::H,
        Self::T,
        Self::U,
        Self::L,
        Self::O,
        Self::Pi,
    ];

    /// Every resistor. In an unbalanced network the cold side is a wire: its nodes are
    /// [`Joint::InCold`].
    #[must_use]
    pub fn branches(self) -> &'static [Branch] {
        match self {
            Self::None => &[],
            Self::H => &H,
            Self::T => &T,
            Self::U => &U,
            Self::L => &L,
            Self::O => &O,
            Self::Pi => &PI,
        }
    }

    /// How many values it has: positions of the drawing.
    #[must_use]
    pub fn positions(self) -> usize {
        let last = self.branches().iter().map(|branch| branch.position).max();
        last.map_or(0, |last| last + 1)
    }

    /// How many resistors a position is.
    #[must_use]
    pub fn count(self, position: usize) -> usize {
        let branches = self.branches().iter();
        branches.filter(|b| b.position == position).count()
    }

    /// What stands at a position, for people; empty where nothing does.
    #[must_use]
    pub fn position_name(self, position: usize) -> &'static str {
        match (self.is_pi(), position, position < self.positions()) {
            (_, _, false) => "",
            (false, 0, _) => "series, input side",
            (false, 1, _) => "shunt",
            (false, ..) => "series, output side",
            (true, 0, _) => "shunt, input side",
            (true, 1, _) => "series",
            (true, ..) => "shunt, output side",
        }
    }

    /// Whether the series arms are split into two legs.
    #[must_use]
    pub fn is_balanced(self) -> bool {
        matches!(self, Self::H | Self::U | Self::O)
    }

    /// Whether it has a shunt at each end rather than an arm.
    #[must_use]
    pub fn is_pi(self) -> bool {
        matches!(self, Self::O | Self::Pi)
    }

    /// Whether there are arms after the shunt.
    #[must_use]
    pub fn has_output_arms(self) -> bool {
        matches!(self, Self::H | Self::T)
    }

    /// Whether it has three values and so meets three wishes at once.
    #[must_use]
    pub fn meets_three_wishes(self) -> bool {
        self.positions() == 3
    }

    /// The letter, as plans and reports write it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::H => "H",
            Self::T => "T",
            Self::U => "U",
            Self::L => "L",
            Self::O => "O",
            Self::Pi => "pi",
        }
    }

    /// The article before [`Network::name`] in a sentence.
    #[must_use]
    pub fn article(self) -> &'static str {
        match self {
            Self::H | Self::L | Self::O => "an",
            _ => "a",
        }
    }

    /// The same network with its series arms in both legs.
    #[must_use]
    pub fn balanced(self) -> Self {
        match self {
            Self::T => Self::H,
            Self::L => Self::U,
            Self::Pi => Self::O,
            other => other,
        }
    }
}
