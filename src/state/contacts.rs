//! Which pairs of bodies may touch at a moment, and why?
//!
//! Exempt by rule: bodies that never move against each other by design (same rigid group of one owner), neighbours in a
//! mechanism, what the suited body presses together, and hands and the payload that they hold. Exempt by declaration,
//! up to a stated overlap: the plan's contacts, in their steps, and glove and tool on what they work on. A whole class
//! is never exempt: reading a plan sees to it.

use crate::mechanism::{BodyId, LinkId};
use crate::model::{BodyClass, Contact, Who};

use super::assembly::Assembly;

/// Why a pair may touch.
#[derive(Clone, Debug, PartialEq)]
pub enum Touch<'a> {
    /// Neighbours in a mechanism: not measured.
    Neighbours(&'static str),
    /// What hands hold: not measured.
    InHand(&'static str),
    /// What glove and tool work on: measured against the plan's greatest overlap there.
    OnTarget,
    /// A declared contact: measured against its own limit.
    Declared(&'a Contact),
}

/// Whether a pair may touch during a step; contacts are the plan's, `steps` the ids that the moment belongs to.
pub fn touch<'a>(
    assembly: &Assembly,
    (a, b): (BodyId, BodyId),
    contacts: &'a [Contact],
    steps: &[&str],
) -> Option<Touch<'a>> {
    neighbours(assembly, a, b)
        .map(Touch::Neighbours)
        .or_else(|| in_hand(assembly, a, b))
        .or_else(|| declared(assembly, (a, b), contacts, steps).map(Touch::Declared))
}

/// The rule by which two bodies count as neighbours.
fn neighbours(assembly: &Assembly, a: BodyId, b: BodyId) -> Option<&'static str> {
    let (body_a, body_b) = (assembly.body(a), assembly.body(b));
    if body_a.link == LinkId::STRUCTURE || body_b.link == LinkId::STRUCTURE {
        return None;
    }
    let crew = [assembly.rider.as_ref(), assembly.second_crew.as_ref().map(|second| &second.body)];
    for links in crew.into_iter().flatten() {
        let own = |body: BodyId| links.bodies.contains(&body.0);
        if own(a) && own(b) {
            let pressed = links.may_touch.contains(&(a, b)) || links.may_touch.contains(&(b, a));
            return pressed.then_some("neighbouring body segments");
        }
        let hangs_on =
            |body: BodyId, hand| assembly.mechanism.path_inwards(assembly.body(body).link).any(|link| link == hand);
        if [links.hand.left, links.hand.right].into_iter().any(|hand| hangs_on(a, hand) && hangs_on(b, hand)) {
            return Some("hand and the tool in it");
        }
        let plate = assembly.rigid_root(links.plate);
        for (boot, other) in [(a, b), (b, a)] {
            let is_boot = own(boot) && assembly.name(boot).ends_with("boot");
            let holds = assembly.body(other).class == BodyClass::Restraint
                && assembly.rigid_root(assembly.body(other).link) == plate;
            if is_boot && holds {
                return Some("boot and plate");
            }
        }
    }
    let machine = |class| matches!(class, BodyClass::Arm | BodyClass::Restraint);
    if !(machine(body_a.class) && machine(body_b.class)) {
        return None;
    }
    let (root_a, root_b) = (assembly.rigid_root(body_a.link), assembly.rigid_root(body_b.link));
    let parent = |root| assembly.rigid_root(assembly.mechanism.link(root).parent);
    if root_a == root_b {
        return Some("one rigid piece");
    }
    (parent(root_a) == root_b || parent(root_b) == root_a).then_some("neighbouring links")
}

/// Glove and tool may touch what they hold or work on.
fn in_hand<'a>(assembly: &Assembly, a: BodyId, b: BodyId) -> Option<Touch<'a>> {
    for who in [Who::Rider, Who::SecondCrew] {
        let Some(links) = assembly.body_links(who) else { continue };
        let hands = [links.hand.left, links.hand.right];
        for (glove, other) in [(a, b), (b, a)] {
            let held = assembly.held.filter(|_| who == Who::Rider).map(|held| &assembly.payloads[held]);
            let touch = if held.is_some_and(|bodies| bodies.contains(&other)) {
                Touch::InHand("hand and the payload that it holds")
            } else if assembly.worked_on.iter().any(|on| on.who == who && is_meant(&on.bodies, assembly.name(other))) {
                Touch::OnTarget
            } else {
                continue;
            };
            let glove = assembly.body(glove);
            let in_hand = || assembly.mechanism.path_inwards(glove.link).any(|link| hands.contains(&link));
            if glove.class == links.class && in_hand() {
                return Some(touch);
            }
        }
    }
    None
}

fn declared<'a>(
    assembly: &Assembly,
    (a, b): (BodyId, BodyId),
    contacts: &'a [Contact],
    steps: &[&str],
) -> Option<&'a Contact> {
    let (a, b) = (assembly.name(a), assembly.name(b));
    contacts.iter().find(|contact| {
        let holds = contact.steps.iter().any(|step| steps.contains(&step.as_str()));
        let fits = |a, b| is_meant(&contact.a, a) && is_meant(&contact.b, b);
        holds && (fits(a, b) || fits(b, a))
    })
}

/// Whether a name of a contact, or of what a target is `on`, means a body: the body itself, or everything below a name that ends
/// in `/`.
pub fn is_meant(written: &str, body: &str) -> bool {
    written == body || (written.ends_with('/') && body.starts_with(written))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_that_ends_in_a_slash_means_all_below_it() {
        assert!(is_meant("rack/", "rack/rail") && is_meant("rack", "rack"));
        assert!(!is_meant("rack", "rack/rail") && !is_meant("rack/", "racket"));
    }
}
