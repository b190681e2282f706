//! What is there to be checked, with what every check of it needs?
//!
//! What several checks share is found here once: the postures, and the bounds of motions, of changes of posture and of
//! moments at rest. What one check alone needs, such as lines of sight, it computes itself. A piece that is known has been
//! judged, too.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use rayon::prelude::*;

use crate::crew::{Crewmember, JOINTS, PostureOutcome, PostureSearch, Reach, Side, Surroundings, Task};
use crate::mechanism::{BodyId, Mechanism};
use crate::model::{Hands, Target, Who, Worksite};
use crate::motion::{Clearance, JointPace, LeastSingularValue, Overrun, Segment, SegmentTime, segment_time};
use crate::space::Pose;
use crate::state::{
    ArmAlone, Assembly, Doing, Event, Extras, Move, Rest, Scene, Stance, Standing, Stay, Walk, WorkedOn,
};

use super::bounded::{Bounded, Stretches};
use super::change::{Way, bound_change, detours};
use super::finding::Finding;
use super::grouping::PairRules;
use super::known::Known;
use super::pace::{self, TipLimit, joint_paces, tip_limits};
use super::piece::{Piece, Said};
use super::progress::{Progress, Stopped, go_on};
use super::rest::RestCase;
use super::stance::StanceCase;
use super::{CHECKS, Check};

/// A plan, walked, with postures found and motions bounded.
pub struct Case<'a> {
    pub scene: &'a Scene<'a>,
    pub walk: &'a Walk,
    pub stays: Vec<Arc<StayCase>>,
    pub moves: Vec<Arc<MoveCase>>,
    pub rests: Vec<Arc<RestCase>>,
    pub stances: Vec<Arc<StanceCase>>,
}

/// One stay, with a posture for each thing that is done.
pub struct StayCase {
    pub stay: Arc<Stay>,
    pub site: Worksite,
    /// The boot plate on which they stand.
    pub structure_from_plate: Pose,
    pub uses: Vec<UseCase>,
    /// From the last posture back to the one in which they came; none where there is no way to go.
    pub back: Option<Result<Change, String>>,
    pub(super) said: Said,
}

/// One target or payload of a stay, and the posture that was found for it.
pub struct UseCase {
    /// The target's or payload's id.
    pub subject: String,
    pub target: Option<Target>,
    pub sides: Vec<Side>,
    pub task: Task,
    pub standing: Standing,
    pub outcome: PostureOutcome,
    /// How much farther the hands reach; none for a target in the shoulder.
    pub reach: Option<Reach>,
    /// From the posture before to this one; none where it was not bounded, with the reason.
    pub change: Result<Change, String>,
}

/// A bounded change of posture.
pub struct Change {
    pub mechanism: Mechanism,
    pub segments: Vec<Segment>,
    pub clearance: Clearance,
    /// Solids, and bodies inside them.
    pub swallowed: Vec<[BodyId; 2]>,
    /// How it goes where the straight way breaks a limit.
    pub detour: Option<&'static str>,
}

/// One motion, timed and bounded.
pub struct MoveCase {
    pub moved: Arc<Move>,
    pub assembly: Assembly,
    pub arm: ArmAlone,
    /// Nothing but the arm, or the base, or the restraint, still moves.
    pub frozen: Mechanism,
    /// What each joint can do; none where the arm's file does not say.
    pub paces: Option<Vec<JointPace>>,
    /// The tip's speed limit on each segment.
    pub tip_limits: Vec<TipLimit>,
    /// Of each segment; none where it can't be timed.
    pub times: Vec<Option<SegmentTime>>,
    pub clearance: Clearance,
    /// Of the arm's motions, where it could be had.
    pub least_singular: Option<LeastSingularValue>,
    /// Solids, and bodies inside them at the start.
    pub swallowed: Vec<[BodyId; 2]>,
    pub(super) said: Said,
}

impl<'a> Case<'a> {
    /// Finds every posture, bounds every motion and makes every check of what is not known yet.
    ///
    /// # Errors
    /// [`Stopped`] when the flag goes up.
    pub fn new(
        (scene, walk): (&'a Scene<'a>, &'a Walk),
        known: &Known,
        progress: &dyn Progress,
        stop: &AtomicBool,
    ) -> Result<Self, Stopped> {
        let moves: Vec<&Arc<Move>> = walk
            .events
            .iter()
            .filter_map(|event| match event {
                Event::Move(moved) => Some(moved),
                Event::Stance(_) | Event::Stay(_) | Event::NotChecked { .. } => None,
            })
            .collect();
        let stays: Vec<&Arc<Stay>> = walk
            .events
            .iter()
            .filter_map(|event| match event {
                Event::Stay(stay) => Some(stay),
                Event::Stance(_) | Event::Move(_) | Event::NotChecked { .. } => None,
            })
            .collect();
        let stances: Vec<&Arc<Stance>> = walk.stances().collect();
        let units = moves.len() + stays.len() + walk.rests.len() + stances.len();
        progress.begin("motions and postures", units as u64);
        let bounded = || {
            let bound = |moved: &&Arc<Move>| {
                go_on(stop)?;
                let case =
                    known.motion(moved).cloned().unwrap_or_else(|| Arc::new(MoveCase::new(scene, moved).judged(scene)));
                progress.advance();
                Ok(case)
            };
            moves.par_iter().map(bound).collect::<Vec<Result<_, Stopped>>>()
        };
        let searched = || {
            let search = |stay: &&Arc<Stay>| {
                let site = site(scene, stay);
                let case = match known.stay(stay, site) {
                    Some(case) => Arc::clone(case),
                    None => Arc::new(StayCase::new(scene, (stay, site), stop)?.judged(scene)),
                };
                progress.advance();
                Ok(case)
            };
            stays.par_iter().map(search).collect::<Vec<Result<_, Stopped>>>()
        };
        let rested = || {
            let bound = |rest: &Arc<Rest>| {
                go_on(stop)?;
                let case =
                    known.rest(rest).cloned().unwrap_or_else(|| Arc::new(RestCase::new(scene, rest).judged(scene)));
                progress.advance();
                Ok(case)
            };
            walk.rests.par_iter().map(bound).collect::<Vec<Result<_, Stopped>>>()
        };
        let taken = || {
            let bound = |stance: &&Arc<Stance>| {
                go_on(stop)?;
                let case = known
                    .stance(stance)
                    .cloned()
                    .or_else(|| StanceCase::new(scene, stance).map(|case| Arc::new(case.judged(scene))));
                progress.advance();
                Ok(case)
            };
            stances.par_iter().map(bound).collect::<Vec<Result<_, Stopped>>>()
        };
        let ((moves, stays), (rests, stances)) =
            rayon::join(|| rayon::join(bounded, searched), || rayon::join(rested, taken));
        let stances: Vec<Option<Arc<StanceCase>>> = stances.into_iter().collect::<Result<_, _>>()?;
        Ok(Self {
            scene,
            walk,
            stances: stances.into_iter().flatten().collect(),
            stays: stays.into_iter().collect::<Result<_, _>>()?,
            moves: moves.into_iter().collect::<Result<_, _>>()?,
            rests: rests.into_iter().collect::<Result<_, _>>()?,
        })
    }

    /// What all checks find in the pieces, in their order; nothing of the plan as a whole.
    pub(super) fn findings_of_pieces(&self) -> Vec<Finding> {
        (0..CHECKS.len()).flat_map(|number| self.findings_of_check(number)).collect()
    }

    fn findings_of_check(&self, number: usize) -> impl Iterator<Item = Finding> {
        self.said().flat_map(move |said| said.findings[number].iter().cloned())
    }

    /// What all checks find, in their order.
    pub fn findings(&self) -> Vec<Finding> {
        let of_check = |(number, check): (usize, &Check)| {
            let of_pieces = self.findings_of_check(number);
            of_pieces.chain(check.of_plan.map(|of_plan| of_plan(self)).unwrap_or_default()).collect::<Vec<_>>()
        };
        CHECKS.iter().enumerate().flat_map(of_check).collect()
    }

    /// What is said of every piece.
    pub(super) fn said(&self) -> impl Iterator<Item = &Said> {
        let moves = self.moves.iter().map(|moved| &moved.said);
        let stays = self.stays.iter().map(|stay| &stay.said);
        let stances = self.stances.iter().map(|stance| &stance.said);
        moves.chain(stays).chain(stances).chain(self.rests.iter().map(|rest| &rest.said))
    }
}

impl MoveCase {
    /// Times and bounds a motion.
    pub fn new(scene: &Scene, moved: &Arc<Move>) -> Self {
        let extras = Extras { base: moved.base, ..Extras::default() };
        let assembly = Assembly::with(scene, &moved.moment, &extras);
        let arm = ArmAlone::new(scene, &moved.moment.stand);
        let frozen = assembly.moving(moved.kind);
        let paces = joint_paces(scene, moved);
        let tip_limits = tip_limits(scene, moved, (&assembly, &frozen));
        let times: Vec<Option<SegmentTime>> = moved
            .segments
            .iter()
            .zip(&moved.fixed_seconds)
            .zip(&tip_limits)
            .map(|((segment, fixed), limit)| {
                let paces = paces.as_ref()?;
                Some(match fixed {
                    Some(seconds) => pace::lasting(segment, paces, *seconds),
                    None => {
                        let speeds = pace::tip_speeds_of(&frozen, assembly.arm.tip, segment);
                        segment_time(&segment.change(), paces, &speeds, limit.speed)
                    }
                })
            })
            .collect();
        let bodies = (&assembly, &frozen);
        let (Bounded { clearance, swallowed }, least_singular) = rayon::join(
            || bound_motion(scene, moved, bodies, (&times, paces.as_deref())),
            || super::singularity::least(scene, &arm, moved),
        );
        Self {
            moved: Arc::clone(moved),
            swallowed,
            arm,
            frozen,
            paces,
            tip_limits,
            times,
            clearance,
            least_singular,
            assembly,
            said: Said::default(),
        }
    }

    /// The same, with what is said of it.
    fn judged(self, scene: &Scene) -> Self {
        Self { said: Said::of(scene, Piece::Move(&self)), ..self }
    }

    /// Seconds from the motion's start, if it is timed.
    pub fn seconds_at(&self, segment: usize, fraction: f64) -> Option<f64> {
        let before: f64 =
            self.times[..segment].iter().map(|time| Some(time.as_ref()?.seconds())).sum::<Option<f64>>()?;
        Some(before + self.times.get(segment)?.as_ref()?.seconds_at(fraction))
    }

    /// Duration, if it is timed.
    pub fn seconds(&self) -> Option<f64> {
        self.times.iter().map(|time| Some(time.as_ref()?.seconds())).sum()
    }
}

/// Bounds the clearance of a motion; `frozen` is the assembly in which nothing but what the motion drives still moves.
pub fn bound_motion(
    scene: &Scene,
    moved: &Move,
    (assembly, frozen): (&Assembly, &Mechanism),
    (times, paces): (&[Option<SegmentTime>], Option<&[JointPace]>),
) -> Bounded {
    let timed = moved.segments.iter().zip(times);
    let overruns: Vec<Overrun> =
        timed.map(|(segment, time)| stopping_overrun(scene, segment, time.as_ref(), paces)).collect();
    let rules = PairRules::of_move(scene, moved, assembly, frozen);
    Stretches { mechanism: frozen, segments: &moved.segments, rules: &rules, overrun: &overruns }.bound(|_| true)
}

/// What each joint may overrun when stopped on a segment; nothing where it is untimed.
pub fn stopping_overrun(
    scene: &Scene,
    segment: &Segment,
    time: Option<&SegmentTime>,
    paces: Option<&[JointPace]>,
) -> Overrun {
    let (Some(time), Some(paces)) = (time, paces) else { return Overrun::default() };
    Overrun::of(&segment.change(), paces, time.clone(), scene.project.plan.limits.stop_reaction_s)
}

impl StayCase {
    fn new(scene: &Scene, (stay, site): (&Arc<Stay>, &Worksite), stop: &AtomicBool) -> Result<Self, Stopped> {
        let found: Vec<Result<Option<UseCase>, Stopped>> = wanted(scene, stay, site)
            .par_iter()
            .map(|wanted| {
                go_on(stop)?;
                Ok(wanted.best(scene, stay).map(UseCase::with_reach))
            })
            .collect();
        let found: Vec<Option<UseCase>> = found.into_iter().collect::<Result<_, _>>()?;
        let mut uses: Vec<UseCase> = found.into_iter().flatten().collect();
        // Each change begins in the posture before it.
        let mut at = resting(stay).map(|rest| (rest, None));
        let mut befores = Vec::new();
        for used in &uses {
            befores.push(at.clone());
            at = used.found().map(|q| (*q, Some(used.task.clone()))).or(at);
        }
        let change = |(used, before): (&UseCase, Option<_>)| {
            go_on(stop)?;
            Ok(match (used.found(), &before) {
                (None, _) => Err("no posture was found".to_owned()),
                (Some(_), None) => Err("nobody stood there before".to_owned()),
                (Some(to), Some((from, doing))) => {
                    let ends = [(from, Option::<Task>::as_ref(doing)), (to, Some(&used.task))];
                    bound_at_work(scene, stay, &used.standing, ends)
                }
            })
        };
        let (changes, back) = rayon::join(
            || uses.par_iter().zip(befores).map(change).collect::<Vec<Result<_, Stopped>>>(),
            || way_back(scene, stay, &uses),
        );
        for (used, change) in uses.iter_mut().zip(changes) {
            used.change = change?;
        }
        let structure_from_plate = plate(scene, stay);
        let (stay, site) = (Arc::clone(stay), site.clone());
        Ok(Self { stay, site, structure_from_plate, uses, back, said: Said::default() })
    }

    /// The same, with what is said of it.
    fn judged(self, scene: &Scene) -> Self {
        Self { said: Said::of(scene, Piece::Stay(&self)), ..self }
    }
}

/// Bounds a change of posture during a stay, from one end to the other: each with what is done there, if anything is.
fn bound_at_work(
    scene: &Scene,
    stay: &Stay,
    standing: &Standing,
    ends: [(&[f64; JOINTS.len()], Option<&Task>); 2],
) -> Result<Change, String> {
    let contact_steps = [stay.step.as_str()];
    let rest = resting(stay);
    let done = ends.map(|(q, task)| task.map(|task| (task, q)));
    let detours = || detours(scene, (standing, &contact_steps), rest.as_ref(), done);
    let [(from, _), (to, _)] = ends;
    bound_change(scene, standing, &Way { from, to, contact_steps: &contact_steps, distance: 0.0, detours: &detours })
}

/// From the last posture that was found, its tool still in hand, back to rest; hands that took a payload stay on it.
fn way_back(scene: &Scene, stay: &Stay, uses: &[UseCase]) -> Option<Result<Change, String>> {
    let (last, to) = (uses.iter().rev().find(|used| used.found().is_some())?, resting(stay)?);
    let from = last.found().filter(|from| !matches!(stay.doing, Doing::Take { .. }) && **from != to)?;
    Some(bound_at_work(scene, stay, &last.standing, [(from, Some(&last.task)), (&to, None)]))
}

impl UseCase {
    fn with_reach(self) -> Self {
        Self { reach: self.measured_reach(), ..self }
    }

    /// The posture, if one was found (rad).
    fn found(&self) -> Option<&[f64; JOINTS.len()]> {
        match &self.outcome {
            PostureOutcome::Found(posture) => Some(&posture.q),
            PostureOutcome::NotFound(_) => None,
        }
    }

    /// The reach margin, in empty surroundings and wherever the eyes look: what stands behind the target would leave it
    /// none.
    fn measured_reach(&self) -> Option<Reach> {
        let surroundings = Surroundings::none();
        let crew = Crewmember::new(&self.standing.frozen, &self.standing.links, &surroundings);
        crew.reach(&Task { look_at: None, ..self.task.clone() }, self.found())
    }
}

/// The boot plate of who stays, in the structure's frame.
fn plate(scene: &Scene, stay: &Stay) -> Pose {
    let assembly = Assembly::new(scene, &stay.moment);
    let second = assembly.second_crew.as_ref().filter(|_| stay.who == Who::SecondCrew);
    *assembly.posed.link(second.map_or(assembly.restraint.plate, |second| second.restraint.plate))
}

/// The worksite of a stay.
fn site<'a>(scene: &'a Scene, stay: &Stay) -> &'a Worksite {
    let worksites = &scene.project.plan.worksite;
    worksites.iter().find(|site| site.id == stay.worksite).expect("a stay is at a worksite")
}

/// Body joints (rad) with which the crewmember comes to a stay.
fn resting(stay: &Stay) -> Option<[f64; JOINTS.len()]> {
    let body = match stay.who {
        Who::Rider => stay.moment.rider.as_ref(),
        Who::SecondCrew => stay.moment.second_crew.as_ref().map(|second| &second.body),
    };
    body?.as_slice().try_into().ok()
}

/// One thing to be done, before it is known with which hand.
pub struct Wanted<'a> {
    /// The target's or payload's id.
    pub subject: String,
    pub target: Option<&'a Target>,
    /// Sets of hands that may do it.
    pub choices: Vec<Vec<Side>>,
    held: Option<usize>,
    structure_from_payload: Option<Pose>,
}

/// All that is to be done during a stay.
pub fn wanted<'a>(scene: &'a Scene, stay: &Stay, site: &'a Worksite) -> Vec<Wanted<'a>> {
    let payload = |payload: usize, pose: Pose| {
        vec![Wanted {
            subject: scene.project.plan.payload[payload].id.clone(),
            target: None,
            choices: vec![vec![Side::Left, Side::Right]],
            held: Some(payload),
            structure_from_payload: Some(pose),
        }]
    };
    match &stay.doing {
        Doing::Work { targets } => targets
            .iter()
            .filter_map(|id| site.target.iter().find(|target| target.id == *id))
            .map(|target| Wanted {
                subject: target.id.clone(),
                target: Some(target),
                choices: match target.hands {
                    Hands::Left => vec![vec![Side::Left]],
                    Hands::Right => vec![vec![Side::Right]],
                    Hands::Either => vec![vec![Side::Right], vec![Side::Left]],
                    Hands::Both => vec![vec![Side::Left, Side::Right]],
                },
                held: None,
                structure_from_payload: None,
            })
            .collect(),
        Doing::Take { payload: taken } => match stay.moment.payloads[*taken] {
            crate::state::Carried::Standing { structure_from_payload } => payload(*taken, structure_from_payload),
            crate::state::Carried::InHands { .. } => Vec::new(),
        },
        Doing::Place { payload: placed, structure_from_payload, .. } => payload(*placed, *structure_from_payload),
    }
}

impl Wanted<'_> {
    /// The choice of hands whose posture is nearest to the neutral one; where none is found, the first.
    fn best(&self, scene: &Scene, stay: &Stay) -> Option<UseCase> {
        let mut best: Option<(f64, UseCase)> = None;
        for sides in &self.choices {
            let Some(case) = self.with(scene, stay, sides) else { continue };
            let strain = match &case.outcome {
                PostureOutcome::Found(posture) => {
                    posture.q.iter().zip(&case.standing.links.neutral).map(|(a, b)| (a - b).powi(2)).sum()
                }
                PostureOutcome::NotFound(_) => f64::INFINITY,
            };
            if best.as_ref().is_none_or(|(least, _)| strain < *least) {
                best = Some((strain, case));
            }
        }
        best.map(|(_, case)| case)
    }

    /// The crewmember of a stay with what these hands need, everything else frozen; none if nobody stands there.
    pub fn standing(&self, scene: &Scene, stay: &Stay, sides: &[Side]) -> Option<Standing> {
        let tool = self.target.map_or(0.0, |target| target.tool_m);
        let with_tool = sides.iter().filter(|_| tool > 0.0);
        let extras = Extras {
            held: self.held,
            tools: with_tool.map(|side| (stay.who, *side, tool)).collect(),
            worked_on: self.target.map(|target| WorkedOn::at(target, stay.who)).unwrap_or_default(),
            ..Extras::default()
        };
        Standing::new(Assembly::with(scene, &stay.moment, &extras), stay.who)
    }

    /// What these hands must do, the boots on a plate at `structure_from_plate`.
    pub fn task(&self, scene: &Scene, sides: &[Side], structure_from_plate: &Pose) -> Task {
        match (self.target, self.structure_from_payload, self.held) {
            (Some(target), _, _) => Task::at_target(target, sides, structure_from_plate),
            (None, Some(pose), Some(held)) => Task::at_handles(&scene.project.plan.payload[held], &pose),
            _ => unreachable!("a target or a payload"),
        }
    }

    fn with(&self, scene: &Scene, stay: &Stay, sides: &[Side]) -> Option<UseCase> {
        let standing = self.standing(scene, stay, sides)?;
        let task = self.task(scene, sides, standing.assembly.posed.link(standing.links.plate));
        let search = PostureSearch { stance: resting(stay), ..PostureSearch::default() };
        let outcome = standing.ask(scene, &[&stay.step], |crew| crew.solve(&task, &search));
        Some(UseCase {
            subject: self.subject.clone(),
            target: self.target.cloned(),
            sides: sides.to_vec(),
            task,
            standing,
            outcome,
            reach: None,
            change: Err("no posture was found".to_owned()),
        })
    }
}
