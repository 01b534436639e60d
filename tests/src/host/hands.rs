//! A user's hands on the plugin's window in any host: `xdotool` (Debian) moves the pointer and types on the
//! display, and where things are the window itself says (`PENSTOCK_WINDOW_MAP`, in the bundle with the
//! trap).

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::thread;
use std::time::{Duration, Instant};

use serde_json::Value;

use crate::tools::missing;

/// The variable that tells the window where to draw its map.
pub const MAP: &str = "PENSTOCK_WINDOW_MAP";
/// How long something may take to appear; only a hang takes as long.
const PATIENCE: Duration = Duration::from_secs(30);
/// A place is true when it has been the same for so long.
const STILL: Duration = Duration::from_millis(120);
/// Figures that follow a change have followed after so long.
const SETTLED: Duration = Duration::from_millis(600);
/// Longer than between the clicks of a double click.
const APART: Duration = Duration::from_millis(350);

/// The hands.
#[derive(Debug)]
pub struct Hands {
    map: PathBuf,
    /// What has been done so far: a click, a text typed and entered, a key, a turn of the wheel, a drag,
    /// each counts one.
    pub actions: usize,
    last: Instant,
}

/// Something on the window.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// What it is called.
    pub name: String,
    /// X11's number of the window.
    pub window: u64,
    /// Its middle, in pixels from the window's corner.
    pub at: (i64, i64),
    /// Its value in words, if it has one.
    pub value: String,
    /// What it is.
    pub role: String,
}

impl Hands {
    /// For a window that draws its map into this file.
    #[must_use]
    pub fn new(map: &Path) -> Self {
        Self {
            map: map.to_owned(),
            actions: 0,
            last: Instant::now(),
        }
    }

    /// What is on the window now: its number in X11, and its nodes.
    fn map(&self) -> Option<(u64, Vec<Value>)> {
        let mut map: Value = serde_json::from_str(&fs::read_to_string(&self.map).ok()?).ok()?;
        let Value::Array(nodes) = map["nodes"].take() else {
            return None;
        };
        Some((map["window"].as_u64()?, nodes))
    }

    /// What has exactly this name now, if it can be operated.
    #[must_use]
    pub fn look(&self, name: &str) -> Option<Place> {
        self.look_for(&|known| known == name)
    }

    /// The first thing that can be operated now and whose name fits.
    fn look_for(&self, fits: &dyn Fn(&str) -> bool) -> Option<Place> {
        let (window, nodes) = self.map()?;
        let node = nodes
            .iter()
            .find(|node| operable(node) && node["name"].as_str().is_some_and(fits))?;
        Place::of(window, node)
    }

    /// The button of the note whose text begins so: the first "Set ..." at its height or below.
    fn look_for_move(&self, note: &str) -> Option<Place> {
        let (window, nodes) = self.map()?;
        let begins = |node: &Value, key: &str, start: &str| {
            node[key]
                .as_str()
                .is_some_and(|text| text.starts_with(start))
        };
        let top = |node: &Value| node["top"].as_i64().unwrap_or_default();
        let text = nodes.iter().find(|node| begins(node, "value", note))?;
        // Beside its text a button stands a little higher than that.
        let least = top(text) - 8;
        let buttons = nodes
            .iter()
            .filter(|node| operable(node) && begins(node, "name", "Set ") && top(node) >= least);
        Place::of(window, buttons.min_by_key(|node| top(node))?)
    }

    /// The text on the window that begins so, if there is one now.
    #[must_use]
    pub fn text(&self, start: &str) -> Option<String> {
        let (_, nodes) = self.map()?;
        let mut texts = nodes.iter().filter_map(|node| node["value"].as_str());
        texts
            .find(|text| text.starts_with(start))
            .map(str::to_owned)
    }

    /// Waits for a text on the window that begins so and goes on with something that is `wanted`.
    ///
    /// # Panics
    /// When there never is one.
    #[track_caller]
    pub fn read(&self, start: &str, wanted: impl Fn(&str) -> bool) -> String {
        let end = Instant::now() + PATIENCE;
        loop {
            let now = self.text(start);
            match now {
                Some(text) if wanted(&text) => return text,
                _ => assert!(Instant::now() < end, "'{start}' is {now:?} on the window"),
            }
            thread::sleep(Duration::from_millis(20));
        }
    }

    /// Width and height of the window in pixels, as it last drew itself.
    #[must_use]
    pub fn size(&self) -> Option<(u64, u64)> {
        let map: Value = serde_json::from_str(&fs::read_to_string(&self.map).ok()?).ok()?;
        let side = |k: usize| map["size"][k].as_f64().map(|side| side as u64);
        Some((side(0)?, side(1)?))
    }

    /// Waits until the window has drawn itself at another size than this, and gives it.
    ///
    /// # Panics
    /// When it never does.
    #[track_caller]
    pub fn resized(&self, from: (u64, u64)) -> (u64, u64) {
        let end = Instant::now() + PATIENCE;
        loop {
            match self.size() {
                Some(now) if now != from => return now,
                _ => assert!(Instant::now() < end, "the size stays {from:?}"),
            }
            thread::sleep(Duration::from_millis(20));
        }
    }

    /// Every name on the window, for messages.
    #[must_use]
    pub fn names(&self) -> Vec<String> {
        let text = fs::read_to_string(&self.map).unwrap_or_default();
        let map: Value = serde_json::from_str(&text).unwrap_or_default();
        let nodes = map["nodes"].as_array().cloned().unwrap_or_default();
        let names = nodes.iter().filter_map(|node| node["name"].as_str());
        names.map(str::to_owned).collect()
    }

    /// Waits until the text on the window that begins so has been the same for a while, and gives it.
    ///
    /// # Panics
    /// When there is none.
    #[track_caller]
    pub fn settled(&self, start: &str) -> String {
        let (mut last, mut since) = (self.read(start, |_| true), Instant::now());
        while since.elapsed() < SETTLED {
            thread::sleep(Duration::from_millis(20));
            let now = self.read(start, |_| true);
            if now != last {
                (last, since) = (now, Instant::now());
            }
        }
        last
    }

    /// Clicks the window's empty corner until it gets the keys and keeps them; no action, for it is about
    /// the host. Window managers hand the keys over a while after a window has appeared, and hosts may take them
    /// for a window of their own after that.
    ///
    /// # Panics
    /// When it never gets them.
    #[track_caller]
    pub fn take_keys(&mut self) {
        let end = Instant::now() + PATIENCE;
        loop {
            let (window, _) = self.map().expect("a window that draws its map");
            let window = window.to_string();
            xdotool(&["mousemove", "--window", &window, "3", "3"]);
            xdotool(&["click", "1"]);
            self.last = Instant::now();
            let (mut since, mut keys) = (Instant::now(), window.clone());
            while keys == window && since.elapsed() < SETTLED {
                thread::sleep(Duration::from_millis(20));
                keys = said(&["getwindowfocus", "-f"]);
                // It may take them a moment after the click.
                if keys != window && self.last.elapsed() < APART {
                    (since, keys) = (Instant::now(), window.clone());
                }
            }
            if keys == window {
                return;
            }
            assert!(Instant::now() < end, "window {keys} has the keys");
        }
    }

    /// Waits until something of this name is there and stands still.
    ///
    /// # Panics
    /// When it never is.
    #[track_caller]
    pub fn find(&self, name: &str) -> Place {
        self.still(name, &|| self.look(name))
    }

    #[track_caller]
    fn still(&self, what: &str, look: &dyn Fn() -> Option<Place>) -> Place {
        let end = Instant::now() + PATIENCE;
        let (mut last, mut since) = (None, Instant::now());
        loop {
            let now = look();
            let at = now.as_ref().map(|now| (now.window, now.at));
            if at != last {
                (last, since) = (at, Instant::now());
            }
            match now {
                Some(place) if since.elapsed() >= STILL => return place,
                _ => assert!(
                    Instant::now() < end,
                    "no '{what}' on the window, only {:?}",
                    self.names()
                ),
            }
            thread::sleep(Duration::from_millis(20));
        }
    }

    /// Waits until something of this name has a value.
    ///
    /// # Panics
    /// When it never has.
    #[track_caller]
    pub fn see(&self, name: &str, value: &str) {
        let end = Instant::now() + PATIENCE;
        loop {
            let now = self.look(name).map(|place| place.value);
            if now.as_deref() == Some(value) {
                return;
            }
            assert!(
                Instant::now() < end,
                "'{name}' is {now:?}, and not '{value}'"
            );
            thread::sleep(Duration::from_millis(20));
        }
    }

    /// Moves the pointer to what has this name and clicks: one action.
    #[track_caller]
    pub fn click(&mut self, name: &str) {
        let place = self.find(name);
        self.click_at(&place);
    }

    /// The same with the first thing whose name begins so.
    #[track_caller]
    pub fn click_first(&mut self, start: &str) {
        let look = || self.look_for(&|known| known.starts_with(start));
        let place = self.still(start, &look);
        self.click_at(&place);
    }

    /// Clicks the move that a note suggests, the one whose text begins so: one action.
    #[track_caller]
    pub fn click_move(&mut self, note: &str) {
        let place = self.still(note, &|| self.look_for_move(note));
        self.click_at(&place);
    }

    #[track_caller]
    fn click_at(&mut self, place: &Place) {
        let (x, y) = place.at;
        let size = self.size().unwrap_or_default();
        assert!(
            (0..size.0 as i64).contains(&x) && (0..size.1 as i64).contains(&y),
            "'{}' at {x}, {y} is not in sight in {size:?}",
            place.name
        );
        let wait = APART.saturating_sub(self.last.elapsed());
        thread::sleep(wait);
        let words = [place.window, x.unsigned_abs(), y.unsigned_abs()].map(|n| n.to_string());
        let [window, x, y] = &words;
        xdotool(&["mousemove", "--window", window, x, y]);
        xdotool(&["click", "1"]);
        self.done();
    }

    /// Types a text into the field that a click has opened, and Enter: one action.
    ///
    /// # Panics
    /// When no field takes the keyboard.
    #[track_caller]
    pub fn enter(&mut self, text: &str) {
        if let Err(keys) = self.field(PATIENCE) {
            panic!("no field to type '{text}' into; window {keys} has the keys");
        }
        xdotool(&["type", "--delay", "15", text]);
        xdotool(&["key", "Return"]);
        self.done();
    }

    /// Waits until a field takes what is typed: for the window it has the keys, and for X11 the window has
    /// them. An error names the window that has.
    fn field(&self, patience: Duration) -> Result<(), String> {
        let end = Instant::now() + patience;
        let field = |node: &Value| node["focused"] == true && node["role"] == "TextInput";
        let mut since = Instant::now();
        while since.elapsed() < STILL {
            thread::sleep(Duration::from_millis(20));
            let keys = said(&["getwindowfocus", "-f"]);
            let map = self.map();
            let ready = map.is_some_and(|(window, nodes)| {
                keys == window.to_string() && nodes.iter().any(field)
            });
            if !ready {
                since = Instant::now();
            }
            if Instant::now() > end {
                return Err(keys);
            }
        }
        Ok(())
    }

    /// Clicks a value and types another over it, in a host that may take the keys away while one clicks:
    /// then again, as everybody does who sees nothing come. Gives how often it had to be clicked.
    ///
    /// # Panics
    /// When it never gets the keys.
    #[track_caller]
    pub fn type_over(&mut self, name: &str, text: &str) -> usize {
        for clicks in 1..=10 {
            self.take_keys();
            // On a busy machine the click before may have opened the field after all.
            if self.look(name).is_some() || self.field(SETTLED).is_err() {
                self.click(name);
            }
            if self.field(Duration::from_millis(1_500)).is_ok() {
                self.enter(text);
                return clicks;
            }
        }
        panic!("the host keeps the keys from '{name}'");
    }

    /// Presses a key, by X11's name of it: one action.
    #[track_caller]
    pub fn press(&mut self, key: &str) {
        thread::sleep(STILL);
        xdotool(&["key", key]);
        self.done();
    }

    fn done(&mut self) {
        self.actions += 1;
        self.last = Instant::now();
    }
}

impl Place {
    fn of(window: u64, node: &Value) -> Option<Self> {
        let side = |key: &str| node[key].as_i64();
        let text = |key: &str| node[key].as_str().unwrap_or_default().to_owned();
        Some(Self {
            name: text("name"),
            window,
            at: (
                side("left")? + side("width")? / 2,
                side("top")? + side("height")? / 2,
            ),
            value: text("value"),
            role: text("role"),
        })
    }
}

fn operable(node: &Value) -> bool {
    node["role"] != "Label" && node["disabled"] != true
}

#[track_caller]
fn xdotool(words: &[&str]) {
    let output = Command::new("xdotool").args(words).output();
    let output = output.unwrap_or_else(|_| panic!("{}", missing("xdotool")));
    assert!(
        output.status.success(),
        "xdotool {words:?}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
}

/// What xdotool says; nothing when it fails, as while there is no active window.
fn said(words: &[&str]) -> String {
    let output = Command::new("xdotool").args(words).output();
    let output = output.unwrap_or_else(|_| panic!("{}", missing("xdotool")));
    String::from_utf8_lossy(&output.stdout).trim().to_owned()
}
