//! In which posture does a suited body do a task?
//!
//! # Law
//! The task's residuals ([`super::residuals`]) and, once a posture was found to overlap, what those bodies lack to a small
//! gap, are brought to zero near the posture that attracts ([`super::descent`]), from several deterministic starts, one
//! after another. The joint values are then rounded as they are printed and count only if [`Crewmember::verify`] says so.
//!
//! What was not found in those starts isn't proven not to exist.

use crate::mechanism::Range;

use super::crewmember::Crewmember;
use super::descent::{Descent, descend};
use super::overlap::Meeting;
use super::rows::{N, Row};
use super::suit::legs;
use super::task::Task;
use super::verify::{Fault, Witness};

/// Joint values are rounded to so many equal parts of a degree.
const PARTS_OF_DEGREE: f64 = 1000.0;
/// Residuals of a solution are no larger than this before rounding, m and rad.
pub(super) const SOLVED: f64 = 1e-6;
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

impl Crewmember<'_> {
    /// A posture that does the task, or the nearest found.
    pub fn solve(&self, task: &Task, search: &PostureSearch) -> PostureOutcome {
        let attract = search.attract.unwrap_or_else(|| self.neutral());
        let first = search.start.unwrap_or(attract);
        let mut parted = Vec::new();
        if let Some(stance) = search.stance {
            let kept = self.attempt(task, Start { q: stance, attract, keeps_legs: true }, &mut parted);
            if let PostureOutcome::Found(posture) = kept {
                return PostureOutcome::Found(posture);
            }
        }
        let starts = search.starts.max(1);
        let mut nearest: Option<NoPosture> = None;
        for attempt in 0..starts {
            let q = if attempt == 0 { first } else { self.scattered(attempt, &attract) };
            match self.attempt(task, Start { q, attract, keeps_legs: false }, &mut parted) {
                PostureOutcome::Found(posture) => return PostureOutcome::Found(posture),
                PostureOutcome::NotFound(no) if nearest.as_ref().is_none_or(|known| no.residual < known.residual) => {
                    nearest = Some(NoPosture { starts, ..no });
                }
                PostureOutcome::NotFound(_) => {}
            }
        }
        PostureOutcome::NotFound(nearest.expect("at least one start"))
    }

    /// One start: solved, and parted from what it overlaps as long as that is new.
    fn attempt(&self, task: &Task, mut start: Start, parted: &mut Vec<Meeting>) -> PostureOutcome {
        let mut partings = 0;
        loop {
            let Descent { q, norm } = self.descend(task, &start, parted);
            let q = self.rounded(&q);
            let (fault, meetings) = match self.verify_or_meetings(task, &q) {
                Ok(witness) if norm <= SOLVED => return PostureOutcome::Found(Posture { q, witness }),
                Ok(_) => (Fault::Unsolved, Vec::new()),
                Err(found) => found,
            };
            let new: Vec<Meeting> = meetings.into_iter().filter(|meeting| !parted.contains(meeting)).collect();
            if new.is_empty() || norm > SOLVED || partings == PARTINGS {
                return PostureOutcome::NotFound(NoPosture { nearest: q, fault, residual: norm, starts: 1 });
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
            self.task_rows(task, &posed, rows);
            rows.extend(parted.iter().filter_map(|meeting| self.parting_row(*meeting, &posed)));
        };
        descend(rows, &start.q, &start.attract, &ranges)
    }

    /// Each joint rounded as it is printed, inwards where its range ends between two such values.
    pub fn rounded(&self, q: &[f64; N]) -> [f64; N] {
        std::array::from_fn(|k| {
            let parts = q[k] / 1f64.to_radians() * PARTS_OF_DEGREE;
            // A quotient of whole numbers is the value that the printed decimals are read back as.
            let value = |parts: f64| (parts / PARTS_OF_DEGREE).to_radians();
            [parts.round(), parts.floor(), parts.ceil()]
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
    use crate::crew::testing::{in_empty_space, near, task_before_the_chest};
    use crate::crew::{Obstacle, Surroundings};
    use crate::mechanism::random_tree::Draw;
    use crate::mechanism::{BodyId, PartId};
    use crate::space::{Point, PosedConvex, PosedCore};

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
                let exact = crew.descend(&task, &near(&crew.neutral()), &[]);
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

    #[test]
    fn rounded_values_are_those_that_are_read_back_and_stay_in_range() {
        in_empty_space(|crew| {
            let mut draw = Draw(37);
            for _ in 0..200 {
                let q = std::array::from_fn(|k| draw.between(crew.ranges[k].lowest, crew.ranges[k].highest));
                let rounded = crew.rounded(&q);
                for k in 0..N {
                    let read_back = format!("{:.3}", rounded[k] / 1f64.to_radians()).parse::<f64>().expect("a number");
                    assert_eq!(read_back.to_radians(), rounded[k]);
                    assert!((rounded[k] - q[k]).abs() <= 1e-3f64.to_radians());
                    assert!(crew.ranges[k].margin(rounded[k]) >= 0.0);
                }
            }
            let ends = crew.ranges.map(|range| range.highest);
            assert_eq!(crew.rounded(&ends), ends);
        });
    }
}
