//! Are pictures drawn as they were when somebody looked at them?
//!
//! To accept pictures anew, look at each that a run with `TRUSSWALK_PICTURES=accept` has written.

use std::fs;
use std::path::{Path, PathBuf};

use crate::folder::{copy_of, program, scene};
use crate::picture::Picture;
use crate::{Needs, Test};

/// At most this share of the pixels may differ: versions of a driver differ along the edges of what is drawn. On one
/// machine none does; without the arm's booms it is twice as many.
const ALLOWED: f64 = 0.005;

pub const TESTS: &[Test] = &[
    ("the_starter_at_a_worksite_is_drawn_as_accepted", Needs::Driver, starter_at_a_worksite),
    ("the_starter_on_its_way_is_drawn_as_accepted", Needs::Driver, starter_on_its_way),
    ("the_starter_is_drawn_with_its_panels_as_accepted", Needs::Driver, starter_with_panels),
    ("the_demo_is_drawn_as_accepted", Needs::Driver, demo),
    ("the_demo_is_drawn_through_the_visor_as_accepted", Needs::Driver, demo_through_the_visor),
    ("another_moment_is_told_from_the_accepted_picture", Needs::Driver, another_moment),
    ("a_missing_arm_is_told_from_the_accepted_picture", Needs::Driver, missing_arm),
    ("a_picture_is_the_same_each_time", Needs::Driver, same_each_time),
];

const WORKSITE: (&str, &[&str]) = ("starter-worksite", &["--at", "far-panel"]);
const WAY: (&str, &[&str]) = ("starter-way", &["--at", "step-3/transit@10", "--camera", "tip", "--scale"]);

fn starter_at_a_worksite() {
    as_accepted(&drawn(Some(&scene("starter")), WORKSITE.1, SMALL), WORKSITE.0);
}

fn starter_on_its_way() {
    as_accepted(&drawn(Some(&scene("starter")), WAY.1, SMALL), WAY.0);
}

fn starter_with_panels() {
    let drawn = drawn(Some(&scene("starter")), &["--at", "near-panel", "--panels"], "1280x720");
    as_accepted(&drawn, "starter-panels");
}

fn demo() {
    as_accepted(&drawn(None, &["--at", "to-bay/approach"], SMALL), "demo");
}

fn demo_through_the_visor() {
    as_accepted(&drawn(None, &["--at", "gate", "--camera", "visor"], SMALL), "demo-visor");
}

fn another_moment() {
    for (name, at, options) in
        [(WORKSITE.0, "near-panel", &[][..]), (WAY.0, "step-3/transit@14", &["--camera", "tip", "--scale"])]
    {
        let options = [&["--at", at], options].concat();
        let share = drawn(Some(&scene("starter")), &options, SMALL).picture().difference(&accepted(name));
        assert!(share > 2.0 * ALLOWED, "{name} at {at}: only {share:.4} of its pixels differ");
    }
}

fn missing_arm() {
    let folder = copy_of("starter");
    let arm = folder.path().join("arm.toml");
    let text = fs::read_to_string(&arm).expect("the arm");
    let booms = text.lines().filter(|line| line.contains("capsule")).collect::<Vec<_>>();
    assert_eq!(booms.len(), 2, "two booms");
    let speck = "shape = { capsule = { length_m = 0.02, radius_m = 0.005 } }";
    let without = booms.iter().fold(text.clone(), |text, boom| text.replace(boom, speck));
    fs::write(&arm, without).expect("its owner may");
    let share = drawn(Some(folder.path()), WORKSITE.1, SMALL).picture().difference(&accepted(WORKSITE.0));
    assert!(share > 2.0 * ALLOWED, "only {share:.4} of the pixels differ");
}

fn same_each_time() {
    let [a, b] = [0, 1].map(|_| drawn(Some(&scene("starter")), WAY.1, SMALL).picture());
    assert_eq!(a.difference(&b), 0.0);
}

const SMALL: &str = "480x270";

/// A picture that the program has drawn.
struct Drawn {
    folder: tempfile::TempDir,
}

impl Drawn {
    fn path(&self) -> PathBuf {
        self.folder.path().join("drawn.png")
    }

    fn picture(&self) -> Picture {
        Picture::read(&self.path()).expect("a picture")
    }
}

/// Has a picture drawn of a plan, or of the demo.
fn drawn(plan: Option<&Path>, options: &[&str], size: &str) -> Drawn {
    let drawn = Drawn { folder: tempfile::tempdir().expect("a temporary folder") };
    let mut program = program();
    program.arg("render").args(plan).args(options).args(["--size", size, "--out"]).arg(drawn.path());
    let run = program.output().expect("the program");
    let (code, told) = crate::folder::told(&run);
    assert_eq!((code, told.as_str(), run.stdout.as_slice()), (Some(0), "", &b""[..]));
    drawn
}

fn place(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/viewer/pictures").join(format!("{name}.png"))
}

fn accepted(name: &str) -> Picture {
    Picture::read(&place(name)).expect("an accepted picture")
}

fn as_accepted(drawn: &Drawn, name: &str) {
    if std::env::var_os("TRUSSWALK_PICTURES").is_some_and(|word| word == "accept") {
        fs::copy(drawn.path(), place(name)).expect("the folder is there");
    }
    let share = drawn.picture().difference(&accepted(name));
    if share > ALLOWED {
        let kept = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{name}.png"));
        fs::copy(drawn.path(), &kept).expect("a folder for what tests leave");
        panic!("{share:.4} of the pixels of {name} differ, at most {ALLOWED} may; drawn: {}", kept.display());
    }
}
