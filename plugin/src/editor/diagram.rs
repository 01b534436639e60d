//! The level diagram, live: the drawing commands of the page, painted, with the band of the programme
//! beneath and figures under the pointer.

use super::format::{cells, volts};
use super::theme::{captions, palette};
use super::trace::{Trace, traces};
use super::{Desk, PointReadout, Readout, clips};
use egui::{
    Align2, Color32, FontId, Painter, Pos2, Rect, Role, Sense, Shape, Stroke, Ui, Vec2, WidgetInfo,
    pos2, vec2,
};
use penstock_dsp::analysis::Peaks;
use penstock_dsp::diagram::{
    Command, DiagramPoint, Frame, Ink, LevelDiagram, MeterReading, PERCENTS, Side, TONES_HZ, draw,
};
use penstock_dsp::meter::MeterKind;
use penstock_dsp::units::{Dbu, Volts};

/// Width at which the picture is drawn in its own units; a wider one is drawn larger, to this limit.
const NATURAL: f32 = 736.0;
const LARGEST: f32 = 1.5;
/// No letters smaller than this.
const LEAST_LETTERS: f32 = 10.0;
/// Height of the line of counters under the picture.
const COUNTERS: f32 = 18.0;
/// Below this a meter reads nothing, and DC is of no concern.
const LEAST_VOLTS: f64 = 1e-8;
const LEAST_DC_VOLTS: f64 = 1e-3;
/// How strongly the band is filled, of 255.
pub(crate) const BAND: u8 = 56;
/// And the paper behind words.
pub(crate) const VEIL: u8 = 235;

/// A picture's place and size.
#[derive(Clone, Copy)]
pub(crate) struct Place {
    rect: Rect,
    scale: f32,
}

impl Place {
    fn new(rect: Rect) -> Self {
        let scale = (rect.width() / NATURAL).clamp(1.0, LARGEST);
        Self { rect, scale }
    }

    fn size(&self) -> [f64; 2] {
        let size = self.rect.size() / self.scale;
        [f64::from(size.x), f64::from(size.y)]
    }

    fn at(&self, [x, y]: [f64; 2]) -> Pos2 {
        self.rect.min + vec2(x as f32, y as f32) * self.scale
    }
}

/// Where controls under the points begin and end, from the left of a sheet this wide: four spans, for
/// bus; line out to transformer; the grids; preamp out and return.
pub(crate) fn spans(width: f32) -> [[f32; 2]; 4] {
    let place = Place::new(Rect::from_min_size(Pos2::ZERO, vec2(width, 300.0)));
    let empty = LevelDiagram {
        points: penstock_dsp::chain::Point::ALL.map(DiagramPoint::empty),
    };
    let [wide, high] = place.size();
    let frame = Frame::of(&empty, wide, high);
    let edge = |n: f64| place.at([frame.left + n * frame.column(), 0.0]).x;
    [
        [0.0, edge(1.0)],
        [edge(1.0), edge(4.0)],
        [edge(4.0), edge(6.0)],
        [edge(6.0), width],
    ]
}

/// Draws the picture and the counters under it, and gives the peaks that are held in it.
pub(crate) fn diagram(ui: &mut Ui, desk: &mut impl Desk, now: &Readout, height: f32) -> Peaks {
    let (_, all) = ui.allocate_space(vec2(ui.available_width(), height));
    let picture = Rect::from_min_max(all.min, pos2(all.right(), all.bottom() - COUNTERS));
    let traces = traces(ui, &now.points);
    let peaks = traces.map(|trace| trace.programme().map(|programme| programme.peak));
    let Some(levels) = &now.diagram else {
        let text = "No level diagram yet: it is calculated, or the pad asked for cannot be built.";
        let dim = palette(ui).dim;
        ui.painter()
            .text(all.center(), Align2::CENTER_CENTER, text, captions(), dim);
        return peaks;
    };
    let mut levels = levels.clone();
    let kind = desk.meter();
    let points = levels.points.iter_mut().zip(&traces).zip(&now.points);
    for ((point, trace), read) in points {
        point.programme = trace.programme();
        point.reading = metered(kind, read);
    }
    let place = Place::new(picture);
    let [wide, high] = place.size();
    let frame = Frame::of(&levels, wide, high);
    let painter = ui.painter_at(all);
    bands(ui, &painter, &place, &frame, &traces);
    for command in draw(&levels, wide, high) {
        paint(ui, &painter, &place, command);
    }
    for (n, (point, read)) in levels.points.iter().zip(&now.points).enumerate() {
        let left = frame.left + frame.column() * n as f64;
        let column = Rect::from_min_max(
            place.at([left, 0.0]),
            place.at([left + frame.column(), frame.bottom]),
        );
        hover(ui, &place, &frame, column, point, read);
    }
    let line = Rect::from_min_max(pos2(all.left(), picture.bottom()), all.max);
    let column = |n: f64| {
        let from = place.at([frame.left + n * frame.column(), 0.0]).x;
        let to = place.at([frame.left + (n + 1.0) * frame.column(), 0.0]).x;
        Rect::from_x_y_ranges(from + 3.0..=to - 3.0, line.y_range())
    };
    let word = pos2(place.at([frame.left - 4.0, 0.0]).x, line.center().y);
    let size = (9.5 * place.scale).max(LEAST_LETTERS);
    let font = FontId::proportional(size);
    let ink = palette(ui).ink;
    painter.text(word, Align2::RIGHT_CENTER, "clipped", font, ink);
    if now.searching {
        let text = "Ceilings by distortion are being searched.";
        let dim = palette(ui).dim;
        painter.text(line.center(), Align2::CENTER_CENTER, text, captions(), dim);
    }
    let send = clips::counter(ui, column(0.0), now.clipped_send_frames, "send");
    if clips::counter(ui, column(7.0), now.clipped_return_frames, "return") || send {
        desk.clear_clips();
    }
    peaks
}

/// What the chosen meter holds; sample peaks stand there already.
fn metered(kind: MeterKind, read: &PointReadout) -> Option<MeterReading> {
    let sine = Dbu::from_volts(Volts(read.held_volts));
    let shown = kind != MeterKind::Peak && read.held_volts > LEAST_VOLTS;
    shown.then_some(MeterReading { kind, sine })
}

fn bands(ui: &Ui, painter: &Painter, place: &Place, frame: &Frame, traces: &[Trace; 8]) {
    let accent = palette(ui).accent;
    let fill = Color32::from_rgba_unmultiplied(accent.r(), accent.g(), accent.b(), BAND);
    for (n, trace) in traces.iter().enumerate() {
        let Some([rms, peak]) = trace.band() else {
            continue;
        };
        let left = frame.left + frame.column() * n as f64;
        let from = place.at([left, frame.y(peak)]);
        let to = place.at([left + frame.column(), frame.y(rms)]);
        painter.rect_filled(Rect::from_two_pos(from, to), 0.0, fill);
    }
}

fn colour(ui: &Ui, ink: Ink) -> Color32 {
    let p = palette(ui);
    match ink {
        Ink::Scale => p.hair,
        Ink::Plain => p.ink,
        Ink::Peak | Ink::Rms => p.accent,
        Ink::Ceiling => p.warn,
        Ink::Floor => p.dim,
    }
}

fn paint(ui: &Ui, painter: &Painter, place: &Place, command: Command) {
    match command {
        Command::Line {
            from,
            to,
            width,
            dash,
            ink,
        } => {
            let ends = [place.at(from), place.at(to)];
            let width = (width as f32).max(0.6) * place.scale;
            let stroke = Stroke::new(width, colour(ui, ink));
            if let Some([on, off]) = dash {
                let (on, off) = (on as f32 * place.scale, off as f32 * place.scale);
                painter.extend(Shape::dashed_line(&ends, stroke, on, off));
            } else {
                painter.line_segment(ends, stroke);
            }
        }
        Command::Text {
            at,
            side,
            size,
            words: text,
            ink,
            ..
        } => {
            let align = match side {
                Side::Start => Align2::LEFT_BOTTOM,
                Side::Middle => Align2::CENTER_BOTTOM,
                Side::End => Align2::RIGHT_BOTTOM,
            };
            // From the line the letters stand on to the end of what hangs below it.
            let below = vec2(0.0, 0.26 * size as f32 * place.scale);
            let at = place.at(at) + below;
            words(
                ui,
                painter,
                at,
                align,
                &text,
                size as f32 * place.scale,
                colour(ui, ink),
            );
        }
    }
}

/// A text with the paper behind it, so that no line runs through it.
fn words(ui: &Ui, painter: &Painter, at: Pos2, align: Align2, text: &str, size: f32, ink: Color32) {
    let font = FontId::proportional(size.max(LEAST_LETTERS));
    let galley = painter.layout_no_wrap(text.to_owned(), font, ink);
    let rect = align.anchor_size(at, galley.size());
    let paper = palette(ui).paper;
    let veil = Color32::from_rgba_unmultiplied(paper.r(), paper.g(), paper.b(), VEIL);
    let ground = rect.shrink2(Vec2::new(0.0, 2.0));
    painter.rect_filled(ground, 0.0, veil);
    painter.galley(rect.min, galley, ink);
}

/// The figures of a point, said and shown under the pointer.
fn hover(
    ui: &Ui,
    place: &Place,
    frame: &Frame,
    column: Rect,
    point: &DiagramPoint,
    read: &PointReadout,
) {
    let id = ui.scope_id().with(("point", read.name));
    let response = ui.interact(column, id, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, said(read)));
    let pointer = response.hover_pos();
    response.on_hover_ui_at_pointer(|ui| {
        ui.strong(read.label);
        let y = pointer.map(|at| f64::from((at.y - place.rect.top()) / place.scale));
        if let Some(level) = y.and_then(|y| frame.level(y)) {
            ui.label(format!("at the pointer: {}", level_text(level, point)));
        }
        for line in figures(point) {
            ui.label(line);
        }
        if read.dc_volts.abs() > LEAST_DC_VOLTS {
            ui.label(format!("DC: {}", volts(read.dc_volts)));
        }
    });
}

/// A level in every unit that has a meaning there.
fn level_text(level: Dbu, point: &DiagramPoint) -> String {
    let dbfs = point
        .full_scale
        .map(|full| format!(", {:.1} dBFS", (level - full).0));
    format!(
        "{:.1} dBu, {}{}",
        level.0,
        volts(level.volts().0),
        dbfs.unwrap_or_default()
    )
}

fn figures(point: &DiagramPoint) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = |name: &str, level: Option<Dbu>| {
        lines.extend(level.map(|level| format!("{name}: {}", level_text(level, point))));
    };
    line("peak, held", point.programme.map(|p| p.peak));
    line("RMS", point.programme.map(|p| p.rms));
    if let Some(MeterReading { kind, sine }) = point.reading {
        let shown = kind.shown(sine, point.full_scale);
        lines.push(format!(
            "{}, held: {:.1} {}",
            kind.label(),
            shown.value,
            shown.unit
        ));
    }
    let mut line = |name: &str, level: Option<Dbu>| {
        lines.extend(level.map(|level| format!("{name}: {}", level_text(level, point))));
    };
    line("converter clips", point.clip);
    line("stated limit", point.own);
    line("grid conducts", point.grid);
    for tone_hz in TONES_HZ {
        for percent in PERCENTS.into_iter().rev() {
            let name = format!("{percent} % distortion at {tone_hz} Hz");
            line(&name, point.thd_at(tone_hz, percent));
        }
    }
    line("noise", point.floor.map(|floor| floor.flat));
    line("noise, A-weighted", point.floor.map(|floor| floor.a));
    lines
}

fn said(point: &PointReadout) -> String {
    let [
        rms_dbfs,
        rms_dbu,
        rms_volts,
        peak_dbfs,
        peak_dbu,
        peak_volts,
    ] = cells(point);
    let dbfs = |text: String| {
        if text.is_empty() {
            text
        } else {
            format!("{text} dBFS, ")
        }
    };
    format!(
        "{}: RMS {}{rms_dbu} dBu, {rms_volts}; peak {}{peak_dbu} dBu, {peak_volts}",
        point.label,
        dbfs(rms_dbfs),
        dbfs(peak_dbfs),
    )
}
