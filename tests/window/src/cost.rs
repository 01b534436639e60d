//! What the window costs: the same figures for the tests, which hold them to their limits, and for the
//! bench, which shows how they spread.

use egui::Vec2;
use penstock::desk::PluginDesk;
use penstock::editor::{Tracked, ui};
use penstock::engine::Engine;

use crate::stage::{Stage, programme};
use crate::walk::cpu_seconds;

/// Sizes in points at which pictures are timed: the window's own, and a large one.
pub const SIZES: [[f32; 2]; 2] = [[860.0, 620.0], [1280.0, 800.0]];

/// The window's function and the tessellation of what it gives, without a screen.
pub struct Layout {
    ctx: egui::Context,
    desk: Tracked<PluginDesk>,
    size: Vec2,
    seconds: f64,
}

impl Layout {
    /// Of a window with a programme on it, everything found and settled.
    #[must_use]
    pub fn new(size: [f32; 2]) -> Self {
        let stage = Stage::default();
        let mut engine = stage.engine(2);
        engine.reset(&stage.params, &stage.bridge);
        stage.play(&mut engine, &mut programme(12_000, 2, 0.3));
        let mut window = stage.open(size, 1.0, None);
        crate::Walk::wait(&mut window);
        let mut layout = Self {
            ctx: egui::Context::default(),
            desk: window.into_state(),
            size: Vec2::from(size),
            seconds: 0.0,
        };
        for _ in 0..20 {
            layout.frame();
        }
        layout
    }

    /// One picture; gives the number of its vertices.
    pub fn frame(&mut self) -> usize {
        self.seconds += 1.0 / 30.0;
        let input = egui::RawInput {
            screen_rect: Some(egui::Rect::from_min_size(egui::Pos2::ZERO, self.size)),
            time: Some(self.seconds),
            focused: true,
            ..egui::RawInput::default()
        };
        let desk = &mut self.desk;
        let output = self.ctx.run_ui(input, |panel| ui(panel, desk));
        let shapes = output.shapes.clone();
        output.drop_without_applying_deltas();
        let meshes = self.ctx.tessellate(shapes, 1.0);
        let vertices = meshes.iter().map(|part| match &part.primitive {
            egui::epaint::Primitive::Mesh(mesh) => mesh.vertices.len(),
            egui::epaint::Primitive::Callback(_) => 0,
        });
        vertices.sum()
    }
}

/// Frames of a piece of what sounds: a fiftieth of a second.
pub const PIECE: usize = 960;

/// What sounds, with the window open or closed.
pub struct Sounding {
    stage: Stage,
    engine: Engine,
    input: Vec<Vec<f32>>,
}

impl Default for Sounding {
    fn default() -> Self {
        let stage = Stage::default();
        let mut engine = stage.engine(2);
        engine.reset(&stage.params, &stage.bridge);
        Self {
            engine,
            stage,
            input: programme(PIECE, 2, 0.3),
        }
    }
}

impl Sounding {
    /// A piece of it in blocks as hosts have them; gives a sample, lest it be left out.
    pub fn play(&mut self, open: bool) -> f32 {
        let mut audio = self.input.clone();
        for from in (0..PIECE).step_by(240) {
            let mut block: Vec<&mut [f32]> = audio
                .iter_mut()
                .map(|samples| &mut samples[from..from + 240])
                .collect();
            let (params, bridge) = (&self.stage.params, &self.stage.bridge);
            self.engine.process(&mut block, params, bridge, open);
        }
        audio[0][PIECE - 1]
    }

    /// Seconds of processor time of a piece.
    pub fn seconds(&mut self, open: bool) -> f64 {
        let before = cpu_seconds();
        std::hint::black_box(self.play(open));
        cpu_seconds() - before
    }
}

/// What an open window adds to the audio thread's cost, in percent, from so many pairs.
///
/// Neighbours in time are compared, each first in turn: what slows the machine down for a while meets
/// both, and the middle of many pairs minds none that it did not.
#[must_use]
pub fn added_percent(pairs: usize) -> f64 {
    let mut sounding = Sounding::default();
    for _ in 0..20 {
        std::hint::black_box(sounding.play(true));
    }
    let ratio = |n: usize| {
        let first = n.is_multiple_of(2);
        let one = sounding.seconds(first);
        let other = sounding.seconds(!first);
        if first { one / other } else { other / one }
    };
    100.0 * (middle((0..pairs).map(ratio).collect()) - 1.0)
}

/// Least seconds of this thread's processor time that `act` takes in so many tries: what it takes when
/// nothing else disturbs the caches.
pub fn least_cpu_seconds(tries: usize, mut act: impl FnMut()) -> f64 {
    (0..tries)
        .map(|_| {
            let before = cpu_seconds();
            act();
            cpu_seconds() - before
        })
        .fold(f64::INFINITY, f64::min)
}

/// The middle of some figures, of which there is one at least.
fn middle(mut figures: Vec<f64>) -> f64 {
    figures.sort_by(f64::total_cmp);
    figures[figures.len() / 2]
}
