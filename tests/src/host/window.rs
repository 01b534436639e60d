//! The plugin's window, embedded in a plain X11 window of the host, and pictures of it.

use std::env;
use std::fs::{self, File};
use std::io::Write;
use std::path::Path;
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use clack_extensions::gui::{GuiApiType, GuiConfiguration, GuiSize, PluginGui};
use x11rb::connection::Connection;
use x11rb::protocol::xproto::{
    ConfigureWindowAux, ConnectionExt, CreateWindowAux, EventMask, ImageFormat, InputFocus,
    StackMode, WindowClass,
};
use x11rb::rust_connection::RustConnection;

use super::plugin::Plugin;

/// How long a window may take to show something; only a hang takes as long.
const PATIENCE: Duration = Duration::from_secs(20);

/// A window with text in it has more colours, since letters are smoothed.
const FEW: usize = 30;

const X11: GuiConfiguration<'static> = GuiConfiguration {
    api_type: GuiApiType::X11,
    is_floating: false,
};

/// The host's window around the plugin's.
pub struct Window {
    connection: RustConnection,
    /// Name of the threads that came with the plugin's window.
    threads: String,
    screen: usize,
    window: u32,
    /// Size of the plugin's window in pixels, as the plugin last said.
    pub size: (u32, u32),
}

/// What a window shows: red, green, blue.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    /// In pixels.
    pub width: usize,
    /// In pixels.
    pub height: usize,
    /// Row by row from the top.
    pub pixels: Vec<[u8; 3]>,
}

/// The display for one test alone, as long as it is held.
pub struct Display {
    _here: MutexGuard<'static, ()>,
    _everywhere: File,
}

/// Waits for the display: windows of tests that run side by side would cover one another.
///
/// # Panics
/// When `DISPLAY` names no display that answers.
#[must_use]
pub fn display() -> Display {
    static HERE: Mutex<()> = Mutex::new(());
    let name = env::var("DISPLAY").unwrap_or_default();
    assert!(
        RustConnection::connect(None).is_ok(),
        "the X display {name:?} does not answer: run the tests by `cargo xtask test`, or start \
         `Xvfb :77 -screen 0 1600x1200x24 -noreset` and set DISPLAY=:77"
    );
    // A test that failed while it held the display has let go of it all the same.
    let here = HERE.lock().unwrap_or_else(PoisonError::into_inner);
    let name: String = name.chars().filter(char::is_ascii_alphanumeric).collect();
    let path = env::temp_dir().join(format!("penstock-tests-display-{name}.lock"));
    let everywhere = File::create(&path).expect("the folder for temporary files can be written");
    everywhere.lock().expect("files can be locked");
    Display {
        _here: here,
        _everywhere: everywhere,
    }
}

impl Plugin {
    /// Opens the window, on a display that the test has asked for ([`display`]); `scale` is what a
    /// host tells of the screen, if it does.
    ///
    /// # Panics
    /// When it does not open.
    #[must_use]
    pub fn open_window(&mut self, scale: Option<f64>) -> Window {
        self.open_window_late(scale, Duration::ZERO)
    }

    /// The same by a host that shows the window so much later than it makes it.
    ///
    /// # Panics
    /// When it does not open.
    #[must_use]
    pub fn open_window_late(&mut self, scale: Option<f64>, late: Duration) -> Window {
        let gui: PluginGui = self.extension();
        // Threads that nobody names have the name of the one that starts them (Linux).
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let threads = format!("window-{}", COUNT.fetch_add(1, Ordering::Relaxed));
        let own_name = rename_thread(&threads);
        let handle = self.handle();
        assert!(gui.is_api_supported(&handle, X11), "X11 is supported");
        gui.create(&handle, X11).expect("the window is made");
        if let Some(scale) = scale {
            gui.set_scale(&handle, scale).expect("the scale is taken");
        }
        let size = gui.get_size(&handle).expect("the window has a size");
        let mut window = Window::new(size.width, size.height);
        let parent = clack_extensions::gui::Window::from_x11_handle(window.window.into());
        // SAFETY: the parent lives until close_window() has destroyed the plugin's window.
        unsafe { gui.set_parent(&handle, parent) }.expect("the window can be embedded");
        self.idle(late);
        let gui: PluginGui = self.extension();
        let handle = self.handle();
        gui.show(&handle).expect("the window can be shown");
        self.shown = true;
        rename_thread(own_name.trim());
        window.threads = threads;
        window
    }

    /// Asks for another size as a host does when its user drags a corner; gives the size that the
    /// plugin then has.
    ///
    /// # Panics
    /// When the plugin refuses the size that it said it would take.
    pub fn resize_window(&mut self, window: &mut Window, width: u32, height: u32) -> (u32, u32) {
        let gui: PluginGui = self.extension();
        let handle = self.handle();
        assert!(gui.can_resize(&handle), "the window can be resized");
        let wanted = GuiSize { width, height };
        let taken = gui.adjust_size(&handle, wanted).unwrap_or(wanted);
        window.resize(taken.width, taken.height);
        gui.set_size(&handle, taken).expect("the size it named");
        self.idle(Duration::from_millis(100));
        let size = gui.get_size(&self.handle()).expect("the window has a size");
        window.size = (size.width, size.height);
        window.size
    }

    /// Closes the window, and waits for its thread to end.
    ///
    /// The window library does not always join its thread: a process that ends right after closing
    /// may find that thread among libraries that are being unloaded. A test must not stumble over
    /// that; how long the thread takes is bounded here.
    ///
    /// # Panics
    /// When the thread stays.
    pub fn close_window(&mut self, window: Window) {
        self.destroy_window();
        let end = Instant::now() + PATIENCE;
        while threads_named(&window.threads) > 0 {
            assert!(
                Instant::now() < end,
                "the window is closed, but its thread stays"
            );
            self.idle(Duration::from_millis(5));
        }
        drop(window);
    }

    /// Destroys the plugin's window, as every host must before it destroys the plugin.
    pub(super) fn destroy_window(&mut self) {
        let gui: PluginGui = self.extension();
        gui.destroy(&self.handle());
        self.shown = false;
    }

    /// Waits until the window's picture is as `good` says, and gives it.
    ///
    /// # Panics
    /// When that does not come about.
    #[must_use]
    pub fn picture_when(&mut self, window: &Window, good: impl Fn(&Picture) -> bool) -> Picture {
        let end = Instant::now() + PATIENCE;
        loop {
            // Other tests may have windows on this display.
            window.raise();
            self.idle(Duration::from_millis(100));
            match window.picture() {
                Some(picture) if good(&picture) => return picture,
                _ => assert!(
                    Instant::now() < end,
                    "the window never showed what it should"
                ),
            }
        }
    }
}

impl Plugin {
    /// The picture of a window that has something to show and has come to rest.
    ///
    /// # Panics
    /// When it never does.
    #[must_use]
    pub fn still_picture(&mut self, window: &Window) -> Picture {
        let last = std::cell::RefCell::new(None);
        let still = |now: &Picture| {
            let before = last.replace(Some(now.clone()));
            now.is_drawn() && before.as_ref() == Some(now)
        };
        self.picture_when(window, still)
    }
}

impl Window {
    fn new(width: u32, height: u32) -> Self {
        let (connection, number) = RustConnection::connect(None).expect("a display");
        let screen = &connection.setup().roots[number];
        let window = connection.generate_id().expect("an id for a window");
        // No window manager between us and the picture.
        let attributes = CreateWindowAux::new()
            .override_redirect(1)
            .background_pixel(screen.black_pixel)
            .event_mask(EventMask::STRUCTURE_NOTIFY);
        let (depth, visual, root) = (screen.root_depth, screen.root_visual, screen.root);
        connection
            .create_window(
                depth,
                window,
                root,
                0,
                0,
                width as u16,
                height as u16,
                0,
                WindowClass::INPUT_OUTPUT,
                visual,
                &attributes,
            )
            .expect("the display answers");
        connection.map_window(window).expect("the display answers");
        let this = Self {
            connection,
            threads: String::new(),
            screen: number,
            window,
            size: (width, height),
        };
        this.round_trip();
        this
    }

    /// The plugin talks to the display by a connection of its own: what we asked for must be done
    /// before it looks.
    fn round_trip(&self) {
        let focus = self.connection.get_input_focus();
        focus
            .expect("the display answers")
            .reply()
            .expect("the display answers");
    }

    fn resize(&self, width: u32, height: u32) {
        let size = ConfigureWindowAux::new().width(width).height(height);
        let asked = self.connection.configure_window(self.window, &size);
        asked.expect("the display answers");
        self.round_trip();
    }

    fn raise(&self) {
        let above = ConfigureWindowAux::new().stack_mode(StackMode::ABOVE);
        let asked = self.connection.configure_window(self.window, &above);
        asked.expect("the display answers");
        self.round_trip();
    }

    /// The plugin's window.
    fn child(&self) -> Option<u32> {
        let tree = self.connection.query_tree(self.window).ok()?.reply().ok()?;
        tree.children.last().copied()
    }

    /// The host's window takes the keys while the pointer is over the plugin's.
    ///
    /// # Panics
    /// When the display refuses.
    pub fn take_keys_under_pointer(&self) {
        let child = self.child().expect("the plugin's window is there");
        self.raise();
        let moved = self
            .connection
            .warp_pointer(x11rb::NONE, child, 0, 0, 0, 0, 3, 3);
        moved
            .expect("the display answers")
            .check()
            .expect("the pointer moves");
        let asked =
            self.connection
                .set_input_focus(InputFocus::PARENT, self.window, x11rb::CURRENT_TIME);
        asked
            .expect("the display answers")
            .check()
            .expect("the host's window gets the keys");
    }

    /// Whether the display gives keys to the plugin's window, wherever the pointer is.
    #[must_use]
    pub fn has_keys(&self) -> bool {
        let focus = self.connection.get_input_focus().ok();
        let focus = focus.and_then(|focus| focus.reply().ok());
        focus.map(|focus| focus.focus) == self.child()
    }

    /// What the plugin's window shows now, if it is there and in sight; at most as much as fits the
    /// screen.
    #[must_use]
    pub fn picture(&self) -> Option<Picture> {
        let connection = &self.connection;
        let child = self.child()?;
        let shape = connection.get_geometry(child).ok()?.reply().ok()?;
        // What hangs over the edge of the screen has no picture.
        let screen = &connection.setup().roots[self.screen];
        let width = shape.width.min(screen.width_in_pixels);
        let height = shape.height.min(screen.height_in_pixels);
        let image = connection.get_image(ImageFormat::Z_PIXMAP, child, 0, 0, width, height, !0);
        let image = image.ok()?.reply().ok()?;
        // Four bytes a pixel, blue first, at the depths of any display of today (24 and 32).
        let pixels = image.data.chunks_exact(4).map(|b| [b[2], b[1], b[0]]);
        Some(Picture {
            width: width.into(),
            height: height.into(),
            pixels: pixels.collect(),
        })
    }
}

/// Gives this thread another name, and tells the one it had (Linux).
fn rename_thread(name: &str) -> String {
    let comm = Path::new("/proc/thread-self/comm");
    let before = fs::read_to_string(comm).expect("Linux's process files");
    fs::write(comm, name).expect("a thread may rename itself");
    before
}

/// How many threads of this process have a name (Linux).
fn threads_named(name: &str) -> usize {
    let tasks = fs::read_dir("/proc/self/task")
        .expect("Linux's process files")
        .flatten();
    let comm = tasks.filter_map(|task| fs::read_to_string(task.path().join("comm")).ok());
    comm.filter(|comm| comm.trim() == name).count()
}

impl Drop for Window {
    fn drop(&mut self) {
        // The display closes what is left when the connection ends.
        let _ = self.connection.destroy_window(self.window);
        let _ = self.connection.flush();
    }
}

impl Picture {
    /// Whether it shows more than a ground: letters, say.
    #[must_use]
    pub fn is_drawn(&self) -> bool {
        self.colours() > FEW
    }

    /// How many pixels are not those of another picture.
    #[must_use]
    pub fn differing(&self, other: &Self) -> usize {
        let pairs = self.pixels.iter().zip(&other.pixels);
        pairs.filter(|(a, b)| a != b).count()
    }

    /// How many different colours it shows.
    #[must_use]
    pub fn colours(&self) -> usize {
        let mut pixels = self.pixels.clone();
        pixels.sort_unstable();
        pixels.dedup();
        pixels.len()
    }

    /// Writes it as a portable pixmap (PPM, P6).
    ///
    /// # Panics
    /// When the file cannot be written.
    pub fn write(&self, path: &Path) {
        let mut bytes = format!("P6 {} {} 255\n", self.width, self.height).into_bytes();
        for pixel in &self.pixels {
            bytes.write_all(pixel).expect("memory takes bytes");
        }
        fs::write(path, bytes).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    }
}
