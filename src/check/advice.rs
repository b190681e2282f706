//! What would help a hand that does not get to its target?
//!
//! # Law
//! The way to the target is the line from the shoulder of the neutral posture on this plate to where the grip must be.
//! A tool that is longer than the arm that holds it, and an axis that leads back along that way, are told before
//! anything else: moving the plate mends neither.

use std::f64::consts::FRAC_PI_2;

use crate::crew::Grip;
use crate::mechanism::BodyId;
use crate::model::BodyClass;
use crate::space::{Direction, Point, Vector};

use super::case::UseCase;

/// What is odd about the target itself: the length of its tool, or the direction of its axis.
pub fn of_target(used: &UseCase) -> Option<String> {
    let grip = used.task.grips.first()?;
    let figure = &used.standing.links.figure;
    let arm = figure.upper_arm + figure.forearm + figure.wrist_to_grip;
    if grip.tool > arm {
        return Some(format!("a shorter tool: `tool_m` is {:.2} m, the arm that holds it {arm:.2} m", grip.tool));
    }
    let (axis, _) = grip.axis?;
    let back = axis.angle(&way(used, grip));
    (back > FRAC_PI_2).then(|| {
        format!(
            "an `axis` that leads away from the crewmember: this one points back at them, {:.0}° off the way from the \
             shoulder to the target, and it is the direction in which the tool pushes",
            back.to_degrees()
        )
    })
}

/// The plate nearer by so many metres, and in which direction.
pub fn nearer(used: &UseCase, short: f64) -> Option<String> {
    let grip = used.task.grips.first()?;
    let towards = Direction::try_new(way(used, grip), 1e-6)?;
    Some(format!(
        "the plate {short:.2} m nearer, towards ({:+.2}, {:+.2}, {:+.2}); or another detent",
        towards.x, towards.y, towards.z
    ))
}

/// What stands where the body would have to be.
pub fn of_overlap(used: &UseCase, pairs: &[(BodyId, BodyId)]) -> String {
    let standing = &used.standing;
    let (frozen, links) = (&standing.frozen, &standing.links);
    let own = |body: BodyId| links.bodies.contains(&body.0) || frozen.body(body).name.starts_with(links.prefix());
    let in_hand = |body: BodyId| {
        frozen.path_inwards(frozen.body(body).link).any(|at| [links.hand.left, links.hand.right].contains(&at))
    };
    let meeting = pairs.iter().find_map(|&(a, b)| match (own(a), own(b)) {
        (true, false) => Some((a, b)),
        (false, true) => Some((b, a)),
        _ => None,
    });
    let Some((part, blocker)) = meeting else {
        return "a place of the plate, or a detent, that leaves room between the two".to_owned();
    };
    let body = frozen.body(blocker);
    let room = format!("blocked by {}: a place of the plate, or a detent, that leaves room for it", body.name);
    let worked_on = used.target.is_some() && matches!(body.class, BodyClass::Structure | BodyClass::Payload);
    if in_hand(part) && worked_on {
        format!("{room}; if the hand works on it, add \"{}\" to the target's `on`", body.name)
    } else {
        room
    }
}

/// From the shoulder of the neutral posture to where the tool's end must be, m.
fn way(used: &UseCase, grip: &Grip) -> Vector {
    let posed = used.standing.frozen.pose(&used.standing.links.neutral);
    let shoulder = used.standing.links.shoulder.on(grip.side);
    grip.at - Point::from(posed.link(*shoulder).translation.vector)
}
