//! Source: dense sampling of random arms along segments: how far the tip leaves a line and an attitude, how fast it goes, and
//! how near the arm comes to a singular configuration.
//!
//! A bound must hold every sample but for rounding, 1e-9 (m, m/s, rad); what was seen must be seen again to 1e-9.

use std::f64::consts::{PI, TAU};

use rayon::prelude::*;

use trusswalk::mechanism::{JointMotion, LinkId, Mechanism, MechanismBuilder, Range, tip_jacobian};
use trusswalk::motion::{Segment, least_singular_value, singular_value_at, stray_from_line, tip_speeds};
use trusswalk::space::{Direction, Pose, Vector};

use super::random::Draw;

const ROUNDING: f64 = 1e-9;
const CASES: u64 = 20_000;
const SAMPLES: usize = 25;

/// An arm, its tip, and a segment of its motion.
struct Case {
    arm: Mechanism,
    tip: LinkId,
    segment: Segment,
    draw: Draw,
}

impl Case {
    /// Steps up to `most` rad or m either way of the middle, log-uniform from 1e-3.
    fn drawn(seed: u64, most: f64) -> Self {
        let mut draw = Draw::seeded(seed ^ 0x11E);
        let joints = 2 + draw.below(7);
        let mut tree = draw.tree(joints);
        let middle = tree.configuration(&mut draw);
        let outermost = tree.links[tree.links.len() - 1];
        let tip = tree.builder.fixed("tip", outermost, draw.pose(1.0));
        let step = draw.log_between(1e-3, most);
        let delta: Vec<f64> = middle.iter().map(|_| step * draw.within(1.0)).collect();
        let end = |sign: f64| middle.iter().zip(&delta).map(|(q, delta)| q + sign * delta).collect();
        Self { arm: tree.builder.finish(), tip, segment: Segment { from: end(-1.0), to: end(1.0) }, draw }
    }

    fn tip_at(&self, fraction: f64) -> Pose {
        *self.arm.pose(&self.segment.at(fraction)).link(self.tip)
    }
}

fn fractions() -> impl Iterator<Item = f64> {
    (0..=SAMPLES).map(|k| k as f64 / SAMPLES as f64)
}

fn over_all_cases<T: Send>(most: f64, measure: impl Fn(Case, u64) -> T + Sync + Send) -> Vec<T> {
    (0..CASES).into_par_iter().map(|seed| measure(Case::drawn(seed, most), seed)).collect()
}

/// The median of what samples reach of their bound; a bound that nothing comes near is no bound worth having.
fn assert_reached(what: &str, least_median: f64, mut shares: Vec<f64>) {
    shares.sort_by(f64::total_cmp);
    let median = shares[shares.len() / 2];
    println!("{what}: sampled share of the bound, median {median:.3}, greatest {:.6}", shares[shares.len() - 1]);
    assert!(median >= least_median, "{what}: {median}");
}

#[test]
fn the_tip_leaves_line_and_attitude_by_no_more_than_its_bound() {
    let shares = over_all_cases(1.5, |mut case, seed| {
        let (from, to) = (case.tip_at(0.0), case.tip_at(1.0));
        let way = to.translation.vector - from.translation.vector;
        let any = case.draw.direction();
        let along = if case.draw.chance(0.8) { Direction::try_new(way, 1e-6).unwrap_or(any) } else { any };
        // The line's frame: somewhere on the way, or off it, little as rounding leaves it or much, or just there where
        // the way bends away from it.
        let share = case.draw.unit();
        let on_the_way = case.tip_at(share);
        let turned = case.draw.direction().into_inner() * case.draw.log_between(1e-3, 2.5);
        let line = match case.draw.below(3) {
            0 => on_the_way,
            1 => on_the_way * Pose::new(case.draw.place(1e-2).coords, turned),
            _ => {
                let middle = case.tip_at(0.5).rotation;
                let bend = middle * from.rotation.slerp(&to.rotation, 0.5).inverse();
                let away = bend.scaled_axis().try_normalize(1e-9).unwrap_or(any.into_inner());
                let back = nalgebra::UnitQuaternion::new(-away * case.draw.between(0.1, 3.1));
                Pose::from_parts(from.translation, back * middle)
            }
        };
        let bound = stray_from_line(&case.arm, case.tip, &case.segment, (&line, &along));
        let (mut distance, mut turn): (f64, f64) = (0.0, 0.0);
        for fraction in fractions() {
            let pose = case.tip_at(fraction);
            let offset = pose.translation.vector - line.translation.vector;
            distance = distance.max(offset.cross(&along).norm());
            turn = turn.max(pose.rotation.angle_to(&line.rotation));
        }
        assert!(distance <= bound.distance + ROUNDING, "seed {seed}: strayed {distance} m, {bound:?}");
        assert!(turn <= bound.turn + ROUNDING, "seed {seed}: turned {turn} rad, {bound:?}");
        [distance / bound.distance.max(ROUNDING), turn / bound.turn.max(ROUNDING)]
    });
    assert_reached("distance from the line", 0.2, shares.iter().map(|share| share[0]).collect());
    assert_reached("turn from the attitude", 0.5, shares.iter().map(|share| share[1]).collect());
}

#[test]
fn the_tip_is_never_faster_than_its_bound() {
    let shares = over_all_cases(1.5, |mut case, seed| {
        let pieces = [1, 4, 16][case.draw.below(3)];
        let bounds = tip_speeds(&case.arm, case.tip, &case.segment, pieces);
        let bound = |fraction: f64| {
            let at = fraction * pieces as f64;
            let piece = (at as usize).min(pieces - 1);
            bounds[piece] + (bounds[piece + 1] - bounds[piece]) * (at - piece as f64)
        };
        let change = nalgebra::DVector::from(case.segment.change());
        let speed = |fraction: f64| {
            let posed = case.arm.pose(&case.segment.at(fraction));
            (tip_jacobian(&case.arm, &posed, case.tip).rows(0, 3) * &change).norm()
        };
        let shares = fractions().map(|fraction| {
            let (speed, bound) = (speed(fraction), bound(fraction));
            assert!(speed <= bound + ROUNDING, "seed {seed}: {speed} m/s at {fraction}, bound {bound}");
            speed / bound.max(ROUNDING)
        });
        shares.fold(0.0, f64::max)
    });
    assert_reached("speed of the tip", 0.7, shares);
}

#[test]
fn the_bound_on_the_speed_closes_as_pieces_get_shorter() {
    for seed in 0..100 {
        let case = Case::drawn(seed, 1.0);
        let bound =
            |pieces: usize| tip_speeds(&case.arm, case.tip, &case.segment, pieces).into_iter().fold(0.0, f64::max);
        let limit = bound(4096);
        let (coarse, fine) = (bound(16) - limit, bound(128) - limit);
        assert!(fine <= 0.25 * coarse + ROUNDING, "seed {seed}: {coarse} above with 16 pieces, {fine} with 128");
    }
}

#[test]
fn no_sample_has_a_singular_value_below_its_bound() {
    let found = over_all_cases(0.5, |case, seed| {
        if seed >= CASES / 50 {
            return None;
        }
        let length = [0.5, 1.0, 3.0][seed as usize % 3];
        let cut = Segment { from: case.segment.at(0.0), to: case.segment.at(0.4) };
        let rest = Segment { from: case.segment.at(0.4), to: case.segment.at(1.0) };
        let segments = [cut, rest];
        let gap = 1e-3;
        let least = least_singular_value(&case.arm, case.tip, &segments, length, (gap, 50_000)).expect("it converges");
        let at = |segment: &Segment, fraction: f64| {
            singular_value_at(&case.arm, &case.arm.pose(&segment.at(fraction)), case.tip, length).expect("it converges")
        };
        for segment in &segments {
            for fraction in fractions() {
                let value = at(segment, fraction);
                assert!(least.bound.lower <= value + ROUNDING, "seed {seed}: {value}, {least:?}");
            }
        }
        let again = at(&segments[least.segment], least.fraction);
        assert!((again - least.bound.upper).abs() <= ROUNDING, "seed {seed}: {again} again, {least:?}");
        Some(least.bound.gap() <= gap + ROUNDING)
    });
    let closed = found.iter().flatten().filter(|closed| **closed).count();
    println!("singular values: {closed} brackets of {} closed", found.iter().flatten().count());
    assert!(closed * 10 > 9 * found.iter().flatten().count());
}
#[test]
fn a_whole_turn_about_the_tips_own_axis_is_no_constant_attitude() {
    let mut builder = MechanismBuilder::new();
    let (turns, axis) = (JointMotion::Revolute, Vector::z_axis());
    let wrist = builder.joint("wrist", LinkId::STRUCTURE, Pose::identity(), turns, axis, Range::FREE);
    let arm = builder.finish();
    let segment = Segment { from: vec![0.0], to: vec![TAU] };
    let stray = stray_from_line(&arm, wrist, &segment, (&Pose::identity(), &Vector::x()));
    assert!(stray.turn >= PI, "{stray:?}");
}
