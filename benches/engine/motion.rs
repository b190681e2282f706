//! How long does it take to bound the clearance of a motion to 1 mm for every pair of classes?
//!
//! All that the checks `clearance` and `stopping` ask of it: brackets with tolerances and with overrun are closed too.

use std::sync::atomic::AtomicBool;
use std::time::Duration;

use criterion::Criterion;
use trusswalk::check::{Case, Known, Silent, bound_motion};
use trusswalk::state::{Scene, walk};

use crate::plan::load;

pub fn benches(c: &mut Criterion) {
    let loaded = load();
    let scene = Scene::new(&loaded.project, &loaded.meshes);
    let walk = walk(&scene);
    let case =
        Case::new((&scene, &walk), &Known::default(), &Silent, &AtomicBool::new(false)).expect("nobody stops it");
    let mut group = c.benchmark_group("motion/clearance_bound");
    group.sample_size(10).warm_up_time(Duration::from_millis(200)).measurement_time(Duration::from_millis(600));
    for moved in case.moves.iter().filter(|moved| !moved.moved.segments.is_empty()) {
        group.bench_function(&moved.moved.id, |b| {
            let bodies = (&moved.assembly, &moved.frozen);
            b.iter(|| bound_motion(&scene, &moved.moved, bodies, (&moved.times, moved.paces.as_deref())));
        });
    }
}
