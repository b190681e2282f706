//! In which posture does a suited body do a task?
//!
//! # Law
//! Residuals: place (m) and turn (rad) of the right boot, place of each tool's end, what a hand's axis lies beyond nine
//! tenths of its cone, what the gaze lies beyond nine tenths of the field of view, and, once a posture was found to
//! overlap, what those bodies lack to a small gap. They are brought to zero near the posture that attracts
//! ([`super::descent`]) from several deterministic starts, one after another. The joint values are then rounded as they
//! are printed and count only if [`Crewmember::verify`] says so.
//!
//! What was not found in those starts isn't proven not to exist.

use crate::mechanism::{LinkId, Posed, Range};
use crate::space::{Point, Vector};

use super::crewmember::Crewmember;
use super::descent::{Descent, descend};
use super::overlap::Meeting;
use super::rows::{Carried, N, Row};
use super::suit::legs;
use super::task::{Grip, Task};
use super::verify::{Fault, TURN, Witness, angle_between, gaze};

/// Joint values are rounded to whole multiples of this many degrees.
const ROUNDED_TO: f64 = 1e-3;
/// Residuals of a solution are no larger than this before rounding, m and rad.
pub(super) const SOLVED: f64 = 1e-6;
/// The solver keeps inside this share of cones and fields of view.
const INSIDE: f64 = 0.9;
/// The solver parts overlapping bodies by this much, m.
const GAP: f64 = 2e-3;
/// Times that newly overlapping bodies are parted before a start is given up.
const PARTINGS: usize = 8;

/// How a posture is looked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PostureSearch {
    /// Where to start, rad; the neutral posture where it is missing.
    pub start: Option<[f64; N]>,
    /// What attracts joints that the task leaves free, rad; the neutral posture where it is missing.
    pub attract: Option<[f64; N]>,
    /// A posture whose legs are kept if that will do, rad: then no loop has to be closed anew on the way there.
    pub stance: Option<[f64; N]>,
    /// Starts in all.
    pub starts: usize,
}

impl Default for PostureSearch {
    fn default() -> Self {
        Self { start: None, attract: None, stance: None, starts: 12 }
    }
}

/// What a search for a posture came to.
#[derive(Clone, Debug, PartialEq)]
pub enum PostureOutcome {
    Found(Posture),
    NotFound(NoPosture),
}

/// Joint values that do a task.
#[derive(Clone, Debug, PartialEq)]
pub struct Posture {
    /// In the order of [`super::JOINTS`], rad, rounded as they are printed.
    pub q: [f64; N],
    pub witness: Witness,
}

/// The nearest that was found.
#[derive(Clone, Debug, PartialEq)]
pub struct NoPosture {
    pub nearest: [f64; N],
    pub fault: Fault,
    /// Norm of the residuals there, m and rad.
    pub residual: f64,
    pub starts: usize,
}

/// Where one descent starts.
#[derive(Clone, Copy, Debug)]
pub(super) struct Start {
    pub q: [f64; N],
    pub attract: [f64; N],
    /// The legs stay as they are in `q`, whose boots stand where they must.
    pub keeps_legs: bool,
}

impl Start {
    /// From a posture, near it.
    pub fn near(q: &[f64; N]) -> Self {
        Self { q: *q, attract: *q, keeps_legs: false }
    }
}

impl Crewmember<'_> {
    /// A posture that does the task, or the nearest found.
    pub fn solve(&self, task: &Task, search: &PostureSearch) -> PostureOutcome {
        let attract = search.attract.unwrap_or_else(|| self.neutral());
        let first = search.start.unwrap_or(attract);
        let mut parted = Vec::new();
        if let Some(stance) = &search.stance {
            let kept = self.attempt(task, &Start { q: *stance, attract, keeps_legs: true }, &mut parted);
            if let Ok(posture) = kept {
                return PostureOutcome::Found(posture);
            }
        }
        let mut nearest: Option<NoPosture> = None;
        for attempt in 0..search.starts.max(1) {
            let q = if attempt == 0 { first } else { self.scattered(attempt, &attract) };
            match self.attempt(task, &Start { q, attract, keeps_legs: false }, &mut parted) {
                Ok(posture) => return PostureOutcome::Found(posture),
                Err(no) if nearest.as_ref().is_none_or(|known| no.residual < known.residual) => nearest = Some(no),
                Err(_) => {}
            }
        }
        let nearest = nearest.expect("at least one start");
        PostureOutcome::NotFound(NoPosture { starts: search.starts.max(1), ..nearest })
    }

    /// One start: solved, and parted from what it overlaps as long as that is new.
    fn attempt(&self, task: &Task, start: &Start, parted: &mut Vec<Meeting>) -> Result<Posture, NoPosture> {
        let mut start = *start;
        let mut partings = 0;
        loop {
            let Descent { q, norm } = self.descend(task, &start, parted);
            let q = self.rounded(&q);
            let (fault, meetings) = match self.verify_or_meetings(task, &q) {
                Ok(witness) if norm <= SOLVED => return Ok(Posture { q, witness }),
                Ok(_) => (Fault::Unsolved, Vec::new()),
                Err(found) => found,
            };
            let new: Vec<Meeting> = meetings.into_iter().filter(|meeting| !parted.contains(meeting)).collect();
            if new.is_empty() || norm > SOLVED || partings == PARTINGS {
                return Err(NoPosture { nearest: q, fault, residual: norm, starts: 1 });
            }
            parted.extend(new);
            partings += 1;
            start.q = q;
        }
    }

    pub(super) fn descend(&self, task: &Task, start: &Start, parted: &[Meeting]) -> Descent {
        let mut ranges = self.ranges;
        if start.keeps_legs {
            for joint in legs() {
                ranges[joint] = Range { lowest: start.q[joint], highest: start.q[joint] };
            }
        }
        let mut posed = self.mechanism.workspace();
        let rows = |q: &[f64; N], rows: &mut Vec<Row>| {
            self.mechanism.pose_into(q, &mut posed);
            if !start.keeps_legs {
                self.boot_rows(&posed, rows);
            }
            task.grips.iter().for_each(|grip| self.grip_rows(grip, &posed, rows));
            task.look_at.iter().for_each(|at| self.gaze_rows(at, &posed, rows));
            rows.extend(parted.iter().filter_map(|meeting| self.parting_row(*meeting, &posed)));
        };
        descend(rows, &start.q, &start.attract, &ranges)
    }

    /// Each joint rounded as it is printed, inwards where its range ends between two such values.
    pub fn rounded(&self, q: &[f64; N]) -> [f64; N] {
        std::array::from_fn(|k| {
            let steps = q[k].to_degrees() / ROUNDED_TO;
            let value = |steps: f64| (steps * ROUNDED_TO).to_radians();
            [steps.round(), steps.floor(), steps.ceil()]
                .into_iter()
                .map(value)
                .find(|value| self.ranges[k].margin(*value) >= 0.0)
                .unwrap_or(q[k])
        })
    }

    /// Start number `attempt`: pseudo-random, half way from what attracts to anywhere in the joints' ranges.
    fn scattered(&self, attempt: usize, attract: &[f64; N]) -> [f64; N] {
        std::array::from_fn(|k| {
            let range = self.ranges[k];
            let anywhere = range.lowest + (range.highest - range.lowest) * share(attempt * N + k);
            0.5 * (attract[k] + anywhere)
        })
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

    fn parting_row(&self, meeting: Meeting, posed: &Posed) -> Option<Row> {
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

/// Pseudo-random share between 0 and 1, always the same for a number (SplitMix64; Steele, Lea, Flood 2014).
fn share(number: usize) -> f64 {
    let mut z = (number as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::crew::testing::{in_empty_space, task_before_the_chest};
    use crate::crew::{Obstacle, Surroundings};
    use crate::mechanism::random_tree::Draw;
    use crate::mechanism::{BodyId, PartId};
    use crate::space::{PosedConvex, PosedCore};

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
                    task.grips.iter().for_each(|grip| crew.grip_rows(grip, &posed, &mut rows));
                    crew.gaze_rows(&task.look_at.expect("seen"), &posed, &mut rows);
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

    #[test]
    fn the_boot_rows_are_zero_in_the_closed_posture_and_the_joints_in_range() {
        in_empty_space(|crew| {
            let PostureOutcome::Found(posture) = crew.solve(&Task::default(), &PostureSearch::default()) else {
                panic!("no way to stand on the plate")
            };
            let mut rows = Vec::new();
            crew.boot_rows(&crew.mechanism.pose(&posture.q), &mut rows);
            assert!(rows.iter().all(|row| row.residual.abs() < 1e-4));
            assert!(posture.q.iter().zip(&crew.ranges).all(|(q, range)| range.margin(*q) >= 0.0));
        });
    }

    #[test]
    fn nearly_all_targets_before_the_chest_are_reached_and_solved_to_a_micrometre() {
        in_empty_space(|crew| {
            let mut draw = Draw(11);
            let mut found = 0;
            for _ in 0..200 {
                let task = task_before_the_chest(&mut draw);
                let exact = crew.descend(&task, &Start::near(&crew.neutral()), &[]);
                if let PostureOutcome::Found(posture) = crew.solve(&task, &PostureSearch::default()) {
                    found += 1;
                    assert!(posture.witness.grips[0].distance < 1e-4, "rounding moves the hand by less");
                }
                assert!(exact.norm < SOLVED || exact.norm > 1e-3, "neither solved nor clearly not: {}", exact.norm);
            }
            assert!(found >= 180, "{found} of 200");
        });
    }

    #[test]
    fn a_stance_is_kept_where_trunk_and_arms_will_do_and_given_up_where_not() {
        in_empty_space(|crew| {
            let PostureOutcome::Found(standing) = crew.solve(&Task::default(), &PostureSearch::default()) else {
                panic!("no way to stand on the plate")
            };
            let search = PostureSearch { stance: Some(standing.q), ..PostureSearch::default() };
            let mut draw = Draw(29);
            let (mut kept, mut found) = (0, 0);
            for _ in 0..100 {
                let task = task_before_the_chest(&mut draw);
                if let PostureOutcome::Found(posture) = crew.solve(&task, &search) {
                    found += 1;
                    kept += usize::from(legs().all(|joint| posture.q[joint] == standing.q[joint]));
                }
            }
            assert!(found >= 90, "{found} found");
            assert!(kept > 20 && kept < found, "{kept} kept of {found}");
        });
    }

    #[test]
    fn bodies_that_overlap_are_parted_or_the_fault_names_them() {
        // A ball where the elbow would be: the arm goes round it. A ball where the hand must be: no way.
        let (mechanism, links) = crate::crew::testing::standing();
        let empty = Surroundings::none();
        let crew = Crewmember::new(&mechanism, &links, &empty);
        let mut draw = Draw(31);
        let part = PartId { body: BodyId(0), part: 0 };
        let (mut rounded, mut tried) = (0, 0);
        for _ in 0..30 {
            let task = task_before_the_chest(&mut draw);
            let PostureOutcome::Found(posture) = crew.solve(&task, &PostureSearch::default()) else {
                continue;
            };
            let side = task.grips[0].side;
            let elbow = crew.mechanism.pose(&posture.q).link(*links.forearm.on(side)).translation.vector;
            let ball = |centre: Point| PosedConvex { core: PosedCore::Point(centre), radius: 0.02 };
            let among = |centre: Point| Surroundings {
                obstacles: vec![Obstacle::new(part, ball(centre))],
                may_touch: &|_, _| false,
            };
            let surroundings = among(Point::from(elbow));
            let beside = Crewmember::new(&mechanism, &links, &surroundings);
            assert!(matches!(beside.verify(&task, &posture.q), Err(Fault::Overlap(_))));
            tried += 1;
            rounded += usize::from(matches!(beside.solve(&task, &PostureSearch::default()), PostureOutcome::Found(_)));

            let hand = crew.mechanism.pose(&posture.q).link(*links.grip.on(side)).translation.vector;
            if task.grips[0].tool == 0.0 {
                let surroundings = among(Point::from(hand));
                let blocked = Crewmember::new(&mechanism, &links, &surroundings);
                let PostureOutcome::NotFound(no) = blocked.solve(&task, &PostureSearch::default()) else {
                    panic!("a hand inside a ball")
                };
                assert_eq!(no.starts, PostureSearch::default().starts);
            }
        }
        assert!(rounded * 10 >= tried * 9, "{rounded} of {tried}");
    }
}
