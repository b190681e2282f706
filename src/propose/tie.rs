//! What is the case before each visit, what is done in it, and which later visit does a payload tie it to?
//!
//! # Law
//! What is taken at one visit stays where it is in the hands until it is placed at a later one: so the plate there stands to
//! the seat as it stood to the seat here, and what is asked for there is asked for here, too, shifted.

use crate::model::{Deed, Who};
use crate::space::{Pose, Vector};
use crate::state::{Assembly, Carried, Doing, Event, Moment, Scene, Standing, beginning, walk_steps};

use super::visit::{Visit, waiting_at};
use super::work::{Work, is_riders};

/// A payload ties two visits: the plate at the later one, from the plate at the earlier one.
pub struct Tie {
    pub later: usize,
    /// The plate there, from the plate here.
    pub shift: Pose,
}

/// What is the case before each visit, as the plan stands.
pub fn befores(scene: &Scene, visits: &[Visit]) -> Vec<Moment> {
    let first = visits.first().map_or(0, |visit| visit.arriving);
    let (_, mut now) = walk_steps(scene, beginning(scene), 0..first);
    let mut befores = Vec::new();
    for visit in visits {
        let before = visit.before(scene, &now);
        now = walk_steps(scene, before.clone(), visit.arriving..visit.end).1;
        befores.push(before);
    }
    befores
}

/// The later visit at which what is taken at a visit is placed.
pub fn tie(scene: &Scene, visits: &[Visit], n: usize, before: &Moment) -> Option<Tie> {
    let (visit, steps) = (&visits[n], &scene.project.plan.step);
    let number = |id: &String| scene.project.plan.payload.iter().position(|payload| payload.id == *id);
    let taken = steps[visit.arriving..visit.end].iter().find(|step| step.deed == Deed::Take)?.payload.as_ref()?;
    let placed = |k: &usize| steps[*k].deed == Deed::Place && steps[*k].payload.as_ref() == Some(taken);
    let at = (visit.end..steps.len()).find(placed)?;
    let later = (n + 1..visits.len()).find(|later| (visits[*later].arriving..visits[*later].end).contains(&at))?;
    let Carried::Standing { structure_from_payload } = before.payloads[number(taken)?] else { return None };
    let structure_from_seat = scene.seat(steps[at].seat.as_deref()?);
    Some(Tie { later, shift: structure_from_seat * structure_from_payload.inverse() })
}

/// What is done in a visit, and in the later one that it settles, if that is open; where that is not, it settles this one.
pub fn work<'a>(
    scene: &'a Scene<'a>,
    visit: &Visit,
    before: &Moment,
    later: Option<(Pose, &Visit, bool)>,
) -> Option<Work<'a>> {
    let site = scene.project.plan.worksite.iter().find(|site| site.id == visit.site)?;
    let (walk, after) = walk_steps(scene, before.clone(), visit.arriving..visit.end);
    let stays = || walk.events.iter().filter_map(|event| if let Event::Stay(stay) = event { Some(stay) } else { None });
    let moment = stays().find(|stay| is_riders(stay, &site.id))?.moment.clone();
    let someone = Standing::new(Assembly::new(scene, &moment), Who::Rider)?;
    let mut work = Work { things: Vec::new(), plates: None, approach: Vector::from(site.approach), someone, moment };
    for stay in stays() {
        if is_riders(stay, &site.id) {
            if let (Doing::Place { payload, structure_from_seat, .. }, None) = (&stay.doing, &work.plates)
                && let Carried::InHands { plate_from_payload } = before.payloads[*payload]
            {
                work.plates = Some(vec![structure_from_seat * plate_from_payload.inverse()]);
            }
            work.add(scene, stay, site, &Pose::identity());
        }
    }
    match later {
        None => {}
        Some((shift, visit, false)) => {
            let there = Assembly::new(scene, &waiting_at(scene, &visit.site)).structure_from_plate();
            work.plates = Some(vec![shift.inverse() * there]);
        }
        Some((shift, later, true)) => {
            let site = scene.project.plan.worksite.iter().find(|site| site.id == later.site)?;
            let (_, before) = walk_steps(scene, after, visit.end..later.arriving);
            let (walk, _) = walk_steps(scene, before, later.arriving..later.end);
            for event in &walk.events {
                let Event::Stay(stay) = event else { continue };
                if is_riders(stay, &site.id) {
                    work.add(scene, stay, site, &shift);
                }
            }
        }
    }
    Some(work)
}
