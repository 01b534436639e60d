//! For tests in hosts: what is on the window and where, as a file.
//!
//! Nobody outside can ask an embedded window where its controls are, since the window library hands
//! the accessibility tree to no platform. With `PENSTOCK_WINDOW_MAP` naming a file, each picture writes it
//! there as JSON: the X11 window's number, its size in pixels, and role, name, value, place in pixels and state of every
//! node. Only in the bundle with the trap, never in what is released.

use egui::accesskit::{Node, NodeId, TreeUpdate};
use serde_json::{Value, json};
use std::path::PathBuf;

/// The variable that names the file.
const VARIABLE: &str = "PENSTOCK_WINDOW_MAP";

/// Draws the map of a window, if the variable asks for it.
pub(crate) fn draw(ctx: &egui::Context, window: Option<u32>) {
    if let Some(path) = std::env::var_os(VARIABLE) {
        ctx.enable_accesskit();
        ctx.add_plugin(Map {
            path: path.into(),
            window,
            last: String::new(),
        });
    }
}

struct Map {
    path: PathBuf,
    window: Option<u32>,
    last: String,
}

impl Map {
    fn text(&self, update: &TreeUpdate, size: [f32; 2], scale: f64) -> String {
        let nodes = update.nodes.iter();
        let nodes = nodes.filter_map(|(id, node)| place(*id, node, update.focus, scale));
        let nodes: Vec<Value> = nodes.collect();
        json!({"window": self.window, "size": size, "nodes": nodes}).to_string()
    }
}

fn place(id: NodeId, node: &Node, focus: NodeId, scale: f64) -> Option<Value> {
    let bounds = node.bounds()?;
    let [left, top, right, bottom] =
        [bounds.x0, bounds.y0, bounds.x1, bounds.y1].map(|side| (side * scale).round() as i64);
    Some(json!({
        "role": format!("{:?}", node.role()),
        "name": node.label(),
        "value": node.value(),
        "left": left,
        "top": top,
        "width": right - left,
        "height": bottom - top,
        "focused": id == focus,
        "disabled": node.is_disabled(),
    }))
}

impl egui::Plugin for Map {
    fn debug_name(&self) -> &'static str {
        "map"
    }

    fn output_hook(&mut self, ctx: &egui::Context, output: &mut egui::FullOutput) {
        let scale = f64::from(output.pixels_per_point);
        let Some(update) = &output.platform_output.accesskit_update else {
            return;
        };
        let size = ctx.content_rect().size() * output.pixels_per_point;
        let text = self.text(update, [size.x.round(), size.y.round()], scale);
        if text == self.last {
            return;
        }
        // Aside, then in place: whoever reads it reads all of it.
        let aside = self.path.with_extension("part");
        if std::fs::write(&aside, &text).is_ok() && std::fs::rename(&aside, &self.path).is_ok() {
            self.last = text;
        }
    }
}
