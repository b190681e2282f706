//! Does the line of sight from one point to another pass through a shape, and where first?
//!
//! # Law
//! The stretch between the two points counts, not what lies beyond them. It passes through if its distance from the shape is
//! not above zero; touching counts. Where it enters: from a place before the shape, the support plane at the shape's nearest
//! point is crossed no later than the shape is entered, so going on to that plane never passes the entry; the steps end when
//! the shape is met within 1e-12 m. A flat face is met in one step, a curved one with twice the digits in each, a line
//! that grazes with one bit in each.

use super::segment_segment;
use super::separation::{TOUCHING, nearest_points};
use super::{Direction, Point, PosedConvex, PosedCore, support_gap};

/// The fraction of the way `from` → `to` at which it first meets the shape: 0 if it starts inside; none if it does not meet it.
///
/// The fraction is at most the true one, short of it by less than 1e-12 m on the way straight in.
pub fn ray_hits(from: &Point, to: &Point, shape: &PosedConvex) -> Option<f64> {
    const MET: f64 = 1e-12;
    const MOST_STEPS: u32 = 100;
    let line = PosedConvex { core: PosedCore::Segment(*from, *to), radius: 0.0 };
    if passes_beside(&line, from, to, shape) {
        return None;
    }
    if let Some((p, q)) = nearest_points(&line.core, &shape.core)
        && (q - p).norm() > shape.radius
    {
        return None;
    }
    let way = to - from;
    let mut fraction = 0.0;
    for _ in 0..MOST_STEPS {
        let place = PosedConvex { core: PosedCore::Point(from + way * fraction), radius: 0.0 };
        let Some((p, q)) = nearest_points(&place.core, &shape.core) else {
            break;
        };
        let Some(normal) = Direction::try_new(q - p, TOUCHING) else {
            break;
        };
        let ahead = support_gap(&place, shape, &normal);
        let approach = normal.dot(&way);
        // The way does meet the shape; where it seems not to come nearer any more, it is there but for rounding.
        if ahead <= MET || approach <= 0.0 {
            break;
        }
        fraction = (fraction + ahead / approach).min(1.0);
    }
    Some(fraction)
}

/// A quick no: whether one plane, between the line and the middle of the shape, has the two on either side.
///
/// Not tried for cores whose distance costs no more than this.
fn passes_beside(line: &PosedConvex, from: &Point, to: &Point, shape: &PosedConvex) -> bool {
    if matches!(shape.core, PosedCore::Point(_) | PosedCore::Segment(..)) {
        return false;
    }
    let middle = shape.core.middle();
    let (on_line, _) = segment_segment::nearest_points([from, to], [&middle, &middle]);
    Direction::try_new(middle - on_line, 0.0).is_some_and(|normal| support_gap(line, shape, &normal) > 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::space::random::{Kind, Random};
    use crate::space::{Convex, Core, Pose, Vector, separation};

    fn ball(centre: [f64; 3], radius: f64) -> Convex {
        Convex { core: Core::Point(Point::from(centre)), radius }
    }

    // Closed form: distance of the line from the ball's centre, 0.485071, 0.530313 and 0.694622 against the radius 0.5.
    #[test]
    fn a_ball_hides_what_lies_behind_it_and_nothing_before_or_beside_it() {
        let ball = ball([2., 0., 0.], 0.5);
        let ball = ball.posed(&Pose::identity());
        let hits = |target: [f64; 3]| ray_hits(&Point::origin(), &Point::from(target), &ball);
        assert!(hits([4., 1., 0.]).is_some());
        assert!(hits([4., 1.1, 0.]).is_none());
        assert!(hits([1.4, 0.35, 0.]).is_none());
    }

    /// The first root of |from + t·way − centre|² = radius² in [0, 1].
    fn first_root(from: &Point, to: &Point, centre: &Point, radius: f64) -> Option<f64> {
        let (way, off) = (to - from, from - centre);
        let half = way.dot(&off) / way.norm_squared();
        let rest = (off.norm_squared() - radius * radius) / way.norm_squared();
        let root = -half - (half * half - rest).sqrt();
        if rest <= 0.0 { Some(0.0) } else { (0.0..=1.0).contains(&root).then_some(root) }
    }

    #[test]
    fn a_ball_is_entered_where_the_quadratic_says() {
        let mut random = Random::seeded(41);
        let mut met = 0;
        for _ in 0..10_000 {
            let (from, to, centre) = (random.point(3.0), random.point(3.0), random.point(3.0));
            let ball = Convex { core: Core::Point(centre), radius: random.between(0.1, 2.0) };
            let expected = first_root(&from, &to, &centre, ball.radius);
            let found = ray_hits(&from, &to, &ball.posed(&Pose::identity()));
            assert_eq!(found.is_some(), expected.is_some());
            if let (Some(found), Some(expected)) = (found, expected) {
                met += 1;
                // Near a graze the fraction is told to the root of what the distance is told to.
                assert!((found - expected).abs() < 1e-5, "{found} {expected}");
            }
        }
        assert!(met > 500);
    }

    #[test]
    fn a_box_is_entered_where_its_slabs_say() {
        let mut random = Random::seeded(42);
        let half = Vector::new(0.5, 0.9, 0.2);
        let core = Core::Box { link_from_box: Pose::identity(), half };
        let solid = Convex { core, radius: 0.0 };
        for _ in 0..10_000 {
            let (from, to) = (random.point(2.0), random.point(2.0));
            let way = to - from;
            let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
            for k in 0..3 {
                let bounds = [(-half[k] - from[k]) / way[k], (half[k] - from[k]) / way[k]];
                enter = enter.max(bounds[0].min(bounds[1]));
                leave = leave.min(bounds[0].max(bounds[1]));
            }
            let pose = random.pose(5.0);
            let found = ray_hits(&(pose * from), &(pose * to), &solid.posed(&pose));
            assert_eq!(found.is_some(), enter <= leave);
            assert!(found.is_none_or(|found| (found - enter).abs() < 1e-9));
        }
    }

    #[test]
    fn the_way_is_outside_before_the_fraction_and_meets_the_shape_there() {
        let mut random = Random::seeded(43);
        for kind in Kind::ALL {
            let mut met = 0;
            for _ in 0..2_000 {
                let shape = random.shape(kind);
                let pose = random.pose(1.0);
                let posed = shape.posed(&pose);
                let from = random.point(3.0);
                let to = from + (pose * random.point(0.5) - from) * random.between(0.5, 2.0);
                let distance = |fraction: f64| {
                    let place = PosedConvex { core: PosedCore::Point(from + (to - from) * fraction), radius: 0.0 };
                    separation(&place, &posed)
                };
                match ray_hits(&from, &to, &posed) {
                    Some(fraction) => {
                        met += 1;
                        assert!(distance(fraction).lower < 1e-9);
                        assert!(
                            (0..20).all(|k| distance(fraction * f64::from(k) / 20.0).upper > -1e-9 || fraction == 0.0)
                        );
                    }
                    None => assert!((0..=40).all(|k| distance(f64::from(k) / 40.0).upper > 0.0)),
                }
            }
            assert!(met > 50, "{kind:?} met {met} times");
        }
    }

    #[test]
    fn a_way_of_no_length_meets_what_it_stands_in_and_nothing_else() {
        let ball = ball([2., 0., 0.], 0.5);
        let ball = ball.posed(&Pose::identity());
        let inside = Point::new(2.1, 0.0, 0.0);
        assert_eq!(ray_hits(&inside, &inside, &ball), Some(0.0));
        assert_eq!(ray_hits(&Point::origin(), &Point::origin(), &ball), None);
    }
}
