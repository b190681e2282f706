//! May the arm be flown straight from one configuration to another?
//!
//! # Law
//! A stretch counts when all of it is certified by the bounds that [`crate::check`] uses: every pair of bodies keeps its
//! limit, with the plan's tolerances and with what the joints overrun when they are stopped at full rate; the joints keep
//! from the ends of their ranges; the least singular value stays above the plan's limit. Here a yes or no is enough, so no
//! bracket is closed further than that.

use crate::check::{PairRules, joint_paces, stopping_overrun, tip_limit};
use crate::mechanism::{BodyId, JointMotion, Mechanism, Range};
use crate::motion::{
    Budget, ClearanceSearch, JointPace, Kept, Segment, SegmentTime, Task, least_singular_value, segment_time,
    tip_speed_bound,
};
use crate::space::World;
use crate::state::{ArmAlone, Assembly, Move, Scene};

/// Most intervals for one stretch.
const INTERVALS: usize = 4000;
/// Each stretch's tip speed is bounded on so many equal pieces, as the check does.
const SPEED_PIECES: usize = 8;
/// The least singular value is told from its limit within this, m, or so many evaluations.
const SINGULAR: (f64, usize) = (0.02, 400);

/// Why a stretch may not be flown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Refused {
    /// A joint comes too near to the end of its range.
    JointLimit,
    /// The arm comes too near to a singular configuration.
    Singular,
    /// Two bodies come too near.
    Near(BodyId, BodyId),
    /// Not told within the budget.
    NotTold,
}

/// All that stretches of one transit have in common.
pub struct Edges<'a> {
    pub scene: &'a Scene<'a>,
    pub arm: ArmAlone,
    frozen: &'a Mechanism,
    assembly: &'a Assembly,
    search: ClearanceSearch<'a>,
    rules: PairRules<'a>,
    paces: Option<Vec<JointPace>>,
    tip_limit: f64,
    /// What joints may be, with the plan's limit and the read-out taken off.
    pub ranges: Vec<Range>,
}

impl<'a> Edges<'a> {
    /// For a transit; `moved` has one segment, `frozen` is its assembly with only the arm moving, `world` what stands still.
    pub fn new(
        scene: &'a Scene<'a>,
        moved: &'a Move,
        (assembly, frozen, world): (&'a Assembly, &'a Mechanism, &'a World),
    ) -> Self {
        let rules = PairRules::of_move(scene, moved, assembly, frozen);
        let budget = Budget::yes_or_no(INTERVALS, rules.greatest_limit());
        let arm = ArmAlone::new(scene, &moved.moment.stand);
        let ranges = ranges(scene, &arm);
        let (paces, tip_limit) = (joint_paces(scene, moved), tip_limit(scene, &moved.moment));
        Self {
            scene,
            arm,
            frozen,
            assembly,
            search: ClearanceSearch::new(frozen, world, budget),
            rules,
            paces,
            tip_limit,
            ranges,
        }
    }

    /// How long a stretch takes, from rest to rest; none where the arm's file does not say what its joints can do.
    pub fn time(&self, segment: &Segment) -> Option<SegmentTime> {
        let paces = self.paces.as_ref()?;
        let speed = tip_speed_bound(self.frozen, self.assembly.arm.tip, segment, SPEED_PIECES);
        Some(segment_time(&segment.change(), paces, speed, self.tip_limit))
    }

    /// Whether a stretch may be flown.
    ///
    /// # Errors
    /// Why not.
    pub fn certify(&self, from: &[f64], to: &[f64]) -> Result<(), Refused> {
        let outside = |q: &[f64]| q.iter().zip(&self.ranges).any(|(q, range)| range.margin(*q) < 0.0);
        if outside(from) || outside(to) {
            return Err(Refused::JointLimit);
        }
        let segments = [Segment { from: from.to_vec(), to: to.to_vec() }];
        let time = self.time(&segments[0]);
        let overrun = [stopping_overrun(self.scene, &segments[0], time.as_ref(), self.paces.as_deref())];
        let rule = |_, a, b| self.rules.rule(0, a, b);
        let task = Task { segments: &segments, rules: &rule, same_rules: &|_, _| true, overrun: &overrun };
        match self.search.keeps_limits(&task) {
            Kept::Yes => {}
            Kept::Broken([a, b]) => return Err(Refused::Near(a, b)),
            Kept::NotTold => return Err(Refused::NotTold),
        }
        let limits = &self.scene.project.plan.limits;
        let least =
            least_singular_value(&self.arm.mechanism, self.arm.tip, &segments, limits.singularity_length_m, SINGULAR);
        match least {
            Some(least) if least.bound.lower >= limits.singular_value_m.value => Ok(()),
            Some(_) => Err(Refused::Singular),
            None => Err(Refused::NotTold),
        }
    }

    /// Whether the arm may stand there.
    ///
    /// # Errors
    /// Why not.
    pub fn stands(&self, at: &[f64]) -> Result<(), Refused> {
        self.certify(at, at)
    }

    /// A body's name.
    pub fn name(&self, body: BodyId) -> &str {
        self.assembly.name(body)
    }
}

fn ranges(scene: &Scene, arm: &ArmAlone) -> Vec<Range> {
    let (limits, tolerances) = (&scene.project.plan.limits, &scene.project.plan.tolerances);
    let mechanism = &arm.mechanism;
    let shrunk = |(variable, range): (usize, Range)| {
        let by = match mechanism.link(mechanism.link_of_variable(variable)).joint.motion {
            JointMotion::Prismatic => limits.arm_joint_m.value + tolerances.joint_m,
            _ => limits.arm_joint.value.radians() + tolerances.joint.radians(),
        };
        Range { lowest: range.lowest + by, highest: range.highest - by }
    };
    mechanism.ranges().into_iter().enumerate().map(shrunk).collect()
}
