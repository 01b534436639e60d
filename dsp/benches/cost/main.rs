//! What the circuit, the meters and buying a pad cost: one table, every ratio measured in one run.
//!
//! Times are the least of several runs on one thread. They are stated in nanoseconds a frame and in
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

use ruler::Ruler;

fn main() {
    // Cargo asks every bench for its tests, and passes filters that mean nothing here.
    if std::env::args().any(|argument| argument == "--list") {
        return;
    }
    if std::env::args().any(|argument| argument == "pad") {
        pad::table();
        return;
    }
    let ruler = Ruler::measured();
    if std::env::args().any(|argument| argument == "meters") {
        meters::table(&ruler);
        return;
    }
    println!("one FMA: {:.4} ns\n", ruler.fma_ns);
    chain::settings(&ruler);
    peers::table(&ruler);
    chain::blocks(&ruler);
    chain::instances(&ruler);
    chain::silence(&ruler);
    chain::starts();
    meters::table(&ruler);
    files::table();
    pad::table();
    hostile::search(&ruler);
}
