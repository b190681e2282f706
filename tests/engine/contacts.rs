//! What may touch is held to its greatest overlap: the starter's plan, with a tool that goes 50 mm into its panel.

use std::fs;
use std::path::Path;
use std::sync::atomic::AtomicBool;

use trusswalk::check::{self, Finding, Outcome, Silent};
use trusswalk::files::read_project;

/// The starter with the latch 50 mm below the panel's face, and other words in place of the panel that it is on.
fn checked(on: &str, limit: &str, more: &str) -> Outcome {
    let starter = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenes/starter");
    let edited = tempfile::tempdir().expect("a temporary folder");
    for entry in fs::read_dir(starter).expect("the starter is there") {
        let from = entry.expect("a file").path();
        fs::copy(&from, edited.path().join(from.file_name().expect("a name"))).expect("it can be copied");
    }
    let plan = edited.path().join("plan.toml");
    let mut text = fs::read_to_string(&plan).expect("the plan is there") + more;
    let deeper = ("at_m = [7.15, 0.15, 1.20]", "at_m = [7.15, 0.15, 1.15]");
    // Nobody sees a target inside a panel.
    let limits = format!("[limits]\nsight_share = 0\n{limit}\n[limits.moving.clearance_m]");
    for (from, to) in [deeper, ("[limits.moving.clearance_m]", limits.as_str()), ("on = [\"near-panel\"]", on)] {
        assert!(text.contains(from), "{from}");
        text = text.replacen(from, to, 1);
    }
    fs::write(&plan, text).expect("it can be written");
    let loaded = read_project(edited.path()).unwrap_or_else(|problems| panic!("{problems}"));
    check::run(&loaded.project, &loaded.meshes, &Silent, &AtomicBool::new(false)).expect("nobody stops it")
}

fn violations(outcome: &Outcome) -> Vec<&Finding> {
    outcome.findings.iter().filter(|finding| finding.status.is_violation()).collect()
}

/// Asserts that clearance and access alone find the tool 50 mm inside the panel, 20 mm deeper than it may be.
fn assert_too_deep(outcome: &Outcome) {
    let found = violations(outcome);
    let checks: Vec<&str> = found.iter().map(|finding| finding.key.check).collect();
    assert_eq!(checks, ["access", "clearance", "clearance"], "on the way there, and back: {found:#?}");
    for finding in found {
        let pair = finding.pair.as_ref().and_then(|pair| pair.bodies.clone()).expect("two bodies");
        assert!(pair.contains(&"rider/left-tool".to_owned()) && pair.contains(&"near-panel".to_owned()), "{pair:?}");
        // The tool ends in a ball of 20 mm: within its cone of 15° it goes at most 0.7 mm deeper than its end.
        let margin = finding.margin.expect("a margin");
        assert!((margin + 0.02).abs() < 1e-3, "{finding:#?}");
    }
}

#[test]
fn a_tool_goes_no_deeper_into_what_it_works_on_than_the_plan_says() {
    let on = "on = [\"near-panel\"]";
    assert_too_deep(&checked(on, "overlap_on_target_m = 0.03", ""));
    let clean = checked(on, "overlap_on_target_m = { at_most = 0.06 }", "");
    assert!(violations(&clean).is_empty(), "{:#?}", violations(&clean));
    let by_default = checked(on, "", "");
    assert!(violations(&by_default).is_empty(), "{:#?}", violations(&by_default));
}

#[test]
fn a_declared_contact_is_measured_on_the_way_to_a_target() {
    let contact = |overlap: f64| {
        let pair = "a = \"rider/left-tool\"\nb = \"near-panel\"\nsteps = [\"step-2\"]";
        format!("\n[[contact]]\n{pair}\noverlap_m = {overlap}\n")
    };
    assert_too_deep(&checked("", "", &contact(0.03)));
    let clean = checked("", "", &contact(0.06));
    assert!(violations(&clean).is_empty(), "{:#?}", violations(&clean));
}
