//! What happens, step by step?
//!
//! Steps are walked in the order in which they stand in the plan. What this version does not model becomes an event that
//! says why it is not checked.

use std::ops::Range as Span;
use std::sync::Arc;

use crate::crew::{JOINTS, PostureOutcome};
use crate::mechanism::{Goal, InverseKinematics, Solved};
use crate::model::{Deed, Step, Waypoint, Who, Worksite};
use crate::motion::Segment;
use crate::space::{Vector, pose};

use super::arm_alone::ArmAlone;
use super::assembly::Assembly;
use super::base_way::base_motion;
use super::event::{Doing, Event, Fault, MotionKind, Move, Stay};
use super::moment::{Carried, Moment, SecondCrew};
use super::postures;
use super::rest::{self, Rest};
use super::scene::Scene;
use super::stance::Stance;

/// A whole plan, walked.
#[derive(Clone, Debug)]
pub struct Walk {
    pub events: Vec<Event>,
    /// Moments at which everything stands still at a worksite, in the plan's order.
    pub rests: Vec<Arc<Rest>>,
}

impl Walk {
    /// Postures that crewmembers get into to stand or to be carried, in the plan's order.
    pub fn stances(&self) -> impl DoubleEndedIterator<Item = &Arc<Stance>> {
        self.events.iter().filter_map(|event| match event {
            Event::Stance(stance) => Some(stance),
            Event::Stay(_) | Event::Move(_) | Event::NotChecked { .. } => None,
        })
    }
}

/// Walks the plan from its first step to its last.
pub fn walk(scene: &Scene) -> Walk {
    walk_steps(scene, beginning(scene), 0..scene.project.plan.step.len()).0
}

/// Walks some steps of the plan from what is the case before the first of them, and says what is after the last.
pub fn walk_steps(scene: &Scene, before: Moment, steps: Span<usize>) -> (Walk, Moment) {
    let plan = &scene.project.plan;
    let ids: Vec<String> = plan.step.iter().enumerate().map(|(number, step)| step.id_at(number)).collect();
    let mut walker = Walker { scene, now: before, ids, events: Vec::new(), rests: Vec::new() };
    for (number, step) in plan.step.iter().enumerate().take(steps.end).skip(steps.start) {
        walker.take_step(number, step);
    }
    (Walk { events: walker.events, rests: walker.rests }, walker.now)
}

/// Everything in its first place: the arm where the first worksite that the rider goes to asks for it, nobody outside.
pub fn beginning(scene: &Scene) -> Moment {
    let plan = &scene.project.plan;
    let first = plan.step.iter().filter(|step| step.who == Who::Rider).find_map(|step| step.to.as_deref());
    let worksite = first.and_then(|id| worksite(scene, id)).or(plan.worksite.first());
    let worksite = worksite.expect("reading a plan demands a worksite");
    Moment {
        stand: worksite.stand.clone(),
        arm: scene.joint_values(&worksite.joints),
        detents: worksite.detents.iter().map(|angle| angle.radians()).collect(),
        rider: None,
        second_crew: None,
        payloads: plan
            .payload
            .iter()
            .map(|payload| Carried::Standing { structure_from_payload: scene.seat(&payload.seat) })
            .collect(),
        worksite: Some(worksite.id.clone()),
    }
}

fn worksite<'a>(scene: &'a Scene, id: &str) -> Option<&'a Worksite> {
    scene.project.plan.worksite.iter().find(|worksite| worksite.id == id)
}

struct Walker<'a> {
    scene: &'a Scene<'a>,
    now: Moment,
    ids: Vec<String>,
    events: Vec<Event>,
    rests: Vec<Arc<Rest>>,
}

impl Walker<'_> {
    fn take_step(&mut self, number: usize, step: &Step) {
        match (step.who, step.deed) {
            (Who::Rider, Deed::Ingress) => {
                let site = step.to.as_deref().and_then(|id| worksite(self.scene, id));
                if let Some(site) = site.filter(|site| self.now.worksite.as_deref() != Some(site.id.as_str())) {
                    let reason = "how the empty arm gets to this worksite is not in the plan";
                    self.not_checked(number, Who::Rider, reason);
                    self.arrive(site);
                }
                self.stand_at_rest(number, Who::Rider, step.posture.as_deref(), None);
                self.rest(number, Who::Rider, None);
            }
            (Who::Rider, Deed::Egress) => self.now.rider = None,
            (Who::SecondCrew, Deed::Ingress) => self.second_crew_gets_in(number, step),
            (Who::SecondCrew, Deed::Egress) => self.now.second_crew = None,
            (Who::Rider, Deed::Transit) => self.transit(number, step),
            (Who::Rider, Deed::MoveBase) => self.move_base(number, step),
            (who, Deed::Work) => self.work(number, step, who),
            (Who::Rider, Deed::Take) => self.take(number, step),
            (Who::Rider, Deed::Place) => self.place(number, step),
            (Who::SecondCrew, Deed::Transit | Deed::MoveBase | Deed::Take | Deed::Place) => {
                self.not_checked(
                    number,
                    step.who,
                    "moving by handrail and handling payloads by the second crew are not modelled",
                );
            }
        }
    }

    fn not_checked(&mut self, number: usize, who: Who, reason: &str) {
        self.events.push(Event::NotChecked { step: self.ids[number].clone(), who, reason: reason.to_owned() });
    }

    fn second_crew_gets_in(&mut self, number: usize, step: &Step) {
        let site = step.to.as_deref().and_then(|id| worksite(self.scene, id));
        let Some((site, place)) = site.and_then(|site| Some((site, site.second_crew.as_ref()?))) else {
            self.not_checked(number, Who::SecondCrew, "the worksite has no restraint for the second crew");
            return;
        };
        self.now.second_crew = Some(SecondCrew {
            worksite: site.id.clone(),
            socket: place.socket.clone(),
            detents: place.detents.iter().map(|angle| angle.radians()).collect(),
            body: Vec::new(),
        });
        self.stand_at_rest(number, Who::SecondCrew, step.posture.as_deref(), None);
        self.rest(number, Who::SecondCrew, None);
    }

    /// Everything stands still at one crewmember's worksite.
    fn rest(&mut self, number: usize, who: Who, placed: Option<usize>) {
        let worksite = match who {
            Who::Rider => self.now.worksite.clone(),
            Who::SecondCrew => self.now.second_crew.as_ref().map(|second| second.worksite.clone()),
        };
        let Some(worksite) = worksite else { return };
        let rest = Rest { step: self.ids[number].clone(), worksite, who, moment: self.now.clone(), placed };
        rest::add(&mut self.rests, rest, &self.scene.project.plan.contact);
    }

    /// Lets a crewmember stand with free hands, which let go of a payload if one is named; where no posture is found, the
    /// nearest stands in its place.
    fn stand_at_rest(&mut self, number: usize, who: Who, posture: Option<&str>, held: Option<usize>) {
        let Some(outcome) = postures::at_rest(self.scene, &self.now, who, posture) else { return };
        let before = match (who, &self.now.second_crew) {
            (Who::Rider, _) => self.now.rider.as_deref(),
            (Who::SecondCrew, second) => second.as_ref().map(|second| second.body.as_slice()),
        };
        let from = before.and_then(|body| body.try_into().ok());
        let body = match &outcome {
            PostureOutcome::Found(posture) => posture.q.to_vec(),
            PostureOutcome::NotFound(no) => no.nearest.to_vec(),
        };
        match (who, &mut self.now.second_crew) {
            (Who::Rider, _) => self.now.rider = Some(body),
            (Who::SecondCrew, Some(second)) => second.body = body,
            (Who::SecondCrew, None) => return,
        }
        let subject = posture.map_or_else(|| "neutral posture".to_owned(), |id| format!("posture {id}"));
        self.stance(number, who, subject, outcome, (from, held));
    }

    /// A crewmember has got into a posture, as everything is now.
    fn stance(
        &mut self,
        number: usize,
        who: Who,
        subject: String,
        outcome: PostureOutcome,
        (from, held): (Option<[f64; JOINTS.len()]>, Option<usize>),
    ) {
        let leaving = matches!(self.scene.project.plan.step[number].deed, Deed::Transit | Deed::MoveBase);
        let before = self.before(number).filter(|_| leaving);
        let at_worksite = match who {
            Who::Rider => self.now.worksite.is_some(),
            Who::SecondCrew => true,
        };
        self.events.push(Event::Stance(Arc::new(Stance {
            step: self.ids[number].clone(),
            who,
            subject,
            moment: self.now.clone(),
            held,
            outcome,
            from,
            contact_steps: std::iter::once(self.ids[number].clone()).chain(before).collect(),
            at_worksite,
        })));
    }

    /// The step of the same crewmember before this one.
    fn before(&self, number: usize) -> Option<String> {
        let steps = &self.scene.project.plan.step;
        (0..number).rev().find(|k| steps[*k].who == steps[number].who).map(|k| self.ids[k].clone())
    }

    fn work(&mut self, number: usize, step: &Step, who: Who) {
        let at = match who {
            Who::Rider => self.now.rider.as_ref().and(self.now.worksite.clone()),
            Who::SecondCrew => self.now.second_crew.as_ref().map(|second| second.worksite.clone()),
        };
        let Some(site) = at.and_then(|id| worksite(self.scene, &id)) else {
            self.not_checked(number, who, "nobody stands in a restraint at a worksite at this step");
            return;
        };
        if who == Who::Rider && self.carries_payload() {
            self.not_checked(number, who, "the rider's hands hold a payload");
            return;
        }
        let own = site.target.iter().filter(|target| target.who == who).map(|target| target.id.clone());
        let targets = step.targets.clone().unwrap_or_else(|| own.collect());
        self.stay(number, site.id.clone(), who, Doing::Work { targets });
    }

    fn stay(&mut self, number: usize, worksite: String, who: Who, doing: Doing) {
        self.rest(number, who, None);
        let step = self.ids[number].clone();
        self.events.push(Event::Stay(Arc::new(Stay { step, worksite, who, moment: self.now.clone(), doing })));
    }

    fn payload(&self, step: &Step) -> Option<usize> {
        let id = step.payload.as_ref()?;
        self.scene.project.plan.payload.iter().position(|payload| payload.id == *id)
    }

    fn take(&mut self, number: usize, step: &Step) {
        let (Some(payload), Some(worksite), true) =
            (self.payload(step), self.now.worksite.clone(), self.now.rider.is_some())
        else {
            self.not_checked(number, Who::Rider, "nobody stands in the arm's restraint at a worksite at this step");
            return;
        };
        let Carried::Standing { structure_from_payload } = self.now.payloads[payload] else {
            self.not_checked(number, Who::Rider, "the payload is already in the rider's hands");
            return;
        };
        self.stay(number, worksite, Who::Rider, Doing::Take { payload });
        match postures::holding(self.scene, &self.now, payload, &self.ids[number]) {
            // The stay tells how the hands got there.
            Some(PostureOutcome::Found(posture)) => self.now.rider = Some(posture.q.to_vec()),
            Some(outcome) => {
                let subject = format!("hold of {}", self.scene.project.plan.payload[payload].id);
                self.stance(number, Who::Rider, subject, outcome, (None, Some(payload)));
            }
            None => self.not_checked(number, Who::Rider, "nobody is there to hold the payload"),
        }
        let plate = Assembly::new(self.scene, &self.now).structure_from_plate();
        self.now.payloads[payload] = Carried::InHands { plate_from_payload: plate.inv_mul(&structure_from_payload) };
        self.rest(number, Who::Rider, None);
    }

    fn place(&mut self, number: usize, step: &Step) {
        let (Some(payload), Some(worksite), Some(seat)) =
            (self.payload(step), self.now.worksite.clone(), step.seat.as_deref())
        else {
            self.not_checked(number, Who::Rider, "the rider is at no worksite at this step");
            return;
        };
        let Carried::InHands { plate_from_payload } = self.now.payloads[payload] else {
            self.not_checked(number, Who::Rider, "the payload is not in the rider's hands");
            return;
        };
        let plate = Assembly::new(self.scene, &self.now).structure_from_plate();
        let structure_from_payload = plate * plate_from_payload;
        let structure_from_seat = self.scene.seat(seat);
        let doing = Doing::Place { payload, structure_from_payload, structure_from_seat };
        self.stay(number, worksite, Who::Rider, doing);
        self.now.payloads[payload] = Carried::Standing { structure_from_payload: structure_from_seat };
        self.stand_at_rest(number, Who::Rider, None, Some(payload));
        self.rest(number, Who::Rider, Some(payload));
    }

    fn carries_payload(&self) -> bool {
        self.now.payloads.iter().any(|payload| matches!(payload, Carried::InHands { .. }))
    }

    /// The rider takes the posture in which they are carried; hands that hold a payload stay on it.
    fn get_ready(&mut self, number: usize, step: &Step) {
        if self.now.rider.is_some() && !self.carries_payload() {
            self.stand_at_rest(number, Who::Rider, step.posture.as_deref(), None);
        }
    }

    fn transit(&mut self, number: usize, step: &Step) {
        let Some(to) = step.to.as_deref().and_then(|id| worksite(self.scene, id)) else { return };
        self.get_ready(number, step);
        let own = |k: &usize| self.scene.project.plan.step[*k].who == step.who;
        let before = self.before(number);
        let after = (number + 1..self.ids.len()).find(own).map(|k| self.ids[k].clone());
        self.set_restraint(number, to, before.clone());
        if let Some(from) = self.now.worksite.clone().and_then(|id| worksite(self.scene, &id)) {
            let leaving = self.along_line(number, MotionKind::Retreat, from, before);
            self.now.worksite = None;
            self.push_move(leaving);
        }
        if to.stand != self.now.stand {
            let mut moved = self.still(number, MotionKind::Transit);
            let stands_at = self.now.stand.clone();
            moved.fault = Some(Fault::OtherStand { stands_at, served_from: to.stand.clone() });
            self.events.push(Event::Move(Arc::new(moved)));
            self.arrive(to);
            return;
        }
        let approach = self.along_line(number, MotionKind::Approach, to, after);
        let start = approach.line.as_ref().and_then(|line| line.vertices.last()).map(|vertex| vertex.arm.clone());
        let crossing = self.crossing(number, step, start);
        self.push_move(crossing);
        self.push_move(approach);
        self.arrive(to);
    }

    /// Everything as the worksite asks for it.
    fn arrive(&mut self, at: &Worksite) {
        self.now.stand.clone_from(&at.stand);
        self.now.arm = self.scene.joint_values(&at.joints);
        self.now.worksite = Some(at.id.clone());
        self.now.detents = at.detents.iter().map(|angle| angle.radians()).collect();
    }

    /// The restraint is set for the worksite that the arm goes to before the arm leaves: joint after joint, in the
    /// restraint's order, each straight from one value to the other.
    fn set_restraint(&mut self, number: usize, to: &Worksite, contact_step: Option<String>) {
        let mut moved = self.still(number, MotionKind::Setting);
        moved.contact_steps.extend(contact_step);
        // Away from a worksite, the limits are those of a transit.
        let distance = if self.now.worksite.is_some() { 0.0 } else { f64::INFINITY };
        for (joint, angle) in to.detents.iter().map(|angle| angle.radians()).enumerate() {
            let from = self.now.detents.clone();
            if from.get(joint).is_some_and(|set| *set != angle) {
                self.now.detents[joint] = angle;
                moved.segments.push(Segment { from, to: self.now.detents.clone() });
                moved.distances.push(distance);
                moved.fixed_seconds.push(None);
            }
        }
        // Set while nobody stands in it, it takes no one along.
        if !moved.segments.is_empty() && self.now.rider.is_some() {
            self.events.push(Event::Move(Arc::new(moved)));
        }
    }

    fn push_move(&mut self, mut moved: Move) {
        moved.moment = self.now.clone();
        if let Some(first) = moved.segments.first() {
            moved.moment.arm.clone_from(&first.from);
        }
        if let Some(last) = moved.segments.last() {
            self.now.arm.clone_from(&last.to);
        }
        self.events.push(Event::Move(Arc::new(moved)));
    }

    /// A motion that has no way yet.
    fn still(&self, number: usize, kind: MotionKind) -> Move {
        let step = self.ids[number].clone();
        Move {
            id: format!("{step}/{}", kind.word()),
            contact_steps: vec![step.clone()],
            step,
            kind,
            moment: self.now.clone(),
            base: None,
            segments: Vec::new(),
            distances: Vec::new(),
            fixed_seconds: Vec::new(),
            line: None,
            fault: None,
        }
    }

    fn along_line(&self, number: usize, kind: MotionKind, site: &Worksite, contact_step: Option<String>) -> Move {
        let mut moved = self.still(number, kind);
        moved.contact_steps.extend(contact_step);
        let arm = ArmAlone::new(self.scene, &site.stand);
        let outwards = -Vector::from(site.approach).normalize();
        match arm.line(self.scene, &self.scene.joint_values(&site.joints), &outwards, site.approach_m) {
            Ok(line) => {
                for pair in line.vertices.windows(2) {
                    let [inner, outer] = pair else { unreachable!("windows of two") };
                    moved.segments.push(Segment { from: inner.arm.clone(), to: outer.arm.clone() });
                    moved.distances.push(outer.distance);
                }
                if kind == MotionKind::Approach {
                    moved.segments.reverse();
                    moved.distances.reverse();
                    for segment in &mut moved.segments {
                        std::mem::swap(&mut segment.from, &mut segment.to);
                    }
                }
                moved.fixed_seconds = vec![None; moved.segments.len()];
                moved.line = Some(line);
            }
            Err(fault) => moved.fault = Some(Fault::Line(fault)),
        }
        moved
    }

    /// From where the arm is, through the step's waypoints, to the start of the approach.
    fn crossing(&self, number: usize, step: &Step, end: Option<Vec<f64>>) -> Move {
        let mut moved = self.still(number, MotionKind::Transit);
        let arm = ArmAlone::new(self.scene, &self.now.stand);
        let mut at = self.now.arm.clone();
        let mut add = |moved: &mut Move, to: Vec<f64>, seconds| {
            if to != at {
                moved.segments.push(Segment { from: std::mem::replace(&mut at, to.clone()), to });
                moved.distances.push(f64::INFINITY);
                moved.fixed_seconds.push(seconds);
            }
        };
        for (k, waypoint) in step.waypoint.iter().enumerate() {
            let from = moved.segments.last().map_or(&self.now.arm, |segment| &segment.to).clone();
            match self.resolve(&arm, waypoint, &from) {
                Ok(to) => add(&mut moved, to, waypoint.duration_s),
                Err((error, starts)) => {
                    moved.fault = Some(Fault::Waypoint { number: k + 1, error, starts });
                    return moved;
                }
            }
        }
        if let Some(end) = end {
            add(&mut moved, end, None);
        }
        moved
    }

    /// The joint values of a waypoint; a tip pose is solved from the waypoint before and rounded to the grid.
    fn resolve(&self, arm: &ArmAlone, waypoint: &Waypoint, from: &[f64]) -> Result<Vec<f64>, (f64, usize)> {
        if let Some(joints) = &waypoint.joints {
            return Ok(self.scene.joint_values(joints));
        }
        let place = waypoint.tip.as_ref().expect("reading a plan demands joints or a tip of every waypoint");
        let goal = Goal { link: arm.tip, structure_from_link: pose(place), meets: arm.meets };
        match InverseKinematics::default().solve(&arm.mechanism, &goal, from) {
            Solved::Met(exact) => Ok(arm.rounded(&exact)),
            Solved::NotFound { error, starts, .. } => Err((error, starts)),
        }
    }

    fn move_base(&mut self, number: usize, step: &Step) {
        let Some(to) = step.stand.clone() else { return };
        self.get_ready(number, step);
        let mut moved = self.still(number, MotionKind::Base);
        let (from_pose, to_pose) = (self.scene.stand(&self.now.stand), self.scene.stand(&to));
        match step.way.as_ref().map(|way| base_motion(way, &from_pose, &to_pose)) {
            None => moved.fault = Some(Fault::NoWay),
            Some(Err(fault)) => moved.fault = Some(fault),
            Some(Ok((way, by))) => {
                moved.segments.push(Segment { from: vec![0.0], to: vec![by] });
                moved.distances.push(f64::INFINITY);
                moved.fixed_seconds.push(None);
                moved.base = Some(way);
            }
        }
        self.events.push(Event::Move(Arc::new(moved)));
        self.now.stand = to;
        self.now.worksite = None;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Place, Stand};
    use crate::state::testing::{with_edited, with_starter};

    fn moves(walk: &Walk) -> Vec<&Move> {
        walk.events
            .iter()
            .filter_map(|event| match event {
                Event::Move(moved) => Some(&**moved),
                Event::Stance(_) | Event::Stay(_) | Event::NotChecked { .. } => None,
            })
            .collect()
    }

    #[test]
    fn a_transit_is_retreat_crossing_and_approach_without_a_gap() {
        with_starter(|scene| {
            let walk = walk(scene);
            let moves = moves(&walk);
            let kinds: Vec<MotionKind> = moves.iter().map(|moved| moved.kind).collect();
            assert_eq!(kinds, [MotionKind::Retreat, MotionKind::Transit, MotionKind::Approach]);
            let segments: Vec<&Segment> = moves.iter().flat_map(|moved| &moved.segments).collect();
            assert!(segments.windows(2).all(|pair| pair[0].to == pair[1].from));
            let sites = &scene.project.plan.worksite;
            assert_eq!(segments[0].from, scene.joint_values(&sites[0].joints));
            assert_eq!(segments[segments.len() - 1].to, scene.joint_values(&sites[1].joints));
        });
    }

    #[test]
    fn a_worksite_of_another_stand_is_a_fault_until_the_base_has_moved() {
        let other = Stand { id: "elsewhere".to_owned(), place: Place { at_m: [3.0, 0.0, 1.1], ..Place::default() } };
        let edit = |project: &mut crate::model::Project| {
            project.plan.stand.push(other.clone());
            project.plan.worksite[1].stand = other.id.clone();
        };
        with_edited(edit, |scene| {
            let walk = walk(scene);
            let faults: Vec<&Fault> = moves(&walk).iter().filter_map(|moved| moved.fault.as_ref()).collect();
            assert!(matches!(faults.as_slice(), [Fault::OtherStand { served_from, .. }] if served_from == "elsewhere"));
        });
    }

    #[test]
    fn a_step_of_somebody_who_stands_nowhere_is_not_checked() {
        let edit = |project: &mut crate::model::Project| {
            project.plan.step.remove(0);
        };
        with_edited(edit, |scene| {
            let walk = walk(scene);
            let not_checked = walk.events.iter().filter(|event| matches!(event, Event::NotChecked { .. })).count();
            assert_eq!(not_checked, 2, "both work steps");
        });
    }
}
