//! How many instructions the path takes, counted by callgrind: the same on every run, so that a few
//! percent more are seen where times would hide them.
//!
//! Only what `process` does is counted; what leads up to it is `setup`. The counts that hold are in
//! `counts.txt`; `cargo xtask test` compares, `cargo xtask bench --record` writes them.

#[cfg(all(target_os = "linux", target_arch = "x86_64"))]
mod counted;
#[cfg(all(target_os = "linux", target_arch = "x86_64"))]
#[path = "../cost/sound.rs"]
mod sound;

#[cfg(all(target_os = "linux", target_arch = "x86_64"))]
use counted::path;

#[cfg(all(target_os = "linux", target_arch = "x86_64"))]
gungraun::main!(library_benchmark_groups = path);

#[cfg(not(all(target_os = "linux", target_arch = "x86_64")))]
fn main() {
    println!("instructions are counted on Linux on x86-64 only");
}
