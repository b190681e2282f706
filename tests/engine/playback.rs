//! What is played is what was checked.

use std::path::Path;
use std::sync::atomic::AtomicBool;

use trusswalk::check::{Checked, Known, Silent, Value, again};
use trusswalk::files::read_project;

fn checked(folder: &str) -> Checked {
    let loaded = read_project(Path::new(folder)).expect("the plan is sound");
    let (project, meshes) = (&loaded.project, &loaded.meshes);
    again((project, meshes), &Known::default(), &Silent, &AtomicBool::new(false)).expect("nobody stops it")
}

#[test]
fn a_finding_is_played_at_the_moment_at_which_it_was_made() {
    let checked = checked("scenes/demo");
    let playback = &checked.playback;
    let mut compared = 0;
    for finding in checked.outcome.findings.iter().filter(|finding| finding.key.check == "clearance") {
        let (Some(at), Some([a, b])) = (&finding.at, finding.pair.as_ref().and_then(|pair| pair.bodies.as_ref()))
        else {
            continue;
        };
        let (Some(_), Value::Bounded { nominal, .. }) = (at.segment, finding.value) else { continue };
        let Some((number, moment)) = playback.moment_of(finding) else { continue };
        let span = &playback.spans[number];
        assert_eq!(span.place, finding.key.place);
        let posed = span.mechanism().pose(&span.joints(moment - span.start));
        let (_, distance) = span.nearest(&posed, [a, b]).expect("both bodies are there");
        assert!((distance - nominal.upper).abs() < 1e-6, "{:?}: {distance} for {}", finding.key, nominal.upper);
        compared += 1;
    }
    println!("{compared} findings");
    assert!(compared > 300, "{compared} findings were compared");
}

#[test]
fn spans_follow_one_another_and_begin_where_the_arm_was() {
    let checked = checked("scenes/demo");
    let spans = &checked.playback.spans;
    assert!(spans.windows(2).all(|pair| pair[0].end() == pair[1].start));
    let arms: Vec<(Vec<f64>, Vec<f64>)> = spans
        .iter()
        .filter(|span| span.motion().is_some_and(|motion| motion.moved.kind.is_of_arm()))
        .map(|span| [0.0, span.seconds].map(|at| span.joints(at)[span.assembly().arm.variables.clone()].to_vec()))
        .map(|[from, to]| (from, to))
        .collect();
    // Where the base moves between, the arm stays as it is; seconds are added up, hence the rounding.
    let apart = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
    assert!(arms.len() > 10 && arms.windows(2).all(|pair| apart(&pair[0].1, &pair[1].0) < 1e-6));
    let timed = spans.iter().filter(|span| span.timed).count();
    assert!(timed > 10 && timed < spans.len(), "{timed} of {} are timed", spans.len());
}

#[test]
fn a_moment_of_a_motion_is_found_again_from_its_seconds() {
    let checked = checked("scenes/starter");
    for span in &checked.playback.spans {
        for share in [0.0, 0.2, 0.5, 0.9] {
            let seconds = share * span.seconds;
            let Some(at) = span.at(seconds) else { continue };
            let held = span.motion().is_none() && at.fraction == 1.0;
            assert!(held || (span.seconds_at(at) - seconds).abs() < 1e-6, "{:?} {at:?}", span.place);
        }
    }
}
