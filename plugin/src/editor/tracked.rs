//! A desk that knows which gestures are open, so that none stays open when the window dies.

use super::{Control, Desk, Readout, View};

/// Passes everything on to a desk, and ends its open gestures when it is dropped.
#[derive(Debug)]
pub struct Tracked<D: Desk> {
    desk: D,
    open: Vec<usize>,
}

impl<D: Desk> Tracked<D> {
    /// Around a desk without open gestures.
    #[must_use]
    pub fn new(desk: D) -> Self {
        Self {
            desk,
            open: Vec::new(),
        }
    }

    /// The desk inside.
    #[must_use]
    pub fn inner(&self) -> &D {
        &self.desk
    }

    /// Ends every open gesture.
    pub fn end_all(&mut self) {
        for i in std::mem::take(&mut self.open) {
            self.desk.end(i);
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

    fn begin(&mut self, i: usize) {
        if !self.open.contains(&i) {
            self.open.push(i);
            self.desk.begin(i);
        }
    }

    fn set(&mut self, i: usize, normalized: f32) {
        self.desk.set(i, normalized);
    }

    fn end(&mut self, i: usize) {
        if let Some(at) = self.open.iter().position(|open| *open == i) {
            self.open.swap_remove(at);
            self.desk.end(i);
        }
    }

    fn readout(&self) -> Readout {
        self.desk.readout()
    }

    fn clear_clips(&mut self) {
        self.desk.clear_clips();
    }

    fn view(&self) -> View {
        self.desk.view()
    }

    fn set_view(&mut self, view: View) {
        self.desk.set_view(view);
    }
}
