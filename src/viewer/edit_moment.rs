//! When are edits of a plan to be seen?

use crate::check::{Place, Playback, Span};
use crate::model::{PlanEdit, Project};

/// A motion's or stay's last moment is so long before its end, s.
const BEFORE_END: f64 = 1e-6;

/// The moment (s from the beginning) at which edits are to be seen, for somebody who is elsewhere: the first posture at a
/// worksite that they change, else the beginning of a motion. None for who is there, and for what is seen everywhere.
pub fn moment((project, playback): (&Project, &Playback), edits: &[PlanEdit], now: f64) -> Option<f64> {
    let (_, here) = playback.span_at(now)?;
    let at_site = |span: &Span| edits.iter().any(|edit| is_at_worksite(edit, span));
    let on_way = |span: &Span| edits.iter().any(|edit| is_on_way(project, edit, span));
    if let Some(there) = playback.spans.iter().find(|span| at_site(span)) {
        return (!at_site(here)).then(|| there.end() - BEFORE_END);
    }
    let there = playback.spans.iter().find(|span| on_way(span))?;
    (!on_way(here)).then_some(there.start)
}

fn is_at_worksite(edit: &PlanEdit, span: &Span) -> bool {
    match edit {
        PlanEdit::SetConfiguration { worksite, .. }
        | PlanEdit::SetDetents { worksite, .. }
        | PlanEdit::SetStand { worksite, .. }
        | PlanEdit::SetHands { worksite, .. }
        | PlanEdit::SetTargetPlace { worksite, .. } => {
            matches!(&span.place, Place::Worksite { worksite: at, .. } if at == worksite)
        }
        _ => false,
    }
}

fn is_on_way(project: &Project, edit: &PlanEdit, span: &Span) -> bool {
    match edit {
        PlanEdit::SetWaypoint { step, .. }
        | PlanEdit::AddWaypoint { step, .. }
        | PlanEdit::RemoveWaypoint { step, .. }
        | PlanEdit::SetDuration { step, .. } => {
            matches!(&span.place, Place::Motion { motion } if *motion == format!("{step}/transit"))
        }
        PlanEdit::SetStandPlace { stand, .. } => {
            let step = span.motion().and_then(|motion| project.plan.step_number(&motion.moved.step));
            let moves_there = step.is_some_and(|step| project.plan.step[step].stand.as_ref() == Some(stand));
            moves_there || span.moment().stand == *stand
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::viewer::testing::{Opened, clearance, elbow};

    #[test]
    fn who_is_elsewhere_is_sent_to_what_is_changed_and_who_is_there_stays() {
        let opened = Opened::starter();
        let checked = opened.session().checked.clone().expect("it is checked");
        let loaded = opened.session().loaded.clone().expect("it is read");
        let playback = &checked.playback;
        let moment = |edits: &[PlanEdit], now| moment((&loaded.project, playback), edits, now);
        let at_site = [elbow(82.5)];
        let there = moment(&at_site, 0.0).expect("it begins elsewhere");
        let (_, span) = playback.span_at(there).expect("a span");
        assert_eq!(span.place.name(), "far-panel");
        assert_eq!(moment(&at_site, there), None);
        let on_way = [PlanEdit::AddWaypoint { step: "step-3".to_owned(), waypoint: 0, joints: vec![0.0; 7] }];
        let there = moment(&on_way, 0.0).expect("it begins elsewhere");
        let (_, span) = playback.span_at(there).expect("a span");
        assert_eq!((span.place.name(), there), ("step-3/transit", span.start));
        assert_eq!(moment(&on_way, there), None);
        assert_eq!(moment(&[clearance(0.3)], 0.0), None, "it is seen everywhere");
    }
}
