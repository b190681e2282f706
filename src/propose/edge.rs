//! Is this straight stretch certified?
//!
//! # Law
//! An edge is accepted where both its ends lie in the joints' ranges, limits and read-out taken off; where every pair of
//! bodies keeps its limit with tolerances, and its stopping limit with the overrun of this edge as timed from rest to rest,
//! by the bound of [`crate::motion::MarginSearch`]; and where the least singular value of the tip's Jacobian is no less
//! than its limit, by that of [`crate::motion::keeps_singular_value`]. All of it holds between the ends, not on samples.

use crate::check::is_far;
use crate::mechanism::BodyId;
use crate::motion::{Ask, Broken, Margin, MarginSearch, MarginTask, Overrun, Pairs, Segment, keeps_singular_value};

use super::metric::Metric;
use super::world::{EdgeTime, TransitWorld};

/// Most intervals of an edge for its clearance.
const INTERVALS: usize = 600;
/// Most evaluations of an edge for its singular value.
const EVALUATIONS: usize = 600;
/// The margin of an edge is told to this, m.
const MARGIN_GAP: f64 = 0.02;

/// A certified edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edge {
    /// From rest to rest, s; where it is not timed, the metric's metres.
    pub seconds: f64,
    /// Its least margin is no less, m.
    pub margin: f64,
}

/// Why an edge is not certified.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum EdgeRefusal {
    Pair([BodyId; 2]),
    NotTold(Option<[BodyId; 2]>),
    Range,
    Singular,
}

/// Certifies edges, one after another.
pub struct Edges<'w> {
    pub world: &'w TransitWorld<'w>,
    pub metric: &'w Metric,
    search: MarginSearch<'w, 'w>,
    /// Tells what stays far from structure; none where that makes no difference.
    far: Option<MarginSearch<'w, 'w>>,
    /// How many were asked about.
    pub asked: usize,
}

impl<'w> Edges<'w> {
    /// `task` asks for limits; `nearness`, which counts only where the plan slows the tip near structure, for the
    /// distance from which on it does.
    pub fn new(world: &'w TransitWorld<'w>, metric: &'w Metric, [task, nearness]: [MarginTask<'w, 'w>; 2]) -> Self {
        let far = world.slower_near_structure().then(|| MarginSearch::new(nearness));
        Self { world, metric, search: MarginSearch::new(task), far, asked: 0 }
    }

    fn time(&mut self, segment: &Segment) -> EdgeTime {
        let near = self.far.as_mut().is_some_and(|search| !is_far(search, segment));
        self.world.time(segment, near)
    }

    /// Whether an edge is certified at all.
    pub fn accepted(&mut self, from: &[f64], to: &[f64]) -> Result<(), EdgeRefusal> {
        let segment = Segment { from: from.to_vec(), to: to.to_vec() };
        let overrun = self.time(&segment).overrun;
        self.certified(&segment, &overrun, Ask::kept(INTERVALS)).map(|_| ())
    }

    /// An edge's time, s, whether or not it can be certified.
    pub fn seconds(&mut self, from: &[f64], to: &[f64]) -> f64 {
        let segment = Segment { from: from.to_vec(), to: to.to_vec() };
        self.time(&segment).seconds.unwrap_or_else(|| self.metric.distance(from, to))
    }

    /// An edge with its margin, up to `enough` (m).
    pub fn measured(&mut self, from: &[f64], to: &[f64], enough: f64) -> Result<Edge, EdgeRefusal> {
        let segment = Segment { from: from.to_vec(), to: to.to_vec() };
        let time = self.time(&segment);
        let kept = Ask::kept(INTERVALS);
        let ask = Ask { enough: enough.max(kept.enough), gap: MARGIN_GAP, ..kept };
        let margin = self.certified(&segment, &time.overrun, ask)?;
        Ok(Edge { seconds: time.seconds.unwrap_or_else(|| self.metric.distance(from, to)), margin })
    }

    /// The pair that breaks a limit at rest in a configuration, whatever the arm does.
    pub fn broken_at(&mut self, q: &[f64]) -> Option<Broken> {
        let there = Segment { from: q.to_vec(), to: q.to_vec() };
        match self.search.on(&there, &Overrun::default(), Ask { pairs: Pairs::All, ..Ask::kept(INTERVALS) }) {
            Margin::Broken(broken) => Some(broken),
            Margin::Kept(_) | Margin::NotTold(_) => None,
        }
    }

    /// A solid, and a body inside it that should keep clear, at the start.
    pub fn swallowed(&self) -> Option<[BodyId; 2]> {
        let rules = self.world.rules();
        self.world.swallowed(|a, b| rules.rule(0, a, b).is_some())
    }

    fn certified(&mut self, segment: &Segment, overrun: &Overrun, ask: Ask) -> Result<f64, EdgeRefusal> {
        self.asked += 1;
        let world = self.world;
        if world.out_of_range(&segment.from).or(world.out_of_range(&segment.to)).is_some() {
            return Err(EdgeRefusal::Range);
        }
        let margin = match self.search.on(segment, overrun, ask) {
            Margin::Kept(margin) => margin,
            Margin::Broken(Broken { bodies, .. }) => return Err(EdgeRefusal::Pair(bodies)),
            Margin::NotTold(bodies) => return Err(EdgeRefusal::NotTold(bodies)),
        };
        let scale = world.scene.project.plan.limits.singularity_length_m;
        let (arm, tip) = (&world.arm.mechanism, world.arm.tip);
        let keeps = |limit| keeps_singular_value(arm, tip, segment, scale, (limit, EVALUATIONS));
        if world.singular_limit.is_none_or(keeps) { Ok(margin) } else { Err(EdgeRefusal::Singular) }
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::check::{MotionKind, bound_motion};
    use crate::files::read_project;
    use crate::motion::{Clearance, Parts, Rule, TO_SPARE, least_singular_value};
    use crate::propose::random::Draw;
    use crate::state::{Assembly, Event, Extras, Move, Scene, walk};

    /// Runs a test on every transit of a plan of `scenes/`.
    fn with_transits(folder: &str, mut test: impl FnMut(&Scene, &Move)) {
        let loaded = read_project(&Path::new("scenes").join(folder)).expect("the plan is sound");
        let scene = Scene::new(&loaded.project, &loaded.meshes);
        for event in &walk(&scene).events {
            if let Event::Move(moved) = event
                && moved.kind == MotionKind::Transit
            {
                test(&scene, moved);
            }
        }
    }

    /// What the full search says of one stretch.
    fn full(scene: &Scene, moved: &Move, segment: &Segment) -> Clearance {
        let moved = Move {
            segments: vec![segment.clone()],
            distances: vec![f64::INFINITY],
            fixed_seconds: vec![None],
            ..moved.clone()
        };
        let assembly = Assembly::with(scene, &moved.moment, &Extras::default());
        let frozen = assembly.moving(moved.kind);
        bound_motion(scene, &moved, (&assembly, &frozen), (&[None], None)).clearance
    }

    /// Least margin of tolerances alone, from below and from above.
    fn least_margin(clearance: &Clearance) -> [f64; 2] {
        let end = |end: fn(&crate::model::Bound) -> f64| {
            clearance
                .entries
                .iter()
                .map(|entry| end(&entry.worst.bound) - entry.rule.limit)
                .fold(f64::INFINITY, f64::min)
        };
        [end(|bound| bound.lower), end(|bound| bound.upper)]
    }

    /// The plan's own segments, and random stretches about them.
    fn stretches(world: &TransitWorld, moved: &Move) -> Vec<Segment> {
        let mut draw = Draw::seeded(1, &moved.id, 0);
        let mut all = moved.segments.clone();
        for own in &moved.segments {
            for reach in [0.1, 0.5, 1.5] {
                let about = |q: &[f64], draw: &mut Draw| {
                    let off = q
                        .iter()
                        .zip(&world.ranges)
                        .map(|(q, [lowest, highest])| (q + reach * draw.between(-1.0, 1.0)).max(*lowest).min(*highest));
                    off.collect::<Vec<f64>>()
                };
                all.push(Segment { from: about(&own.from, &mut draw), to: about(&own.to, &mut draw) });
            }
        }
        all
    }

    #[test]
    fn what_is_kept_or_broken_is_so_in_the_full_search_also_close_to_the_limit() {
        let (mut kept, mut broken) = (0, 0);
        for folder in ["demo", "starter", "research-arm"] {
            with_transits(folder, |scene, moved| {
                let world = TransitWorld::new(scene, moved);
                let (parts, rules) = (Parts::of(&world.frozen), world.rules());
                let [limit, stopping_limit] = rules.greatest();
                for segment in stretches(&world, moved) {
                    let [lower, upper] = least_margin(&full(scene, moved, &segment));
                    // Above the cap nothing is bracketed.
                    if !lower.is_finite() || !upper.is_finite() {
                        continue;
                    }
                    let told = |shift: f64| {
                        let rule = |a, b| {
                            let rule: Rule = rules.rule(0, a, b)?;
                            Some(Rule { limit: rule.limit + shift, stopping_limit: -10.0, ..rule })
                        };
                        let greatest = [limit + shift.max(0.0), stopping_limit];
                        let task = MarginTask { parts: &parts, world: &world.still, rule: &rule, greatest };
                        let ask = Ask { pairs: Pairs::All, ..Ask::kept(200_000) };
                        MarginSearch::new(task).on(&segment, &Overrun::default(), ask)
                    };
                    assert!(matches!(told(lower - 1e-4), Margin::Kept(_)), "{}: {lower}", moved.id);
                    assert!(matches!(told(upper + 1e-4), Margin::Broken(_)), "{}: {upper}", moved.id);
                    match told(0.0) {
                        Margin::Kept(_) => {
                            assert!(lower >= 0.0, "{}: kept, and {lower}", moved.id);
                            kept += 1;
                        }
                        Margin::Broken(_) => {
                            assert!(lower < 0.0, "{}: broken, and {lower}", moved.id);
                            broken += 1;
                        }
                        Margin::NotTold(_) => assert!(lower < TO_SPARE + 1e-6 && upper >= 0.0),
                    }
                }
            });
        }
        assert!(kept > 20 && broken > 20, "{kept} kept, {broken} broken");
    }

    #[test]
    fn a_margin_is_no_more_than_the_full_search_brackets_and_no_less_than_its_gap_allows() {
        with_transits("demo", |scene, moved| {
            let world = TransitWorld::new(scene, moved);
            let (parts, rules) = (Parts::of(&world.frozen), world.rules());
            let rule = |a, b| Some(Rule { stopping_limit: -10.0, ..rules.rule(0, a, b)? });
            let task = MarginTask { parts: &parts, world: &world.still, rule: &rule, greatest: rules.greatest() };
            let mut search = MarginSearch::new(task);
            for segment in &stretches(&world, moved) {
                let [lower, upper] = least_margin(&full(scene, moved, segment));
                let ask = Ask { enough: 0.5, gap: 0.02, intervals: 50_000, pairs: Pairs::All };
                if let Margin::Kept(margin) = search.on(segment, &Overrun::default(), ask) {
                    assert!(margin <= upper && margin >= (lower - 0.021).min(0.479), "{}: {margin}", moved.id);
                }
            }
        });
    }

    #[test]
    fn a_singular_value_is_kept_below_its_least_one_and_not_above() {
        with_transits("demo", |scene, moved| {
            let world = TransitWorld::new(scene, moved);
            let (arm, tip) = (&world.arm.mechanism, world.arm.tip);
            for segment in stretches(&world, moved) {
                let keeps = |limit| keeps_singular_value(arm, tip, &segment, 1.0, (limit, 100_000));
                let least = least_singular_value(arm, tip, std::slice::from_ref(&segment), 1.0, (1e-3, 100_000));
                let bound = least.expect("it converges").bound;
                assert!(keeps(bound.lower - 1e-9), "{}: {bound:?}", moved.id);
                assert!(!keeps(bound.upper + 1e-9), "{}: {bound:?}", moved.id);
            }
        });
    }
}
