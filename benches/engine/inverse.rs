//! How long does it take to find joint values for a tip pose, and how often are none found?
//!
//! Random reachable poses (those of random configurations), each from a start that has nothing to do with it, to 1 mm and
//! 1 mrad.

use std::hint::black_box;
use std::time::Instant;

use criterion::Criterion;
use trusswalk::mechanism::{Goal, InverseKinematics, Meets, Solved};

use crate::arm::{configuration, long_arm};

const POSES: usize = 10_000;
/// Met within this, m and rad.
pub const WITHIN: f64 = 1e-3;

pub fn benches(c: &mut Criterion) {
    let (arm, tip) = long_arm();
    let goals: Vec<(Goal, Vec<f64>)> = (0..POSES)
        .map(|number| {
            let place = *arm.pose(&configuration(number)).link(tip);
            let goal = Goal { link: tip, structure_from_link: place, meets: Meets::Pose };
            (goal, configuration(number + 77_777))
        })
        .collect();
    let solver = InverseKinematics { within: WITHIN, ..InverseKinematics::default() };
    let met = |(goal, start): &(Goal, Vec<f64>)| matches!(black_box(solver.solve(&arm, goal, start)), Solved::Met(_));
    tell("mechanism/inverse_kinematics/long_7_joints", &goals, met);
    let mut turn = goals[..200].iter().cycle();
    c.bench_function("mechanism/inverse_kinematics/mean_of_200_poses", |b| {
        b.iter(|| met(turn.next().expect("a cycle has no end")));
    });
    #[cfg(feature = "peers")]
    {
        let peer = crate::peer::Arm::new();
        let met = |(goal, start): &(Goal, Vec<f64>)| peer.reaches(&goal.structure_from_link, start);
        tell("mechanism/inverse_kinematics/long_7_joints (k)", &goals, met);
    }
}

/// Prints the share solved and the spread of times, which one number would hide.
fn tell<T>(name: &str, goals: &[T], mut met: impl FnMut(&T) -> bool) {
    let mut solved = 0;
    let mut times: Vec<f64> = goals
        .iter()
        .map(|goal| {
            let begun = Instant::now();
            solved += usize::from(met(goal));
            begun.elapsed().as_secs_f64() * 1e6
        })
        .collect();
    times.sort_by(f64::total_cmp);
    let mean = times.iter().sum::<f64>() / times.len() as f64;
    let share = |percent: usize| times[times.len() * percent / 100];
    println!(
        "{name}: {solved} of {} solved; mean {mean:.1}, median {:.1}, 95th percentile {:.1} µs",
        goals.len(),
        share(50),
        share(95)
    );
}
