//! What the window costs: `cargo bench --package penstock-window-tests --features bench`.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use penstock_window_tests::cost::{Layout, SIZES, Sounding, added_percent};

fn layout(criterion: &mut Criterion) {
    for size in SIZES {
        let mut layout = Layout::new(size);
        let name = format!("layout and tessellation, {} x {}", size[0], size[1]);
        criterion.bench_function(&name, |bencher| bencher.iter(|| black_box(layout.frame())));
    }
}

fn audio(criterion: &mut Criterion) {
    let mut sounding = Sounding::default();
    for (state, open) in [("closed", false), ("open", true)] {
        let name = format!("a fiftieth of a second of stereo, window {state}");
        criterion.bench_function(&name, |bencher| {
            bencher.iter(|| black_box(sounding.play(open)));
        });
    }
}

/// As a ratio within one run, which the figures above are not: between them the machine may have changed.
fn added(_: &mut Criterion) {
    println!(
        "an open window adds {:+.2} % to the audio thread",
        added_percent(600)
    );
}

criterion_group!(benches, layout, audio, added);
criterion_main!(benches);
