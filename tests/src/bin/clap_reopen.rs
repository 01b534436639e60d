//! Opens and closes a CLAP's window twenty times: `clap_reopen BUNDLE`; exits with 0 when each showed
//! something and neither files nor threads have grown. A process of its own, so that the count is
//! its own.

use std::fs;
use std::path::PathBuf;
use std::time::Duration;

use penstock_tests::host::{Bundle, Picture, display};

fn entries(folder: &str) -> usize {
    fs::read_dir(folder).expect("Linux's process files").count()
}

/// Files and threads this process has open.
fn usage() -> (usize, usize) {
    (entries("/proc/self/fd"), entries("/proc/self/task"))
}

fn main() {
    let path = PathBuf::from(std::env::args_os().nth(1).expect("the path of a bundle"));
    let _display = display();
    let mut plugin = Bundle::load_from(&path).instance();
    let mut first = None;
    for round in 0..20 {
        let window = plugin.open_window(None);
        let size = (window.size.0 as usize, window.size.1 as usize);
        assert!(size.0 > 200 && size.1 > 200, "{size:?}");
        let picture = plugin.picture_when(&window, Picture::is_drawn);
        assert_eq!((picture.width, picture.height), size);
        plugin.close_window(window);
        plugin.idle(Duration::from_millis(100));
        // The first rounds load libraries and start the framework's own worker.
        if round == 2 {
            first = Some(usage());
        }
    }
    // A helper of the graphics library may still be on its way out.
    plugin.idle(Duration::from_millis(500));
    let (files, threads) = first.expect("a third round");
    let (files_now, threads_now) = usage();
    println!(
        "after 3 rounds {files} files, {threads} threads; after 20 {files_now}, {threads_now}"
    );
    assert!(
        files_now <= files + 8,
        "{files} files open after 3 rounds, {files_now} after 20"
    );
    assert!(
        threads_now <= threads + 4,
        "{threads} threads after 3 rounds, {threads_now} after 20"
    );
}
