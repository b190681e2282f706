//! How long do the engine's operations take? Compare ratios on one machine, never times across machines.
//!
//! `cargo bench` times the engine; with `--features peers` a Rust peer does the same work in the same run, and
//! `peers.py` runs those that are no Rust beside it. Names are `layer/operation/size`. The plan is the demo, or the one
//! that the environment names in `PLAN`; edits are of the demo.

mod again;
mod arm;
mod check;
mod inverse;
mod kinematics;
mod motion;
#[cfg(feature = "peers")]
mod peer;
mod plan;
mod propose;
mod space;

use criterion::{criterion_group, criterion_main};

criterion_group!(
    benches,
    kinematics::benches,
    inverse::benches,
    space::benches,
    motion::benches,
    check::benches,
    again::benches,
    propose::benches
);
criterion_main!(benches);
