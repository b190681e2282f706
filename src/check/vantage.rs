//! From which side are the nearest points of two bodies both seen, and what does a helmet show of a place?
//!
//! For who looks at a plan: no finding rests on it.
//!
//! # Law
//! An eye sees a point if nothing lies on the way to it farther than [`SKIN`] before it: the point itself is on a body's
//! surface, or inside the other body by as much as the two overlap. Keep-out zones are no matter and hide nothing. Sides
//! are tried on a net over the sphere, the one nearest to the wanted side first, from a distance that is halved as long as
//! nothing is found; sides from which the pair is seen across come before those along which its points hide one another.
//! Where no side is free, such as between two plates that are close, the one is taken from which least lies before them.

use crate::mechanism::{Body, Posed};
use crate::model::{BodyClass, Who};
use crate::space::{Direction, Point, PosedConvex, Vector, ray_hits};

use super::playback::Span;

/// What hides nothing of a point, being so near to it, m.
const SKIN: f64 = 0.02;
/// Lines of the net from pole to pole; between two of them lies the same angle as between two of those across.
const COLUMNS: i32 = 24;
/// Lines across, above the middle one and below: none is at a pole, as nobody looks straight down.
const ROWS: i32 = 5;
/// A pair is seen across if it is seen at least so long, of its length.
const ACROSS: f64 = 0.6;
/// Points that are nearer to each other than this have no side across, m.
const LENGTH: f64 = 1e-3;
/// The distance is halved so often.
const HALVINGS: i32 = 3;

/// A place from which a pair is looked at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vantage {
    /// The middle of the nearest points, in the structure's frame.
    pub middle: Point,
    /// From there to the eye.
    pub side: Direction,
    /// How far away the eye is, m.
    pub away: f64,
    /// Whether both points are seen from there; else it is the side from which least lies before them.
    pub is_seen: bool,
}

/// What of a place a helmet's field of view shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum InHelmet {
    Inside,
    Outside,
    /// Farther than a quarter turn from straight ahead.
    Behind,
}

impl Span {
    /// Where to look from at the nearest points of two bodies, bodies posed in [`Self::mechanism`]: the side nearest to the
    /// wanted one, and the wanted distance (m) or less. None where one of the bodies isn't there.
    pub fn vantage(&self, posed: &Posed, pair: [&str; 2], (side, away): (&Direction, f64)) -> Option<Vantage> {
        let (points, distance) = self.nearest(posed, pair)?;
        let sight = Sight::new(self.mechanism().bodies(), posed, points, distance);
        let mut sides: Vec<Direction> = std::iter::once(*side).chain(net()).collect();
        sides.sort_by(|a, b| b.dot(side).total_cmp(&a.dot(side)));
        let across: Vec<Direction> = sides.iter().filter(|side| sight.is_across(side)).copied().collect();
        let best = [&across, &sides].into_iter().find_map(|sides| {
            (0..=HALVINGS).map(|times| away * 0.5_f64.powi(times)).find_map(|away| {
                let side = sides.iter().find(|side| sight.is_free(side, away))?;
                Some(Vantage { middle: sight.middle, side: *side, away, is_seen: true })
            })
        });
        Some(best.unwrap_or_else(|| {
            let side = sight.least_hidden(&sides, away);
            Vantage { middle: sight.middle, side, away, is_seen: false }
        }))
    }

    /// What the helmet of a crewmember shows of a place (in the structure's frame); none of who isn't there.
    pub fn in_helmet(&self, posed: &Posed, who: Who, at: &Point) -> Option<InHelmet> {
        let links = self.assembly().body_links(who)?;
        let at = posed.link(links.eye).inverse() * at;
        let (left, up) = (at.y.atan2(at.x), at.z.atan2(at.x.hypot(at.y)));
        Some(if at.x < 0.0 {
            InHelmet::Behind
        } else if links.view.beyond(left, up) > 0.0 {
            InHelmet::Outside
        } else {
            InHelmet::Inside
        })
    }
}

/// Directions all around, but for the poles.
fn net() -> impl Iterator<Item = Direction> {
    let angle = |number: i32| f64::from(number) * std::f64::consts::TAU / f64::from(COLUMNS);
    (-ROWS..=ROWS).flat_map(move |row| {
        (0..COLUMNS).map(move |column| {
            let (height, turn) = (angle(row), angle(column));
            let level = height.cos();
            Direction::new_normalize(Vector::new(level * turn.cos(), level * turn.sin(), height.sin()))
        })
    })
}

/// A pair among all that may hide it.
struct Sight<'a> {
    points: [Point; 2],
    middle: Point,
    /// What is so near to a point hides nothing of it, m.
    skin: f64,
    /// Parts of bodies, each with middle and radius of a ball that holds it.
    parts: Vec<(PosedConvex<'a>, Point, f64)>,
}

impl<'a> Sight<'a> {
    fn new(bodies: &'a [Body], posed: &Posed, points: [Point; 2], distance: f64) -> Self {
        let matter = bodies.iter().filter(|body| body.class != BodyClass::KeepOut);
        let parts = matter.flat_map(|body| {
            let structure_from_link = *posed.link(body.link);
            body.parts.iter().map(move |part| {
                let (middle, radius) = part.ball();
                (part.posed(&structure_from_link), structure_from_link * middle, radius)
            })
        });
        let skin = SKIN + (-distance).max(0.0);
        Self { points, middle: nalgebra::center(&points[0], &points[1]), skin, parts: parts.collect() }
    }

    /// Whether the pair is seen across from a side, wherever it has one.
    fn is_across(&self, side: &Direction) -> bool {
        let along = self.points[1] - self.points[0];
        along.norm() < LENGTH || along.cross(side).norm() >= ACROSS * along.norm()
    }

    /// Whether nothing hides either point from an eye on a side, so far away from the middle.
    fn is_free(&self, side: &Direction, away: f64) -> bool {
        let eye = self.middle + side.into_inner() * away;
        let mut pairs = self.points.iter().flat_map(|point| self.parts.iter().map(move |part| (part, point)));
        pairs.all(|(part, point)| hidden_by(part, &eye, point) <= self.skin)
    }

    /// Of some sides the one from which what hides the points most ends nearest to them, the first of those that do so
    /// within [`SKIN`].
    fn least_hidden(&self, sides: &[Direction], away: f64) -> Direction {
        let depth = |side: &Direction| {
            let eye = self.middle + side.into_inner() * away;
            let pairs = self.points.iter().flat_map(|point| self.parts.iter().map(move |part| (part, point)));
            pairs.map(|(part, point)| hidden_by(part, &eye, point)).fold(0.0, f64::max)
        };
        let depths: Vec<f64> = sides.iter().map(depth).collect();
        let least = depths.iter().copied().fold(f64::INFINITY, f64::min);
        let first = depths.iter().position(|depth| *depth <= least + SKIN);
        first.map_or(Direction::new_unchecked(Vector::x()), |first| sides[first])
    }
}

/// How far before a point a part meets the way to it from an eye, m; 0 where it does not.
fn hidden_by((part, middle, radius): &(PosedConvex, Point, f64), eye: &Point, point: &Point) -> f64 {
    let way = point - eye;
    let along = ((middle - eye).dot(&way) / way.norm_squared()).clamp(0.0, 1.0);
    if (eye + way * along - middle).norm() > *radius {
        return 0.0;
    }
    ray_hits(eye, point, part).map_or(0.0, |fraction| (1.0 - fraction) * way.norm())
}

#[cfg(test)]
mod tests {
    use std::path::Path;
    use std::sync::atomic::AtomicBool;

    use super::*;
    use crate::check::{CLEARANCE, Checked, Known, Silent, again};
    use crate::files::{Loaded, read_project};
    use crate::space::{PosedCore, separation};

    fn checked(scene: &str) -> Checked {
        let Loaded { project, meshes, .. } = read_project(Path::new(scene)).expect("it is sound");
        again((&project, &meshes), &Known::default(), &Silent, &AtomicBool::new(false)).expect("nobody stops it")
    }

    /// Whether the way from a point to an eye is free but for the skin about the point, by going on as far as nothing can be
    /// in the way (sphere tracing; J. C. Hart, "Sphere tracing", The Visual Computer 12, 1996, from memory).
    fn traced(span: &Span, posed: &Posed, point: &Point, eye: &Point, skin: f64) -> bool {
        let (way, length) = (Direction::new_normalize(eye - point), (eye - point).norm());
        let bodies = span.mechanism().bodies().iter().filter(|body| body.class != BodyClass::KeepOut);
        let structure_from_link = |body: &Body| *posed.link(body.link);
        let parts: Vec<PosedConvex> =
            bodies.flat_map(|body| body.parts.iter().map(move |part| part.posed(&structure_from_link(body)))).collect();
        let mut gone = skin + 1e-6;
        while gone < length {
            let at = PosedConvex { core: PosedCore::Point(point + way.into_inner() * gone), radius: 0.0 };
            let near = parts.iter().map(|part| separation(&at, part).upper).fold(f64::INFINITY, f64::min);
            if near < 1e-7 {
                return false;
            }
            gone += near;
        }
        true
    }

    #[test]
    fn both_points_are_seen_from_where_one_is_told_to_look_and_from_no_tried_side_that_is_nearer() {
        let checked = checked("scenes/starter");
        let wanted = [[-0.6, 0.7, 0.4], [0.7, -0.6, -0.3], [0.1, 0.2, 0.97]]
            .map(|side| Direction::new_normalize(Vector::from(side)));
        let (mut turned, mut kept, mut unseen) = (0, 0, 0);
        let pairs = checked.outcome.findings.iter().filter(|finding| finding.key.check == CLEARANCE);
        for finding in pairs.step_by(3) {
            let Some([a, b]) = finding.pair.as_ref().and_then(|pair| pair.bodies.as_ref()) else { continue };
            let Some((number, at)) = checked.playback.moment_of(finding) else { continue };
            let span = &checked.playback.spans[number];
            let posed = span.mechanism().pose(&span.joints(at - span.start));
            let (points, distance) = span.nearest(&posed, [a, b]).expect("both are there");
            let skin = SKIN + (-distance).max(0.0);
            let sight = Sight::new(span.mechanism().bodies(), &posed, points, distance);
            for side in &wanted {
                let found = span.vantage(&posed, [a, b], (side, 6.0)).expect("both are there");
                let is_free = |side: &Direction, away: f64| {
                    let eye = found.middle + side.into_inner() * away;
                    points.iter().all(|point| traced(span, &posed, point, &eye, skin))
                };
                assert_eq!(is_free(&found.side, found.away), found.is_seen, "{a} to {b}: {found:?}");
                if !found.is_seen {
                    unseen += 1;
                    assert!(net().all(|side| !is_free(&side, found.away)), "{a} to {b} is seen from elsewhere");
                    continue;
                }
                if found.side == *side {
                    kept += 1;
                    continue;
                }
                turned += 1;
                let nearer = std::iter::once(*side).chain(net());
                let nearer = nearer.filter(|tried| tried.dot(side) > found.side.dot(side) && sight.is_across(tried));
                for tried in nearer.filter(|_| sight.is_across(&found.side)) {
                    assert!(!is_free(&tried, found.away), "{a} to {b}: {tried:?} is nearer to {side:?}");
                }
            }
        }
        let seen = turned + kept;
        assert!(turned > 20 && kept > 3 && unseen < seen, "{turned} turned, {kept} kept, {unseen} not seen");
    }

    #[test]
    fn what_is_enclosed_is_seen_from_no_side_and_looked_at_from_where_least_lies_before_it() {
        let checked = checked("scenes/starter");
        let span = checked.playback.spans.iter().find(|span| span.motion().is_some()).expect("a motion");
        let posed = span.mechanism().pose(&span.joints(0.0));
        let helmet = span.mechanism().bodies().iter().find(|body| body.name.ends_with("helmet")).expect("a rider");
        let (middle, _) = helmet.parts[0].ball();
        let inside = *posed.link(helmet.link) * middle;
        let sight = Sight::new(span.mechanism().bodies(), &posed, [inside, inside], 0.0);
        assert!(net().all(|side| !sight.is_free(&side, 6.0)));
        let sides: Vec<Direction> = net().collect();
        let out = |side: &Direction| {
            // Out of the helmet and whatever lies about it, step by step.
            let free = |gone: f64| traced(span, &posed, &inside, &(inside + side.into_inner() * 6.0), gone);
            (1..300).map(|step| 0.02 * f64::from(step)).find(|gone| free(*gone)).unwrap_or(6.0)
        };
        let chosen = out(&sight.least_hidden(&sides, 6.0));
        let least = sides.iter().step_by(20).map(out).fold(f64::INFINITY, f64::min);
        assert!(chosen <= least + SKIN + 0.021, "{chosen} m lie before it, from elsewhere {least} m");
        let side = Direction::new_normalize(Vector::new(1.0, 1.0, 0.5));
        assert_eq!(span.vantage(&posed, ["nobody", &helmet.name], (&side, 6.0)), None);
    }

    #[test]
    fn a_helmet_shows_what_is_before_it_within_its_field_and_tells_what_is_behind() {
        let checked = checked("scenes/starter");
        let span = checked.playback.spans.iter().find(|span| span.motion().is_some()).expect("a motion");
        let posed = span.mechanism().pose(&span.joints(0.0));
        let links = span.assembly().body_links(Who::Rider).expect("a rider");
        let shown = |left: f64, up: f64| {
            let ahead = Point::new(left.cos() * up.cos(), left.sin() * up.cos(), up.sin());
            span.in_helmet(&posed, Who::Rider, &(*posed.link(links.eye) * ahead))
        };
        let (view, little) = (links.view, 0.01);
        assert_eq!(shown(0.0, 0.0), Some(InHelmet::Inside));
        for (left, up) in [(view.sideways, 0.0), (-view.sideways, 0.0), (0.0, view.up), (0.0, -view.down)] {
            let just = |by: f64| shown(left + by * left.signum() * f64::from(left != 0.0), up + by * up);
            assert_eq!(just(-little), Some(InHelmet::Inside), "{left} {up}");
            if (left + little).abs().max((left - little).abs()) < std::f64::consts::FRAC_PI_2 {
                assert_eq!(just(little), Some(InHelmet::Outside), "{left} {up}");
            }
        }
        assert_eq!(shown(std::f64::consts::PI, 0.0), Some(InHelmet::Behind));
        assert_eq!(span.in_helmet(&posed, Who::SecondCrew, &Point::origin()), None);
    }
}
