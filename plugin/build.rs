//! One link option: the plugin's library stays in memory once a host has loaded it.
//!
//! A thread that has used it may end after the host has let go of it, and then runs a destructor of
//! the library's own; unloaded code there takes the host down.

fn main() {
    println!("cargo:rerun-if-changed=build.rs");
    let linux = std::env::var("CARGO_CFG_TARGET_OS").is_ok_and(|os| os == "linux");
    if linux {
        println!("cargo:rustc-cdylib-link-arg=-Wl,-z,nodelete");
    }
}
