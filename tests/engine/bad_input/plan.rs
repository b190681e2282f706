//! Mistakes in the TOML files of a plan.

use super::*;

#[test]
fn an_unknown_key() {
    let message = message_after("plan.toml", "tool_m = 0.15", "tol_m = 0.15");
    says_alone(&message, &["plan.toml:64:1", "there is no key `tol_m`", "^^^^^", "nearest: `tool_m`"]);
}

#[test]
fn a_misspelt_word() {
    let message = message_after("plan.toml", "hands = \"left\"", "hands = \"lef\"");
    says_alone(&message, &["there is no choice `lef`", "plan.toml:49:9", "nearest: `left`"]);
}

#[test]
fn a_missing_key() {
    let message = message_after("plan.toml", "id = \"latch\"\n", "");
    says_alone(&message, &["the key `id` is missing", "[[worksite.target]]", "plan.toml:44:1"]);
}

#[test]
fn a_number_in_quotes() {
    let message = message_after("arm.toml", "rate_deg_s = 2.0", "rate_deg_s = \"2.0\"");
    says_alone(&message, &["this is a string \"2.0\"", "arm.toml:16:14", "expected a number"]);
}

#[test]
fn a_list_of_the_wrong_length() {
    let message = message_after("plan.toml", "approach = [0, 0, -1]", "approach = [0, 0]");
    says_alone(&message, &["plan.toml:37:12", "expected a list of 3 numbers"]);
}

#[test]
fn a_wrong_unit_in_a_key() {
    let message = message_after("arm.toml", "limits_deg = [-180, 180]", "limits_rad = [-3, 3]");
    says_alone(&message, &["there is no key `limits_rad`", "arm.toml:15:1", "nearest: `limits_deg`"]);
}

#[test]
fn every_misspelt_id() {
    let scene = Scene::new();
    scene.edit("plan.toml", "stand = \"near-end\"", "stand = \"near-en\"");
    scene.edit("plan.toml", "to = \"far-panel\"", "to = \"far-panal\"");
    scene.edit("plan.toml", "posture = \"arms-in\"", "posture = \"arms-inn\"");
    scene.edit("plan.toml", "on = [\"near-panel\"]", "on = [\"near-pane\"]");
    scene.edit("plan.toml", "left-elbow-flexion = 90", "left-elbow-flexon = 90");
    scene.edit("suit.toml", "[joint.left-elbow-flexion]", "[joint.left-elbow]");
    scene.append("plan.toml", "\n[[contact]]\na = \"rider/chest\"\nb = \"trus/\"\nsteps = [\"step-9\"]\n");
    // A table with another mistake still has its names looked at.
    scene.edit("plan.toml", "at_most_min = 15", "at_most_mn = 15");
    let message = scene.message();
    for (word, near) in [
        ("near-en", "near-end"),
        ("far-panal", "far-panel"),
        ("arms-inn", "arms-in"),
        ("near-pane", "near-panel"),
        ("left-elbow-flexon", "left-elbow-flexion"),
        ("trus", "truss"),
        ("step-9", "step-1"),
    ] {
        says(&message, &[&format!("`{word}` does not exist"), &format!("nearest: `{near}`")]);
    }
    says(&message, &["`left-elbow` does not exist", "suit.toml:11:8", "there is no key `at_most_mn`"]);
    assert_eq!(message.matches("error: ").count(), 9, "{message}");
}

#[test]
fn a_misspelt_pair_of_classes() {
    let message = message_after("plan.toml", "rider_to_structure =", "rider_to_structur =");
    says_alone(&message, &["`rider_to_structur` does not exist", "plan.toml:19:1", "nearest: `rider_to_structure`"]);
}

#[test]
fn two_things_of_one_name() {
    let message = message_after("structure.toml", "id = \"rail\"", "id = \"near-panel\"");
    says_alone(&message, &["`near-panel` is there twice", "structure.toml:23:6"]);
}

#[test]
fn a_name_that_cannot_be_one() {
    let message = message_after("plan.toml", "id = \"latch\"", "id = \"lat/ch\"");
    says_alone(&message, &["\"lat/ch\" cannot be a name", "expected at most 64 letters"]);
}

#[test]
fn a_missing_file() {
    let message = message_after("plan.toml", "\"arm.toml\"", "\"arms.toml\"");
    says_alone(&message, &["there is no file `arms.toml`", "plan.toml:7:7", "nearest: `arm.toml`"]);
}

#[test]
fn a_folder_without_a_plan() {
    let scene = Scene::new();
    fs::rename(scene.folder().join("plan.toml"), scene.folder().join("plan.tml")).expect("a rename");
    says_alone(&scene.message(), &["there is no file `plan.toml`", "nearest: `plan.tml`"]);
    let nowhere = read_project(&scene.folder().join("nowhere")).expect_err("no such folder").to_string();
    says_alone(&nowhere, &["there is no file `nowhere`"]);
}

#[test]
fn a_path_out_of_the_tree() {
    for path in ["/etc/passwd", "../../arm.toml", "file://arm.toml"] {
        let message = message_after("plan.toml", "\"arm.toml\"", &format!("{path:?}"));
        says_alone(&message, &["is no path inside the plan's tree", "plan.toml:7:7", "expected a relative path"]);
    }
}

#[test]
#[cfg(unix)]
fn a_link_out_of_the_tree() {
    let scene = Scene::new();
    let outside = TempDir::new().expect("a temporary folder");
    fs::copy(scene.folder().join("arm.toml"), outside.path().join("arm.toml")).expect("a copy");
    fs::remove_file(scene.folder().join("arm.toml")).expect("the arm file");
    std::os::unix::fs::symlink(outside.path().join("arm.toml"), scene.folder().join("arm.toml")).expect("a link");
    says_alone(&scene.message(), &["`arm.toml` is a link that leaves the plan's tree", "plan.toml:7:7"]);
}

#[test]
fn files_beside_the_plan_are_shared() {
    let scene = Scene::new();
    fs::create_dir(scene.folder().join("../arms")).expect("a folder");
    fs::rename(scene.folder().join("arm.toml"), scene.folder().join("../arms/seven.toml")).expect("a rename");
    scene.edit("plan.toml", "\"arm.toml\"", "\"../arms/seven.toml\"");
    let loaded = scene.read().unwrap_or_else(|problems| panic!("{problems}"));
    assert!(loaded.inputs.iter().any(|input| input.path == "../arms/seven.toml"));
}

#[test]
fn a_pipe_or_folder_for_a_file() {
    let message = message_after("plan.toml", "\"arm.toml\"", "\".\"");
    says_alone(&message, &["is no path inside the plan's tree"]);
    let scene = Scene::new();
    fs::create_dir(scene.folder().join("arms")).expect("a folder");
    scene.edit("plan.toml", "\"arm.toml\"", "\"arms\"");
    says_alone(&scene.message(), &["`arms` is no file"]);
}

#[test]
fn a_number_that_is_not_finite() {
    for (number, shown) in [("nan", "NaN"), ("inf", "inf"), ("-inf", "-inf")] {
        let message = message_after("structure.toml", "bay_m = 2.0", &format!("bay_m = {number}"));
        says_alone(&message, &[&format!("{shown} is not a finite number"), "structure.toml:7:9"]);
    }
}

#[test]
fn an_absurd_number() {
    let message = message_after("structure.toml", "from_m = [10.0,", "from_m = [1e12,");
    says_alone(&message, &["1e12 is absurdly large", "structure.toml:24:11", "at most 1000, either way"]);
    let message = message_after("structure.toml", "bay_m = 2.0", "bay_m = 200.0");
    says_alone(&message, &["the run is 1200 m long", "structure.toml:6:8", "expected at most 1000 m"]);
    let message = message_after("structure.toml", "bays = 6", "bays = 100000");
    says_alone(&message, &["`bays` is 100000", "from 1 to 1000"]);
    let message = message_after("plan.toml", "percentile = 50", "percentile = 100");
    says_alone(&message, &["`percentile` is 100", "from 1 to 99"]);
}

#[test]
fn a_size_of_nought_or_less() {
    let message = message_after("structure.toml", "size_m = [0.60, 0.80, 0.16]", "size_m = [0.60, -0.80, 0.16]");
    says_alone(&message, &["`size_m` is -0.8", "structure.toml:15:35"]);
}

#[test]
fn a_zero_axis() {
    let message = message_after("arm.toml", "axis = [0, 0, 1]", "axis = [0, 0, 0]");
    says_alone(&message, &["`axis` has no direction", "arm.toml:14:8"]);
}

#[test]
fn reversed_limits() {
    let message = message_after("arm.toml", "limits_deg = [-180, 20]", "limits_deg = [20, -180]");
    says_alone(&message, &["the limits 20 and -180 are reversed", "arm.toml:25:14"]);
}

#[test]
fn two_rotations_or_a_crooked_one() {
    let both = "rpy_deg = [0, 90, 0], quat_xyzw = [0, 0, 0, 1] }\nshape = { capsule = { length_m = 2.80";
    let message = message_after("arm.toml", "rpy_deg = [0, 90, 0] }\nshape = { capsule = { length_m = 2.80", both);
    says_alone(&message, &["this place has two rotations", "expected `rpy_deg` or `quat_xyzw`, not both"]);
    let message = message_after("arm.toml", "[tip]", "[tip]\nquat_xyzw = [0, 0, 0, 2]\n#");
    says(&message, &["the quaternion's length is 2.000000"]);
}

#[test]
fn limits_for_the_wrong_kind_of_joint() {
    let message = message_after("arm.toml", "limits_deg = [-180, 180]", "limits_m = [-1, 1]");
    says_alone(&message, &["a revolute joint has no `limits_m`", "arm.toml:15:1", "expected `limits_deg`"]);
    let message = message_after("arm.toml", "limits_deg = [-180, 180]\n", "");
    says_alone(&message, &["the joint `shoulder-yaw` has no `limits_deg`", "arm.toml:10:1"]);
}

#[test]
fn a_wrong_number_of_joint_values() {
    let message = message_after("plan.toml", "[0, -55, 0, 110, -55, 0, 0]", "[0, -55, 0, 110, -55, 0]");
    says_alone(&message, &["6 joint values for the 7 joints of the arm", "plan.toml:40:16", "expected 7"]);
}

#[test]
fn a_setting_that_is_no_detent() {
    let message = message_after("plan.toml", "detents_deg = [0, 0]", "detents_deg = [0, 20]");
    says_alone(&message, &["20° is no detent of `pitch`", "plan.toml:41:19", "nearest: `15`"]);
}

#[test]
fn a_step_without_what_its_deed_needs() {
    let message = message_after("plan.toml", "do = \"transit\"\nto = \"far-panel\"\n", "do = \"transit\"\n");
    says_alone(&message, &["`transit` without `to`", "expected the key `to`"]);
    let message = message_after(
        "plan.toml",
        "do = \"egress\"",
        "do = \"egress\"\nseat = \"x\"\n[[seat]]\nid = \"x\"\nplace = {}",
    );
    says_alone(&message, &["`egress` has no `seat`"]);
}

#[test]
fn an_order_of_work_that_makes_no_sense() {
    let message =
        message_after("plan.toml", "do = \"ingress\"\nto = \"near-panel\"\nposture = \"arms-in\"", "do = \"work\"");
    says(&message, &["`work` while nobody is in the restraint", "expected an `ingress` before"]);
    let message = message_after("plan.toml", "to = \"far-panel\"", "to = \"near-panel\"");
    says_alone(&message, &["the rider is at `near-panel` already"]);
}

/// Steps in place of the sound plan's, with a second stand, seats and payloads; the message.
fn message_of_steps(steps: &[&str]) -> String {
    let scene = Scene::new();
    let text = fs::read_to_string(scene.folder().join("plan.toml")).expect("the plan");
    let (before, _) = text.split_once("[[step]]").expect("steps");
    let steps: String = steps.iter().map(|step| format!("[[step]]\n{}\n", step.replace("; ", "\n"))).collect();
    let things: String = ["one", "two"]
        .iter()
        .map(|id| {
            let shape = "shape = [{ id = \"block\", shape = { sphere = { radius_m = 0.2 } } }]";
            let handles = "left_handle_m = [0, 0.2, 0]\nright_handle_m = [0, -0.2, 0]";
            let seat = format!("[[seat]]\nid = \"seat-{id}\"\nplace = {{}}\n");
            format!("{seat}[[payload]]\nid = \"{id}\"\nseat = \"seat-{id}\"\nmass_kg = 50\n{shape}\n{handles}\n")
        })
        .collect();
    let stand = "[[stand]]\nid = \"far-end\"\nplace = {}\n";
    scene.write("plan.toml", format!("{before}{things}{stand}{steps}").as_bytes());
    scene.read().map_or_else(|problems| problems.to_string(), |_| "sound".to_owned())
}

#[test]
fn payloads_and_seats_are_followed_through_the_steps() {
    let ingress = "do = \"ingress\"; to = \"near-panel\"";
    let take = "do = \"take\"; payload = \"one\"";
    let place = "do = \"place\"; payload = \"one\"; seat = \"seat-one\"";
    assert_eq!(message_of_steps(&[ingress, take, place]), "sound");
    says_alone(&message_of_steps(&[ingress, place]), &["`one` is not in the hands", "expected a `take` before"]);
    let take_both = message_of_steps(&[ingress, take, "do = \"take\"; payload = \"two\""]);
    says_alone(&take_both, &["`take` with `one` in the hands", "expected a `place` before"]);
    let on_another = message_of_steps(&[ingress, take, "do = \"place\"; payload = \"one\"; seat = \"seat-two\""]);
    says_alone(&on_another, &["`seat-two` is taken by `two`", "expected a free seat"]);
    says_alone(&message_of_steps(&[ingress, take, "do = \"egress\""]), &["`egress` with `one` in the hands"]);
}

#[test]
fn full_hands_neither_work_nor_take_a_posture() {
    let ingress = "do = \"ingress\"; to = \"near-panel\"";
    let take = "do = \"take\"; payload = \"one\"";
    let transit = "do = \"transit\"; to = \"far-panel\"";
    let place = "do = \"place\"; payload = \"one\"; seat = \"seat-one\"";
    let work = "do = \"work\"";
    assert_eq!(message_of_steps(&[ingress, take, transit, place, work]), "sound");
    let working = message_of_steps(&[ingress, take, work]);
    let line = |text: &str, before: &str| {
        let (_, after) = text.split_once(before).unwrap_or_else(|| panic!("{before} in {text}"));
        after.split([':', ',']).next().and_then(|word| word.parse::<usize>().ok()).expect("a line")
    };
    says_alone(&working, &["`work` with `one`, taken in line ", "in the hands", "expected a `place` before"]);
    assert_eq!(line(&working, "taken in line ") + 4, line(&working, "plan.toml:"));
    let posed = message_of_steps(&[ingress, take, &format!("{transit}; posture = \"arms-in\"")]);
    says_alone(&posed, &["a posture for a rider whose hands hold `one`", "expected no `posture`"]);
    let base = message_of_steps(&[ingress, take, "do = \"move-base\"; stand = \"far-end\"; posture = \"arms-in\""]);
    says_alone(&base, &["a posture for a rider whose hands hold `one`"]);
}

#[test]
fn the_base_and_the_crew_are_followed_through_the_steps() {
    let ingress = "do = \"ingress\"; to = \"near-panel\"";
    let move_away = "do = \"move-base\"; stand = \"far-end\"";
    let transit = "do = \"transit\"; to = \"far-panel\"";
    says_alone(&message_of_steps(&[ingress, move_away, "do = \"work\""]), &["`work` on the way"]);
    let message = message_of_steps(&[ingress, move_away, transit]);
    says_alone(&message, &["`far-panel` is served from `near-end`, and the base is at `far-end`"]);
    let there = message_of_steps(&[ingress, "do = \"move-base\"; stand = \"near-end\""]);
    says_alone(&there, &["the base is at `near-end` already"]);
    let from_nowhere = message_of_steps(&["do = \"move-base\"; stand = \"far-end\"", ingress]);
    says(&from_nowhere, &["`move-base` from nowhere", "expected a step before that names a worksite"]);
    let second = message_of_steps(&["who = \"second_crew\"; do = \"ingress\"; to = \"near-panel\""]);
    says_alone(&second, &["the second crew has no place at `near-panel`", "`[worksite.second_crew]`"]);
    let carried = message_of_steps(&["who = \"second_crew\"; do = \"transit\"; to = \"near-panel\""]);
    says_alone(&carried, &["the second crew cannot `transit`"]);
    let other = message_of_steps(&[ingress, "do = \"work\"; targets = [\"bolt\"]"]);
    says_alone(&other, &["`bolt` is no target of the worksite", "expected a target of `near-panel`"]);
    says_alone(&message_of_steps(&[ingress, ingress]), &["`ingress` while in the restraint already"]);
}

#[test]
fn a_plan_without_steps() {
    let message = message_of_steps(&[]);
    says_alone(&message, &["the key `step` is missing"]);
}

#[test]
fn a_hull_of_ten_thousand_points_is_read_and_more_are_refused() {
    // On a ball every point is a corner.
    let on_ball = |count: usize| {
        let point = |k: usize| {
            let z = 1.0 - (2.0 * k as f64 + 1.0) / count as f64;
            let (turn, r) = (k as f64 * 2.399963, (1.0 - z * z).sqrt());
            format!("[{},{},{z}]", r * turn.cos(), r * turn.sin())
        };
        let points: Vec<String> = (0..count).map(point).collect();
        format!("{{ hull = {{ points_m = [{}] }} }}", points.join(","))
    };
    let scene = Scene::new();
    scene.edit("structure.toml", "{ box = { size_m = [0.60, 0.80, 0.16] } }", &on_ball(10_000));
    let begun = std::time::Instant::now();
    scene.read().unwrap_or_else(|problems| panic!("{problems}"));
    assert!(begun.elapsed().as_secs() < 20, "{:?}", begun.elapsed());
    let message = message_after("structure.toml", "{ box = { size_m = [0.60, 0.80, 0.16] } }", &on_ball(10_001));
    says_alone(&message, &["the hull has 10001 points", "expected at most 10000"]);
}

#[test]
fn a_waypoint_with_neither_joints_nor_tip() {
    let message = message_after("plan.toml", "at_most_min = 15", "[[step.waypoint]]");
    says_alone(&message, &["the waypoint has neither joint values nor a tip pose"]);
}

#[test]
fn all_syntax_errors() {
    let scene = Scene::new();
    scene.edit("plan.toml", "approach_m = 0.5", "approach_m = ");
    scene.edit("plan.toml", "tool_m = 0.15", "tool_m 0.15");
    scene.edit("structure.toml", "bays = 6", "bays = [6");
    let message = scene.message();
    says(&message, &["plan.toml:38:", "plan.toml:64:"]);
}

#[test]
fn the_first_mistake_of_each_table_in_every_file() {
    let scene = Scene::new();
    scene.edit("plan.toml", "tool_m = 0.0", "tol_m = 0.0");
    scene.edit("plan.toml", "tool_m = 0.15", "tol_m = 0.15");
    scene.edit("plan.toml", "[limits.at_work.clearance_m]", "[limits.at_work.clearance]");
    scene.edit("structure.toml", "radius_m = 0.015", "radius_m = \"thin\"");
    scene.edit("arm.toml", "kind = \"revolute\"", "kind = \"turning\"");
    scene.edit("restraint.toml", "boot_spacing_m = 0.25", "");
    scene.edit("suit.toml", "view_up_deg = 50", "view_upp_deg = 50");
    let message = scene.message();
    assert_eq!(message.matches("error: ").count(), 7, "{message}");
    says(&message, &["structure.toml:26:12", "arm.toml:12:8", "restraint.toml:1:1", "suit.toml:8:1"]);
}

#[test]
fn a_text_that_is_none() {
    let scene = Scene::new();
    scene.write("suit.toml", b"title = \"\xff\"");
    says_alone(&scene.message(), &["`suit.toml` is no text", "suit.toml: byte 9", "expected UTF-8"]);
}

#[test]
fn an_empty_file() {
    let scene = Scene::new();
    scene.write("plan.toml", b"");
    says(&scene.message(), &["the key `title` is missing", "plan.toml:1:1"]);
}

#[test]
fn a_file_of_a_hundred_megabytes() {
    let scene = Scene::new();
    scene.write("structure.toml", &vec![b'#'; 100_000_000]);
    says_alone(&scene.message(), &["`structure.toml` is larger than 4 MiB", "plan.toml:6:13"]);
}

#[test]
fn two_hundred_thousand_nested_elements() {
    for nested in [
        format!("a = {}1{}", "[".repeat(200_000), "]".repeat(200_000)),
        format!("a = {}1{}", "{a=".repeat(200_000), "}".repeat(200_000)),
        format!("[{}]", vec!["a"; 200_000].join(".")),
        format!("{} = 1", vec!["a"; 200_000].join(".")),
    ] {
        let scene = Scene::new();
        scene.write("structure.toml", nested.as_bytes());
        let begun = std::time::Instant::now();
        let message = scene.message();
        says(&message, &["structure.toml:1:", "nested too deeply"]);
        assert!(message.len() < 2000, "{} bytes", message.len());
        assert!(begun.elapsed().as_secs() < 5, "{:?}", begun.elapsed());
    }
}

#[test]
fn a_hundred_thousand_misspelt_names_are_answered_quickly() {
    let scene = Scene::new();
    let many: String = (0..100_000).map(|k| format!("[[step]]\ndo=\"work\"\nto=\"a{k}\"\n")).collect();
    scene.append("plan.toml", &many);
    let begun = std::time::Instant::now();
    says(&scene.message(), &["`a0` does not exist", "more"]);
    assert!(begun.elapsed().as_secs() < 10, "{:?}", begun.elapsed());
}
