//! `propose`, as a user runs it: what is written is checked by the program itself.

use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use tempfile::TempDir;

fn trusswalk(args: &[&str]) -> (i32, String, String) {
    let output = Command::cargo_bin("trusswalk").expect("it is built").args(args).output().expect("it runs");
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code().expect("an exit code"), text(&output.stdout), text(&output.stderr))
}

/// The starter in a folder, without the lines that begin with any of these.
fn starter_without(keys: &[&str], folder: &Path) -> String {
    let plan = folder.join("plan");
    let (code, _, said) = trusswalk(&["new", &plan.display().to_string()]);
    assert_eq!(code, 0, "{said}");
    let file = plan.join("plan.toml");
    let text = fs::read_to_string(&file).expect("the plan");
    let kept: Vec<&str> = text.lines().filter(|line| !keys.iter().any(|key| line.starts_with(key))).collect();
    fs::write(&file, kept.join("\n")).expect("written");
    plan.display().to_string()
}

#[test]
fn a_plan_without_settings_gets_some_that_its_check_passes_and_keeps_its_comments() {
    let folder = TempDir::new().expect("a folder");
    let plan = starter_without(&["stand =", "joints_deg_m =", "detents_deg ="], folder.path());
    let (code, _, said) = trusswalk(&["check", &plan]);
    assert_eq!(code, 2);
    assert!(said.contains("the worksite `near-panel` has no `stand`, no `joints_deg_m`, no `detents_deg`"), "{said}");
    assert!(said.contains("`trusswalk propose`, which looks for what is left out"), "{said}");

    let out = folder.path().join("out").display().to_string();
    let (code, told, said) = trusswalk(&["propose", &plan, "--out", &out]);
    assert_eq!(code, 0, "{told}{said}");
    assert!(told.contains("0 violations"), "{told}");
    let (code, told, _) = trusswalk(&["check", &out]);
    assert_eq!(code, 0, "{told}");
    let text = fs::read_to_string(Path::new(&out).join("plan.toml")).expect("the written plan");
    assert!(text.contains("# Where work is done. The rider comes in along `approach`"), "comments are kept");
}

/// Of the timed transits of a report: seconds in all, and waypoints between their ends.
fn transits(report: &str) -> (f64, usize) {
    let report: serde_json::Value = serde_json::from_str(report).expect("a report");
    let motions = report["motions"].as_array().expect("motions").iter();
    motions.filter(|motion| motion["kind"] == "transit").fold((0.0, 0), |(seconds, waypoints), motion| {
        let between = motion["waypoints"].as_array().expect("waypoints").len() - 2;
        (seconds + motion["seconds"].as_f64().expect("it is timed"), waypoints + between)
    })
}

/// The least margin of clearance and stopping in a report, m; but for what touches at work or hangs together, and is near by
/// nature.
fn least_margin(report: &str) -> f64 {
    let report: serde_json::Value = serde_json::from_str(report).expect("a report");
    let findings = report["findings"].as_array().expect("findings").iter();
    let margins = findings.filter_map(|finding| {
        let (subject, classes) = (finding["subject"].as_str()?, finding["pair"]["classes"].as_str()?);
        let touches = ["(at work on it)", "(contact)", "(carried as one piece)"].iter().any(|by| subject.contains(by));
        let hangs = ["arm_to_restraint", "restraint_to_rider", "rider_to_payload"].contains(&classes);
        let of_one = classes.split_once("_to_").is_some_and(|(one, other)| one == other);
        let is_told = ["clearance", "stopping"].iter().any(|check| finding["check"] == *check);
        (is_told && !touches && !hangs && !of_one).then(|| finding["margin"].as_f64()).flatten()
    });
    margins.fold(f64::INFINITY, f64::min)
}

#[test]
fn the_demo_from_nothing_takes_less_time_and_fewer_waypoints_than_by_hand_and_comes_no_nearer() {
    let folder = TempDir::new().expect("a folder");
    let out = folder.path().join("out").display().to_string();
    let (code, told, said) = trusswalk(&["propose", "--anew", "--out", &out]);
    assert_eq!(code, 0, "{told}{said}");
    let (code, proposed, _) = trusswalk(&["check", &out, "--format", "json"]);
    assert_eq!(code, 0, "no limit is violated");
    let (_, by_hand, _) = trusswalk(&["check", "--format", "json"]);
    let margins = [&proposed, &by_hand].map(|report| least_margin(report));
    assert!(margins[0] >= margins[1] && margins[1] > 0.0, "proposed and by hand: {margins:?} m");
    let [proposed, by_hand] = [&proposed, &by_hand].map(|report| transits(report));
    assert!(proposed.0 < by_hand.0 && proposed.1 < by_hand.1, "proposed {proposed:?}, by hand {by_hand:?}");
}

#[test]
fn machines_read_all_of_a_proposal_and_nothing_else() {
    let folder = TempDir::new().expect("a folder");
    let plan = starter_without(&["joints_deg_m ="], folder.path());
    let out = folder.path().join("out").display().to_string();
    let (code, told, said) = trusswalk(&["propose", &plan, "--format", "json", "--out", &out]);
    assert_eq!(code, 0, "{said}");
    let proposal: serde_json::Value = serde_json::from_str(&told).expect("JSON alone");
    assert_eq!(proposal["is_complete"], true);
    let (_, schema, _) = trusswalk(&["schema", "proposal"]);
    let schema: serde_json::Value = serde_json::from_str(&schema).expect("a schema");
    let keys = |object: &serde_json::Value| object.as_object().expect("an object").keys().cloned().collect::<Vec<_>>();
    assert_eq!(keys(&proposal), keys(&schema["properties"]));
    assert_eq!(keys(&proposal["settings"][0]), keys(&schema["$defs"]["SiteJson"]["properties"]));
    assert_eq!(keys(&proposal["settings"][0]["chosen"]), keys(&schema["$defs"]["SettingJson"]["properties"]));
    assert_eq!(keys(&proposal["settings"][0]["tried"]), keys(&schema["$defs"]["TriedJson"]["properties"]));
    let sites = proposal["settings"].as_array().expect("settings");
    assert_eq!(sites.len(), 2);
    for site in sites {
        let chosen = &site["chosen"];
        assert!(site["candidates"].as_array().expect("candidates").contains(chosen), "the chosen is one of them");
        assert_eq!(chosen["detents_deg"], serde_json::json!([0.0, 0.0]), "the plan has them");
        let tried = &site["tried"];
        let all =
            tried["servings_judged"].as_u64().expect("a count") - tried["servings_violated"].as_u64().expect("a count");
        assert_eq!(site["candidates"].as_array().map(Vec::len), Some(all as usize), "{site}");
    }
    // What is told is what was written.
    let text = fs::read_to_string(Path::new(&out).join("plan.toml")).expect("the written plan");
    let joints: Vec<String> = sites[0]["chosen"]["joints_deg_m"]
        .as_array()
        .expect("joints")
        .iter()
        .map(|q| format!("{}", q.as_f64().expect("a number")))
        .collect();
    assert!(text.contains(&format!("joints_deg_m = [{}]", joints.join(", "))), "{joints:?} in {text}");
}

#[test]
fn a_search_that_is_stopped_writes_no_plan_and_is_gone_on_with_to_the_same_end() {
    let folder = TempDir::new().expect("a folder");
    let plan = starter_without(&["joints_deg_m ="], folder.path());
    let file = |name: &str| folder.path().join(name).display().to_string();
    let (kept, out, at_once) = (file("kept.json"), file("out"), file("at-once"));
    let (code, told, said) = trusswalk(&["propose", &plan, "--keep", &kept, "--time-limit", "0.5", "--out", &out]);
    assert_eq!(code, 130, "{told}{said}");
    assert!(said.contains("the time limit of 0.5 s is over"), "{said}");
    assert!(said.contains("what was found is kept in"), "{said}");
    assert!(!Path::new(&out).exists() && told.is_empty(), "nothing is written as if it were complete: {told}");

    let (code, gone_on_with, said) = trusswalk(&["propose", &plan, "--keep", &kept, "--out", &out]);
    assert_eq!(code, 0, "{gone_on_with}{said}");
    let (code, found_at_once, said) = trusswalk(&["propose", &plan, "--out", &at_once]);
    assert_eq!(code, 0, "{found_at_once}{said}");
    let text = |folder: &str| fs::read_to_string(Path::new(folder).join("plan.toml")).expect("the written plan");
    assert_eq!(text(&out), text(&at_once));
    let settings = |told: &str| told.split("wrote").next().map(str::to_owned);
    assert_eq!(settings(&gone_on_with), settings(&found_at_once), "all counts, too");

    let (code, _, said) = trusswalk(&["propose", "--only", "to-tray", "--keep", &kept]);
    assert_eq!(code, 2);
    assert!(said.contains("keeps what was found for another plan, other options or by another version"), "{said}");
    let (code, _, said) =
        trusswalk(&["propose", &plan, "--keep", &Path::new(&plan).join("plan.toml").display().to_string()]);
    assert_eq!(code, 2);
    assert!(said.contains("holds nothing that `--keep` has written"), "{said}");
}

#[test]
fn a_time_limit_is_a_number_of_seconds() {
    for limit in ["0", "nan", "soon", "1e9"] {
        let (code, _, said) = trusswalk(&["propose", "--time-limit", limit]);
        assert_eq!(code, 2);
        assert!(said.contains("expected a number of seconds above 0, at most 1000000"), "{said}");
    }
}

#[test]
fn what_is_fixed_stays_fixed() {
    let folder = TempDir::new().expect("a folder");
    let plan = starter_without(&["joints_deg_m = [0, -40"], folder.path());
    let out = folder.path().join("out").display().to_string();
    let (code, told, said) = trusswalk(&["propose", &plan, "--out", &out]);
    assert_eq!(code, 0, "{told}{said}");
    let text = fs::read_to_string(Path::new(&out).join("plan.toml")).expect("the written plan");
    assert!(text.contains("joints_deg_m = [0, -55, 0, 110, -55, 0, 0]"), "{text}");
    assert_eq!(text.matches("\ndetents_deg = [0, 0]").count(), 2, "{text}");
}

#[test]
fn to_joints_that_the_plan_has_detents_are_found() {
    let folder = TempDir::new().expect("a folder");
    let plan = starter_without(&["detents_deg ="], folder.path());
    let out = folder.path().join("out").display().to_string();
    let (code, told, said) = trusswalk(&["propose", &plan, "--out", &out]);
    assert_eq!(code, 0, "{told}{said}");
    let text = fs::read_to_string(Path::new(&out).join("plan.toml")).expect("the written plan");
    assert!(text.contains("joints_deg_m = [0, -55, 0, 110, -55, 0, 0]"), "{text}");
    assert_eq!(text.matches("\ndetents_deg = [").count(), 2, "{text}");
}

#[test]
fn a_transit_of_the_demo_gets_waypoints_that_its_check_passes() {
    let folder = TempDir::new().expect("a folder");
    let out = folder.path().join("out").display().to_string();
    let (code, told, said) = trusswalk(&["propose", "--only", "to-valves", "--out", &out]);
    assert_eq!(code, 0, "{told}{said}");
    assert!(told.contains("to-valves") && told.contains("0 violations"), "{told}");
    assert!(told.contains("Trusswalk is an aid to planning."), "{told}");
    let again = folder.path().join("again").display().to_string();
    trusswalk(&["propose", "--only", "to-valves", "--out", &again]);
    let text = |dir: &str| fs::read_to_string(Path::new(dir).join("plan.toml")).expect("the written plan");
    assert_eq!(text(&out), text(&again), "the same plan gets the same proposal");
    assert_ne!(text(&out), include_str!("../../scenes/demo/plan.toml"));
}

#[test]
fn the_plan_says_how_long_a_transit_is_looked_for_and_what_is_not_found_is_told_with_the_nodes() {
    let folder = TempDir::new().expect("a folder");
    let (plan, file, text) = demo_in(folder.path());
    let with = |nodes: &str, only: &str| {
        fs::write(&file, format!("transit_nodes = {nodes}\n{text}")).expect("written");
        trusswalk(&["propose", &plan, "--only", only])
    };
    let (code, told, said) = with("8", "to-bay");
    assert_eq!(code, 1, "{told}{said}");
    let none = "bay: no way was found to the setting that the plan gives: none found in 8 nodes, nearest ";
    assert!(told.contains(none) && told.contains("`propose --only rack` looks for others"), "{told}");
    let (code, told, said) = with("40_000", "to-bay");
    assert_eq!(code, 0, "{told}{said}");
    assert_eq!(told, trusswalk(&["propose", "--only", "to-bay"]).1, "so many are the default");
    let (code, _, said) = with("0", "to-bay");
    assert_eq!(code, 2, "{said}");
    assert!(said.contains("plan.toml:1:") && said.contains("`transit_nodes` is 0"), "{said}");
}

#[test]
fn what_a_first_look_does_not_find_is_sought_with_all_nodes() {
    let folder = TempDir::new().expect("a folder");
    let (plan, file, text) = demo_in(folder.path());
    let with = |nodes: usize| {
        fs::write(&file, format!("transit_nodes = {nodes}\n{text}")).expect("written");
        trusswalk(&["propose", &plan, "--only", "to-rack"])
    };
    // Trees of 25 steps find none. A first look at 150 nodes has trees of 15, which are the same ones as far as they go.
    let (code, told, said) = with(100);
    assert!(code == 1 && told.contains("none found in "), "{told}{said}");
    let (code, told, said) = with(150);
    assert_eq!(code, 0, "{told}{said}");
}

#[test]
fn what_is_violated_elsewhere_bars_no_proposal_and_is_told_with_it() {
    let folder = TempDir::new().expect("a folder");
    let (plan, file, text) = demo_in(folder.path());
    let bad = text.replace("[75, -47, 49, 124, 43, 45, -69]", "[75, -47, 49, 144, 43, 45, -69]");
    assert_ne!(text, bad);
    fs::write(&file, bad).expect("written");
    let (code, told, said) = trusswalk(&["propose", &plan, "--only", "to-bay"]);
    assert_eq!(code, 1, "{told}{said}");
    assert!(!told.contains("NOT SETTLED") && told.contains("to-bay "), "{told}{said}");
    assert!(format!("{told}{said}").contains("to-tray/transit"), "{told}{said}");
}

#[test]
fn what_is_proven_to_be_out_of_reach_is_said_to_be_and_nothing_is_written() {
    let folder = TempDir::new().expect("a folder");
    let plan = starter_without(&["stand =", "joints_deg_m =", "detents_deg ="], folder.path());
    let file = Path::new(&plan).join("plan.toml");
    let text = fs::read_to_string(&file).expect("the plan");
    // Twenty metres beyond the truss: the arm is no longer than it is.
    let far = text.replace("at_m = [7.15, 0.15, 1.20]", "at_m = [47.15, 0.15, 1.20]");
    assert_ne!(text, far);
    fs::write(&file, far).expect("written");
    let out = folder.path().join("out");
    let (code, told, said) = trusswalk(&["propose", &plan, "--out", &out.display().to_string()]);
    assert_eq!(code, 1, "{told}{said}");
    let first = "near-panel: proven: nothing can be done there from any stand that can be had there";
    assert!(told.contains(first) && told.contains("latch is out of reach by at least 35."), "{told}");
    assert!(told.contains("look at: target latch of worksite near-panel lies on no body: the nearest is "), "{told}");
    let (code, json, said) = trusswalk(&["propose", &plan, "--format", "json"]);
    assert_eq!(code, 1, "{said}");
    let json: serde_json::Value = serde_json::from_str(&json).expect("JSON alone");
    assert_eq!((&json["is_complete"], &json["not_settled"]["told"][0]), (&false.into(), &first.into()));
    assert_eq!(json["not_settled"]["why"], "no_stand");
    assert!(!out.exists(), "nothing is written half");
}

/// The demo in a folder: the plan, its file, and the text of it.
fn demo_in(folder: &Path) -> (String, PathBuf, String) {
    let plan = folder.join("demo").display().to_string();
    assert_eq!(trusswalk(&["new", &plan, "--demo"]).0, 0);
    let file = Path::new(&plan).join("plan.toml");
    let text = fs::read_to_string(&file).expect("the plan");
    (plan, file, text)
}

/// The starter in a folder, open, after a change of its plan's text.
fn open_starter(folder: &Path, from: &str, to: &str) -> String {
    let plan = starter_without(&["stand =", "joints_deg_m =", "detents_deg ="], folder);
    let file = Path::new(&plan).join("plan.toml");
    let text = fs::read_to_string(&file).expect("the plan");
    assert!(text.contains(from), "{from}");
    fs::write(&file, text.replace(from, to)).expect("written");
    plan
}

#[test]
fn a_limit_that_no_configuration_keeps_is_proven_to_be_such_a_one() {
    let folder = TempDir::new().expect("a folder");
    let least = "arm_to_structure = { at_least = ";
    let plan = open_starter(folder.path(), &format!("{least}0.05"), &format!("{least}1.50"));
    let (code, told, said) = trusswalk(&["propose", &plan]);
    assert_eq!(code, 1, "{told}{said}");
    assert!(told.contains("comes too near whatever the arm's joints do, on every transit"), "{told}");
    assert!(told.contains("the limit of arm_to_structure is 1.500 m"), "{told}");
}

#[test]
fn a_limit_that_rules_out_all_is_named_before_every_place_was_looked_at() {
    let folder = TempDir::new().expect("a folder");
    let at_work = "[limits.at_work.clearance_m]\n";
    let wide = format!("{at_work}rider_to_structure = {{ at_least = 0.60, source = \"invented\" }}\n");
    let plan = open_starter(folder.path(), at_work, &wide);
    let (code, told, said) = trusswalk(&["propose", &plan]);
    assert_eq!(code, 1, "{told}{said}");
    assert!(told.contains("near-panel: no setting was found that keeps every limit, which is no proof"), "{told}");
    assert!(told.contains("clearance rider_to_structure"), "{told}");
}

#[test]
fn riders_of_other_sizes_are_served_too_where_that_is_asked() {
    let folder = TempDir::new().expect("a folder");
    let plan = open_starter(folder.path(), "percentile = 50", "percentile = 50.0");
    let out = folder.path().join("out").display().to_string();
    let (code, told, said) = trusswalk(&["propose", &plan, "--sizes", "women:20,men:60", "--out", &out]);
    assert_eq!(code, 0, "{told}{said}");
    let checked = "checked as a whole with a rider of percentile 20 of women, and of percentile 60 of men, too";
    assert!(told.contains(checked), "{told}");
    let file = Path::new(&out).join("plan.toml");
    let text = fs::read_to_string(&file).expect("the plan");
    for (percentile, of) in [("20", "women"), ("60", "men")] {
        let other =
            text.replace("percentile = 50.0, of = \"women\"", &format!("percentile = {percentile}, of = \"{of}\""));
        assert_ne!(text, other);
        fs::write(&file, other).expect("written");
        let (code, told, _) = trusswalk(&["check", &out]);
        assert_eq!(code, 0, "percentile {percentile} of {of}: {told}");
    }
    let (code, _, said) = trusswalk(&["propose", &plan, "--sizes", "women:0"]);
    assert!(code == 2 && said.contains("a percentile from 1 to 99, such as women:5"), "{said}");
}

#[test]
fn a_worksite_without_targets_gets_somewhere_to_wait() {
    let folder = TempDir::new().expect("a folder");
    let park = "[[worksite]]\nid = \"park\"\napproach = [0, 0, -1]\napproach_m = 0.5\n\n[[step]]\ndo = \"ingress\"";
    let plan = open_starter(folder.path(), "[[step]]\ndo = \"ingress\"", park);
    let file = Path::new(&plan).join("plan.toml");
    let text = fs::read_to_string(&file).expect("the plan");
    let to_park = "[[step]]\ndo = \"transit\"\nto = \"park\"\nposture = \"arms-in\"\n\n[[step]]\ndo = \"egress\"";
    fs::write(&file, text.replace("[[step]]\ndo = \"egress\"", to_park)).expect("written");
    let out = folder.path().join("out").display().to_string();
    let (code, told, said) = trusswalk(&["propose", &plan, "--out", &out]);
    assert_eq!(code, 0, "{told}{said}");
    assert!(told.contains(" 0 violations,"), "{told}");
}

#[test]
fn a_target_that_is_on_nothing_is_told_with_the_body_on_which_it_lies() {
    let folder = TempDir::new().expect("a folder");
    let plan = open_starter(folder.path(), "on = [\"near-panel\"]", "on = []");
    let (_, told, said) = trusswalk(&["propose", &plan]);
    assert!(
        told.contains("look at: target latch of worksite near-panel lies on near-panel, and is `on` nothing"),
        "{told}{said}"
    );
}

#[test]
fn a_proposal_that_is_late_is_told_and_ends_with_1() {
    let folder = TempDir::new().expect("a folder");
    let plan = folder.path().join("demo");
    let plan = plan.to_str().expect("a name");
    assert_eq!(trusswalk(&["new", plan, "--demo"]).0, 0);
    let file = Path::new(plan).join("plan.toml");
    let text = fs::read_to_string(&file).expect("the plan");
    let (before, after) = text.split_once("id = \"to-valves\"").expect("it is there");
    let hurried = format!("{before}id = \"to-valves\"{}", after.replacen("at_most_min = ", "at_most_min = 0.0", 1));
    fs::write(&file, hurried).expect("written");
    let (code, told, said) = trusswalk(&["propose", plan, "--only", "to-valves"]);
    assert_eq!(code, 1, "{told}{said}");
    assert!(told.contains("with it the plan breaks limits:") && told.contains("to-valves, speed"), "{told}");
    assert!(told.contains("looked for anew as they touch what was asked for: 1 of to-valves"), "{told}");
}

/// The demo in a folder without the second crew's settings, after a change of its plan's text.
fn demo_with_open_second_crew(folder: &Path, change: impl FnOnce(String) -> String) -> String {
    let (plan, file, text) = demo_in(folder);
    let open = text.replace("-socket\", detents_deg = [0, 0] }", "-socket\" }");
    assert_ne!(text, open);
    fs::write(&file, change(open)).expect("written");
    plan
}

#[test]
fn the_second_crews_settings_are_found_and_pass_the_check() {
    let folder = TempDir::new().expect("a folder");
    let plan = demo_with_open_second_crew(folder.path(), |text| text);
    let out = folder.path().join("out").display().to_string();
    let (code, told, said) = trusswalk(&["propose", &plan, "--out", &out]);
    assert_eq!(code, 0, "{told}{said}");
    // Joints of 13 and 12 detents.
    assert!(told.contains("SECOND CREW") && told.matches("of 156 settings tried").count() == 2, "{told}");
    assert!(told.contains(" 0 violations,"), "{told}");
}

#[test]
fn a_second_crew_without_a_setting_is_told_what_ruled_them_out() {
    let folder = TempDir::new().expect("a folder");
    let plan = demo_with_open_second_crew(folder.path(), |text| {
        let (before, after) = text.split_once("id = \"cable-1\"").expect("it is there");
        let (_, rest) = after.split_once("at_m = [").expect("a place");
        let (_, rest) = rest.split_once(']').expect("its end");
        format!("{before}id = \"cable-1\"\nat_m = [40.0, 0.0, 2.0]{rest}")
    });
    let (code, told, said) = trusswalk(&["propose", &plan]);
    assert_eq!(code, 1, "{told}{said}");
    assert!(
        told.contains("mast: no setting of the second crew's restraint was found that keeps every limit"),
        "{told}"
    );
    assert!(told.contains("by work envelope cable-1"), "{told}");
}

#[test]
fn the_bodies_of_an_open_plan_are_listed() {
    let folder = TempDir::new().expect("a folder");
    let plan = starter_without(&["stand =", "joints_deg_m =", "detents_deg ="], folder.path());
    let (code, told, said) = trusswalk(&["bodies", &plan]);
    assert_eq!(code, 0, "{said}");
    assert!(told.contains("near-panel") && told.contains("bodies at the start of the plan"), "{told}");
    assert!(said.starts_with("open in the plan: near-panel, far-panel;"), "{said}");
}

#[test]
fn an_unknown_name_is_answered_with_the_nearest() {
    let (code, _, said) = trusswalk(&["propose", "--only", "vlaves"]);
    assert_eq!(code, 2);
    assert!(said.contains("`vlaves` is no worksite or transit of this plan; nearest: `valves`"), "{said}");
}
