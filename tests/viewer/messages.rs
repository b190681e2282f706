//! What does the viewer say where it cannot do what it is asked for?

use std::fs;

use crate::folder::{copy_of, program, replace, scene, told};
use crate::{Needs, Test};

pub const TESTS: &[Test] = &[
    ("an_unknown_moment_is_answered_with_the_nearest", Needs::Driver, unknown_moment),
    ("an_unknown_camera_is_answered_with_the_nearest", Needs::Driver, unknown_camera),
    ("seconds_that_are_none_are_named", Needs::Driver, no_seconds),
    ("a_plan_with_mistakes_is_not_drawn_and_they_are_told_with_their_place", Needs::Driver, mistakes),
    ("a_folder_that_is_missing_is_named", Needs::Driver, missing_folder),
    ("without_a_driver_a_picture_ends_with_what_to_do", Needs::Nothing, no_driver),
    ("without_a_display_a_window_ends_with_what_to_do", Needs::Nothing, no_display),
    ("a_plan_that_is_not_there_is_named_before_anything_is_drawn", Needs::Nothing, no_plan),
];

/// What is told when the starter is drawn with these options, which must end with exit code 2 and no picture.
fn refused(options: &[&str]) -> String {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let out = folder.path().join("x.png");
    let mut program = program();
    program.arg("render").arg(scene("starter")).args(options).args(["--size", "64x64", "--out"]).arg(&out);
    let (code, told) = told(&program.output().expect("the program"));
    assert_eq!(code, Some(2), "{told}");
    assert!(!out.exists());
    told
}

fn unknown_moment() {
    let told = refused(&["--at", "far-panle"]);
    assert!(told.contains("`far-panle` is no worksite or motion of this plan; nearest: `far-panel`"), "{told}");
    let told = refused(&["--at", "step-3/transot@5"]);
    assert!(told.contains("nearest: `step-3/transit`"), "{told}");
    let told = refused(&["--at", "quite another word"]);
    assert!(told.contains("expected one of: far-panel, near-panel, "), "{told}");
}

fn unknown_camera() {
    let told = refused(&["--camera", "visr"]);
    assert!(told.contains("`visr` is no camera of this plan; nearest: `visor`"), "{told}");
    let told = refused(&["--camera", "near-panl"]);
    assert!(told.contains("nearest: `near-panel`"), "{told}");
}

fn no_seconds() {
    for seconds in ["soon", "-1", "nan", "inf", ""] {
        let told = refused(&["--at", &format!("step-3/transit@{seconds}")]);
        assert!(told.contains("expected seconds after the @"), "{told}");
    }
}

fn mistakes() {
    let folder = copy_of("starter");
    let out = folder.path().join("x.png");
    replace(&folder.path().join("plan.toml"), "to = \"far-panel\"", "to = \"far-panle\"");
    let run = program().arg("render").arg(folder.path()).arg("--out").arg(&out).output().expect("the program");
    let (code, drawing) = told(&run);
    assert_eq!(code, Some(2), "{drawing}");
    assert!(drawing.contains("far-panle") && drawing.contains("plan.toml:"), "{drawing}");
    assert!(!out.exists());
    let checking = told(&program().arg("check").arg(folder.path()).output().expect("the program"));
    assert_eq!(checking, (code, drawing), "`check` says the same");
}

fn missing_folder() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let out = folder.path().join("no-such-folder/x.png");
    let mut program = program();
    let run = program.arg("render").arg(scene("starter")).args(["--size", "64x64", "--out"]).arg(&out).output();
    let (code, told) = told(&run.expect("the program"));
    assert_eq!(code, Some(2), "{told}");
    assert!(told.contains("no-such-folder"), "{told}");
    assert_eq!(fs::read_dir(folder.path()).expect("it is there").count(), 0);
}

fn no_driver() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let out = folder.path().join("x.png");
    let mut program = program();
    program.env("VK_DRIVER_FILES", "/nonexistent").env("VK_ICD_FILENAMES", "/nonexistent");
    program.arg("render").arg(scene("starter")).arg("--out").arg(&out);
    let run = program.output().expect("the program");
    assert!(run.stdout.is_empty() && !out.exists());
    let told = told(&run);
    assert!(told.1.contains("there is no graphics driver"), "{}", told.1);
    says_what_to_do(&told);
}

fn no_display() {
    let mut program = program();
    let run = program.env_remove("DISPLAY").arg("view").arg(scene("starter")).output().expect("the program");
    let told = told(&run);
    assert!(told.1.contains("there is no display"), "{}", told.1);
    says_what_to_do(&told);
}

fn says_what_to_do((code, told): &(Option<i32>, String)) {
    assert_eq!(*code, Some(2), "{told}");
    for said in ["nothing can be drawn here", "mesa-vulkan-drivers", "`trusswalk check` needs neither"] {
        assert!(told.contains(said), "{told}");
    }
    assert!(!told.contains(".rs:") && !told.contains("/.cargo/"), "{told}");
    assert!(!told.contains("panicked") && !told.contains("RUST_BACKTRACE"), "{told}");
}

fn no_plan() {
    for command in [&["view", "no-such-plan"][..], &["render", "no-such-plan", "--out", "x.png"]] {
        let (code, told) = told(&program().args(command).output().expect("the program"));
        assert_eq!(code, Some(2), "{told}");
        assert!(told.contains("no-such-plan"), "{told}");
    }
}
