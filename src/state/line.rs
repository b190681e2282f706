//! By which joint values does the tip leave a worksite in a straight line?
//!
//! # Law
//! From the worksite's configuration outwards, the tip goes along `−approach` at constant orientation. Vertices are
//! solved one after another, each from the one before, rounded to the grid that an operator keys in (0.1°, 1 mm), and
//! among the neighbouring grid points the one nearest the line is taken. Two vertices are near enough when the tip of
//! the joint-space segment between them stays within the allowed stray, by the bound of [`stray_from_line`]; else the
//! step is halved.
//!
//! # Limits
//! The rounded vertices are what is checked; how far the tip really strays is the check `line`'s business.

use crate::mechanism::{Goal, InverseKinematics, LinkId, Mechanism, Meets, Solved};
use crate::model::JointKind;
use crate::motion::{LineStray, Segment, stray_from_line};
use crate::space::{Pose, Vector};

/// The grid that revolute joints are keyed in on, rad.
const TURN_GRID: f64 = 0.1 * std::f64::consts::PI / 180.0;
/// The grid that prismatic joints are keyed in on, m.
const SLIDE_GRID: f64 = 1e-3;
/// The longest stretch between two vertices, m.
const LONGEST: f64 = 0.3;
/// The shortest before the line counts as impossible, m.
const SHORTEST: f64 = 0.01;
/// Share of the allowed stray that two neighbouring vertices aim at.
const AIM: f64 = 0.9;

/// A vertex of the line: joint values, and the distance of its wanted place from the worksite.
#[derive(Clone, Debug, PartialEq)]
pub struct Vertex {
    pub arm: Vec<f64>,
    pub distance: f64,
}

/// The way out of a worksite, worksite first.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    pub vertices: Vec<Vertex>,
    /// The tip at the worksite.
    pub structure_from_tip: Pose,
    /// Unit vector from the worksite outwards.
    pub outwards: Vector,
}

/// Why there is no line.
#[derive(Clone, Debug, PartialEq)]
pub struct LineFault {
    /// How far out it still went, m.
    pub reached: f64,
    /// How far out it should go, m.
    pub wanted: f64,
}

/// What the line must keep to.
#[derive(Clone, Debug)]
pub struct LineTask<'a> {
    pub arm: &'a Mechanism,
    pub tip: LinkId,
    pub kinds: &'a [JointKind],
    pub meets: Meets,
    /// Greatest stray allowed.
    pub stray: LineStray,
    /// Distances from the worksite at which there must be a vertex, m.
    pub marks: &'a [f64],
}

/// A value on the grid that operators key in.
pub fn round_to_grid(value: f64, kind: JointKind) -> f64 {
    let grid = grid(kind);
    (value / grid).round() * grid
}

const fn grid(kind: JointKind) -> f64 {
    match kind {
        JointKind::Revolute => TURN_GRID,
        JointKind::Prismatic => SLIDE_GRID,
    }
}

impl LineTask<'_> {
    /// The line from `start` along the unit vector `outwards` for `length` m.
    pub fn trace(&self, start: &[f64], outwards: &Vector, length: f64) -> Result<Line, LineFault> {
        let structure_from_tip = *self.arm.pose(start).link(self.tip);
        let mut vertices = vec![Vertex { arm: start.to_vec(), distance: 0.0 }];
        let mut step = LONGEST;
        loop {
            let last = vertices.last().expect("the worksite itself");
            let done = last.distance;
            if done >= length - 1e-9 {
                return Ok(Line { vertices, structure_from_tip, outwards: *outwards });
            }
            let mark = self.marks.iter().copied().filter(|mark| *mark > done + 1e-9).fold(length, f64::min);
            let distance = (done + step).min(mark);
            let place = moved(&structure_from_tip, outwards, distance);
            let found = self.vertex(&last.arm, &place, (&structure_from_tip, outwards));
            match found {
                Some(arm) => {
                    vertices.push(Vertex { arm, distance });
                    step = (step * 1.5).min(LONGEST);
                }
                None if step > SHORTEST => step = 0.5 * (distance - done).min(step),
                None => return Err(LineFault { reached: done, wanted: length }),
            }
        }
    }

    fn vertex(&self, from: &[f64], place: &Pose, line: (&Pose, &Vector)) -> Option<Vec<f64>> {
        let goal = Goal { link: self.tip, structure_from_link: *place, meets: self.meets };
        let solver = InverseKinematics { starts: 1, ..InverseKinematics::default() };
        let Solved::Met(exact) = solver.solve(self.arm, &goal, from) else { return None };
        let rounded = self.nearest_grid_point(&exact, line);
        let segment = Segment { from: from.to_vec(), to: rounded.clone() };
        let stray = stray_from_line(self.arm, self.tip, &segment, line);
        let keeps = stray.distance <= AIM * self.stray.distance && stray.turn <= AIM * self.stray.turn;
        keeps.then_some(rounded)
    }

    /// The grid point next to `exact` whose tip is nearest the line, found by stepping one joint at a time.
    fn nearest_grid_point(&self, exact: &[f64], (line, along): (&Pose, &Vector)) -> Vec<f64> {
        let mut posed = self.arm.workspace();
        let ranges = self.arm.ranges();
        let mut cost = |q: &[f64]| {
            self.arm.pose_into(q, &mut posed);
            let tip = posed.link(self.tip);
            let off = tip.translation.vector - line.translation.vector;
            let across = (off - along * off.dot(along)).norm() / self.stray.distance;
            let turn = (tip.rotation * line.rotation.inverse()).angle() / self.stray.turn;
            across * across + turn * turn
        };
        let mut best: Vec<f64> = exact.iter().zip(self.kinds).map(|(q, kind)| round_to_grid(*q, *kind)).collect();
        let mut least = cost(&best);
        loop {
            let mut better = None;
            for k in 0..best.len() {
                for steps in [-1.0, 1.0] {
                    let value = round_to_grid(best[k] + steps * grid(self.kinds[k]), self.kinds[k]);
                    let near = (value - exact[k]).abs() <= 1.5 * grid(self.kinds[k]);
                    if !near || ranges[k].margin(value) < 0.0 {
                        continue;
                    }
                    let mut trial = best.clone();
                    trial[k] = value;
                    let trial_cost = cost(&trial);
                    if trial_cost < least {
                        least = trial_cost;
                        better = Some(trial);
                    }
                }
            }
            match better {
                Some(trial) => best = trial,
                None => return best,
            }
        }
    }
}

fn moved(pose: &Pose, along: &Vector, by: f64) -> Pose {
    nalgebra::Translation3::from(along * by) * pose
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::JointKind::{Prismatic, Revolute};
    use crate::state::ArmAlone;
    use crate::state::testing::with_starter;

    #[test]
    fn a_line_has_a_vertex_at_each_mark_and_keeps_to_its_stray() {
        with_starter(|scene| {
            let site = &scene.project.plan.worksite[0];
            let arm = ArmAlone::new(scene, &site.stand);
            let start = scene.joint_values(&site.joints);
            let outwards = Vector::z();
            let stray = LineStray { distance: 0.025, turn: 0.5f64.to_radians() };
            let task = LineTask {
                arm: &arm.mechanism,
                tip: arm.tip,
                kinds: &arm.kinds,
                meets: arm.meets,
                stray,
                marks: &[0.05, 0.3],
            };
            let line = task.trace(&start, &outwards, 0.5).expect("the starter's arm retreats upwards");
            for mark in [0.0, 0.05, 0.3, 0.5] {
                assert!(line.vertices.iter().any(|vertex| (vertex.distance - mark).abs() < 1e-9), "{mark}");
            }
            for pair in line.vertices.windows(2) {
                let segment = Segment { from: pair[0].arm.clone(), to: pair[1].arm.clone() };
                for k in 0..=50 {
                    let tip = arm.structure_from_tip(&segment.at(f64::from(k) / 50.0));
                    let off = tip.translation.vector - line.structure_from_tip.translation.vector;
                    assert!((off - outwards * off.dot(&outwards)).norm() <= stray.distance);
                    assert!((tip.rotation * line.structure_from_tip.rotation.inverse()).angle() <= stray.turn);
                }
            }
        });
    }

    #[test]
    fn vertices_are_on_the_grid_that_operators_key_in() {
        let tenth = 0.1f64.to_radians();
        assert!((round_to_grid(0.26 * tenth + 3.0 * tenth, Revolute) - 3.0 * tenth).abs() < 1e-15);
        assert!((round_to_grid(1.2344, Prismatic) - 1.234).abs() < 1e-15);
    }

    #[test]
    fn beyond_the_arms_length_the_line_ends_where_it_still_went() {
        with_starter(|scene| {
            let site = &scene.project.plan.worksite[0];
            let arm = ArmAlone::new(scene, &site.stand);
            let start = scene.joint_values(&site.joints);
            let fault = arm.line(scene, &start, &Vector::z(), 20.0).expect_err("the arm is no 20 m long");
            assert!(fault.wanted == 20.0 && fault.reached > 0.5 && fault.reached < 10.0, "{fault:?}");
        });
    }
}
