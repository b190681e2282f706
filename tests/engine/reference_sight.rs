//! Source: closed forms of the project's check values, section "Sight": lines of sight past a ball, directions in a field of
//! view. Tolerance 1e-9 (a share of the way, rad): a root and an arc tangent in f64.

use trusswalk::crew::View;
use trusswalk::space::{Convex, Core, Point, Pose, Vector, ray_hits};

use super::stored::{Deviation, assert_allowed};

const ALLOWED: f64 = 1e-9;

fn ball() -> Convex {
    Convex { core: Core::Point(Point::new(2.0, 0.0, 0.0)), radius: 0.5 }
}

/// Where the line of sight from the origin first meets the ball, as a share of the way; none where it passes.
fn hidden_at(target: Point) -> Option<f64> {
    ray_hits(&Point::origin(), &target, &ball().posed(&Pose::identity()))
}

/// The same by the closed form: the nearer root of |t·target − centre| = radius.
fn closed_form(target: Point) -> f64 {
    let centre = Vector::new(2.0, 0.0, 0.0);
    let (a, b, c) = (target.coords.norm_squared(), target.coords.dot(&centre), centre.norm_squared() - 0.25);
    (b - (b * b - a * c).sqrt()) / a
}

/// Azimuth and elevation of a direction, x ahead.
fn angles(ahead: Vector) -> [f64; 2] {
    [ahead.y.atan2(ahead.x), ahead.z.atan2(ahead.x.hypot(ahead.y))]
}

pub fn deviations() -> Vec<Deviation> {
    let targets = [[4.0, 1.0, 0.0], [4.0, 0.0, 0.3], [9.0, -1.0, 1.0], [2.0, 0.1, 0.2]].map(Point::from);
    let lines = targets.map(|target| (hidden_at(target).unwrap_or(f64::INFINITY) - closed_form(target)).abs());
    // 26.565051° is the arc tangent of a half, 24.094843° that of 0.5/√1.25.
    let wide = View { sideways: 0.0, up: 0.0, down: 0.0 };
    let [left, up] = angles(Vector::new(1.0, 0.5, 0.5));
    let beyond = [wide.beyond(left, 0.0) - 0.5_f64.atan(), wide.beyond(0.0, up) - (0.5 / 1.25_f64.sqrt()).atan()];
    vec![
        Deviation::of("sight: where a ball hides (share of the way)", "closed form", ALLOWED, lines),
        Deviation::of("sight: angle beyond the field of view (rad)", "closed form", ALLOWED, beyond.map(f64::abs)),
    ]
}

#[test]
fn lines_of_sight_meet_a_ball_where_the_closed_form_says() {
    assert_allowed(&deviations());
}

#[test]
fn a_ball_hides_what_lies_behind_it_and_nothing_else() {
    // The line to (4, 1, 0) passes the centre at 0.485071 m, that to (4, 1.1, 0) at 0.530313 m; (1.4, 0.35, 0) is before it.
    assert!(hidden_at(Point::new(4.0, 1.0, 0.0)).is_some());
    assert!(hidden_at(Point::new(4.0, 1.1, 0.0)).is_none());
    assert!(hidden_at(Point::new(1.4, 0.35, 0.0)).is_none());
    // The shadow's edge: half angle asin(r/D) = 14.477512°, at x = 4 the height 1.032796.
    assert!(hidden_at(Point::new(4.0, 1.032795, 0.0)).is_some());
    assert!(hidden_at(Point::new(4.0, 1.032797, 0.0)).is_none());
}

#[test]
fn a_field_of_view_is_a_range_of_angles_and_no_cone() {
    // (1, 0.5, 0.5) lies 35.264390° off x, and still within 30° sideways and 30° up.
    let half = 30_f64.to_radians();
    let view = View { sideways: half, up: half, down: half };
    let [left, up] = angles(Vector::new(1.0, 0.5, 0.5));
    assert!(view.beyond(left, up) < 0.0);
    assert!(view.beyond(2.0 * left, up) > 0.0 && view.beyond(left, -2.0 * up) > 0.0);
}
