//! Undo and redo of choices made in the window.
//!
//! Only what belongs to the insert loop is remembered: facts of the studio, bypass and oversampling
//! are no choices. A step goes back by ordinary gestures, so the host records it like any other.

use std::time::{Duration, Instant};

/// Steps kept; older ones are forgotten.
const MOST: usize = 200;
/// Gestures of one control that follow each other faster than this are one step: keys and notches of
/// the wheel come one by one.
const TOGETHER: Duration = Duration::from_millis(800);

/// One control's way in one step, normalised.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Move {
    /// The control.
    pub index: usize,
    /// Where it stood.
    pub from: f32,
    /// Where it was put.
    pub to: f32,
}

impl Move {
    /// The way back.
    #[must_use]
    pub fn back(self) -> Self {
        Self {
            from: self.to,
            to: self.from,
            ..self
        }
    }
}

/// What one undo takes back: one control's way, or those of all that a preset moved.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Step {
    /// What moved several at once.
    pub name: Option<String>,
    /// At least one, each of another control.
    pub moves: Vec<Move>,
}

impl Step {
    /// The way back.
    #[must_use]
    pub fn back(&self) -> Self {
        Self {
            name: self.name.clone(),
            moves: self.moves.iter().rev().map(|made| made.back()).collect(),
        }
    }

    /// The only move of a step of one control.
    fn single(&mut self) -> Option<&mut Move> {
        match (&self.name, self.moves.as_mut_slice()) {
            (None, [only]) => Some(only),
            _ => None,
        }
    }
}

impl From<Move> for Step {
    fn from(made: Move) -> Self {
        Self {
            name: None,
            moves: vec![made],
        }
    }
}

/// What was done and undone.
#[derive(Debug, Default)]
pub struct History {
    done: Vec<Step>,
    undone: Vec<Step>,
    /// When the last of `done` was made, while more of the same may join it.
    joins: Option<Instant>,
}

impl History {
    /// Notes a gesture that has ended now.
    pub fn note(&mut self, made: Move) {
        self.note_at(made, Instant::now());
    }

    fn note_at(&mut self, made: Move, now: Instant) {
        let soon = self.joins.is_some_and(|last| now - last < TOGETHER);
        self.joins = Some(now);
        let last = self.done.last_mut().and_then(Step::single);
        match last {
            Some(last) if soon && last.index == made.index => last.to = made.to,
            _ if made.from == made.to => return,
            _ => self.done.push(made.into()),
        }
        self.undone.clear();
        // Back where it began: nothing was done.
        let last = self.done.last_mut().and_then(Step::single);
        if last.is_some_and(|last| last.from == last.to) {
            self.done.pop();
            self.joins = None;
        }
        self.forget_old();
    }

    /// Notes what several gestures did under one name, as one step.
    pub fn note_together(&mut self, name: &str, moves: Vec<Move>) {
        let moves: Vec<Move> = moves.into_iter().filter(|m| m.from != m.to).collect();
        if moves.is_empty() {
            return;
        }
        self.joins = None;
        self.undone.clear();
        let name = Some(name.to_owned());
        self.done.push(Step { name, moves });
        self.forget_old();
    }

    fn forget_old(&mut self) {
        if self.done.len() > MOST {
            self.done.remove(0);
        }
    }

    /// What undo would do.
    #[must_use]
    pub fn undo(&self) -> Option<Step> {
        self.done.last().map(Step::back)
    }

    /// What redo would do.
    #[must_use]
    pub fn redo(&self) -> Option<Step> {
        self.undone.last().cloned()
    }

    /// Takes the step that undo does.
    pub fn take_undo(&mut self) -> Option<Step> {
        self.joins = None;
        let made = self.done.pop()?;
        let back = made.back();
        self.undone.push(made);
        Some(back)
    }

    /// Takes the step that redo does.
    pub fn take_redo(&mut self) -> Option<Step> {
        self.joins = None;
        let made = self.undone.pop()?;
        self.done.push(made.clone());
        Some(made)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn step(index: usize, from: f32, to: f32) -> Move {
        Move { index, from, to }
    }

    fn one(index: usize, from: f32, to: f32) -> Option<Step> {
        Some(step(index, from, to).into())
    }

    #[test]
    fn steps_go_back_and_forth_in_order() {
        let mut history = History::default();
        history.note(step(1, 0.0, 0.5));
        history.note(step(2, 0.2, 0.4));
        assert_eq!(history.take_undo(), one(2, 0.4, 0.2));
        assert_eq!(history.take_undo(), one(1, 0.5, 0.0));
        assert_eq!(history.take_undo(), None);
        assert_eq!(history.take_redo(), one(1, 0.0, 0.5));
        assert_eq!(history.redo(), one(2, 0.2, 0.4));
        // Something new, and what was undone is gone.
        history.note(step(3, 0.0, 1.0));
        assert_eq!(history.redo(), None);
        assert_eq!(history.undo(), one(3, 1.0, 0.0));
    }

    #[test]
    fn quick_gestures_of_one_control_are_one_step() {
        let mut history = History::default();
        let start = Instant::now();
        for k in 0..5 {
            let at = k as f32 / 10.0;
            let now = start + Duration::from_millis(300 * k);
            history.note_at(step(4, at, at + 0.1), now);
        }
        assert_eq!(history.undo(), one(4, 0.5, 0.0));
        history.note_at(step(4, 0.5, 0.6), start + Duration::from_secs(9));
        assert_eq!(history.take_undo(), one(4, 0.6, 0.5));
        assert_eq!(history.take_undo(), one(4, 0.5, 0.0));
        assert_eq!(history.undo(), None);
    }

    #[test]
    fn there_and_back_is_nothing_and_what_is_old_is_forgotten() {
        let mut history = History::default();
        history.note(step(0, 0.5, 0.5));
        assert_eq!(history.undo(), None);
        history.note(step(0, 0.5, 0.6));
        history.note(step(0, 0.6, 0.5));
        assert_eq!(history.undo(), None);
        for index in 0..1000 {
            history.note(step(index, 0.0, 1.0));
        }
        let mut count = 0;
        while history.take_undo().is_some() {
            count += 1;
        }
        assert_eq!(count, MOST);
    }

    #[test]
    fn several_under_one_name_are_one_step() {
        let mut history = History::default();
        history.note(step(1, 0.0, 0.5));
        history.note_together(
            "Bus",
            vec![step(1, 0.5, 0.7), step(2, 0.1, 0.1), step(3, 1.0, 0.0)],
        );
        // What follows soon does not join it.
        history.note(step(3, 0.0, 0.2));
        assert_eq!(history.take_undo(), one(3, 0.2, 0.0));
        let back = history.take_undo().unwrap();
        assert_eq!(back.name.as_deref(), Some("Bus"));
        assert_eq!(back.moves, [step(3, 0.0, 1.0), step(1, 0.7, 0.5)]);
        assert_eq!(history.undo(), one(1, 0.5, 0.0));
        assert_eq!(history.take_redo().unwrap().back(), back);
        // Nothing moved: nothing to undo.
        history.note_together("Bus", vec![step(1, 0.7, 0.7)]);
        assert_eq!(history.undo(), Some(back));
    }
}
