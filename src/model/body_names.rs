//! What are the bodies of a plan called?
//!
//! # Law
//! A body is named by what it belongs to and its own id, with `/` between them: `pump/housing`, `arm/elbow/boom`,
//! `rider/chest`, `spine/bay-3/longeron-0`. What is one body and no more has its id alone.

use super::{ArmJoint, Handrail, LinkShape, Project, RestraintJoint, Truss};

/// The names of the suited body's segments, pack and helmet, from the left boot outwards.
pub const BODY_SEGMENTS: [&str; 19] = [
    "left-boot",
    "left-shank",
    "left-thigh",
    "pelvis",
    "abdomen",
    "chest",
    "pack",
    "neck",
    "head",
    "helmet",
    "left-upper-arm",
    "left-forearm",
    "left-hand",
    "right-upper-arm",
    "right-forearm",
    "right-hand",
    "right-thigh",
    "right-shank",
    "right-boot",
];

/// What a hand holds at a target with a tool.
const TOOLS: [&str; 2] = ["left-tool", "right-tool"];

/// The name of a part of something.
pub fn part(owner: &str, id: &str) -> String {
    format!("{owner}/{id}")
}

impl Truss {
    /// The batten from corner `k` of the frame before bay `frame`.
    pub fn batten(&self, frame: u32, k: usize) -> String {
        format!("{}/frame-{frame}/batten-{k}", self.id)
    }

    /// The longeron of a bay at corner `k`.
    pub fn longeron(&self, bay: u32, k: usize) -> String {
        format!("{}/bay-{bay}/longeron-{k}", self.id)
    }

    /// The diagonal of a bay in the side after corner `k`.
    pub fn diagonal(&self, bay: u32, k: usize) -> String {
        format!("{}/bay-{bay}/diagonal-{k}", self.id)
    }

    fn members(&self) -> impl Iterator<Item = String> {
        let frames = (0..=self.bays).flat_map(move |frame| (0..4).map(move |k| self.batten(frame, k)));
        let bays = (0..self.bays)
            .flat_map(move |bay| (0..4).flat_map(move |k| [self.longeron(bay, k), self.diagonal(bay, k)]));
        frames.chain(bays)
    }
}

impl Handrail {
    /// The rail itself.
    pub fn rail(&self) -> String {
        part(&self.id, "rail")
    }

    /// The post at the first (0) or the second end.
    pub fn post(&self, end: usize) -> String {
        format!("{}/post-{end}", self.id)
    }

    fn bodies(&self) -> impl Iterator<Item = String> {
        let posts = if self.post_m.is_some() { 2 } else { 0 };
        std::iter::once(self.rail()).chain((0..posts).map(|end| self.post(end)))
    }
}

/// All bodies of one kind of thing, sorted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BodyNames {
    /// In words, as in `the arm`.
    pub of: &'static str,
    pub names: Vec<String>,
}

impl Project {
    /// The names of all bodies that the plan can ever have, by kind; keep-out zones aside, which are no bodies.
    pub fn body_names(&self) -> Vec<BodyNames> {
        let structure = &self.structure;
        let fixed = structure.truss.iter().flat_map(Truss::members);
        let fixed = fixed.chain(structure.handrail.iter().flat_map(Handrail::bodies));
        let fixed = fixed.chain(structure.module.iter().map(|module| module.id.clone()));
        let fixed = fixed.chain(structure.body.iter().map(|body| body.id.clone()));
        let payloads = self.plan.payload.iter().flat_map(|payload| parts(&payload.id, &payload.shape));
        let joints = |joint: &ArmJoint| parts(&part("arm", &joint.name), &joint.shape);
        let arm = parts("arm/base", &self.arm.base).into_iter().chain(self.arm.joint.iter().flat_map(joints));
        let mut kinds = vec![
            ("the structure", fixed.collect()),
            ("the payloads", payloads.collect()),
            ("the arm", arm.collect()),
            ("the restraint", self.restraint_names("restraint")),
            ("the rider", crew_names("rider")),
        ];
        if self.plan.worksite.iter().any(|worksite| worksite.second_crew.is_some()) {
            kinds.push(("the second crew's restraint", self.restraint_names("second-restraint")));
            kinds.push(("the second crew", crew_names("second-crew")));
        }
        let sorted = |(of, mut names): (&'static str, Vec<String>)| {
            names.sort();
            BodyNames { of, names }
        };
        kinds.into_iter().map(sorted).collect()
    }

    fn restraint_names(&self, name: &str) -> Vec<String> {
        let joints = |joint: &RestraintJoint| parts(&part(name, &joint.name), &joint.shape);
        parts(name, &self.restraint.base).into_iter().chain(self.restraint.joint.iter().flat_map(joints)).collect()
    }
}

fn parts(owner: &str, shapes: &[LinkShape]) -> Vec<String> {
    shapes.iter().map(|shape| part(owner, &shape.id)).collect()
}

fn crew_names(who: &str) -> Vec<String> {
    BODY_SEGMENTS.iter().chain(&TOOLS).map(|segment| part(who, segment)).collect()
}
