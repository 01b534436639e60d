//! What a screen reader would be told.

use super::super::ui;
use super::Window;
use egui::accesskit::{Node, NodeId};
use egui::{Pos2, RawInput, Rect};

impl Window {
    /// Every name, from one more picture.
    pub(super) fn names(&mut self) -> Vec<String> {
        let nodes = self.tree();
        let name = |(_, node): &(NodeId, Node)| {
            let name = node.label().or(node.value());
            name.map(str::to_owned)
        };
        nodes.iter().filter_map(name).collect()
    }

    /// Every name and where it is.
    pub(super) fn nodes(&mut self) -> Vec<(String, Option<Rect>)> {
        let at = |x: f64, y: f64| egui::pos2(x as f32, y as f32);
        let nodes = self.tree().into_iter();
        nodes
            .filter_map(|(_, node)| {
                let bounds = node.bounds();
                let rect = bounds.map(|b| Rect::from_min_max(at(b.x0, b.y0), at(b.x1, b.y1)));
                // A text is its own label's value.
                let name = node.label().or(node.value())?;
                Some((name.to_owned(), rect))
            })
            .collect()
    }

    /// Where it would find a name.
    pub(super) fn places(&mut self, wanted: &str) -> Vec<Rect> {
        let nodes = self.nodes().into_iter();
        let named = nodes.filter(|(name, _)| name == wanted);
        named.filter_map(|(_, rect)| rect).collect()
    }

    /// The middle of what has this name; what cannot be pressed does not count.
    pub(super) fn place(&mut self, name: &str) -> Option<Pos2> {
        let nodes = self.tree();
        let mut named = nodes
            .iter()
            .filter(|(_, node)| node.label() == Some(name) && !node.is_disabled());
        let bounds = named.next()?.1.bounds()?;
        let middle = |from: f64, to: f64| ((from + to) / 2.0) as f32;
        Some(egui::pos2(
            middle(bounds.x0, bounds.x1),
            middle(bounds.y0, bounds.y1),
        ))
    }

    /// Every node, from one more picture.
    pub(super) fn roles(&mut self) -> Vec<Node> {
        self.tree().into_iter().map(|(_, node)| node).collect()
    }

    fn tree(&mut self) -> Vec<(NodeId, Node)> {
        self.ctx.enable_accesskit();
        self.seconds += 1.0 / 30.0;
        let mut input = RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, self.size)),
            time: Some(self.seconds),
            focused: true,
            ..RawInput::default()
        };
        self.show_on(&mut input);
        let desk = &mut self.desk;
        let mut output = self.ctx.run_ui(input, |root| ui(root, desk));
        let tree = output.platform_output.accesskit_update.take();
        output.drop_without_applying_deltas();
        tree.map(|tree| tree.nodes).unwrap_or_default()
    }
}
