//! A screen without a display: the window's own renderer (`egui_glow`) on Mesa's software OpenGL, by
//! EGL's surfaceless platform (Debian packages libegl1, libegl-mesa0, libgl1-mesa-dri).

use std::cell::RefCell;
use std::rc::Rc;
use std::sync::Arc;

use egui_kittest::TestRenderer;
use glow::HasContext;
use image::RgbImage;
use khronos_egl as egl;

use crate::walk::Window;

/// Width and height at most, in pixels.
const MOST: [u32; 2] = [2560, 2048];
/// `EGL_PLATFORM_SURFACELESS_MESA` (extension `EGL_MESA_platform_surfaceless`).
const SURFACELESS: egl::Enum = 0x31DD;

type Egl = egl::DynamicInstance<egl::EGL1_5>;

/// The screen. Lives and draws on the thread that made it.
pub struct Screen {
    painter: egui_glow::Painter,
    gl: Arc<glow::Context>,
    egl: Egl,
    display: egl::Display,
    renderer: String,
}

impl Screen {
    /// Sets it up.
    ///
    /// # Errors
    /// When there is no EGL without a display, or no OpenGL in it.
    pub fn shared() -> Result<Shared, String> {
        let missing = |error: &dyn std::fmt::Display| {
            format!("no software OpenGL without a display ({error}): cargo xtask setup")
        };
        // SAFETY: the library is the system's own libEGL, whose types khronos-egl has.
        let egl = unsafe { Egl::load_required() }.map_err(|error| missing(&error))?;
        let display = context(&egl).map_err(|error| missing(&error))?;
        // SAFETY: the context is current on this thread, and stays so as long as this lives.
        let gl = unsafe {
            glow::Context::from_loader_function(|name| {
                let address = egl.get_proc_address(name);
                address.map_or(std::ptr::null(), |address| address as *const _)
            })
        };
        // SAFETY: as above.
        let renderer = unsafe { gl.get_parameter_string(glow::RENDERER) };
        let gl = Arc::new(gl);
        let painter = egui_glow::Painter::new(Arc::clone(&gl), "", None, false);
        let painter = painter.map_err(|error| missing(&error))?;
        Ok(Shared(Rc::new(RefCell::new(Self {
            painter,
            gl,
            egl,
            display,
            renderer,
        }))))
    }

    fn draw(&mut self, ctx: &egui::Context, output: &egui::FullOutput) -> [u32; 2] {
        let scale = output.pixels_per_point;
        let points = ctx.content_rect().size();
        let size = [points.x, points.y].map(|points| (points * scale).round() as u32);
        assert!(
            size[0] <= MOST[0] && size[1] <= MOST[1],
            "{size:?} pixels are more than {MOST:?}"
        );
        let primitives = ctx.tessellate(output.shapes.clone(), scale);
        self.painter.clear(size, [0.0, 0.0, 0.0, 1.0]);
        self.painter.paint_primitives(size, scale, &primitives);
        // SAFETY: the context is current on this thread.
        unsafe { self.gl.finish() };
        size
    }
}

/// A display without a screen and on it a current context, which draws into memory.
fn context(egl: &Egl) -> Result<egl::Display, egl::Error> {
    // SAFETY: this platform takes no native display.
    let display = unsafe {
        egl.get_platform_display(SURFACELESS, std::ptr::null_mut(), &[egl::ATTRIB_NONE])
    }?;
    egl.initialize(display)?;
    egl.bind_api(egl::OPENGL_API)?;
    let wanted = [
        egl::SURFACE_TYPE,
        egl::PBUFFER_BIT,
        egl::RENDERABLE_TYPE,
        egl::OPENGL_BIT,
        egl::RED_SIZE,
        8,
        egl::GREEN_SIZE,
        8,
        egl::BLUE_SIZE,
        8,
        egl::ALPHA_SIZE,
        8,
        egl::NONE,
    ];
    let config = egl
        .choose_first_config(display, &wanted)?
        .ok_or(egl::Error::BadConfig)?;
    let [width, height] = MOST.map(|side| side as egl::Int);
    let size = [egl::WIDTH, width, egl::HEIGHT, height, egl::NONE];
    let surface = egl.create_pbuffer_surface(display, config, &size)?;
    let context = egl.create_context(display, config, None, &[egl::NONE])?;
    egl.make_current(display, Some(surface), Some(surface), Some(context))?;
    Ok(display)
}

/// Feeds a window's textures to a screen that is looked at from outside.
impl TestRenderer for Shared {
    fn handle_delta(&mut self, delta: &mut egui::TexturesDelta) {
        let painter = &mut self.0.borrow_mut().painter;
        for (id, changes) in delta.set.drain() {
            for change in changes {
                painter.set_texture(id, &change);
            }
        }
        for id in delta.free.drain() {
            painter.free_texture(id);
        }
    }
}

/// A screen that a window draws on and a test looks at.
#[derive(Clone)]
pub struct Shared(Rc<RefCell<Screen>>);

impl Shared {
    /// Draws what a window shows, and waits until it is drawn.
    pub fn draw(&self, window: &Window) -> [u32; 2] {
        self.0.borrow_mut().draw(&window.ctx, window.output())
    }

    /// The picture of a window.
    ///
    /// # Panics
    /// When it is larger than the screen.
    #[must_use]
    pub fn picture(&self, window: &Window) -> RgbImage {
        let size = self.draw(window);
        let screen = self.0.borrow();
        let picture = screen.painter.read_screen_rgb(size);
        let picture = RgbImage::from_raw(size[0], size[1], picture);
        // OpenGL begins at the bottom.
        image::imageops::flip_vertical(&picture.expect("three bytes a pixel"))
    }

    /// What renders, as OpenGL says it.
    #[must_use]
    pub fn renderer(&self) -> String {
        self.0.borrow().renderer.clone()
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        self.painter.destroy();
        let _ = self.egl.make_current(self.display, None, None, None);
        let _ = self.egl.terminate(self.display);
    }
}
