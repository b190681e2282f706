//! How long does it take to find a certified transit, and how often is none found?
//!
//! Each transit of the plan without its waypoints, over 100 seeds: as *found* (two trees, and vertices skipped),
//! and as *bettered* with the settings that `propose` has by default. Printed once: share found, median and 95th
//! percentile of the time; medians of what the path takes, of its waypoints and of its least margin.

use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

use criterion::Criterion;
use trusswalk::check::{MotionKind, Silent};
use trusswalk::propose::{Answer, Found, Settings, transit};
use trusswalk::state::{Event, Move, Scene, walk};

use crate::plan::load;

const SEEDS: u64 = 100;

pub fn benches(c: &mut Criterion) {
    let loaded = load();
    let scene = Scene::new(&loaded.project, &loaded.meshes);
    let walk = walk(&scene);
    let transits: Vec<(&Move, &[f64])> = walk
        .events
        .iter()
        .filter_map(|event| match event {
            Event::Move(moved) if moved.kind == MotionKind::Transit => Some((&**moved, &*moved.segments.last()?.to)),
            _ => None,
        })
        .collect();
    let found = Settings { attempts: 1, edges: 0, ..Settings::default() };
    let solve = |question: (&Move, &[f64]), settings: &Settings| {
        transit(&scene, question, settings, &Silent, &AtomicBool::new(false)).expect("nobody stops it")
    };
    let mut group = c.benchmark_group("propose/transit");
    group.sample_size(10).warm_up_time(Duration::from_millis(200)).measurement_time(Duration::from_secs(1));
    for question in transits {
        for (name, seeds, settings) in [("found", SEEDS, found), ("bettered", SEEDS / 10, Settings::default())] {
            tell(&format!("propose/transit/{}/{name}", question.0.id), seeds, |seed| {
                solve(question, &Settings { seed, ..settings })
            });
        }
        group.bench_function(&question.0.id, |b| b.iter(|| solve(question, &found)));
    }
}

/// Prints the share found and the spread, which one number would hide.
fn tell(name: &str, seeds: u64, solve: impl Fn(u64) -> Answer) {
    let mut times = Vec::new();
    let mut all: Vec<Found> = Vec::new();
    for seed in 0..seeds {
        let begun = Instant::now();
        if let Answer::Found(found) = solve(seed) {
            all.push(found);
        }
        times.push(begun.elapsed().as_secs_f64() * 1e3);
    }
    let at = |mut values: Vec<f64>, percent: usize| {
        values.sort_by(f64::total_cmp);
        values.get(values.len() * percent / 100).copied().unwrap_or(f64::NAN)
    };
    let median = |of: fn(&Found) -> f64| at(all.iter().map(of).collect(), 50);
    println!(
        "{name}: {} of {seeds} found; median {:.1}, 95th percentile {:.1} ms; {:.0} s, {:.0} waypoints, margin {:.3} m",
        all.len(),
        at(times.clone(), 50),
        at(times, 95),
        median(|found| found.seconds.unwrap_or(f64::NAN)),
        median(|found| found.waypoints.len() as f64),
        median(|found| found.margin),
    );
}
