//! A small writer of SVG pictures: flat lines, each picture with a title and a description.
//!
//! Coordinates are drawing units from the top left. Colours, widths and fonts live in the style
//! sheet, reached by class; nothing that is not finite is ever written.

use std::fmt::Write;

use super::text::esc;

/// Where a text is anchored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// The text begins here.
    Start,
    /// The text is centred here.
    Middle,
    /// The text ends here.
    End,
}

/// A picture being written.
#[derive(Debug)]
pub struct Svg {
    id: String,
    title: String,
    desc: String,
    width: f64,
    height: f64,
    body: String,
}

impl Svg {
    /// A picture of the given size; `id` must be unique in the page and a plain word.
    pub fn new(id: &str, title: &str, desc: &str, width: f64, height: f64) -> Self {
        Self {
            id: id.to_string(),
            title: title.to_string(),
            desc: desc.to_string(),
            width,
            height,
            body: String::new(),
        }
    }

    /// The picture's id, for names of patterns and clips inside it.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// A straight line.
    pub fn line(&mut self, class: &str, from: (f64, f64), to: (f64, f64)) {
        if [from.0, from.1, to.0, to.1].iter().all(|v| v.is_finite()) {
            let (x1, y1, x2, y2) = (num(from.0), num(from.1), num(to.0), num(to.1));
            self.put(format_args!(
                "<line class=\"{class}\" x1=\"{x1}\" y1=\"{y1}\" x2=\"{x2}\" y2=\"{y2}\"/>"
            ));
        }
    }

    /// A rectangle; nothing when a side is below zero or not finite.
    pub fn rect(&mut self, class: &str, x: f64, y: f64, width: f64, height: f64) {
        self.rect_filled(class, None, x, y, width, height);
    }

    /// A rectangle filled by a pattern of this page.
    pub fn rect_filled(
        &mut self,
        class: &str,
        pattern_id: Option<&str>,
        x: f64,
        y: f64,
        width: f64,
        height: f64,
    ) {
        let usable = [x, y, width, height].iter().all(|v| v.is_finite());
        if usable && width >= 0.0 && height >= 0.0 {
            let fill = pattern_id.map_or_else(String::new, |id| format!(" fill=\"url(#{id})\""));
            let (x, y, w, h) = (num(x), num(y), num(width), num(height));
            self.put(format_args!(
                "<rect class=\"{class}\"{fill} x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\"/>"
            ));
        }
    }

    /// A text on one line; `class` chooses size and weight.
    pub fn text(&mut self, class: &str, anchor: Anchor, x: f64, y: f64, text: &str) {
        if x.is_finite() && y.is_finite() {
            let anchor = match anchor {
                Anchor::Start => "",
                Anchor::Middle => " text-anchor=\"middle\"",
                Anchor::End => " text-anchor=\"end\"",
            };
            let (x, y, text) = (num(x), num(y), esc(text));
            self.put(format_args!(
                "<text class=\"{class}\"{anchor} x=\"{x}\" y=\"{y}\">{text}</text>"
            ));
        }
    }

    /// A path of ready-made data (see [`polyline`]), dashed when `dash` is not empty.
    pub fn path(&mut self, class: &str, dash: &str, data: &str) {
        if !data.is_empty() {
            let dash = if dash.is_empty() {
                String::new()
            } else {
                format!(" stroke-dasharray=\"{dash}\"")
            };
            self.put(format_args!("<path class=\"{class}\"{dash} d=\"{data}\"/>"));
        }
    }

    /// Begins a group that shows only what lies inside a clip of this page; end it with
    /// [`Svg::close`].
    pub fn open_clipped(&mut self, clip_id: &str) {
        self.put(format_args!("<g clip-path=\"url(#{clip_id})\">"));
    }

    /// Ends a group.
    pub fn close(&mut self) {
        self.body.push_str("</g>\n");
    }

    /// Names a rectangle that groups can be clipped to.
    pub fn clip(&mut self, clip_id: &str, x: f64, y: f64, width: f64, height: f64) {
        let (x, y, w, h) = (num(x), num(y), num(width.max(0.0)), num(height.max(0.0)));
        self.put(format_args!(
            "<clipPath id=\"{clip_id}\"><rect x=\"{x}\" y=\"{y}\" width=\"{w}\" \
             height=\"{h}\"/></clipPath>"
        ));
    }

    /// Adds ready-made markup, already escaped.
    pub fn raw(&mut self, markup: &str) {
        self.body.push_str(markup);
        self.body.push('\n');
    }

    /// The finished picture; `class` sets how wide the page shows it.
    pub fn finish(self, class: &str) -> String {
        let Self {
            id,
            title,
            desc,
            width,
            height,
            body,
        } = self;
        let (title, desc, w, h) = (esc(&title), esc(&desc), num(width), num(height));
        format!(
            "<svg class=\"{class}\" role=\"img\" aria-labelledby=\"{id}-t {id}-d\" \
             viewBox=\"0 0 {w} {h}\" width=\"{w}\" height=\"{h}\">\n\
             <title id=\"{id}-t\">{title}</title>\n<desc id=\"{id}-d\">{desc}</desc>\n{body}</svg>\n"
        )
    }

    fn put(&mut self, what: std::fmt::Arguments<'_>) {
        self.body
            .write_fmt(what)
            .expect("writing to a string cannot fail");
        self.body.push('\n');
    }
}

/// A coordinate with at most two decimals; what is not finite becomes 0.
pub fn num(value: f64) -> String {
    if !value.is_finite() {
        return "0".to_string();
    }
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_string()
    } else {
        text.to_string()
    }
}

/// Path data through points; missing or not finite ones break the line.
pub fn polyline(points: impl IntoIterator<Item = Option<(f64, f64)>>) -> String {
    let mut data = String::new();
    let mut pen_down = false;
    for point in points {
        match point.filter(|(x, y)| x.is_finite() && y.is_finite()) {
            Some((x, y)) => {
                let verb = if pen_down { 'L' } else { 'M' };
                let _ = write!(data, "{verb}{} {}", num(x), num(y));
                pen_down = true;
            }
            None => pen_down = false,
        }
    }
    data
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn coordinates_are_short_and_finite() {
        assert_eq!(num(1.0), "1");
        assert_eq!(num(-0.001), "0");
        assert_eq!(num(12.345), "12.35");
        assert_eq!(num(100.0), "100");
        assert_eq!(num(f64::NAN), "0");
    }

    #[test]
    fn a_missing_point_breaks_the_line() {
        let points = [
            Some((0.0, 1.0)),
            None,
            Some((2.0, f64::NAN)),
            Some((3.0, 4.0)),
        ];
        assert_eq!(polyline(points), "M0 1M3 4");
        assert_eq!(polyline([None]), "");
    }

    #[test]
    fn nothing_infinite_is_drawn_and_text_is_escaped() {
        let mut svg = Svg::new("a", "1 < 2", "\"d\"", 10.0, 10.0);
        svg.line("x", (0.0, f64::INFINITY), (1.0, 1.0));
        svg.rect("x", 0.0, 0.0, -1.0, 1.0);
        svg.text("x", Anchor::Middle, 1.0, 2.0, "<b>");
        let out = svg.finish("fig");
        assert!(!out.contains("<line") && !out.contains("<rect") && !out.contains("inf"));
        assert!(out.contains("&lt;b&gt;") && out.contains("<title id=\"a-t\">1 &lt; 2</title>"));
    }
}
