//! Which values does a plan leave open, for a proposal to find?
//!
//! Of a worksite: its stand, the arm's configuration, the settings of the restraints. In place of each the plan gets
//! something to start from, so that everything else about it can be read and checked as usual.

use crate::model::{Angle, Arm, ArmJoint, Deed, JointKind, Plan, Project, Restraint, Who};

use super::problem::Problems;
use super::toml_file::Node;

/// What a plan leaves open at one worksite.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OpenSite {
    pub worksite: String,
    pub stand: bool,
    pub joints: bool,
    /// The settings of the rider's restraint.
    pub detents: bool,
    /// The settings of the second crew's restraint.
    pub second_detents: bool,
}

impl OpenSite {
    /// The keys that are missing, as files have them.
    fn keys(&self) -> Vec<&'static str> {
        let keys = [
            (self.stand, "stand"),
            (self.joints, "joints_deg_m"),
            (self.detents, "detents_deg"),
            (self.second_detents, "second_crew.detents_deg"),
        ];
        keys.into_iter().filter(|(open, _)| *open).map(|(_, key)| key).collect()
    }
}

/// Puts something to start from in place of every value that is left open, and says where that was.
pub(super) fn fill(project: &mut Project) -> Vec<OpenSite> {
    let Project { plan, arm, restraint, .. } = project;
    let has_joints = !restraint.joint.is_empty();
    let mut open = Vec::new();
    for site in &mut plan.worksite {
        let second_crew = site.second_crew.as_mut().filter(|second| has_joints && second.detents.is_empty());
        let found = OpenSite {
            worksite: site.id.clone(),
            stand: site.stand.is_empty(),
            joints: site.joints.is_empty(),
            detents: has_joints && site.detents.is_empty(),
            second_detents: second_crew.is_some(),
        };
        if let Some(second) = second_crew {
            second.detents = first_detents(restraint);
        }
        if found.joints {
            site.joints = middle(arm);
        }
        if found.detents {
            site.detents = first_detents(restraint);
        }
        open.extend(Some(found).filter(|found| !found.keys().is_empty()));
    }
    fill_stands(plan);
    open
}

/// Tells of values that are left open where a plan must have them.
pub(super) fn refuse(open: &[OpenSite], file: Node<'_>, problems: &mut Problems) {
    for (site, node) in open.iter().filter_map(|site| Some((site, of_site(file, &site.worksite)?))) {
        let what = format!("the worksite `{}` has no `{}`", site.worksite, site.keys().join("`, no `"));
        problems.add(node.place(), what, "expected it, or `trusswalk propose`, which looks for what is left out");
    }
}

fn of_site<'t>(file: Node<'t>, id: &str) -> Option<Node<'t>> {
    file.key("worksite").items().find(|site| site.key("id").text() == Some(id))
}

/// The middle of every joint's range, as the plan writes it (degrees or metres).
fn middle(arm: &Arm) -> Vec<f64> {
    let of_joint = |joint: &ArmJoint| match joint.kind {
        JointKind::Revolute => joint.turn_limits.map_or(0.0, |[low, high]| 0.5 * (low.degrees() + high.degrees())),
        JointKind::Prismatic => joint.slide_limits.map_or(0.0, |[low, high]| 0.5 * (low + high)),
    };
    arm.joint.iter().map(of_joint).collect()
}

fn first_detents(restraint: &Restraint) -> Vec<Angle> {
    restraint.joint.iter().filter_map(|joint| joint.detents.first().copied()).collect()
}

/// A worksite that says no stand is served from where the base is when the rider first goes there. Where the base
/// begins is told by the first worksite that says it, else it is the first stand that the base does not move to first.
fn fill_stands(plan: &mut Plan) {
    let mut base: Option<String> = None;
    let mut waiting: Vec<usize> = Vec::new();
    for step in plan.step.iter().filter(|step| step.who == Who::Rider) {
        match step.deed {
            Deed::Ingress | Deed::Transit => {
                let Some(at) = plan.worksite.iter().position(|site| Some(&site.id) == step.to.as_ref()) else {
                    continue;
                };
                match (&base, plan.worksite[at].stand.is_empty()) {
                    (Some(base), true) => plan.worksite[at].stand.clone_from(base),
                    (None, true) => waiting.push(at),
                    (_, false) => base = Some(plan.worksite[at].stand.clone()),
                }
            }
            Deed::MoveBase => {
                let Some(to) = &step.stand else { continue };
                let elsewhere = plan.stand.iter().find(|stand| stand.id != *to).map(|stand| stand.id.clone());
                let before = base.replace(to.clone()).or(elsewhere);
                settle(&mut plan.worksite, &mut waiting, before.as_ref());
                continue;
            }
            Deed::Egress | Deed::Work | Deed::Take | Deed::Place => {}
        }
        settle(&mut plan.worksite, &mut waiting, base.as_ref());
    }
    let first = plan.stand.first().map(|stand| stand.id.clone());
    let mut rest = (0..plan.worksite.len()).filter(|at| plan.worksite[*at].stand.is_empty()).collect();
    settle(&mut plan.worksite, &mut rest, first.as_ref());
}

/// Gives worksites that wait for one their stand, if it is known.
fn settle(sites: &mut [crate::model::Worksite], waiting: &mut Vec<usize>, stand: Option<&String>) {
    if let Some(stand) = stand {
        for at in waiting.drain(..) {
            sites[at].stand.clone_from(stand);
        }
    }
}
