//! Whether what is written on the window can be read.

use egui_kittest::kittest::{NodeT, Queryable};
use image::RgbImage;
use penstock_window_tests::Window;

/// The smallest contrast that text may have (WCAG 2.1, 1.4.3, level AA).
const CONTRAST: f64 = 4.5;

/// Relative luminance (WCAG 2.1).
fn luminance([red, green, blue]: [u8; 3]) -> f64 {
    let linear = |part: u8| {
        let part = f64::from(part) / 255.0;
        if part <= 0.040_45 {
            part / 12.92
        } else {
            ((part + 0.055) / 1.055).powf(2.4)
        }
    };
    0.2126 * linear(red) + 0.7152 * linear(green) + 0.0722 * linear(blue)
}

fn contrast(one: [u8; 3], other: [u8; 3]) -> f64 {
    let (one, other) = (luminance(one), luminance(other));
    (one.max(other) + 0.05) / (one.min(other) + 0.05)
}

/// The colour that most of a box has.
fn ground(picture: &RgbImage, [left, top, right, bottom]: [u32; 4]) -> [u8; 3] {
    let mut counts = std::collections::HashMap::new();
    for (x, y) in (top..bottom).flat_map(|y| (left..right).map(move |x| (x, y))) {
        *counts.entry(picture.get_pixel(x, y).0).or_insert(0) += 1;
    }
    let most = counts.into_iter().max_by_key(|(_, count)| *count);
    most.map_or([0; 3], |(colour, _)| colour)
}

/// A rectangle's pixels, as far as they are in the picture: left, top, right, bottom.
fn pixels(picture: &RgbImage, rect: egui::Rect, scale: f32) -> [u32; 4] {
    let (width, height) = picture.dimensions();
    let side = |points: f32, most: u32| ((points * scale).max(0.0) as u32).min(most);
    [
        side(rect.left(), width),
        side(rect.top(), height),
        side(rect.right() + 1.0, width),
        side(rect.bottom() + 1.0, height),
    ]
}

/// What is written is in the picture, whole and legible: none of its ink lies outside of what can be
/// seen of it, and some of it stands far enough from its ground.
pub fn assert_legible(name: &str, window: &Window, picture: &RgbImage) {
    let scale = window.output().pixels_per_point;
    // What cannot be operated now may be fainter (WCAG 2.1, 1.4.3: "inactive").
    let inactive: Vec<String> = window
        .query_all_by(|node| node.is_disabled())
        .filter_map(|node| node.accesskit_node().label())
        .collect();
    let mut seen = 0;
    for shape in &window.output().shapes {
        let egui::Shape::Text(text) = &shape.shape else {
            continue;
        };
        let ink = text.visual_bounding_rect();
        let shown = ink.intersect(shape.clip_rect);
        let words = text.galley.text();
        // What can be scrolled to is not cut.
        let below = ink.bottom() > window.ctx.content_rect().bottom() - 8.0;
        if words.trim().is_empty() || !shown.is_positive() || below {
            continue;
        }
        assert!(
            shown.contains_rect(ink.shrink(0.5)),
            "{}: '{words}' is cut: {ink:?} of which {shown:?} shows",
            name
        );
        // Faded on purpose: it has no effect as the others stand.
        if text.opacity_factor < 1.0 || inactive.iter().any(|name| name == words) {
            continue;
        }
        let ground = ground(picture, pixels(picture, shown.expand(3.0), scale));
        let [left, top, right, bottom] = pixels(picture, shown, scale);
        let most = (top..bottom)
            .flat_map(|y| (left..right).map(move |x| (x, y)))
            .map(|(x, y)| contrast(picture.get_pixel(x, y).0, ground))
            .fold(1.0, f64::max);
        assert!(
            most >= CONTRAST,
            "{}: '{words}' has a contrast of {most:.2} at most",
            name
        );
        seen += 1;
    }
    assert!(seen >= 30, "{}: only {seen} texts", name);
}
