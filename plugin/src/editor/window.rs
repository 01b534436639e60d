//! The window in a host: binds [`ui`](super::ui()) to the plugin framework.
//!
//! The framework asks for the editor once, before it loads a project's state, so size and zoom are
//! read anew each time the window opens.

use super::{Desk, Tracked, ViewState};
use crate::bridge::panic_text;
use nice_plug::context::gui::GuiContext;
use nice_plug::editor::dpi::{LogicalSize, NativeSize, PhysicalSize, Size};
use nice_plug::editor::{
    Editor, EditorHandle, HostMethods, Modifiers, ParentWindowHandle, ResizeHint, SizeConstraints,
    SpawnedEditor, VirtualKeyCode,
};
use nice_plug_egui::baseview::{HandlerError, WindowSize};
use nice_plug_egui::{
    EguiEditorHandle, EguiEditorState, EguiNiceSettings, Frame, KeyCapture, NiceEguiApp,
    RepaintNotifier, create_egui_editor,
};
use std::error::Error;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::Duration;

/// Between two looks at whether something moved: 30 pictures a second are enough for figures.
const POLL: Duration = Duration::from_millis(33);

/// Makes the desk of a window that opens, with the host's ear for parameter changes.
pub trait DeskFactory: Send + Sync + 'static {
    /// What it makes.
    type Desk: Desk + Send + 'static;
    /// Makes it.
    fn desk(&self, host: GuiContext) -> Self::Desk;
}

impl<F, D> DeskFactory for F
where
    F: Fn(GuiContext) -> D + Send + Sync + 'static,
    D: Desk + Send + 'static,
{
    type Desk = D;

    fn desk(&self, host: GuiContext) -> D {
        self(host)
    }
}

/// What the audio thread may know of the window. Every method is wait-free.
#[derive(Clone, Debug, Default)]
pub struct Link(Arc<LinkInner>);

#[derive(Debug, Default)]
struct LinkInner {
    open: AtomicBool,
    repaint: RepaintNotifier,
    /// Width and height in the platform's pixels, 0 before the first window.
    native_size: AtomicU64,
}

impl Link {
    /// Of a window not yet opened.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Whether the window is open: otherwise nobody reads what is measured.
    #[must_use]
    pub fn is_open(&self) -> bool {
        self.0.open.load(Ordering::Acquire)
    }

    /// Asks for a new picture, drawn within 33 ms. To be called when something shown has changed.
    pub fn repaint(&self) {
        self.0.repaint.request_repaint();
    }

    fn set_open(&self, open: bool) {
        self.0.open.store(open, Ordering::Release);
    }

    fn set_native_size(&self, size: NativeSize<u32>) {
        let both = (u64::from(size.width) << 32) | u64::from(size.height);
        self.0.native_size.store(both, Ordering::Relaxed);
    }

    fn native_size(&self) -> Option<NativeSize<u32>> {
        let both = self.0.native_size.load(Ordering::Relaxed);
        (self.is_open() && both != 0).then(|| {
            let width = (both >> 32) as u32;
            // The lower half.
            let height = both as u32;
            NativeSize::new(width, height)
        })
    }
}

/// The editor that the plugin hands to the framework.
pub struct Window<F: DeskFactory> {
    factory: Arc<F>,
    view: Arc<ViewState>,
    link: Link,
}

impl<F: DeskFactory> Window<F> {
    /// `view` is the persisted one of the params; `link` is shared with the audio thread.
    #[must_use]
    pub fn new(factory: F, view: Arc<ViewState>, link: Link) -> Self {
        Self {
            factory: Arc::new(factory),
            view,
            link,
        }
    }

    /// The size to open with, in points of the screen: zoom counted, the screen's scale not.
    fn logical_size(&self) -> LogicalSize<f64> {
        let view = self.view.get();
        let [width, height] = view.size.map(|points| f64::from(points * view.zoom()));
        LogicalSize::new(width.round(), height.round())
    }
}

impl<F: DeskFactory> Editor for Window<F> {
    type Handle = Handle;

    fn spawn(
        &self,
        parent: Option<ParentWindowHandle>,
        wait_for_parent: bool,
        fallback_scale_factor: Option<f64>,
        gui_context: GuiContext,
        host: Option<HostMethods>,
    ) -> Result<SpawnedEditor<Handle>, Box<dyn Error>> {
        let view = self.view.get();
        let [width, height] = view.size;
        let state = EguiEditorState::from_size(LogicalSize::new(width, height), view.zoom());
        let app = App {
            factory: Arc::clone(&self.factory),
            view: Arc::clone(&self.view),
            link: self.link.clone(),
            desk: None,
            host: None,
            failure: None,
        };
        let settings = EguiNiceSettings::new()
            .with_tile("Penstock")
            .with_resize_hint(self.resize_hint())
            .with_repaint_poll_interval(POLL);
        let editor = create_egui_editor(state, self.link.0.repaint.clone(), settings, app)
            .ok_or("the window library made no editor")?;
        let spawned = editor.spawn(
            parent,
            wait_for_parent,
            fallback_scale_factor,
            gui_context,
            host,
        )?;
        self.link.set_native_size(native(spawned.window.size()));
        self.link.set_open(true);
        Ok(SpawnedEditor {
            handle: Handle {
                inner: spawned.handle,
                link: self.link.clone(),
            },
            window: spawned.window,
        })
    }

    fn size(&self) -> NativeSize<u32> {
        self.link
            .native_size()
            .unwrap_or_else(|| NativeSize::from_size(Size::Logical(self.logical_size()), 1.0))
    }

    fn resize_hint(&self) -> ResizeHint {
        let [width, height] = super::MIN_SIZE;
        ResizeHint {
            can_resize: true,
            can_resize_horizontally: true,
            can_resize_vertically: true,
            size_constraints: SizeConstraints::min_logical_size(LogicalSize::new(width, height)),
            ..ResizeHint::default()
        }
    }
}

fn native(size: WindowSize) -> NativeSize<u32> {
    NativeSize::from_logical_or_physical(size.logical, size.physical)
}

/// The open window as the framework holds it.
pub struct Handle {
    inner: EguiEditorHandle,
    link: Link,
}

type BaseWindow = <EguiEditorHandle as EditorHandle>::Window;
type BaseError = <EguiEditorHandle as EditorHandle>::Error;

impl EditorHandle for Handle {
    type Window = BaseWindow;
    type Error = BaseError;

    fn run_until_closed(window: BaseWindow) -> Result<(), BaseError> {
        EguiEditorHandle::run_until_closed(window)
    }

    fn set_parent(&self, parent: ParentWindowHandle, window: &BaseWindow) -> Result<(), BaseError> {
        self.inner.set_parent(parent, window)
    }

    fn show(&self, window: &BaseWindow) -> Result<(), BaseError> {
        self.inner.show(window)
    }

    fn hide(&self, window: &BaseWindow) -> Result<(), BaseError> {
        self.inner.hide(window)
    }

    fn set_size(&self, new_size: NativeSize<u32>, window: &BaseWindow) -> Result<(), BaseError> {
        self.inner.set_size(new_size, window)?;
        self.link.set_native_size(new_size);
        Ok(())
    }

    fn host_main_thread_callback(&self, window: &BaseWindow) {
        self.inner.host_main_thread_callback(window);
    }

    fn adjust_size(
        &self,
        new_size: NativeSize<u32>,
        window: &BaseWindow,
    ) -> Option<NativeSize<u32>> {
        self.inner.adjust_size(new_size, window)
    }

    fn set_fallback_scale_factor(
        &self,
        scale_factor: f64,
        window: &BaseWindow,
    ) -> Result<(), BaseError> {
        self.inner.set_fallback_scale_factor(scale_factor, window)?;
        self.link.set_native_size(native(window.size()));
        Ok(())
    }

    fn on_virtual_key_from_host(
        &self,
        key_code: VirtualKeyCode,
        is_down: bool,
        modifiers: Modifiers,
    ) -> bool {
        self.inner
            .on_virtual_key_from_host(key_code, is_down, modifiers)
    }

    fn state_changed(&self) {
        self.link.repaint();
    }

    fn param_value_changed(&self, _id: &str, _normalized_value: f32) {
        self.link.repaint();
    }

    fn param_modulation_changed(&self, _id: &str, _modulation_offset: f32) {
        self.link.repaint();
    }
}

impl Drop for Handle {
    fn drop(&mut self) {
        self.link.set_open(false);
    }
}

/// One opening of the window, on the window's thread.
struct App<F: DeskFactory> {
    factory: Arc<F>,
    view: Arc<ViewState>,
    link: Link,
    desk: Option<Tracked<F::Desk>>,
    host: Option<GuiContext>,
    /// What a panic said; the window shows it instead of taking the host down.
    failure: Option<String>,
}

impl<F: DeskFactory> App<F> {
    fn start(&mut self) {
        let Some(host) = self.host.clone() else {
            return;
        };
        match catch_unwind(AssertUnwindSafe(|| Tracked::new(self.factory.desk(host)))) {
            Ok(desk) => self.desk = Some(desk),
            Err(panic) => self.failure = Some(panic_text(&*panic)),
        }
    }

    fn show_failure(&mut self, ui: &mut egui::Ui) {
        let text = self.failure.clone().unwrap_or_default();
        let mut again = false;
        egui::Frame::new().inner_margin(16).show(ui, |ui| {
            ui.heading("The window has failed");
            ui.label("The sound goes on, and nothing of the project is lost.");
            ui.label(text);
            again = ui.button("Open it again").clicked();
        });
        if again {
            self.failure = None;
            self.desk = None;
            self.start();
        }
    }
}

impl<F: DeskFactory> NiceEguiApp for App<F> {
    fn build(
        &mut self,
        egui_ctx: egui::Context,
        nice_gui_ctx: GuiContext,
        frame: &mut Frame,
    ) -> Result<(), HandlerError> {
        // The first picture already in its own colours.
        let view = self.view.get();
        super::theme::apply(&egui_ctx, view.dark);
        let paper = super::theme::Palette::of(view.dark).paper;
        frame.set_clear_color(paper.into());
        // The host's keys are the host's; zoom has its menu, with limits.
        egui_ctx.options_mut(|options| options.zoom_with_keyboard = false);
        #[cfg(target_os = "linux")]
        {
            let window = frame.baseview_window();
            super::xembed::mark(window);
            super::present::listen(&window.platform_handle(), super::xembed::id_of(window));
        }
        #[cfg(all(feature = "trap", target_os = "linux"))]
        super::map::draw(&egui_ctx, super::xembed::id_of(frame.baseview_window()));
        self.host = Some(nice_gui_ctx);
        self.start();
        Ok(())
    }

    fn ui(&mut self, ui: &mut egui::Ui, frame: &mut Frame) {
        let view = self.view.get();
        ui.ctx().set_zoom_factor(view.zoom());
        // The space bar is the host's transport unless a control has the focus.
        let focused = ui.ctx().memory(|memory| memory.focused().is_some());
        frame.set_key_capture(if focused {
            KeyCapture::CaptureAll
        } else {
            KeyCapture::IgnoreAll
        });
        #[cfg(target_os = "linux")]
        if ui.input(|input| input.pointer.any_pressed()) {
            super::xembed::take_keys(frame.baseview_window());
        }
        let paper = super::theme::Palette::of(view.dark).paper;
        frame.set_clear_color(paper.into());
        if self.failure.is_none()
            && let Some(desk) = &mut self.desk
            && let Err(panic) = catch_unwind(AssertUnwindSafe(|| super::ui(ui, desk)))
        {
            // A desk that panics once may panic again while its gestures end.
            let _ = catch_unwind(AssertUnwindSafe(|| desk.end_all()));
            self.failure = Some(panic_text(&*panic));
            ui.ctx().request_repaint();
            return;
        }
        if self.failure.is_some() {
            self.show_failure(ui);
        }
    }

    fn resized(&mut self, new_size: WindowSize) {
        let zoom = f64::from(self.view.get().zoom());
        let points = [new_size.logical.width, new_size.logical.height];
        self.view
            .change(|view| view.size = points.map(|points| points as f32));
        let physical: PhysicalSize<u32> = new_size.physical;
        let scale = new_size.scale_factor / zoom;
        self.link
            .set_native_size(NativeSize::from_size(Size::Physical(physical), scale));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_is_put_into_words() {
        let caught = catch_unwind(|| panic!("index {} of {}", 9, 8)).unwrap_err();
        assert_eq!(panic_text(&*caught), "index 9 of 8");
        let caught = catch_unwind(|| std::panic::panic_any(7)).unwrap_err();
        assert_eq!(panic_text(&*caught), "it did not say why");
    }

    #[test]
    fn the_link_keeps_a_size_only_while_open() {
        let link = Link::new();
        link.set_native_size(NativeSize::new(1520, 960));
        assert!(link.native_size().is_none());
        link.set_open(true);
        assert_eq!(link.native_size(), Some(NativeSize::new(1520, 960)));
    }
}
