//! What an embedded window owes its X11 host: the property by which it is known, and asking for the keys.
//!
//! The window library sets no such property, and some hosts refuse a window without it (XEMBED protocol
//! specification 0.5, freedesktop.org, "_XEMBED_INFO": version and flags, two 32-bit words). The
//! flags stay 0: a host that honours the mapped flag would map the window too early.

use super::present;
use nice_plug_egui::baseview::WindowContext;
use raw_window_handle::{HasWindowHandle, RawWindowHandle};
use x11rb::connection::Connection;
use x11rb::protocol::xproto::{ConnectionExt as _, PropMode};
use x11rb::wrapper::ConnectionExt as _;

/// Marks a window. Failure is harmless: most hosts never look.
pub(crate) fn mark(window: &impl HasWindowHandle) {
    if let Some(id) = id_of(window) {
        // Nothing to be done about an error, and nothing lost by it.
        drop(set_property(id));
    }
}

/// The number by which X11 knows a window.
pub(crate) fn id_of(window: &impl HasWindowHandle) -> Option<u32> {
    match window.window_handle().ok()?.as_raw() {
        RawWindowHandle::Xcb(handle) => Some(handle.window.get()),
        RawWindowHandle::Xlib(handle) => u32::try_from(handle.window).ok(),
        _ => None,
    }
}

/// Asks for the keys, as a click does. The window library asks only while it holds that it has none, and
/// it holds that it has them also when the host's frame got them while the pointer was over the window
/// (X Window System Protocol, "FocusIn", detail `NotifyPointer`): what is typed would go to the host as
/// soon as the pointer left.
pub(crate) fn take_keys(window: &WindowContext) {
    let of_window = present::on(&window.platform_handle(), |connection| {
        Ok(Some(connection.get_input_focus()?.reply()?.focus) == id_of(window))
    });
    if of_window.is_ok_and(|has_keys| !has_keys) {
        // A window that is on its way out cannot have them, and needs none.
        drop(window.focus());
    }
}

fn set_property(window: u32) -> Result<(), Box<dyn std::error::Error>> {
    let (connection, _) = x11rb::connect(None)?;
    let atom = connection
        .intern_atom(false, b"_XEMBED_INFO")?
        .reply()?
        .atom;
    connection
        .change_property32(PropMode::REPLACE, window, atom, atom, &[0, 0])?
        .check()?;
    connection.flush()?;
    Ok(())
}
