//! How long does it take to pose an arm, and to tell how its tip moves?

use std::hint::black_box;

use criterion::Criterion;
use trusswalk::mechanism::tip_jacobian;

use crate::arm::{configuration, long_arm};

pub fn benches(c: &mut Criterion) {
    let (arm, tip) = long_arm();
    let configurations: Vec<Vec<f64>> = (0..64).map(configuration).collect();
    let mut posed = arm.workspace();
    let mut turn = configurations.iter().cycle();
    let mut next = || black_box(turn.next().expect("a cycle has no end"));
    c.bench_function("mechanism/forward_kinematics/7_joints", |b| {
        b.iter(|| arm.pose_into(next(), &mut posed));
    });
    c.bench_function("mechanism/forward_kinematics_and_jacobian/7_joints", |b| {
        b.iter(|| {
            arm.pose_into(next(), &mut posed);
            tip_jacobian(&arm, &posed, tip)
        });
    });
    #[cfg(feature = "peers")]
    {
        let peer = crate::peer::Arm::new();
        c.bench_function("mechanism/forward_kinematics/7_joints (k)", |b| {
            b.iter(|| peer.pose(next()));
        });
        c.bench_function("mechanism/forward_kinematics_and_jacobian/7_joints (k)", |b| {
            b.iter(|| peer.jacobian(next()));
        });
    }
}
