//! How long do the engine's operations take? Compare ratios on one machine, never times across machines.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use trusswalk::mechanism::{
    Goal, InverseKinematics, JointMotion, LinkId, Mechanism, MechanismBuilder, Meets, Range, Solved, tip_jacobian,
};
use trusswalk::space::{Pose, Vector};

/// A long arm of seven joints: roll, yaw, pitch, pitch, pitch, yaw, roll about two booms of 7 m; invented.
fn long_arm() -> (Mechanism, LinkId) {
    let range = Range { lowest: -270f64.to_radians(), highest: 270f64.to_radians() };
    let rows = [
        (Vector::new(0.0, 0.0, 0.4), Vector::z_axis()),
        (Vector::new(0.0, 0.0, 0.6), Vector::x_axis()),
        (Vector::new(0.3, 0.0, 0.5), Vector::y_axis()),
        (Vector::new(0.3, 0.0, 7.0), Vector::y_axis()),
        (Vector::new(-0.3, 0.0, 7.0), Vector::y_axis()),
        (Vector::new(0.0, 0.0, 0.5), Vector::x_axis()),
        (Vector::new(0.0, 0.0, 0.6), Vector::z_axis()),
    ];
    let mut builder = MechanismBuilder::new();
    let mut link = LinkId::STRUCTURE;
    for (k, (place, axis)) in rows.into_iter().enumerate() {
        let at = Pose::from_parts(place.into(), nalgebra::UnitQuaternion::identity());
        link = builder.joint(&format!("j{k}"), link, at, JointMotion::Revolute, axis, range);
    }
    let tip = builder.fixed("tip", link, Pose::translation(0.0, 0.0, 0.6));
    (builder.finish(), tip)
}

/// Repeatable joint values, evenly spread over the ranges (Weyl sequence).
fn configuration(arm: &Mechanism, number: usize) -> Vec<f64> {
    let share = |k: usize| (number as f64 * (0.5 + 0.618_033_988_75 * (k as f64 + 1.37).sqrt())).fract();
    arm.ranges().iter().enumerate().map(|(k, range)| range.lowest + (range.highest - range.lowest) * share(k)).collect()
}

fn kinematics(c: &mut Criterion) {
    let (arm, tip) = long_arm();
    let poses: Vec<Vec<f64>> = (0..64).map(|number| configuration(&arm, number)).collect();
    let mut posed = arm.workspace();
    let mut number = 0;
    c.bench_function("mechanism/forward_kinematics/7_joints", |b| {
        b.iter(|| {
            number = (number + 1) % poses.len();
            arm.pose_into(black_box(&poses[number]), &mut posed);
        });
    });
    c.bench_function("mechanism/forward_kinematics_and_jacobian/7_joints", |b| {
        b.iter(|| {
            number = (number + 1) % poses.len();
            arm.pose_into(black_box(&poses[number]), &mut posed);
            tip_jacobian(&arm, &posed, tip)
        });
    });
}

fn inverse(c: &mut Criterion) {
    let (arm, tip) = long_arm();
    let goals: Vec<(Goal, Vec<f64>)> = (0..10_000)
        .map(|number| {
            let place = *arm.pose(&configuration(&arm, number)).link(tip);
            let goal = Goal { link: tip, structure_from_link: place, meets: Meets::Pose };
            (goal, configuration(&arm, number + 77_777))
        })
        .collect();
    let solver = InverseKinematics { within: 1e-3, ..InverseKinematics::default() };
    let mut times: Vec<f64> = Vec::new();
    let mut solved = 0;
    for (goal, start) in &goals {
        let begun = std::time::Instant::now();
        if let Solved::Met(_) = black_box(solver.solve(&arm, goal, start)) {
            solved += 1;
        }
        times.push(begun.elapsed().as_secs_f64() * 1e6);
    }
    times.sort_by(f64::total_cmp);
    let mean = times.iter().sum::<f64>() / times.len() as f64;
    println!(
        "mechanism/inverse_kinematics/long_7_joints: {solved} of {} solved; mean {mean:.0}, median {:.0}, 95th percentile {:.0} µs",
        goals.len(),
        times[times.len() / 2],
        times[times.len() * 95 / 100]
    );
    let mut number = 0;
    c.bench_function("mechanism/inverse_kinematics/long_7_joints", |b| {
        b.iter(|| {
            number = (number + 1) % 200;
            solver.solve(&arm, &goals[number].0, &goals[number].1)
        });
    });
}

criterion_group!(benches, kinematics, inverse);
criterion_main!(benches);
