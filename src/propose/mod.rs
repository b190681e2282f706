//! Which stands, detents, configurations and ways would do what the plan asks for?
//!
//! A proposal is found here and judged by [`crate::check`], by the same bounds; what it rules out it counts.

mod always_near;
pub mod anew;
mod answer;
mod arms;
mod broken;
mod edge;
mod graph;
mod judge;
mod memory;
pub mod mend;
mod metric;
mod no_stand;
mod objective;
mod options;
mod placements;
mod price;
mod random;
mod second_crew;
mod settle;
mod shorten;
mod tie;
mod transit;
mod travel;
mod tree;
mod violation;
mod visit;
mod way;
mod whole;
mod work;
mod world;

pub use answer::{Answer, End, Found, Impossible, NotFound, Refusal};
pub use arms::ArmsTried;
pub use broken::{Broken, Tally};
pub use judge::{Judged, Parts};
pub use memory::Memory;
pub use no_stand::NoStand;
pub use objective::Objective;
pub use options::BodiesTried;
pub use placements::PlacesTried;
pub use second_crew::SecondProposal;
pub use settle::Tried;
pub use transit::{Settings, transit};
pub use violation::Violation;
pub use way::NoWay;
pub use whole::{Asked, Candidates, Proposal, SiteProposal, Unsettled, WayProposal, Why, propose};

use serde::{Deserialize, Serialize};

use crate::model::{Angle, JointKind, PlanEdit, Project, Who, Worksite};
use crate::state::Scene;

/// How the arm serves a worksite.
#[derive(Clone, Debug, Default, Deserialize, PartialEq, Serialize)]
pub struct Setting {
    pub stand: String,
    /// The rider's restraint, rad.
    pub detents: Vec<f64>,
    /// The arm's configuration, on the grid that operators key in (rad or m).
    pub arm: Vec<f64>,
}

impl Setting {
    /// How the plan has a worksite served.
    fn of(scene: &Scene, site: &Worksite) -> Self {
        Self {
            stand: site.stand.clone(),
            detents: site.detents.iter().map(|angle| angle.radians()).collect(),
            arm: scene.joint_values(&site.joints),
        }
    }

    /// The restraint's settings as files have them: degrees.
    pub fn detents_as_written(&self) -> Vec<f64> {
        self.detents.iter().map(|detent| (detent.to_degrees() * 1e9).round() / 1e9).collect()
    }

    /// The restraint's settings as the model has them.
    fn angles(&self) -> Vec<Angle> {
        self.detents_as_written().into_iter().map(Angle::from_degrees).collect()
    }

    /// The edits by which a worksite is served so.
    pub fn edits(&self, project: &Project, worksite: &str) -> Vec<PlanEdit> {
        let worksite = worksite.to_owned();
        vec![
            PlanEdit::SetStand { worksite: worksite.clone(), stand: self.stand.clone() },
            PlanEdit::SetConfiguration { worksite: worksite.clone(), joints: as_written(project, &self.arm) },
            PlanEdit::SetDetents { worksite, who: Who::Rider, detents: self.detents_as_written() },
        ]
    }

    /// Serves a worksite so.
    pub fn serve(&self, project: &Project, site: &mut Worksite) {
        site.stand.clone_from(&self.stand);
        site.joints = as_written(project, &self.arm);
        site.detents = self.angles();
    }
}

/// A configuration on the grid as files have it: degrees or metres.
fn as_written(project: &Project, q: &[f64]) -> Vec<f64> {
    let written = |(value, kind): (&f64, JointKind)| match kind {
        JointKind::Revolute => (value.to_degrees() * 10.0).round() / 10.0,
        JointKind::Prismatic => (value * 1000.0).round() / 1000.0,
    };
    q.iter().zip(project.arm.joint.iter().map(|joint| joint.kind)).map(written).collect()
}
