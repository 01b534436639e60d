//! Unloads a CLAP before the thread that used it ends: `clap_unload BUNDLE`; exits with 0 when the
//! process lives on.
//!
//! Hosts do this when they scan: load, ask, unload, all in a thread of a pool. Whatever the plugin
//! left for the end of the thread must not lie in the library that is gone by then.

use std::path::{Path, PathBuf};
use std::thread;

use penstock_tests::host::{Bundle, blocks_of};

fn main() {
    let path = PathBuf::from(std::env::args_os().nth(1).expect("the path of a bundle"));
    let users = (0..2).map(|_| {
        let path = path.clone();
        thread::spawn(move || (0..20).for_each(|_| use_once(&path)))
    });
    let users: Vec<_> = users.collect();
    for user in users {
        user.join().expect("it does not panic");
    }
}

fn use_once(path: &Path) {
    let bundle = Bundle::load_from(path);
    let mut plugin = bundle.instance();
    let mut running = plugin.activate(48_000.0, 512, 2);
    let _ = running.run(&vec![vec![0.1; 1024]; 2], blocks_of(512), &[]);
    plugin.deactivate(running);
}
