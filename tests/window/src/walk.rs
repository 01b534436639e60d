//! The window driven as a person drives it, what is on it found by its words.

use std::time::{Duration, Instant};

use egui::{Key, Vec2};
use egui_kittest::kittest::{AccessKitNode, NodeT, Queryable};
use egui_kittest::{Harness, Node};
use penstock::desk::PluginDesk;
use penstock::editor::{Desk, Tracked, ui};

use crate::screen::Shared;
use crate::stage::Stage;

/// How long the search for ceilings may take; it takes a second or two.
const PATIENCE: Duration = Duration::from_secs(120);

/// The window of a stage.
pub type Window = Harness<'static, Tracked<PluginDesk>>;

/// Everything on the window that has exactly this name.
#[must_use]
pub fn named<'tree>(window: &'tree Window, name: &'tree str) -> Vec<Node<'tree>> {
    window.query_all_by_label(name).collect()
}

impl Stage {
    /// Opens the window, so many points wide and high, drawn at a zoom; on a screen when there is to
    /// be a picture.
    #[must_use]
    pub fn open(&self, size: [f32; 2], zoom: f32, screen: Option<Shared>) -> Window {
        let builder = Harness::builder()
            .with_size(Vec2::from(size))
            .with_pixels_per_point(zoom)
            .with_step_dt(1.0 / 30.0);
        let builder = match screen {
            Some(screen) => builder.renderer(screen),
            None => builder,
        };
        let mut window = builder.build_ui_state(all_over, self.desk());
        window.run_steps(4);
        window
    }
}

/// The window's function over the whole of the screen, as the plugin calls it: without the margin that
/// the harness leaves.
fn all_over(panel: &mut egui::Ui, desk: &mut Tracked<PluginDesk>) {
    let whole = panel.ctx().content_rect();
    let mut root = panel.new_child(egui::UiBuilder::new().max_rect(whole));
    root.set_clip_rect(whole);
    ui(&mut root, desk);
}

/// What one does with a window.
pub trait Walk {
    /// Waits until ceilings and harmonics are found, which other threads do.
    ///
    /// # Panics
    /// When that takes for ever.
    fn wait(&mut self);
    /// Clicks what has this name.
    fn click(&mut self, name: &str);
    /// Presses a key.
    fn press(&mut self, key: Key);
    /// Clicks a value, types another over it and presses Enter.
    fn enter(&mut self, name: &str, text: &str);
    /// What has the keyboard.
    fn focused(&self) -> Option<String>;
    /// The value that stands at a name.
    fn value(&self, name: &str) -> String;
}

impl Walk for Window {
    fn wait(&mut self) {
        let start = Instant::now();
        loop {
            self.run_steps(1);
            let now = self.state().readout();
            // Harmonics are looked for only where their table is shown.
            let calculates =
                |node: &AccessKitNode| node.value().as_deref() == Some("Being calculated.");
            let found = now.diagram.is_some() && self.query_by(calculates).is_none();
            if found && !now.searching && !now.settling {
                self.run_steps(3);
                return;
            }
            assert!(start.elapsed() < PATIENCE, "still searching");
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    fn click(&mut self, name: &str) {
        self.get_by_label(name).click();
        // Longer than a double click takes, or the next one would be its second half.
        self.run_steps(15);
    }

    fn press(&mut self, key: Key) {
        self.key_press(key);
        self.run_steps(2);
    }

    fn enter(&mut self, name: &str, text: &str) {
        self.click(name);
        self.event(egui::Event::Text(text.to_owned()));
        self.press(Key::Enter);
        self.run_steps(15);
    }

    fn focused(&self) -> Option<String> {
        let mut all = self.query_all_by(|node| node.is_focused());
        all.find_map(|node| node.accesskit_node().label())
    }

    fn value(&self, name: &str) -> String {
        self.get_by_label(name).value().unwrap_or_default()
    }
}

/// What this thread has used of a processor, in seconds, whatever else runs.
#[must_use]
pub fn cpu_seconds() -> f64 {
    used(libc::CLOCK_THREAD_CPUTIME_ID)
}

/// What all threads of this process have used, in seconds.
#[must_use]
pub fn process_cpu_seconds() -> f64 {
    used(libc::CLOCK_PROCESS_CPUTIME_ID)
}

fn used(clock: libc::clockid_t) -> f64 {
    let mut time = libc::timespec {
        tv_sec: 0,
        tv_nsec: 0,
    };
    // SAFETY: the place for the answer is ours.
    let answer = unsafe { libc::clock_gettime(clock, &mut time) };
    assert_eq!(answer, 0, "this system has no clock of processor time");
    time.tv_sec as f64 + time.tv_nsec as f64 / 1e9
}
