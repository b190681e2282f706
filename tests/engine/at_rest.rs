//! What stands still at a worksite is checked there, whether or not a motion of the plan leads to it.

use trusswalk::check::{Finding, Kind, Outcome, Status};
use trusswalk::model::{Angle, Deed, Limit, Project, Who};

use crate::edited::{ball, keep_deeds, keep_steps, outcome_of, violations, worksite_of};

const STANDING: [Deed; 2] = [Deed::Ingress, Deed::Work];

/// The starter's rider at the first worksite, with no motion at all, after an edit.
fn standing(edit: impl FnOnce(&mut Project)) -> Outcome {
    outcome_of("starter", |project| {
        keep_steps(project, &["step-1", "step-2"]);
        edit(project);
    })
}

fn subjects<'a>(findings: &[&'a Finding]) -> Vec<&'a str> {
    findings.iter().map(|finding| finding.key.subject.as_str()).collect()
}

#[test]
fn a_plan_without_a_motion_is_clean_and_tells_of_its_arm_restraint_and_body() {
    let outcome = standing(|_| ());
    assert!(outcome.motions.is_empty());
    assert!(outcome.findings.iter().all(|finding| finding.status == Status::Ok));
    for subject in ["arm_to_structure", "arm_to_arm", "restraint_to_structure", "rider_to_structure", "arm_to_rider"] {
        let told = |finding: &Finding| finding.key.subject.starts_with(subject) && finding.key.check == "clearance";
        assert!(outcome.findings.iter().any(told), "{subject}");
    }
}

#[test]
fn a_beam_through_the_elbow_at_rest_is_seen() {
    // The elbow: 3.5 m from the shoulder at (1, 0, 1.8), 55° up.
    let elbow = [1.0 + 3.5 * 55f64.to_radians().cos(), 0.0, 1.8 + 3.5 * 55f64.to_radians().sin()];
    let outcome = standing(|project| project.structure.body.push(ball("beam", elbow, 0.3)));
    let found = violations(&outcome, "clearance");
    assert!(subjects(&found).iter().any(|subject| subject.starts_with("arm/") && subject.contains("– beam")));
    assert!(found.iter().all(|finding| worksite_of(finding) == Some(("near-panel", "step-2"))));
    assert!(found.iter().all(|finding| finding.at.as_ref().is_none_or(|at| at.segment.is_none())));
}

#[test]
fn tolerances_act_on_what_stands_still() {
    let pedestal_and_rail = |base_m: f64| {
        standing(|project| {
            project.plan.tolerances.base_m = base_m;
            project.structure.body.push(ball("bolt", [1.0, 0.15 + 0.1 + 0.02, 1.25], 0.1));
        })
    };
    assert!(violations(&pedestal_and_rail(0.0), "clearance").is_empty(), "20 mm off the pedestal");
    let found = pedestal_and_rail(0.02);
    let found = violations(&found, "clearance");
    assert!(found.iter().any(|finding| finding.key.subject.contains("– bolt")));
    assert!(found.iter().all(|finding| finding.status == Status::Violation(Kind::WithTolerances)));
}

#[test]
fn the_arm_itself_is_measured_at_rest() {
    let outcome = standing(|project| {
        project.plan.limits.at_work.clearance_m.insert("arm_to_arm".to_owned(), Limit::new(0.5));
    });
    let found = violations(&outcome, "clearance");
    assert!(!found.is_empty() && found.iter().all(|finding| finding.key.subject.contains(" – arm/")));
}

#[test]
fn a_joint_beyond_its_limit_at_rest_is_seen_and_one_within_the_read_out_counts_as_such() {
    let elbow_to = |highest: f64, readout: f64| {
        let outcome = standing(|project| {
            project.plan.tolerances.joint = Angle::from_degrees(readout);
            let elbow = project.arm.joint.iter_mut().find(|joint| joint.name == "elbow-pitch").expect("an elbow");
            elbow.turn_limits = Some([Angle::from_degrees(-10.0), Angle::from_degrees(highest)]);
        });
        let found = violations(&outcome, "joint-limits");
        assert!(found.iter().all(|finding| worksite_of(finding) == Some(("near-panel", "step-2"))));
        found.iter().map(|finding| finding.status.clone()).collect::<Vec<_>>()
    };
    // The elbow is bent 110°.
    assert_eq!(elbow_to(111.0, 0.1), []);
    assert_eq!(elbow_to(109.0, 0.1), [Status::Violation(Kind::Nominal)]);
    assert_eq!(elbow_to(110.05, 0.1), [Status::Violation(Kind::WithTolerances)]);
}

#[test]
fn a_rider_who_only_gets_in_is_measured() {
    let outcome = outcome_of("starter", |project| {
        keep_steps(project, &["step-1"]);
        // Through the boots: the plate lies 0.97 m before the tip and above the panel.
        project.plan.limits.at_work.clearance_m.insert("rider_to_structure".to_owned(), Limit::new(1.5));
    });
    let found = violations(&outcome, "clearance");
    assert!(!found.is_empty() && found.iter().all(|f| worksite_of(f) == Some(("near-panel", "step-1"))));
}

#[test]
fn a_second_crew_who_only_gets_in_is_measured_against_what_they_stand_among() {
    let getting_in = |wall: bool| {
        outcome_of("demo", |project| {
            keep_deeds(project, Who::SecondCrew, &[Deed::Ingress]);
            if wall {
                // Where the boots are, or near.
                project.structure.body.push(ball("wall", [26.0, 1.22, 1.30], 0.25));
            }
        })
    };
    assert!(violations(&getting_in(false), "clearance").is_empty());
    let outcome = getting_in(true);
    let found = violations(&outcome, "clearance");
    assert!(subjects(&found).iter().any(|subject| subject.starts_with("second-crew/")), "{:?}", subjects(&found));
    assert!(found.iter().all(|finding| finding.key.who == Some(Who::SecondCrew)));
    assert!(found.iter().all(|finding| worksite_of(finding) == Some(("mast", "second-to-mast"))));
}

#[test]
fn a_payload_in_the_hands_and_one_just_placed_are_measured_at_rest() {
    // Inside the pump as it stands in the bay.
    let outcome = outcome_of("demo", |project| project.structure.body.push(ball("stub", [15.91, -7.0, 2.75], 0.05)));
    let found = violations(&outcome, "clearance");
    let at_rest = |words: &str| {
        let told =
            |subject: &&str| subject.starts_with("pump/") && subject.contains("– stub") && subject.ends_with(words);
        subjects(&found).iter().filter(|subject| told(subject)).count()
    };
    assert_eq!((at_rest(", at rest, pump in the hands"), at_rest(", at rest, pump in its seat")), (1, 1));
}

#[test]
fn somebody_who_stands_is_told_once_a_moment() {
    let outcome = outcome_of("starter", |project| project.plan.step.retain(|step| STANDING.contains(&step.deed)));
    let mut keys: Vec<_> = outcome.findings.iter().map(|finding| &finding.key).collect();
    keys.sort();
    let all = keys.len();
    keys.dedup();
    assert_eq!(keys.len(), all, "no two findings have one key");
}
