//! What is missing in a posture, and how does it change with each joint?
//!
//! # Law
//! Residuals, m and rad: place and turn of the right boot; place of each tool's end; what a hand's axis lies beyond nine
//! tenths of its cone; what the gaze lies beyond nine tenths of the field of view; what two bodies lack to a small gap.
//! All are zero in a posture that does the task, with something to spare for rounding.

use crate::mechanism::{LinkId, Posed};
use crate::space::{Point, Vector};

use super::crewmember::Crewmember;
use super::overlap::Meeting;
use super::rows::{Carried, Row};
use super::task::{Grip, Task};
use super::verify::{TURN, angle_between, gaze};

/// The solver keeps inside this share of cones and fields of view.
const INSIDE: f64 = 0.9;
/// The solver parts overlapping bodies by this much, m.
const GAP: f64 = 2e-3;

impl Crewmember<'_> {
    /// What the hands and eyes of a task lack.
    pub(super) fn task_rows(&self, task: &Task, posed: &Posed, rows: &mut Vec<Row>) {
        task.grips.iter().for_each(|grip| self.grip_rows(grip, posed, rows));
        task.look_at.iter().for_each(|at| self.gaze_rows(at, posed, rows));
    }

    /// The place of a link's origin on another's, which may move too.
    pub(super) fn held_rows(&self, (link, place): (LinkId, LinkId), posed: &Posed, rows: &mut Vec<Row>) {
        let [held, holds] = [link, place].map(|link| Point::from(posed.link(link).translation.vector));
        let carried = Carried::of(self.mechanism, posed, link, &held);
        let of_place = Carried::of(self.mechanism, posed, place, &holds);
        for k in 0..3 {
            let moves = of_place.gradient(|linear, _| linear[k]);
            let mut gradient = carried.gradient(|linear, _| linear[k]);
            gradient.iter_mut().zip(moves).for_each(|(held, moves)| *held -= moves);
            rows.push(Row { residual: held[k] - holds[k], gradient });
        }
    }

    /// Place and turn of the right boot.
    pub(super) fn boot_rows(&self, posed: &Posed, rows: &mut Vec<Row>) {
        let (boot, place) = (posed.link(self.links.right_boot), posed.link(self.links.right_boot_place));
        let at = Point::from(boot.translation.vector);
        let carried = Carried::of(self.mechanism, posed, self.links.right_boot, &at);
        let off = boot.translation.vector - place.translation.vector;
        let turn = (boot.rotation * place.rotation.inverse()).scaled_axis();
        for k in 0..3 {
            rows.push(Row { residual: off[k], gradient: carried.gradient(|linear, _| linear[k]) });
        }
        for k in 0..3 {
            // The derivative of the rotation vector, to first order in itself: exact where it matters, at zero.
            let gradient = carried.gradient(|_, angular| angular[k] - 0.5 * turn.cross(angular)[k]);
            rows.push(Row { residual: turn[k], gradient });
        }
    }

    fn grip_rows(&self, grip: &Grip, posed: &Posed, rows: &mut Vec<Row>) {
        let link = *self.links.grip.on(grip.side);
        let structure_from_grip = posed.link(link);
        let end = structure_from_grip * Point::new(0.0, 0.0, grip.tool);
        let carried = Carried::of(self.mechanism, posed, link, &end);
        let off = end - grip.at;
        for k in 0..3 {
            rows.push(Row { residual: off[k], gradient: carried.gradient(|linear, _| linear[k]) });
        }
        let Some((axis, cone)) = grip.axis else {
            return;
        };
        let out_of_hand = structure_from_grip.rotation * Vector::z();
        let angle = angle_between(&out_of_hand, &axis);
        let beyond = angle - INSIDE * cone.max(TURN);
        if beyond > 0.0 {
            // Away from the axis the angle grows with a turn about this direction; any will do at a half turn.
            let about = axis.cross(&out_of_hand).try_normalize(1e-9).unwrap_or_else(Vector::z);
            rows.push(Row { residual: beyond, gradient: carried.gradient(|_, angular| angular.dot(&about)) });
        }
    }

    fn gaze_rows(&self, at: &Point, posed: &Posed, rows: &mut Vec<Row>) {
        let structure_from_eye = posed.link(self.links.eye);
        let seen = structure_from_eye.inverse() * at;
        let (left, up) = gaze(&seen);
        let view = self.links.view.scaled(INSIDE);
        let carried = Carried::of(self.mechanism, posed, self.links.eye, at);
        let across = seen.x.hypot(seen.y).max(1e-9);
        // Seen from the head, the point moves against what the head would carry there.
        let towards_left = Vector::new(-seen.y, seen.x, 0.0) / (across * across);
        let distance = seen.coords.norm_squared().max(1e-12);
        let upwards = Vector::new(-seen.x * seen.z / across, -seen.y * seen.z / across, across) / distance;
        for (value, low, high, rate) in
            [(left, -view.sideways, view.sideways, towards_left), (up, -view.down, view.up, upwards)]
        {
            let beyond = value - value.clamp(low, high);
            if beyond != 0.0 {
                let rate = structure_from_eye.rotation * rate;
                rows.push(Row { residual: beyond, gradient: carried.gradient(|linear, _| -rate.dot(linear)) });
            }
        }
    }

    /// What two bodies lack to a small gap; none where they have it.
    pub(super) fn parting_row(&self, meeting: Meeting, posed: &Posed) -> Option<Row> {
        let (apart, link, other) = self.overlaps.measure(meeting, posed);
        let lacking = GAP - apart.lower;
        (lacking > 0.0).then(|| {
            let normal = apart.normal.into_inner();
            let own = Carried::of(self.mechanism, posed, link, &apart.point_a);
            let mut gradient = own.gradient(|linear, _| normal.dot(linear));
            if let Some(other) = other {
                let other = Carried::of(self.mechanism, posed, other, &apart.point_b);
                let away = other.gradient(|linear, _| normal.dot(linear));
                gradient.iter_mut().zip(away).for_each(|(towards, away)| *towards -= away);
            }
            Row { residual: lacking, gradient }
        })
    }
}

#[cfg(test)]
mod tests {
    use crate::crew::rows::N;
    use crate::crew::testing::{in_empty_space, task_before_the_chest};
    use crate::mechanism::random_tree::Draw;

    #[test]
    fn gradients_agree_with_finite_differences() {
        in_empty_space(|crew| {
            let mut draw = Draw(3);
            for _ in 0..20 {
                let task = task_before_the_chest(&mut draw);
                let q: [f64; N] = std::array::from_fn(|k| draw.between(crew.ranges[k].lowest, crew.ranges[k].highest));
                let rows_at = |q: &[f64; N]| {
                    let posed = crew.mechanism.pose(q);
                    let mut rows = Vec::new();
                    crew.boot_rows(&posed, &mut rows);
                    crew.task_rows(&task, &posed, &mut rows);
                    rows
                };
                let rows = rows_at(&q);
                for k in 0..N {
                    let moved = |by: f64| rows_at(&std::array::from_fn(|l| if l == k { q[l] + by } else { q[l] }));
                    let (ahead, behind) = (moved(1e-6), moved(-1e-6));
                    if ahead.len() != rows.len() || behind.len() != rows.len() {
                        continue;
                    }
                    for (index, row) in rows.iter().enumerate() {
                        // The turn of the boot (rows 3 to 5) has an approximate gradient away from zero.
                        if (3..6).contains(&index) {
                            continue;
                        }
                        let slope = (ahead[index].residual - behind[index].residual) / 2e-6;
                        assert!((slope - row.gradient[k]).abs() < 1e-5, "row {index} joint {k}");
                    }
                }
            }
        });
    }
}
