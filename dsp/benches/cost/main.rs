//! What the circuit, the meters and buying a pad cost: one table, every ratio measured in one run.
//!
//! Times are the least of several rounds on one thread, in which all rows take turns. They are stated in nanoseconds a frame and in
//! FMA-times: how many 256-bit fused multiply-adds of 64-bit numbers (ten independent chains) the
//! processor does meanwhile, which hardly depends on its clock.

mod chain;
mod files;
mod hostile;
mod meters;
mod pad;
mod peers;
mod ruler;
mod sound;

use ruler::Rows;

fn main() {
    // Cargo asks every bench for its tests, and passes filters that mean nothing here.
    if std::env::args().any(|argument| argument == "--list") {
        return;
    }
    if std::env::args().any(|argument| argument == "pad") {
        pad::table();
        return;
    }
    let mut rows = Rows::default();
    if std::env::args().any(|argument| argument == "meters") {
        meters::rows(&mut rows);
        chain::watched(&mut rows);
        rows.table();
        return;
    }
    if std::env::args().any(|argument| argument == "worst") {
        hostile::search();
        return;
    }
    chain::settings(&mut rows);
    peers::rows(&mut rows);
    chain::blocks(&mut rows);
    chain::instances(&mut rows);
    chain::silence(&mut rows);
    meters::rows(&mut rows);
    chain::watched(&mut rows);
    rows.table();
    chain::starts();
    files::table();
    pad::table();
    println!();
    hostile::search();
}
