//! Which body lies under a line of sight at a moment, and which other one is nearest to it?
//!
//! For who looks at a plan: no finding rests on it.

use std::ops::Range;

use crate::mechanism::{Body, LinkId, Mechanism, Posed, common_link};
use crate::model::BodyClass;
use crate::space::{Direction, Point, PosedConvex, ray_hits, separation};

use super::playback::Span;

/// A line of sight ends after so much, m.
const FARTHEST: f64 = 1000.0;

/// The body that is nearest to another one at a moment.
#[derive(Clone, Debug, PartialEq)]
pub struct Neighbour {
    pub name: String,
    /// The nearest points in the structure's frame, its own last.
    pub points: [Point; 2],
    /// Signed distance, m.
    pub distance: f64,
}

impl Span {
    /// The first body that a line of sight meets, bodies posed in [`Self::mechanism`]. What the line starts in is not seen,
    /// and a keep-out zone, which is no matter, only where nothing lies behind its surface.
    pub fn seen(&self, posed: &Posed, from: &Point, along: &Direction) -> Option<&Body> {
        let to = from + along.into_inner() * FARTHEST;
        let met = |body: &Body| {
            let fractions = posed_parts(body, posed).filter_map(|part| ray_hits(from, &to, &part));
            fractions.min_by(f64::total_cmp).filter(|fraction| *fraction > 0.0)
        };
        let met = self.mechanism().bodies().iter().filter_map(|body| Some((body, met(body)?)));
        let first = met.min_by(|(a, near), (b, far)| {
            let is_zone = |body: &Body| body.class == BodyClass::KeepOut;
            is_zone(a).cmp(&is_zone(b)).then(near.total_cmp(far))
        });
        first.map(|(body, _)| body)
    }

    /// The nearest of the bodies that move against a body during the span, its own class left out; none where nothing
    /// does. A body that isn't there has none.
    pub fn neighbour(&self, posed: &Posed, name: &str) -> Option<Neighbour> {
        let mechanism = self.mechanism();
        let body = mechanism.body(mechanism.body_named(name)?);
        let own: Vec<_> = balls(body, posed).collect();
        let others = mechanism.bodies().iter().filter(|other| {
            other.class != body.class && moves_between(mechanism, [body.link, other.link], &self.driven())
        });
        let mut nearest: Option<Neighbour> = None;
        for other in others {
            for (second, middle, radius) in balls(other, posed) {
                for (first, own_middle, own_radius) in &own {
                    let least = (middle - own_middle).norm() - radius - own_radius;
                    if nearest.as_ref().is_some_and(|nearest| nearest.distance <= least) {
                        continue;
                    }
                    let apart = separation(first, &second);
                    if nearest.as_ref().is_none_or(|nearest| apart.upper < nearest.distance) {
                        let points = [apart.point_a, apart.point_b];
                        nearest = Some(Neighbour { name: other.name.clone(), points, distance: apart.upper });
                    }
                }
            }
        }
        nearest
    }

    /// The joint that carries a body: the innermost that can move, by name; none of what is fixed.
    pub fn carrier(&self, body: &Body) -> Option<&str> {
        let mechanism = self.mechanism();
        let mut links = mechanism.path_inwards(body.link).map(|link| mechanism.link(link));
        links.find(|link| link.joint.variable.is_some()).map(|link| link.name.as_str())
    }
}

fn posed_parts<'a>(body: &'a Body, posed: &Posed) -> impl Iterator<Item = PosedConvex<'a>> {
    let structure_from_link = *posed.link(body.link);
    body.parts.iter().map(move |part| part.posed(&structure_from_link))
}

/// The parts of a body, each with middle and radius of a ball that holds it.
fn balls<'a>(body: &'a Body, posed: &Posed) -> impl Iterator<Item = (PosedConvex<'a>, Point, f64)> {
    let structure_from_link = *posed.link(body.link);
    body.parts.iter().map(move |part| {
        let (middle, radius) = part.ball();
        (part.posed(&structure_from_link), structure_from_link * middle, radius)
    })
}

/// Whether one of the driven variables moves two links against each other.
fn moves_between(mechanism: &Mechanism, links: [LinkId; 2], driven: &Range<usize>) -> bool {
    let [a, b] = links;
    let common = common_link(mechanism, a, b);
    links.into_iter().any(|link| {
        let mut between = mechanism.path_inwards(link).take_while(|at| *at != common);
        between.any(|at| mechanism.link(at).joint.variable.is_some_and(|variable| driven.contains(&variable)))
    })
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;
    use std::path::Path;
    use std::sync::atomic::AtomicBool;

    use super::*;
    use crate::check::{Case, Known, Playback, Silent};
    use crate::files::{Loaded, read_project};
    use crate::space::{PosedCore, Vector};
    use crate::state::{Scene, walk};

    fn starter() -> Playback {
        let Loaded { project, meshes, .. } = read_project(Path::new("scenes/starter")).expect("it is sound");
        let scene = Scene::new(&project, &meshes);
        let walked = walk(&scene);
        let case = Case::new((&scene, &walked), &Known::default(), &Silent, &AtomicBool::new(false)).expect("it ends");
        Playback::new(&case)
    }

    /// A motion in its middle.
    fn motion(playback: &Playback) -> (&Span, Posed) {
        let span = playback.spans.iter().find(|span| span.motion().is_some()).expect("a motion");
        let posed = span.mechanism().pose(&span.joints(0.5 * span.seconds));
        (span, posed)
    }

    /// The first body on the way, by going on as far as nothing can be in the way (sphere tracing; J. C. Hart, "Sphere
    /// tracing", The Visual Computer 12, 1996, from memory).
    fn traced<'a>(span: &'a Span, posed: &Posed, from: &Point, along: &Direction) -> Option<&'a str> {
        let mut gone = 0.0;
        while gone < 100.0 {
            let at = PosedConvex { core: PosedCore::Point(from + along.into_inner() * gone), radius: 0.0 };
            let away = |body: &'a Body| {
                let parts = posed_parts(body, posed).map(|part| separation(&at, &part).upper);
                (body, parts.fold(f64::INFINITY, f64::min))
            };
            let bodies = span.mechanism().bodies().iter().filter(|body| body.class != BodyClass::KeepOut);
            let (body, near) = bodies.map(away).min_by(|a, b| a.1.total_cmp(&b.1))?;
            if near < 1e-7 {
                return Some(&body.name);
            }
            gone += near;
        }
        None
    }

    #[test]
    fn a_line_of_sight_meets_the_body_at_which_going_on_little_by_little_ends() {
        let playback = starter();
        let (span, posed) = motion(&playback);
        let mut seen = BTreeSet::new();
        for body in span.mechanism().bodies().iter().filter(|body| body.class != BodyClass::KeepOut) {
            let (_, middle, _) = balls(body, &posed).next().expect("a body has a part");
            for side in [[1.0, 0.3, 0.2], [-1.0, 0.7, 0.4], [0.2, -1.0, 0.9]] {
                let side = Vector::from(side).normalize();
                let (from, along) = (middle + side * 30.0, Direction::new_normalize(-side));
                let first = span.seen(&posed, &from, &along).expect("something is there");
                assert_eq!(Some(first.name.as_str()), traced(span, &posed, &from, &along));
                seen.insert(&first.name);
                assert!(span.seen(&posed, &from, &-along).is_none(), "what is behind the eye is not seen");
            }
        }
        assert!(seen.len() > 10, "{seen:?}");
    }

    #[test]
    fn the_eye_does_not_see_what_it_is_in() {
        let playback = starter();
        let (span, posed) = motion(&playback);
        let helmet = span.mechanism().bodies().iter().find(|body| body.name.ends_with("helmet")).expect("a helmet");
        let (_, middle, _) = balls(helmet, &posed).next().expect("a part");
        for along in [Vector::x(), -Vector::x(), Vector::y(), Vector::z(), -Vector::z()] {
            let seen = span.seen(&posed, &middle, &Direction::new_normalize(along));
            assert!(seen.is_none_or(|body| body.name != helmet.name));
        }
    }

    #[test]
    fn the_neighbour_is_the_nearest_of_all_bodies_of_other_classes_that_change_their_place_against_it() {
        let playback = starter();
        let (span, posed) = motion(&playback);
        // Every joint that the motion drives is turned by another angle: what can move against another has moved.
        let mut turned = span.joints(0.5 * span.seconds);
        span.driven().enumerate().for_each(|(number, variable)| turned[variable] += 0.05 * (number + 1) as f64);
        let turned = span.mechanism().pose(&turned);
        let bodies = span.mechanism().bodies();
        let mut found = 0;
        for body in bodies {
            let moves = |other: &Body| {
                let between = |posed: &Posed| posed.link(body.link).inv_mul(posed.link(other.link));
                let (a, b) = (between(&posed), between(&turned));
                (a.translation.vector - b.translation.vector).norm() > 1e-9 || a.rotation.angle_to(&b.rotation) > 1e-9
            };
            let others = bodies.iter().filter(|other| other.class != body.class && moves(other));
            let distances = others.filter_map(|other| Some(span.nearest(&posed, [&body.name, &other.name])?.1));
            let least = distances.min_by(f64::total_cmp);
            let neighbour = span.neighbour(&posed, &body.name);
            assert_eq!(neighbour.as_ref().map(|neighbour| neighbour.distance), least, "{}", body.name);
            let Some(neighbour) = neighbour else { continue };
            found += 1;
            let [a, b] = neighbour.points;
            assert!(((a - b).norm() - neighbour.distance.abs()).abs() < 1e-6, "{neighbour:?}");
        }
        assert!(found > 10 && span.neighbour(&posed, "nobody").is_none());
    }

    #[test]
    fn a_body_hangs_on_the_joint_that_carries_it() {
        let playback = starter();
        let (span, _) = motion(&playback);
        let bodies = span.mechanism().bodies();
        for body in bodies.iter().filter(|body| body.class == BodyClass::Structure) {
            assert_eq!(span.carrier(body), None, "{}", body.name);
        }
        let boot = bodies.iter().find(|body| body.class == BodyClass::Restraint).expect("a plate");
        let joint = span.carrier(boot).and_then(|name| span.mechanism().variable_named(name)).expect("it is carried");
        let mut q = span.joints(0.0);
        let before = *span.mechanism().pose(&q).link(boot.link);
        q[joint] += 0.1;
        let turned = before.rotation.angle_to(&span.mechanism().pose(&q).link(boot.link).rotation);
        assert!((turned - 0.1).abs() < 1e-9, "{turned}");
    }
}
