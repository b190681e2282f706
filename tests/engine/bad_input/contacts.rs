//! Mistakes in what a plan says may touch.

use super::*;

/// The message of the sound plan with a contact between two names, in its first step.
fn message_of_contact(a: &str, b: &str, more: &str) -> String {
    let scene = Scene::new();
    scene.append("plan.toml", &format!("\n[[contact]]\na = \"{a}\"\nb = \"{b}\"\nsteps = [\"step-1\"]\n{more}\n"));
    scene.read().map_or_else(|problems| problems.to_string(), |_| "sound".to_owned())
}

#[test]
fn a_contact_that_exempts_a_whole_class() {
    assert_eq!(message_of_contact("rider/left-hand", "truss/bay-1/", ""), "sound");
    assert_eq!(message_of_contact("rail/", "arm/elbow-pitch/boom", ""), "sound");
    for (name, whole) in [("rider/", "the rider"), ("arm/", "the arm"), ("restraint/", "the restraint")] {
        let means = format!("`{name}` means every body of {whole}");
        for message in [message_of_contact(name, "near-panel", ""), message_of_contact("near-panel", name, "")] {
            says_alone(&message, &[&means, "plan.toml:9", "a whole class is never exempt"]);
        }
        let message = message_after("plan.toml", "on = [\"near-panel\"]", &format!("on = [\"{name}\"]"));
        says_alone(&message, &[&means, "plan.toml:50:7", "a whole class is never exempt"]);
    }
    let scene = Scene::new();
    let truss = fs::read_to_string(scene.folder().join("structure.toml")).expect("the structure");
    let (truss, _) = truss.split_once("[[body]]").expect("bodies after the truss");
    scene.write("structure.toml", truss.as_bytes());
    scene.edit("plan.toml", "on = [\"near-panel\"]", "on = [\"truss/\"]");
    scene.edit("plan.toml", "on = [\"far-panel\"]", "on = [\"truss/bay-5/\"]");
    says_alone(&scene.message(), &["`truss/` means every body of the structure", "plan.toml:50:7"]);
}

#[test]
fn a_contact_with_nothing() {
    for (name, near) in [
        ("near-panel/", "near-panel"),
        ("rail", "rail/"),
        ("rider/left-hnad", "rider/left-hand"),
        ("arm/elbow-pitch/bom", "arm/elbow-pitch/boom"),
        ("truss/bay-1/longeron-9", "truss/bay-1/longeron-0"),
    ] {
        let message = message_of_contact(name, "rider/chest", "");
        says_alone(&message, &[&format!("`{name}` means no body"), "plan.toml:9", &format!("nearest: `{near}`")]);
    }
    says_alone(&message_of_contact("second-crew/chest", "near-panel", ""), &["`second-crew/chest` means no body"]);
}

#[test]
fn a_contact_with_a_keep_out_zone() {
    let zone = "[[keep_out]]\nid = \"jet\"\nshape = { sphere = { radius_m = 0.1 } }\n";
    for name in ["jet", "jet/"] {
        let scene = Scene::new();
        scene.append("structure.toml", zone);
        scene.edit("plan.toml", "on = [\"near-panel\"]", &format!("on = [\"{name}\"]"));
        says_alone(&scene.message(), &["`jet` is a keep-out zone", "plan.toml:50:7", "nothing may enter"]);
    }
}

#[test]
fn an_overlap_that_no_pad_gives() {
    assert_eq!(message_of_contact("rider/left-hand", "near-panel", "overlap_m = 0.1"), "sound");
    let message = message_of_contact("rider/left-hand", "near-panel", "overlap_m = 0.101");
    says_alone(&message, &["`overlap_m` is 0.101", "plan.toml:9", "expected a number from 0 to 0.1"]);
    let message = message_after("plan.toml", "at_least = 0.25", "at_least = -0.2");
    says_alone(
        &message,
        &["a clearance of -0.2 allows an overlap of 0.2 m", "plan.toml:19:22", "expected -0.1 or more"],
    );
    let message = message_after("plan.toml", "default = 0.0", "default = -5");
    says_alone(&message, &["a clearance of -5 allows an overlap of 5 m", "plan.toml:22:11"]);
    let on_target = "[limits]\noverlap_on_target_m = 0.2\n[limits.at_work.clearance_m]";
    let message = message_after("plan.toml", "[limits.at_work.clearance_m]", on_target);
    says_alone(&message, &["`overlap_on_target_m` is 0.2", "plan.toml:22:23", "expected a number from 0 to 0.1"]);
    let access = "[limits]\naccess_m = -1\n[limits.at_work.clearance_m]";
    says_alone(&message_after("plan.toml", "[limits.at_work.clearance_m]", access), &["`access_m` is -1"]);
}
