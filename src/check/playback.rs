//! What is there to be seen of a plan, from its first moment to its last?
//!
//! A row of spans, one for each motion and each change of posture (at work, or to stand and be carried), each a chain of
//! straight stretches of one mechanism. A motion lasts as long as it is timed. What nobody timed (changes of posture,
//! motions of base or restraint) is given a length to be shown in, which is no result; [`Span::timed`] tells the two apart.

use std::sync::Arc;

use crate::crew::PostureOutcome;
use crate::mechanism::{Body, Mechanism, Posed};
use crate::model::Who;
use crate::motion::Segment;
use crate::space::{Point, PosedConvex, separation};
use crate::state::{Assembly, Event, Moment};

use super::case::{Case, MoveCase, StayCase};
use super::finding::{Finding, Place};
use super::stance::StanceCase;

/// What is not timed is shown for so long, s.
const SHOWN: f64 = 6.0;
/// A posture is held for so long after it was taken, s; shown, not timed.
const HELD: f64 = 3.0;

/// Everything that moves in a plan, in order.
#[derive(Clone, Default)]
pub struct Playback {
    /// Structure and keep-out zones, in the structure's frame.
    pub fixed: Vec<Body>,
    pub spans: Vec<Span>,
}

/// One motion, or one change of posture and the posture that it ends in.
#[derive(Clone)]
pub struct Span {
    /// The motion, or the worksite and step; of a stance the step.
    pub place: Place,
    pub who: Who,
    /// The target or payload that the hands go to, or the stance that is got into; none of a motion.
    pub subject: Option<String>,
    /// Seconds from the plan's beginning, as shown.
    pub start: f64,
    /// How long it lasts, or is shown, s.
    pub seconds: f64,
    /// Whether that length is a result of the plan's rates and limits.
    pub timed: bool,
    shown: Shown,
}

#[derive(Clone)]
enum Shown {
    Motion(Arc<MoveCase>),
    /// Which use of the stay.
    Use(Arc<StayCase>, usize),
    /// The way back to rest after a use of the stay.
    Back(Arc<StayCase>, usize),
    /// The way into a posture to stand or to be carried.
    Stance(Arc<StanceCase>),
}

/// A moment of a span: which of its straight stretches, and how far along, 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct At {
    pub segment: usize,
    pub fraction: f64,
}

impl Playback {
    /// Lays out all spans of a case.
    pub fn new(case: &Case) -> Self {
        let (mut moves, mut stays) = (case.moves.iter(), case.stays.iter());
        let mut playback = Self { fixed: case.scene.fixed.clone(), spans: Vec::new() };
        for event in &case.walk.events {
            match event {
                Event::Move(_) => moves.next().into_iter().for_each(|moved| playback.add_motion(moved)),
                Event::Stay(_) => stays.next().into_iter().for_each(|stay| playback.add_uses(stay)),
                Event::Stance(stance) => {
                    let of_it = |case: &&Arc<StanceCase>| case.stance == *stance;
                    case.stances.iter().find(of_it).into_iter().for_each(|case| playback.add_stance(case));
                }
                Event::NotChecked { .. } => {}
            }
        }
        playback
    }

    fn add_motion(&mut self, moved: &Arc<MoveCase>) {
        if moved.moved.segments.is_empty() {
            return;
        }
        let seconds = moved.seconds();
        self.add(Span {
            place: Place::Motion { motion: moved.moved.id.clone() },
            who: Who::Rider,
            subject: None,
            start: 0.0,
            seconds: seconds.unwrap_or(SHOWN),
            timed: seconds.is_some(),
            shown: Shown::Motion(Arc::clone(moved)),
        });
    }

    fn add_uses(&mut self, stay: &Arc<StayCase>) {
        let span = |subject: Option<&String>, shown| Span {
            place: Place::Worksite { worksite: stay.stay.worksite.clone(), step: stay.stay.step.clone() },
            who: stay.stay.who,
            subject: subject.cloned(),
            start: 0.0,
            seconds: SHOWN,
            timed: false,
            shown,
        };
        for (number, used) in stay.uses.iter().enumerate() {
            self.add(span(Some(&used.subject), Shown::Use(Arc::clone(stay), number)));
        }
        let last = stay.uses.iter().rposition(|used| matches!(used.outcome, PostureOutcome::Found(_)));
        if let (Some(number), Some(Ok(_))) = (last, &stay.back) {
            self.add(span(None, Shown::Back(Arc::clone(stay), number)));
        }
    }

    /// Nothing is shown of who came from nowhere, or stands so already.
    fn add_stance(&mut self, case: &Arc<StanceCase>) {
        if case.change.is_some() {
            self.add(Span {
                place: case.place(),
                who: case.stance.who,
                subject: Some(case.stance.subject.clone()),
                start: 0.0,
                seconds: SHOWN,
                timed: false,
                shown: Shown::Stance(Arc::clone(case)),
            });
        }
    }

    fn add(&mut self, span: Span) {
        self.spans.push(Span { start: self.seconds(), ..span });
    }

    /// Length of the whole, as shown, s.
    pub fn seconds(&self) -> f64 {
        self.spans.last().map_or(0.0, Span::end)
    }

    /// The span and the moment (s from the beginning) at which a finding was made; none where nothing shows it. A finding
    /// at rest is shown at the beginning of what is done there.
    pub fn moment_of(&self, finding: &Finding) -> Option<(usize, f64)> {
        let there = || self.spans.iter().enumerate().filter(|(_, span)| span.place == finding.key.place);
        let moment = |(number, span): (usize, &Span), seconds: f64| {
            // Just before the end, so that the moment is this span's and not the next one's.
            (number, span.start + seconds.min(span.seconds * (1.0 - 1e-9)).max(0.0))
        };
        let seen =
            finding.at.as_ref().and_then(|at| Some((At { segment: at.segment?, fraction: at.fraction }, &at.joints)));
        if let Some((at, joints)) = seen {
            let is_there =
                |span: &Span| span.segments().get(at.segment).is_some_and(|way| way.at(at.fraction) == *joints);
            return there().find(|(_, span)| is_there(span)).map(|found| moment(found, found.1.seconds_at(at)));
        }
        let about = there().find(|(_, span)| span.subject.as_ref() == Some(&finding.key.subject));
        about.map(|found| moment(found, found.1.seconds)).or_else(|| there().next().map(|found| moment(found, 0.0)))
    }

    /// The span at a moment (s from the beginning); the nearest where there is none. None of an empty playback.
    pub fn span_at(&self, seconds: f64) -> Option<(usize, &Span)> {
        let number = self.spans.partition_point(|span| span.end() <= seconds).min(self.spans.len().checked_sub(1)?);
        Some((number, &self.spans[number]))
    }
}

impl Span {
    /// When it ends, s from the plan's beginning.
    pub fn end(&self) -> f64 {
        self.start + self.seconds
    }

    /// Everything that there is during it; what does not move has its link all the same.
    pub fn mechanism(&self) -> &Mechanism {
        &self.assembly().mechanism
    }

    /// The straight stretches; none of a posture to which no way was found.
    pub fn segments(&self) -> &[Segment] {
        match &self.shown {
            Shown::Motion(moved) => &moved.moved.segments,
            Shown::Use(stay, number) => stay.uses[*number].change.as_ref().map_or(&[], |change| &change.segments),
            Shown::Back(stay, _) => match &stay.back {
                Some(Ok(change)) => &change.segments,
                _ => &[],
            },
            Shown::Stance(case) => match &case.change {
                Some(Ok(change)) => &change.segments,
                _ => &[],
            },
        }
    }

    /// How everything hangs together during it.
    pub fn assembly(&self) -> &Assembly {
        match &self.shown {
            Shown::Motion(moved) => &moved.assembly,
            Shown::Use(stay, number) | Shown::Back(stay, number) => &stay.uses[*number].standing.assembly,
            Shown::Stance(case) => &case.standing.assembly,
        }
    }

    /// What stands where and who holds what during it; of a motion as it begins.
    pub fn moment(&self) -> &Moment {
        match &self.shown {
            Shown::Motion(moved) => &moved.moved.moment,
            Shown::Use(stay, _) | Shown::Back(stay, _) => &stay.stay.moment,
            Shown::Stance(case) => &case.stance.moment,
        }
    }

    /// The motion's case; none of a change of posture.
    pub fn motion(&self) -> Option<&Arc<MoveCase>> {
        match &self.shown {
            Shown::Motion(moved) => Some(moved),
            Shown::Use(..) | Shown::Back(..) | Shown::Stance(_) => None,
        }
    }

    /// Where it is after so many seconds of its own; none of a posture to which no way was found.
    pub fn at(&self, seconds: f64) -> Option<At> {
        let last = self.segments().len().checked_sub(1)?;
        let mut left = seconds.max(0.0);
        for segment in 0..=last {
            let lasts = self.segment_seconds(segment);
            if left <= lasts || segment == last {
                return Some(At { segment, fraction: self.fraction(segment, left) });
            }
            left -= lasts;
        }
        None
    }

    /// Seconds of its own at a moment.
    pub fn seconds_at(&self, at: At) -> f64 {
        let before: f64 = (0..at.segment).map(|segment| self.segment_seconds(segment)).sum();
        let own = match self.time(at.segment) {
            Some(time) => time.seconds_at(at.fraction),
            None => at.fraction * self.segment_seconds(at.segment),
        };
        before + own
    }

    /// Joint values (rad or m) of [`Self::mechanism`] after so many seconds of its own.
    pub fn joints(&self, seconds: f64) -> Vec<f64> {
        let mut q = self.assembly().q.clone();
        let outcome = match (self.at(seconds), &self.shown) {
            (Some(at), _) => {
                q[self.driven()].copy_from_slice(&self.segments()[at.segment].at(at.fraction));
                return q;
            }
            (None, Shown::Use(stay, number) | Shown::Back(stay, number)) => &stay.uses[*number].outcome,
            (None, Shown::Stance(case)) => &case.stance.outcome,
            (None, Shown::Motion(_)) => unreachable!("a motion without a way has no span"),
        };
        q[self.driven()].copy_from_slice(match outcome {
            PostureOutcome::Found(posture) => &posture.q,
            PostureOutcome::NotFound(no) => &no.nearest,
        });
        q
    }

    /// The nearest points of two bodies at a pose of [`Self::mechanism`], in the structure's frame, and their signed
    /// distance, m; none where one of them isn't there.
    pub fn nearest(&self, posed: &Posed, [a, b]: [&str; 2]) -> Option<([Point; 2], f64)> {
        let parts = |name: &str| {
            let body = self.mechanism().body(self.mechanism().body_named(name)?);
            let structure_from_link = *posed.link(body.link);
            Some(body.parts.iter().map(move |part| part.posed(&structure_from_link)))
        };
        let seconds: Vec<PosedConvex> = parts(b)?.collect();
        let pairs = parts(a)?.flat_map(|first| seconds.iter().map(move |second| separation(&first, second)));
        let nearest = pairs.min_by(|a, b| a.upper.total_cmp(&b.upper))?;
        Some(([nearest.point_a, nearest.point_b], nearest.upper))
    }

    /// The variables of [`Self::mechanism`] that its stretches drive.
    pub fn driven(&self) -> std::ops::Range<usize> {
        match &self.shown {
            Shown::Motion(moved) => moved.assembly.driven(moved.moved.kind),
            Shown::Use(stay, number) | Shown::Back(stay, number) => stay.uses[*number].standing.links.variables.clone(),
            Shown::Stance(case) => case.standing.links.variables.clone(),
        }
    }

    fn time(&self, segment: usize) -> Option<&crate::motion::SegmentTime> {
        self.motion().filter(|_| self.timed)?.times.get(segment)?.as_ref()
    }

    fn segment_seconds(&self, segment: usize) -> f64 {
        match self.time(segment) {
            Some(time) => time.seconds(),
            None if self.motion().is_some() => self.seconds / self.segments().len() as f64,
            None => (self.seconds - HELD) / self.segments().len() as f64,
        }
    }

    fn fraction(&self, segment: usize, seconds: f64) -> f64 {
        let fraction = match self.time(segment) {
            Some(time) => time.fraction_at(seconds),
            None => seconds / self.segment_seconds(segment),
        };
        fraction.clamp(0.0, 1.0)
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;
    use std::sync::atomic::AtomicBool;

    use super::*;
    use crate::check::{Known, Silent, clearance};
    use crate::files::{Loaded, read_project};
    use crate::state::{Scene, walk};

    #[test]
    fn the_way_into_a_posture_is_played_before_the_motion_for_which_it_is_taken() {
        let Loaded { mut project, meshes, .. } = read_project(Path::new("scenes/starter")).expect("it is sound");
        project.plan.step[2].posture = None;
        let scene = Scene::new(&project, &meshes);
        let walked = walk(&scene);
        let case = Case::new((&scene, &walked), &Known::default(), &Silent, &AtomicBool::new(false)).expect("it ends");
        let playback = Playback::new(&case);
        let into = |span: &Span| span.subject.as_deref() == Some("neutral posture");
        let number = playback.spans.iter().position(into).expect("the way into it");
        let [before, span, after] = [number - 1, number, number + 1].map(|number| &playback.spans[number]);
        assert_eq!(after.motion().expect("a motion").moved.id, "step-3/retreat");
        let body = |span: &Span, seconds: f64| {
            let links = span.assembly().body_links(Who::Rider).expect("a rider").variables.clone();
            span.joints(seconds)[links].to_vec()
        };
        assert_eq!(body(span, 0.0), body(before, before.seconds), "it begins as what was before has ended");
        assert_eq!(body(span, span.seconds), body(after, 0.0), "it ends as they are carried");
        assert_ne!(body(span, 0.0), body(span, span.seconds));
        let findings = case.findings();
        let seen: Vec<_> = findings
            .iter()
            .filter(|finding| finding.key.check == clearance::NAME && finding.key.place == span.place)
            .map(|finding| playback.moment_of(finding).map(|(number, _)| number))
            .collect();
        assert!(!seen.is_empty() && seen.iter().all(|of| *of == Some(number)), "{seen:?}");
    }
}
