//! Two palettes, ink on paper and its reverse, and how the widgets wear them: flat, hairlines,
//! no colour that alone carries meaning.

use egui::{Color32, Context, CornerRadius, FontFamily, FontId, Id, Stroke, Style, TextStyle};
use std::sync::Arc;

/// The colours of one look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Palette {
    /// The sheet.
    pub(crate) paper: Color32,
    /// Fields and pop-ups.
    pub(crate) field: Color32,
    /// Text and what is selected.
    pub(crate) ink: Color32,
    /// Second-rank text: units, captions.
    pub(crate) dim: Color32,
    /// Outlines of what can be used.
    pub(crate) outline: Color32,
    /// Rules that only order the sheet.
    pub(crate) hair: Color32,
    /// Focus and position marks.
    pub(crate) accent: Color32,
    /// Warnings: always with a word or a mark.
    pub(crate) warn: Color32,
}

/// Ink on paper.
const LIGHT: Palette = Palette {
    paper: Color32::from_rgb(0xf4, 0xf5, 0xf3),
    field: Color32::from_rgb(0xff, 0xff, 0xff),
    ink: Color32::from_rgb(0x1b, 0x20, 0x26),
    dim: Color32::from_rgb(0x4d, 0x56, 0x60),
    outline: Color32::from_rgb(0x7a, 0x83, 0x8c),
    hair: Color32::from_rgb(0xcd, 0xd2, 0xd6),
    accent: Color32::from_rgb(0x17, 0x5d, 0x8c),
    warn: Color32::from_rgb(0x93, 0x36, 0x0c),
};

/// The reverse.
const DARK: Palette = Palette {
    paper: Color32::from_rgb(0x1a, 0x1d, 0x21),
    field: Color32::from_rgb(0x11, 0x13, 0x16),
    ink: Color32::from_rgb(0xe9, 0xeb, 0xec),
    dim: Color32::from_rgb(0xa9, 0xb1, 0xb8),
    outline: Color32::from_rgb(0x77, 0x80, 0x89),
    hair: Color32::from_rgb(0x3a, 0x40, 0x47),
    accent: Color32::from_rgb(0x7f, 0xbd, 0xe6),
    warn: Color32::from_rgb(0xf0, 0xa8, 0x72),
};

impl Palette {
    /// The palette of a look.
    pub(crate) fn of(dark: bool) -> Self {
        if dark { DARK } else { LIGHT }
    }
}

/// The palette a `Ui` wears.
pub(crate) fn palette(ui: &egui::Ui) -> Palette {
    Palette::of(ui.visuals().dark_mode)
}

/// Figures: one width each, so that columns stand still.
pub(crate) fn figures() -> FontId {
    FontId::new(12.0, FontFamily::Monospace)
}

/// Words.
pub(crate) fn words() -> FontId {
    FontId::new(13.0, FontFamily::Proportional)
}

/// Captions and units.
pub(crate) fn captions() -> FontId {
    FontId::new(12.0, FontFamily::Proportional)
}

/// Section titles.
pub(crate) fn titles() -> FontId {
    FontId::new(15.0, FontFamily::Proportional)
}

/// Dresses the context, only when the look has changed.
pub(crate) fn apply(ctx: &Context, dark: bool) {
    let id = Id::unique("penstock.theme");
    if ctx.data(|data| data.get_temp::<bool>(id)) == Some(dark) {
        return;
    }
    ctx.data_mut(|data| data.insert_temp(id, dark));
    let theme = if dark {
        egui::Theme::Dark
    } else {
        egui::Theme::Light
    };
    ctx.set_style_of(theme, Arc::new(style(dark)));
    ctx.set_theme(theme);
    ctx.request_repaint();
}

/// The style of a look.
pub(crate) fn style(dark: bool) -> Style {
    let palette = Palette::of(dark);
    let mut style = Style {
        // Nothing moves by itself, so nothing repaints by itself.
        animation_time: 0.0,
        ..Style::default()
    };
    style.text_styles = [
        (TextStyle::Small, captions()),
        (TextStyle::Body, words()),
        (TextStyle::Button, words()),
        (TextStyle::Heading, titles()),
        (TextStyle::Monospace, figures()),
    ]
    .into();
    let spacing = &mut style.spacing;
    spacing.item_spacing = egui::vec2(8.0, 3.0);
    spacing.button_padding = egui::vec2(7.0, 2.0);
    spacing.interact_size.y = 21.0;
    spacing.tooltip_width = 280.0;
    // Over the content: a bar that comes and goes must not move everything else.
    spacing.scroll = egui::style::ScrollStyle {
        // In sight whenever there is more: nobody looks for what is not hinted at.
        dormant_handle_opacity: 0.4,
        ..egui::style::ScrollStyle::floating()
    };
    style.interaction.tooltip_delay = 0.6;
    style.interaction.selectable_labels = false;
    style.visuals = visuals(dark, palette);
    style
}

fn visuals(dark: bool, p: Palette) -> egui::Visuals {
    let mut visuals = if dark {
        egui::Visuals::dark()
    } else {
        egui::Visuals::light()
    };
    visuals.panel_fill = p.paper;
    visuals.window_fill = p.field;
    visuals.extreme_bg_color = p.field;
    visuals.text_edit_bg_color = Some(p.field);
    visuals.faint_bg_color = p.paper;
    visuals.window_stroke = Stroke::new(1.0, p.outline);
    visuals.window_shadow = egui::Shadow::NONE;
    visuals.popup_shadow = egui::Shadow::NONE;
    visuals.window_corner_radius = CornerRadius::same(2);
    visuals.menu_corner_radius = CornerRadius::same(2);
    visuals.warn_fg_color = p.warn;
    visuals.error_fg_color = p.warn;
    visuals.hyperlink_color = p.accent;
    visuals.weak_text_color = Some(p.dim);
    visuals.selection.bg_fill = p.ink;
    visuals.selection.stroke = Stroke::new(1.0, p.paper);
    visuals.text_cursor.blink = false;
    let states = &mut visuals.widgets;
    for (state, outline, ink) in [
        (&mut states.noninteractive, p.hair, p.ink),
        (&mut states.inactive, p.outline, p.ink),
        (&mut states.hovered, p.ink, p.ink),
        (&mut states.active, p.accent, p.ink),
        (&mut states.open, p.accent, p.ink),
    ] {
        state.bg_fill = p.field;
        state.weak_bg_fill = p.field;
        state.bg_stroke = Stroke::new(1.0, outline);
        state.fg_stroke = Stroke::new(1.0, ink);
        state.corner_radius = CornerRadius::same(2);
        state.expansion = 0.0;
    }
    visuals
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance, WCAG 2.2, "relative luminance".
    fn luminance(colour: Color32) -> f64 {
        let linear = |byte: u8| {
            let s = f64::from(byte) / 255.0;
            if s <= 0.04045 {
                s / 12.92
            } else {
                ((s + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * linear(colour.r()) + 0.7152 * linear(colour.g()) + 0.0722 * linear(colour.b())
    }

    /// Contrast ratio, WCAG 2.2, "contrast ratio".
    fn contrast(a: Color32, b: Color32) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    // WCAG 2.2, "contrast ratio": black on white is 21:1; #767676 on white is the well-known
    // darkest grey that just passes 4.5:1.
    #[test]
    fn the_measure_is_right() {
        assert!((contrast(Color32::BLACK, Color32::WHITE) - 21.0).abs() < 1e-9);
        assert!(contrast(Color32::from_gray(0x76), Color32::WHITE) >= 4.5);
        assert!(contrast(Color32::from_gray(0x77), Color32::WHITE) < 4.5);
    }

    // WCAG 2.2 success criterion 1.4.3 (AA): text 4.5:1.
    #[test]
    fn text_is_legible() {
        for p in [LIGHT, DARK] {
            for ground in [p.paper, p.field] {
                for text in [p.ink, p.dim, p.accent, p.warn] {
                    let ratio = contrast(text, ground);
                    assert!(ratio >= 4.5, "{text:?} on {ground:?}: {ratio:.2}");
                }
            }
            // What is selected or warned is written in paper on ink.
            assert!(contrast(p.paper, p.ink) >= 4.5);
            assert!(contrast(p.paper, p.warn) >= 4.5);
        }
    }

    /// `over` with a share of it on a ground.
    fn mixed(over: Color32, ground: Color32, share: f64) -> Color32 {
        let part =
            |a: u8, b: u8| (f64::from(a) * share + f64::from(b) * (1.0 - share)).round() as u8;
        let (r, g) = (part(over.r(), ground.r()), part(over.g(), ground.g()));
        Color32::from_rgb(r, g, part(over.b(), ground.b()))
    }

    // The same criterion, for what stands on something mixed: words in the diagram on a veil over the band or
    // over a line, controls without effect, which can still be set.
    #[test]
    fn text_is_legible_on_what_is_mixed() {
        use super::super::diagram::{BAND, VEIL};
        use super::super::section::IDLE;
        let share = |of: u8| f64::from(of) / 255.0;
        for p in [LIGHT, DARK] {
            let band = mixed(p.accent, p.paper, share(BAND));
            for under in [p.paper, band, p.hair, p.ink, p.accent, p.warn, p.dim] {
                let ground = mixed(p.paper, under, share(VEIL));
                for text in [p.ink, p.accent, p.warn, p.dim] {
                    let ratio = contrast(text, ground);
                    assert!(ratio >= 4.5, "{text:?} over {under:?}: {ratio:.2}");
                }
            }
            for (text, ground) in [(p.ink, p.paper), (p.ink, p.field), (p.dim, p.paper)] {
                let ratio = contrast(mixed(text, ground, f64::from(IDLE)), ground);
                assert!(ratio >= 4.5, "idle {text:?} on {ground:?}: {ratio:.2}");
            }
            let (text, ground) = (
                mixed(p.paper, p.paper, 1.0),
                mixed(p.ink, p.paper, f64::from(IDLE)),
            );
            assert!(contrast(text, ground) >= 4.5);
        }
    }

    // WCAG 2.2 success criterion 1.4.11 (AA): parts of controls 3:1.
    #[test]
    fn outlines_are_visible() {
        for p in [LIGHT, DARK] {
            for ground in [p.paper, p.field] {
                for line in [p.outline, p.accent] {
                    let ratio = contrast(line, ground);
                    assert!(ratio >= 3.0, "{line:?} on {ground:?}: {ratio:.2}");
                }
            }
        }
    }

    #[test]
    fn the_style_wears_the_palette() {
        for dark in [false, true] {
            let (style, p) = (style(dark), Palette::of(dark));
            assert_eq!(style.visuals.dark_mode, dark);
            assert_eq!(style.visuals.panel_fill, p.paper);
            assert_eq!(style.visuals.text_color(), p.ink);
            assert_eq!(style.visuals.weak_text_color(), p.dim);
            assert_eq!(style.visuals.widgets.inactive.bg_stroke.color, p.outline);
        }
    }
}
