//! How long does a whole plan take, and how does that grow with bodies and motions?

use std::sync::atomic::AtomicBool;

use criterion::Criterion;
use trusswalk::check::{CHECKS, Case, Known, Silent, again, run};
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
    let whole = |plan: &Loaded, known: &Known| {
        again((&plan.project, &plan.meshes), known, &Silent, &stop).expect("nobody stops it")
    };
    let known = whole(&demo, &Known::default()).known;
    let edited = with_a_waypoint_moved(load());
    group.bench_function("demo_again_after_a_waypoint", |b| b.iter(|| whole(&edited, &known).outcome.findings.len()));
    let scene = Scene::new(&demo.project, &demo.meshes);
    let once = walk(&scene);
    let (events, rests) = (tenfold_of(&once.events), tenfold_of(&once.rests));
    let tenfold = Walk { events, rests };
    for (name, walk) in [("demo_walked", &once), ("demo_walked_with_steps_x10", &tenfold)] {
        group.bench_function(name, |b| {
            b.iter(|| {
                let case = Case::new((&scene, walk), &Known::default(), &Silent, &stop).expect("nobody stops it");
                CHECKS.iter().map(|check| (check.findings)(&case).len()).sum::<usize>()
            });
        });
    }
}

/// The same plan with its first waypoint a little elsewhere.
fn with_a_waypoint_moved(mut plan: Loaded) -> Loaded {
    let joints =
        plan.project.plan.step.iter_mut().flat_map(|step| &mut step.waypoint).find_map(|at| at.joints.as_mut());
    joints.expect("the demo has waypoints of joint values")[0] += 0.1;
    plan
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
