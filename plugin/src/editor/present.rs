//! Pictures of an X11 window that is made some time before it is shown.
//!
//! When something is to be drawn, the window library asks the Present extension to be told of the next frame,
//! and asks nothing more until the answer is there. But it selects these answers only once the window is mapped
//! (baseview 0.4.2, `PresentState::handle_window_mapped`): a question from before, such as that of its timer
//! 33 ms after the window was made, is never answered, and the window stays blank for ever. So the answers are
//! selected here from the start, on the library's own connection; one that then comes twice it takes once.

use raw_window_handle::{HasDisplayHandle, RawDisplayHandle};
use std::error::Error;
use x11rb::connection::Connection;
use x11rb::protocol::present::{ConnectionExt as _, EventMask};
use x11rb::xcb_ffi::XCBConnection;

/// Selects the answers for a window. Failure is harmless: it is then as without this.
pub(crate) fn listen(display: &impl HasDisplayHandle, window: Option<u32>) {
    if let Some(window) = window {
        // Nothing to be done about an error, and nothing lost by it.
        drop(on(display, |connection| select(connection, window)));
    }
}

/// Does something on the window library's own connection.
pub(super) fn on<T>(
    display: &impl HasDisplayHandle,
    act: impl FnOnce(&XCBConnection) -> Result<T, Box<dyn Error>>,
) -> Result<T, Box<dyn Error>> {
    let display = display
        .display_handle()
        .map_err(|error| error.to_string())?;
    let connection = match display.as_raw() {
        RawDisplayHandle::Xcb(handle) => handle.connection,
        _ => None,
    };
    let connection = connection.ok_or("not an XCB display")?;
    // SAFETY: the pointer is the window library's live connection, which outlives this function by the display
    // handle's borrow, and is not closed by dropping what is made of it.
    let connection = unsafe { XCBConnection::from_raw_xcb_connection(connection.as_ptr(), false)? };
    act(&connection)
}

fn select(connection: &XCBConnection, window: u32) -> Result<(), Box<dyn Error>> {
    let answers = connection.generate_id()?;
    connection
        .present_select_input(answers, window, EventMask::COMPLETE_NOTIFY)?
        .check()?;
    connection.flush()?;
    Ok(())
}
