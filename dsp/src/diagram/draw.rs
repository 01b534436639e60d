//! The level diagram as drawing commands: one function for page and window.
//!
//! Coordinates are drawing units from the top left. Kinds of line differ in weight and dash, and each
//! carries its words, so that the picture reads in black on white.

use super::frame::is_reached;
use super::lines::{ProgrammeLine, programme_lines};
use super::spread::{place_words, thin_words};
use super::{DiagramPoint, Frame, LevelDiagram, PERCENTS, TONES_HZ};
use crate::meter::MeterKind;
use crate::units::Dbu;

/// What a command stands for; who draws chooses the colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// Lines of the scale.
    Scale,
    /// Words and frames.
    Plain,
    /// The programme's peaks.
    Peak,
    /// The programme's RMS.
    Rms,
    /// Distortion, clipping, a stated limit.
    Ceiling,
    /// Noise.
    Floor,
}

/// Where a text is anchored.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// It begins here.
    Start,
    /// It is centred here.
    Middle,
    /// It ends here.
    End,
}

/// One drawing command.
#[derive(Clone, Debug, PartialEq)]
pub enum Command {
    /// A straight line.
    Line {
        /// One end.
        from: [f64; 2],
        /// The other.
        to: [f64; 2],
        /// Its width.
        width: f64,
        /// Lengths drawn and left out; none for a solid line.
        dash: Option<[f64; 2]>,
        /// What it stands for.
        ink: Ink,
    },
    /// A text on its baseline.
    Text {
        /// Where.
        at: [f64; 2],
        /// Which part of it stands there.
        side: Side,
        /// Height of its letters' line.
        size: f64,
        /// Whether it is heavy.
        bold: bool,
        /// The words.
        words: String,
        /// What it stands for.
        ink: Ink,
    },
}

/// Height of small words, and how close two of them may stand.
const SMALL: f64 = 9.5;
const GAP: f64 = 10.0;
/// Where the lines' names stand: at the line out, whose right half is free, right of what its ceiling is called.
const NAMES_COLUMN: usize = 1;
const NAMES_SHARE: f64 = 0.45;
/// What may stand on both sides of its line stands under it.
const UNDER: f64 = 0.5;
/// What a converter's ceiling is called.
const CLIP: &str = "clip";
/// Length of a tick, and its share of a narrow column.
const TICK: f64 = 16.0;
const TICK_SHARE: f64 = 0.12;

/// Draws into a width and a height.
#[must_use]
pub fn draw(diagram: &LevelDiagram, width: f64, height: f64) -> Vec<Command> {
    draw_in(diagram, Frame::of(diagram, width, height))
}

/// Draws into a frame, which several diagrams may share.
#[must_use]
pub fn draw_in(diagram: &LevelDiagram, frame: Frame) -> Vec<Command> {
    let mut sheet = Sheet {
        commands: Vec::new(),
        frame,
    };
    sheet.scale(diagram);
    let (left, column) = (sheet.frame.left, sheet.frame.column());
    let lefts = |n: usize| left + column * n as f64;
    for (n, point) in diagram.points.iter().enumerate() {
        sheet.column(point, lefts(n), column);
    }
    let lines = programme_lines(diagram);
    sheet.programme(&lines, column);
    sheet.names(diagram, &lines, column);
    // Over the programme, which may lie on a ceiling.
    for (n, point) in diagram.points.iter().enumerate() {
        let taken = lines.iter().filter_map(|line| line.levels[n]);
        let taken = taken.chain(point.clip);
        let taken: Vec<f64> = taken.map(|level| sheet.y(level)).collect();
        sheet.all_ticks(point, lefts(n), column, &taken);
    }
    // Words last, so that no line runs through them.
    let is_text = |command: &Command| matches!(command, Command::Text { .. });
    sheet.commands.sort_by_key(is_text);
    sheet.commands
}

/// A tick with its words.
struct Tick {
    y: f64,
    words: String,
    /// Which words stand where there is no room for all: the lower first, 0 always.
    rank: u8,
    width: f64,
    dash: Option<[f64; 2]>,
    ink: Ink,
}

/// The picture in the making.
struct Sheet {
    commands: Vec<Command>,
    frame: Frame,
}

impl Sheet {
    fn y(&self, level: Dbu) -> f64 {
        self.frame.y(level)
    }

    fn line(&mut self, from: [f64; 2], to: [f64; 2], width: f64, ink: Ink) {
        self.dashed(from, to, width, None, ink);
    }

    fn dashed(
        &mut self,
        from: [f64; 2],
        to: [f64; 2],
        width: f64,
        dash: Option<[f64; 2]>,
        ink: Ink,
    ) {
        self.commands.push(Command::Line {
            from,
            to,
            width,
            dash,
            ink,
        });
    }

    fn text(&mut self, at: [f64; 2], side: Side, bold: bool, words: &str, ink: Ink) {
        self.commands.push(Command::Text {
            at,
            side,
            size: if bold { 11.0 } else { SMALL },
            bold,
            words: words.to_owned(),
            ink,
        });
    }

    fn scale(&mut self, diagram: &LevelDiagram) {
        let Frame {
            left, right, low, ..
        } = self.frame;
        let tens = ((self.frame.high - low).0 / 10.0).round() as i32;
        for n in 0..=tens {
            let level = low.0 + 10.0 * f64::from(n);
            let y = self.y(Dbu(level));
            let width = if level == 0.0 { 1.0 } else { 0.25 };
            self.line([left, y], [right, y], width, Ink::Scale);
            if level.rem_euclid(20.0) < 0.5 {
                self.text(
                    [left - 4.0, y + 3.5],
                    Side::End,
                    false,
                    &signed(level, 0),
                    Ink::Plain,
                );
            }
        }
        self.text(
            [left - 4.0, self.frame.top - 8.0],
            Side::End,
            true,
            "dBu",
            Ink::Plain,
        );
        let meter = diagram.meter().map(MeterKind::short);
        let names = ["peak", "RMS", "headroom", "S/N"].into_iter().chain(meter);
        for (row, words) in self.shown(names).into_iter().enumerate() {
            let y = self.frame.bottom + 16.0 + 13.0 * row as f64;
            self.text([left - 4.0, y], Side::End, false, words, Ink::Plain);
        }
    }

    fn column(&mut self, point: &DiagramPoint, left: f64, width: f64) {
        let middle = left + 0.5 * width;
        self.line(
            [left, self.frame.top],
            [left, self.frame.bottom],
            0.8,
            Ink::Scale,
        );
        self.text(
            [middle, self.frame.top - 26.0],
            Side::Middle,
            true,
            point.point.label(),
            Ink::Plain,
        );
        if let Some(level) = point.clip {
            self.hatched(left, left + width, self.y(level));
        }
        if let Some(level) = point.own {
            let y = self.y(level);
            self.line([left, y], [left + width, y], 2.4, Ink::Ceiling);
        }
        if let Some(floor) = point.floor {
            let y = self.y(floor.flat);
            self.line([left, y], [left + width, y], 1.6, Ink::Floor);
            let mut y = y;
            while y < self.frame.bottom {
                // Lines that thin out downwards: what lies under noise.
                self.line([left, y], [left + width, y], 0.25, Ink::Floor);
                y += 9.0;
            }
        }
        if let Some(level) = point.full_scale {
            self.full_scale(level, left + width);
        }
        self.figures(point, middle);
        if let Some(words) = point.reading_words() {
            let row = if self.frame.is_short { 2.0 } else { 4.0 };
            let y = self.frame.bottom + 16.0 + 13.0 * row;
            self.text([middle, y], Side::Middle, false, &words, Ink::Plain);
        }
    }

    /// Full scale and the twenties below it: the bus's within its column, whose other half is free,
    /// the return's outside the picture.
    fn full_scale(&mut self, level: Dbu, right: f64) {
        let is_last = right > self.frame.right - 1.0;
        let (side, x) = if is_last {
            (Side::Start, right + 5.0)
        } else {
            (Side::End, right - 5.0)
        };
        let head = [x, self.frame.top - if is_last { 8.0 } else { 10.0 }];
        self.text(head, side, is_last, "dBFS", Ink::Plain);
        for dbfs in (0..7).map(|n| -20.0 * f64::from(n)) {
            let at = Dbu(level.0 + dbfs);
            if at.0 <= self.frame.low.0 || at.0 >= self.frame.high.0 {
                continue;
            }
            let y = self.y(at);
            let out = if is_last { 3.0 } else { -3.0 };
            self.line([right, y], [right + out, y], 0.8, Ink::Plain);
            self.text([x, y + 3.2], side, false, &signed(dbfs, 0), Ink::Plain);
        }
    }

    fn distortion_ticks(&self, point: &DiagramPoint, tone_hz: f64) -> Vec<Tick> {
        let tick = |percent: f64| {
            let level = point.thd_at(tone_hz, percent);
            let level = level.filter(|level| is_reached(point, *level));
            level.map(|level| Tick {
                y: self.y(level),
                words: format!("{percent} %"),
                rank: if percent == 1.0 { 1 } else { 3 },
                width: if percent == 1.0 { 2.4 } else { 1.2 },
                dash: None,
                ink: Ink::Ceiling,
            })
        };
        PERCENTS.into_iter().filter_map(tick).collect()
    }

    /// Clip, limit and grid in the first half, weighted floors in the second.
    fn other_ticks(&self, point: &DiagramPoint, half: usize) -> Vec<Tick> {
        let tick = |level: Dbu, words: &str, dash, ink| Tick {
            y: self.y(level),
            words: words.to_owned(),
            rank: match (words, ink) {
                ("grid", _) => 2,
                (_, Ink::Ceiling) => 0,
                _ => 1,
            },
            width: 1.2,
            dash,
            ink,
        };
        let mut ticks = Vec::new();
        if half == 0 {
            let clip = point.clip.map(|l| tick(l, CLIP, None, Ink::Ceiling));
            let own = point.own.map(|l| tick(l, "data sheet", None, Ink::Ceiling));
            let dash = Some([2.0, 2.0]);
            let grid = point.grid.map(|l| tick(l, "grid", dash, Ink::Ceiling));
            ticks.extend([clip, own, grid].into_iter().flatten());
            if let Some(floor) = point.floor {
                ticks.push(tick(floor.flat, "flat", None, Ink::Floor));
            }
        } else if let Some(floor) = point.floor {
            ticks.push(tick(floor.itu_468, "468", None, Ink::Floor));
            ticks.push(tick(floor.a, "A", None, Ink::Floor));
        }
        ticks
    }

    /// Ticks of both halves of a column, their words clear of the lines at `taken` heights.
    fn all_ticks(&mut self, point: &DiagramPoint, left: f64, width: f64, taken: &[f64]) {
        for (half, tone_hz) in TONES_HZ.into_iter().enumerate() {
            let from = left + 3.0 + 0.5 * width * half as f64;
            let mut ticks = self.distortion_ticks(point, tone_hz);
            if !ticks.is_empty() {
                let words = if tone_hz >= 1000.0 { "1 kHz" } else { "50 Hz" };
                let at = [from, self.frame.top - 10.0];
                self.text(at, Side::Start, false, words, Ink::Plain);
            }
            ticks.extend(self.other_ticks(point, half));
            self.ticks(from, ticks, taken);
        }
    }

    fn ticks(&mut self, from: f64, mut ticks: Vec<Tick>, taken: &[f64]) {
        ticks.sort_by(|a, b| a.y.total_cmp(&b.y));
        // Above a converter's clip line there are strokes.
        let under = |tick: &Tick| if tick.words == CLIP { UNDER } else { 0.0 };
        let words = ticks.iter().map(|tick| (tick.y + under(tick), tick.rank));
        let words: Vec<(f64, u8)> = words.collect();
        let ends = [self.frame.top, self.frame.bottom];
        let places = thin_words(&words, GAP, taken, ends);
        for (tick, place) in ticks.into_iter().zip(places) {
            let end = from + TICK.min(TICK_SHARE * self.frame.column());
            let ends = [[from, tick.y], [end, tick.y]];
            self.dashed(ends[0], ends[1], tick.width, tick.dash, tick.ink);
            let Some(y) = place else { continue };
            if (y - tick.y).abs() > 2.0 {
                self.line([end, tick.y], [end + 3.0, y], 0.5, tick.ink);
            }
            let at = [end + 4.0, y + 3.2];
            self.text(at, Side::Start, false, &tick.words, tick.ink);
        }
    }

    /// A ceiling nothing passes: a heavy line with strokes above it.
    fn hatched(&mut self, left: f64, right: f64, y: f64) {
        self.line([left, y], [right, y], 2.4, Ink::Ceiling);
        let mut x = left + 2.0;
        while x < right - 4.0 {
            self.line([x, y], [x + 4.0, y - 5.0], 0.8, Ink::Ceiling);
            x += 6.0;
        }
    }

    /// Of the rows of figures those there is room for: in a short picture peak and headroom.
    fn shown<T>(&self, rows: impl Iterator<Item = T>) -> Vec<T> {
        let step = if self.frame.is_short { 2 } else { 1 };
        rows.step_by(step).collect()
    }

    fn figures(&mut self, point: &DiagramPoint, middle: f64) {
        let shift = |level: Dbu| match point.full_scale {
            Some(full_scale) => format!("{} dBFS", signed((level - full_scale).0, 1)),
            None => format!("{} dBu", signed(level.0, 1)),
        };
        let rows = [
            point.programme.map(|p| shift(p.peak)),
            point.programme.map(|p| shift(p.rms)),
            point.headroom().map(|db| format!("{} dB", signed(db.0, 1))),
            point
                .signal_to_noise()
                .map(|db| format!("{} dB", signed(db.0, 1))),
        ];
        for (row, words) in self.shown(rows.into_iter()).into_iter().enumerate() {
            let y = self.frame.bottom + 16.0 + 13.0 * row as f64;
            let words = words.unwrap_or_else(|| "\u{2013}".to_owned());
            self.text([middle, y], Side::Middle, false, &words, Ink::Plain);
        }
    }

    /// The programme's lines from point to point.
    fn programme(&mut self, lines: &[ProgrammeLine], column: f64) {
        for line in lines {
            let mut last: Option<[f64; 2]> = None;
            for (n, level) in line.levels.iter().enumerate() {
                let Some(level) = level else {
                    last = None;
                    continue;
                };
                let (left, y) = (self.frame.left + column * n as f64, self.y(*level));
                if let Some(from) = last {
                    self.dashed(from, [left, y], line.width, line.dash, line.ink);
                }
                let end = [left + column, y];
                self.dashed([left, y], end, line.width, line.dash, line.ink);
                last = Some(end);
            }
        }
    }

    /// What the programme's lines are called: under each where there is room, clear of all others.
    fn names(&mut self, diagram: &LevelDiagram, lines: &[ProgrammeLine], column: f64) {
        let is_drawn = |n: &usize| lines.iter().any(|line| line.levels[*n].is_some());
        let Some(n) = [NAMES_COLUMN].into_iter().chain(0..8).find(is_drawn) else {
            return;
        };
        let named = lines
            .iter()
            .filter_map(|line| Some((line.levels[n]?, line)));
        let mut names: Vec<(f64, &ProgrammeLine)> =
            named.map(|(level, line)| (self.y(level), line)).collect();
        names.sort_by(|a, b| a.0.total_cmp(&b.0));
        let clip = diagram.points[n].clip.map(|level| self.y(level));
        let taken: Vec<f64> = names.iter().map(|name| name.0).chain(clip).collect();
        let under: Vec<f64> = names.iter().map(|name| name.0 + UNDER).collect();
        let ends = [self.frame.top, self.frame.bottom];
        let places = place_words(&under, GAP + 1.0, &taken, ends);
        let x = self.frame.left + (n as f64 + NAMES_SHARE) * column;
        for ((_, line), y) in names.into_iter().zip(places) {
            self.text([x, y + 4.0], Side::Start, true, line.name, line.ink);
        }
    }
}

/// A number with its sign, a true minus.
pub(super) fn signed(value: f64, places: usize) -> String {
    let words = plain(value, places);
    let is_zero = words.chars().all(|c| matches!(c, '0' | '.'));
    if value > 0.0 && !is_zero {
        format!("+{words}")
    } else {
        words
    }
}

/// A number with a true minus.
pub(super) fn plain(value: f64, places: usize) -> String {
    let size = format!("{:.places$}", value.abs());
    let is_zero = size.chars().all(|c| matches!(c, '0' | '.'));
    if value < 0.0 && !is_zero {
        format!("\u{2212}{size}")
    } else {
        size
    }
}

#[cfg(test)]
mod tests;
