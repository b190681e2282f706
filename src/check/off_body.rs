//! Which targets lie on no body, or on none of those that they are said to be on?
//!
//! # Law
//! The distance of the target from each body of the structure, and from each payload in every seat that it is ever in: a
//! target farther than [`NEAR`] from all that it is `on`, or deeper within a body, is odd, and so is one on another body
//! alone. It is no limit, and breaks none: what is odd is told.
//!
//! # Source
//! common practice, no source, for how near counts as on it.

use crate::mechanism::Body;
use crate::model::{BodyClass, Deed, Step, Target};
use crate::space::{Point, Pose, PosedConvex, PosedCore, separation};
use crate::state::{Assembly, Carried, Scene, beginning, is_meant};

/// A target so near to a body counts as on it, m.
const NEAR: f64 = 0.05;

/// What is odd about the targets of a plan, in words; one line for each that is.
pub fn off_bodies(scene: &Scene) -> Vec<String> {
    let structure = scene.fixed.iter().filter(|body| body.class == BodyClass::Structure);
    let payloads = payloads(scene);
    let mut bodies: Vec<(Pose, &Body)> = structure.map(|body| (Pose::identity(), body)).collect();
    bodies.extend(payloads.iter().map(|(pose, body)| (*pose, body)));
    let mut odd = Vec::new();
    for site in &scene.project.plan.worksite {
        let of_site = site.target.iter().filter_map(|target| Some((target, oddity(target, &bodies)?)));
        odd.extend(of_site.map(|(target, what)| format!("target {} of worksite {} {what}", target.id, site.id)));
    }
    odd
}

/// Bodies of the payloads, in every seat that they are ever in.
fn payloads(scene: &Scene) -> Vec<(Pose, Body)> {
    let plan = &scene.project.plan;
    let mut bodies = Vec::new();
    for (number, payload) in plan.payload.iter().enumerate() {
        let is_placed = |step: &&Step| step.deed == Deed::Place && step.payload.as_ref() == Some(&payload.id);
        let placed = plan.step.iter().filter(is_placed).filter_map(|step| step.seat.as_ref());
        for seat in [&payload.seat].into_iter().chain(placed) {
            let mut moment = beginning(scene);
            moment.payloads[number] = Carried::Standing { structure_from_payload: scene.seat(seat) };
            let assembly = Assembly::new(scene, &moment);
            let of_payload = assembly.payloads[number].iter().map(|body| assembly.mechanism.body(*body));
            bodies.extend(of_payload.map(|body| (*assembly.posed.link(body.link), body.clone())));
        }
    }
    bodies
}

/// What is odd about where a target lies; none where nothing is.
fn oddity(target: &Target, bodies: &[(Pose, &Body)]) -> Option<String> {
    let at = PosedConvex { core: PosedCore::Point(Point::from(target.at_m)), radius: 0.0 };
    let distance = |(pose, body): &(Pose, &Body)| {
        let parts = body.parts.iter().map(|part| separation(&at, &part.posed(pose)).upper);
        parts.fold(f64::INFINITY, f64::min)
    };
    let distances = bodies.iter().map(|body| (body.1.name.as_str(), distance(body)));
    let distances: Vec<(&str, f64)> = distances.collect();
    let nearest = distances.iter().min_by(|(_, a), (_, b)| a.total_cmp(b))?;
    let is_on = |name: &str| target.on.iter().any(|written| is_meant(written, name));
    let on = distances.iter().filter(|(name, _)| is_on(name)).min_by(|(_, a), (_, b)| a.total_cmp(b));
    match (on, nearest) {
        (_, (name, depth)) if *depth < -NEAR => Some(format!("lies {:.2} m inside {name}", -depth)),
        (Some((_, distance)), _) if *distance <= NEAR => None,
        (_, (name, distance)) if *distance > NEAR => {
            Some(format!("lies on no body: the nearest is {name}, {distance:.2} m away"))
        }
        (_, (name, _)) if target.on.is_empty() => Some(format!("lies on {name}, and is `on` nothing")),
        (_, (name, _)) => Some(format!("lies on {name}, which is not among what it is `on`")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Project;
    use crate::state::testing::with_edited;

    fn told(edit: impl FnOnce(&mut Target)) -> Vec<String> {
        let mut odd = Vec::new();
        let latch = |project: &mut Project| edit(&mut project.plan.worksite[0].target[0]);
        with_edited(latch, |scene| odd = off_bodies(scene));
        odd
    }

    #[test]
    fn a_target_is_odd_where_it_lies_on_no_body_or_on_another_than_it_says() {
        assert_eq!(told(|_| {}), Vec::<String>::new());
        let on = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect::<Vec<_>>();
        let other = told(|latch| latch.on = on(&["far-panel"]));
        assert_eq!(
            other,
            ["target latch of worksite near-panel lies on near-panel, which is not among what it is `on`"]
        );
        let none = told(|latch| latch.on = on(&[]));
        assert_eq!(none, ["target latch of worksite near-panel lies on near-panel, and is `on` nothing"]);
        let inside = told(|latch| latch.at_m[2] -= 0.06);
        assert_eq!(inside, ["target latch of worksite near-panel lies 0.06 m inside near-panel"]);
        let above = told(|latch| latch.at_m[2] += 0.30);
        assert_eq!(
            above,
            ["target latch of worksite near-panel lies on no body: the nearest is near-panel, 0.30 m away"]
        );
    }
}
