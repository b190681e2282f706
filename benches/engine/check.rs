//! How long does a whole plan take, and how does that grow with bodies and motions?

use std::sync::atomic::AtomicBool;

use criterion::Criterion;
use trusswalk::check::{Case, Known, Silent, run};
use trusswalk::files::Loaded;
use trusswalk::state::{Scene, Walk, walk};

use crate::plan::load;

pub fn benches(c: &mut Criterion) {
    let stop = AtomicBool::new(false);
    let mut group = c.benchmark_group("check/whole_plan");
    group.sample_size(10);
    let demo = load();
    let longer = with_longer_trusses(load(), 10);
    for (name, plan) in [("demo", &demo), ("demo_with_trusses_x10", &longer)] {
        let bodies = Scene::new(&plan.project, &plan.meshes).fixed.len();
        println!("check/whole_plan/{name}: {bodies} bodies of the structure");
        group.bench_function(name, |b| b.iter(|| run(&plan.project, &plan.meshes, &Silent, &stop)));
    }
    let scene = Scene::new(&demo.project, &demo.meshes);
    let once = walk(&scene);
    let (events, rests) = (tenfold_of(&once.events), tenfold_of(&once.rests));
    let tenfold = Walk { events, rests };
    for (name, walk) in [("demo_walked", &once), ("demo_walked_with_steps_x10", &tenfold)] {
        group.bench_function(name, |b| {
            b.iter(|| {
                let case = Case::new((&scene, walk), &Known::default(), &Silent, &stop).expect("nobody stops it");
                case.findings().len()
            });
        });
    }
}

/// The same plan with so many times as many bays in each truss.
fn with_longer_trusses(mut plan: Loaded, times: u32) -> Loaded {
    for truss in &mut plan.project.structure.truss {
        truss.bays *= times;
    }
    plan
}

fn tenfold_of<T: Clone>(all: &[T]) -> Vec<T> {
    all.iter().cycle().take(10 * all.len()).cloned().collect()
}
