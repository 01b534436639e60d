//! A desk that knows which gestures are open, so that none stays open when the window dies, and what
//! they did, so that it can be undone.

use super::choice::Stops;
use super::history::{History, Move, Step};
use super::{Control, Desk, Readout, RigMemory, Section, View};
use crate::library::Library;
use crate::tone::Tone;
use penstock_dsp::analysis::Peaks;
use penstock_dsp::meter::MeterKind;
use penstock_dsp::plan::Plan;

/// Positions nearer than this are the same.
const SAME: f32 = 1e-6;

/// Passes everything on to a desk, and ends its open gestures when it is dropped.
#[derive(Debug)]
pub struct Tracked<D: Desk> {
    desk: D,
    /// From where to where, so far.
    open: Vec<Move>,
    history: History,
}

impl<D: Desk> Tracked<D> {
    /// Around a desk without open gestures.
    #[must_use]
    pub fn new(desk: D) -> Self {
        Self {
            desk,
            open: Vec::new(),
            history: History::default(),
        }
    }

    /// The desk inside.
    #[must_use]
    pub fn inner(&self) -> &D {
        &self.desk
    }

    /// The same, for tests that arrange it.
    #[cfg(test)]
    pub fn inner_mut(&mut self) -> &mut D {
        &mut self.desk
    }

    /// Ends every open gesture.
    pub fn end_all(&mut self) {
        for made in std::mem::take(&mut self.open) {
            self.desk.end(made.index);
        }
    }

    fn is_choice(&self, i: usize) -> bool {
        let section = self.desk.controls().get(i).map(|control| control.section);
        section.is_some_and(|section| Section::LOOP.contains(&section))
    }

    /// Gestures that are not remembered, for they repeat what is.
    fn repeat(&mut self, step: &Step) {
        self.end_all();
        for made in &step.moves {
            self.desk.begin(made.index);
            self.desk.set(made.index, made.to);
            self.desk.end(made.index);
        }
    }
}

impl<D: Desk> Drop for Tracked<D> {
    fn drop(&mut self) {
        self.end_all();
    }
}

impl<D: Desk> Desk for Tracked<D> {
    fn controls(&self) -> &[Control] {
        self.desk.controls()
    }

    fn normalized(&self, i: usize) -> f32 {
        self.desk.normalized(i)
    }

    fn default_normalized(&self, i: usize) -> f32 {
        self.desk.default_normalized(i)
    }

    fn text(&self, i: usize, normalized: f32) -> String {
        self.desk.text(i, normalized)
    }

    fn parse(&self, i: usize, text: &str) -> Option<f32> {
        self.desk.parse(i, text)
    }

    fn idle(&self, i: usize) -> Option<&'static str> {
        self.desk.idle(i)
    }

    fn is_absent(&self, i: usize) -> bool {
        self.desk.is_absent(i)
    }

    fn stops(&self, i: usize) -> Option<Stops> {
        self.desk.stops(i)
    }

    fn list_text(&self, i: usize) -> String {
        self.desk.list_text(i)
    }

    fn parse_list(&self, i: usize, text: &str) -> Result<Vec<(usize, f32)>, String> {
        self.desk.parse_list(i, text)
    }

    fn begin(&mut self, i: usize) {
        if !self.open.iter().any(|made| made.index == i) {
            let at = self.desk.normalized(i);
            let (from, to) = (at, at);
            self.open.push(Move { index: i, from, to });
            self.desk.begin(i);
        }
    }

    fn set(&mut self, i: usize, normalized: f32) {
        if let Some(made) = self.open.iter_mut().find(|made| made.index == i) {
            made.to = normalized;
        }
        self.desk.set(i, normalized);
    }

    fn end(&mut self, i: usize) {
        if let Some(at) = self.open.iter().position(|made| made.index == i) {
            let made = self.open.swap_remove(at);
            self.desk.end(i);
            if self.is_choice(i) {
                self.history.note(made);
            }
        }
    }

    fn together(&mut self, name: &str, positions: &[(usize, f32)]) {
        let moves: Vec<Move> = positions
            .iter()
            .map(|&(index, to)| {
                let from = self.desk.normalized(index);
                Move { index, from, to }
            })
            .filter(|made| (made.from - made.to).abs() > SAME)
            .collect();
        let step = Step {
            name: Some(name.to_owned()),
            moves,
        };
        self.repeat(&step);
        let choices = step.moves.into_iter();
        let choices = choices.filter(|made| self.is_choice(made.index)).collect();
        self.history.note_together(name, choices);
    }

    fn undoable(&self) -> Option<Step> {
        self.history.undo()
    }

    fn redoable(&self) -> Option<Step> {
        self.history.redo()
    }

    fn undo(&mut self) {
        if let Some(back) = self.history.take_undo() {
            self.repeat(&back);
        }
    }

    fn redo(&mut self) {
        if let Some(again) = self.history.take_redo() {
            self.repeat(&again);
        }
    }

    fn plan(&self) -> Plan {
        self.desk.plan()
    }

    fn choices(&self, plan: &Plan) -> Vec<(usize, f32)> {
        self.desk.choices(plan)
    }

    fn library(&mut self) -> Option<&mut Library> {
        self.desk.library()
    }

    fn rig_memory(&self) -> RigMemory {
        self.desk.rig_memory()
    }

    fn remember_rig(&mut self) -> Result<String, String> {
        self.desk.remember_rig()
    }

    fn remembered_rig(&self) -> Vec<(usize, f32)> {
        self.desk.remembered_rig()
    }

    fn readout(&self) -> Readout {
        self.desk.readout()
    }

    fn meter(&self) -> MeterKind {
        self.desk.meter()
    }

    fn set_meter(&mut self, kind: MeterKind) {
        self.desk.set_meter(kind);
    }

    fn clear_clips(&mut self) {
        self.desk.clear_clips();
    }

    fn forget_loudest(&mut self) {
        self.desk.forget_loudest();
    }

    fn ask_stages(&mut self, peaks: &Peaks) {
        self.desk.ask_stages(peaks);
    }

    fn measure_loudness(&mut self, on: bool) {
        self.desk.measure_loudness(on);
    }

    fn tone(&self) -> Tone {
        self.desk.tone()
    }

    fn set_tone(&mut self, tone: Tone) {
        self.desk.set_tone(tone);
    }

    fn view(&self) -> View {
        self.desk.view()
    }

    fn set_view(&mut self, view: View) {
        self.desk.set_view(view);
    }
}
