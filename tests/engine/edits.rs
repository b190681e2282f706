//! Every kind of edit of a plan: what changes in the text and in the model, how it goes back, and that what is checked
//! again after it is what a fresh check finds.

use std::collections::{BTreeMap, HashSet};
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;

use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::{RngSeed, TestRunner};
use trusswalk::check::{self, Known, Silent};
use trusswalk::files::{self, Change, Draft, Loaded, PlanPath, Problems};
use trusswalk::model::{
    Angle, Crew, Hands, Measures, Place, Plan, PlanEdit, Regime, Stature, Step, Survey, Waypoint, Who,
};
use trusswalk::propose::mend;

fn scene(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("scenes").join(name)
}

/// A copy of a scene, so that journals of tests do not meet.
fn draft(name: &str) -> (tempfile::TempDir, Draft) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for entry in std::fs::read_dir(scene(name)).expect("a scene") {
        let file = entry.expect("a file").path();
        std::fs::copy(&file, folder.path().join(file.file_name().expect("a name"))).expect("a copy");
    }
    let (draft, _) = Draft::open(folder.path()).expect("it has a plan");
    (folder, draft)
}

fn text(name: &str) -> String {
    std::fs::read_to_string(scene(name).join("plan.toml")).expect("the plan of a scene")
}

fn apply(text: &str, edit: &PlanEdit) -> Result<String, Problems> {
    files::apply(text, &PlanPath::plan(), edit)
}

fn crew(percentile: f64, of: Survey) -> Crew {
    Crew { stature: Some(Stature { percentile, of }), measures: Measures::default() }
}

/// One edit, the lines that go and come (in order, without regard to where), and what the plan then holds.
struct Expected {
    edit: PlanEdit,
    gone: &'static [&'static str],
    come: &'static [&'static str],
    holds: fn(&Plan) -> bool,
}

fn step<'p>(plan: &'p Plan, id: &str) -> &'p Step {
    let named = |(index, step): &(usize, &Step)| step.id_at(*index) == id;
    plan.step.iter().enumerate().find(named).expect("the step").1
}

fn joints(waypoint: &Waypoint) -> Vec<f64> {
    waypoint.joints.clone().expect("it has joints")
}

fn of_demo() -> Vec<Expected> {
    vec![
        Expected {
            edit: PlanEdit::SetWaypoint {
                step: "to-bay".to_owned(),
                waypoint: 1,
                joints: vec![119.4, -40.1, -37.5, 140.8, -71.9, -42.9 + 0.2, 55.0],
            },
            gone: &["joints_deg_m = [119.4, -40.1, -37.5, 140.8, -71.9, -42.9, 54.9]"],
            come: &["joints_deg_m = [119.4, -40.1, -37.5, 140.8, -71.9, -42.7, 55]"],
            holds: |plan| joints(&step(plan, "to-bay").waypoint[1])[5..] == [-42.7, 55.0],
        },
        Expected {
            edit: PlanEdit::AddWaypoint {
                step: "to-bay".to_owned(),
                waypoint: 0,
                joints: vec![129.1, -32.0, -39.4, 133.0, -73.6, -34.9, 43.3],
            },
            gone: &[],
            come: &["", "[[step.waypoint]]", "joints_deg_m = [129.1, -32, -39.4, 133, -73.6, -34.9, 43.3]"],
            holds: |plan| {
                let waypoints = &step(plan, "to-bay").waypoint;
                waypoints.len() == 4 && joints(&waypoints[0])[1] == -32.0 && joints(&waypoints[1])[1] == -31.3
            },
        },
        Expected {
            edit: PlanEdit::RemoveWaypoint { step: "to-tray".to_owned(), waypoint: 0 },
            gone: &["", "[[step.waypoint]]", "joints_deg_m = [75, -47, 49, 124, 43, 45, -69]"],
            come: &[],
            holds: |plan| step(plan, "to-tray").waypoint.is_empty(),
        },
        Expected {
            edit: PlanEdit::SetConfiguration {
                worksite: "end".to_owned(),
                joints: vec![91.3, -21.5, -14.4, 57.3, 82.6, -5.2, 80.0],
            },
            gone: &["joints_deg_m = [91.3, -21.5, -14.4, 57.3, 82.6, -5.2, 79.9]"],
            come: &["joints_deg_m = [91.3, -21.5, -14.4, 57.3, 82.6, -5.2, 80]"],
            holds: |plan| plan.worksite[6].joints[6] == 80.0,
        },
        Expected {
            edit: PlanEdit::SetDetents { worksite: "valves".to_owned(), who: Who::Rider, detents: vec![-75.0, -30.0] },
            gone: &["detents_deg = [-75, -60]"],
            come: &["detents_deg = [-75, -30]"],
            holds: |plan| (plan.worksite[2].detents[1].degrees() + 30.0).abs() < 1e-9,
        },
        Expected {
            edit: PlanEdit::SetDetents { worksite: "mast".to_owned(), who: Who::SecondCrew, detents: vec![15.0, 0.0] },
            gone: &["second_crew = { socket = \"mast-socket\", detents_deg = [0, 0] }"],
            come: &["second_crew = { socket = \"mast-socket\", detents_deg = [15, 0] }"],
            holds: |plan| {
                let second = plan.worksite[5].second_crew.as_ref().expect("somebody works there");
                (second.detents[0].degrees() - 15.0).abs() < 1e-9
            },
        },
        Expected {
            edit: PlanEdit::SetStand { worksite: "end".to_owned(), stand: "near-stop".to_owned() },
            gone: &["stand = \"far-stop\""],
            come: &["stand = \"near-stop\""],
            holds: |plan| plan.worksite[6].stand == "near-stop",
        },
        Expected {
            edit: PlanEdit::SetStandPlace {
                stand: "far-stop".to_owned(),
                place: Place {
                    at_m: [18.0, 0.001, 1.40],
                    rpy: Some([0.0, 0.0, -0.1].map(Angle::from_degrees)),
                    ..Place::default()
                },
            },
            gone: &["place = { at_m = [18.0, 0.0, 1.40], rpy_deg = [0, 0, 0] }"],
            come: &["place = { at_m = [18.0, 0.001, 1.40], rpy_deg = [0, 0, -0.1] }"],
            holds: |plan| plan.stand[1].place.at_m == [18.0, 0.001, 1.40],
        },
        Expected {
            edit: PlanEdit::SetTargetPlace {
                worksite: "mast".to_owned(),
                target: "cap".to_owned(),
                at_m: [26.3, 0.8, 2.892],
            },
            gone: &["at_m = [26.3, 0.8, 2.9]"],
            come: &["at_m = [26.3, 0.8, 2.892]"],
            holds: |plan| plan.worksite[5].target[5].at_m == [26.3, 0.8, 2.892],
        },
        Expected {
            edit: PlanEdit::SetDuration { step: "to-bay".to_owned(), waypoint: 1, seconds: 90.0 },
            gone: &[],
            come: &["duration_s = 90.0"],
            holds: |plan| step(plan, "to-bay").waypoint[1].duration_s == Some(90.0),
        },
        Expected {
            edit: PlanEdit::SetCrew { who: Who::Rider, crew: crew(62.5, Survey::Women) },
            gone: &["stature = { percentile = 55, of = \"women\" }"],
            come: &["stature = { percentile = 62.5, of = \"women\" }"],
            holds: |plan| plan.rider == crew(62.5, Survey::Women),
        },
        Expected {
            edit: PlanEdit::SetHands { worksite: "tray".to_owned(), target: "branch".to_owned(), hands: Hands::Right },
            gone: &["hands = \"either\""],
            come: &["hands = \"right\""],
            holds: |plan| plan.worksite[1].target[2].hands == Hands::Right,
        },
        Expected {
            edit: PlanEdit::SetClearance {
                regime: Regime::Moving,
                pair: "structure_to_payload".to_owned(),
                at_least: 0.26,
            },
            gone: &["payload_to_structure = { at_least = 0.28, source = \"invented\" }"],
            come: &["payload_to_structure = { at_least = 0.26, source = \"invented\" }"],
            holds: |plan| {
                let limit = &plan.limits.moving.clearance_m["payload_to_structure"];
                limit.value == 0.26 && limit.source.as_deref() == Some("invented")
            },
        },
        Expected {
            edit: PlanEdit::SetClearance { regime: Regime::Stopping, pair: "default".to_owned(), at_least: 0.05 },
            gone: &[],
            come: &["", "[limits.stopping.clearance_m]", "default = 0.05"],
            holds: |plan| plan.limits.stopping.clearance_m["default"].value == 0.05,
        },
    ]
}

fn of_starter() -> Vec<Expected> {
    let near = vec![0.0, -55.0, 0.0, 110.0, -55.0, 0.0, 12.25];
    vec![
        Expected {
            edit: PlanEdit::AddWaypoint { step: "step-3".to_owned(), waypoint: 9, joints: near.clone() },
            gone: &[],
            come: &["", "[[step.waypoint]]", "joints_deg_m = [0, -55, 0, 110, -55, 0, 12.25]"],
            holds: |plan| joints(&step(plan, "step-3").waypoint[0])[6] == 12.25,
        },
        Expected {
            edit: PlanEdit::SetConfiguration { worksite: "near-panel".to_owned(), joints: near },
            gone: &["joints_deg_m = [0, -55, 0, 110, -55, 0, 0]"],
            come: &["joints_deg_m = [0, -55, 0, 110, -55, 0, 12.25]"],
            holds: |plan| plan.worksite[0].joints[6] == 12.25,
        },
        Expected {
            edit: PlanEdit::SetDetents {
                worksite: "far-panel".to_owned(),
                who: Who::Rider,
                detents: vec![30.0, -15.0],
            },
            gone: &["detents_deg = [0, 0]"],
            come: &["detents_deg = [30, -15]"],
            holds: |plan| (plan.worksite[1].detents[1].degrees() + 15.0).abs() < 1e-9,
        },
        Expected {
            edit: PlanEdit::SetCrew { who: Who::SecondCrew, crew: crew(60.0, Survey::Men) },
            gone: &[],
            come: &["", "[second_crew]", "stature = { of = \"men\", percentile = 60 }"],
            holds: |plan| plan.second_crew == crew(60.0, Survey::Men),
        },
        Expected {
            edit: PlanEdit::SetCrew {
                who: Who::Rider,
                crew: Crew { stature: None, measures: Measures { stature_m: Some(1.7), ..Measures::default() } },
            },
            gone: &["stature = { percentile = 50, of = \"women\" }"],
            come: &["measures = { stature_m = 1.7 }"],
            holds: |plan| plan.rider.stature.is_none() && plan.rider.measures.stature_m == Some(1.7),
        },
        Expected {
            edit: PlanEdit::SetHands {
                worksite: "far-panel".to_owned(),
                target: "bolt".to_owned(),
                hands: Hands::Both,
            },
            gone: &["hands = \"right\""],
            come: &["hands = \"both\""],
            holds: |plan| plan.worksite[1].target[0].hands == Hands::Both,
        },
        Expected {
            edit: PlanEdit::SetClearance { regime: Regime::Moving, pair: "default".to_owned(), at_least: 0.1 + 0.2 },
            gone: &["default = 0.20"],
            come: &["default = 0.3"],
            holds: |plan| plan.limits.moving.clearance_m["default"].value == 0.3,
        },
        Expected {
            edit: PlanEdit::SetClearance { regime: Regime::AtWork, pair: "arm_to_arm".to_owned(), at_least: 0.0 },
            gone: &[],
            come: &["arm_to_arm = 0.0"],
            holds: |plan| plan.limits.at_work.clearance_m["arm_to_arm"].value == 0.0,
        },
    ]
}

/// The lines of a longest common part left out: what went and what came.
fn changed<'t>(before: &'t str, after: &'t str) -> (Vec<&'t str>, Vec<&'t str>) {
    let (before, after): (Vec<&str>, Vec<&str>) = (before.split('\n').collect(), after.split('\n').collect());
    let mut longest = vec![vec![0_usize; after.len() + 1]; before.len() + 1];
    for i in (0..before.len()).rev() {
        for j in (0..after.len()).rev() {
            longest[i][j] = if before[i] == after[j] {
                longest[i + 1][j + 1] + 1
            } else {
                longest[i + 1][j].max(longest[i][j + 1])
            };
        }
    }
    let (mut gone, mut come, mut i, mut j) = (Vec::new(), Vec::new(), 0, 0);
    while i < before.len() || j < after.len() {
        if i < before.len() && j < after.len() && before[i] == after[j] {
            (i, j) = (i + 1, j + 1);
        } else if j == after.len() || (i < before.len() && longest[i + 1][j] >= longest[i][j + 1]) {
            gone.push(before[i]);
            i += 1;
        } else {
            come.push(after[j]);
            j += 1;
        }
    }
    (gone, come)
}

/// Lines without the comments behind them, which are compared on their own.
fn sorted(lines: &[&str]) -> Vec<String> {
    let code = |line: &&str| line.split('#').next().unwrap_or_default().trim_end().to_owned();
    let mut lines: Vec<String> = lines.iter().map(code).collect();
    lines.sort();
    lines
}

/// Comments and how often each is there. Texts in quotes of the scenes hold no `#`.
fn comments(text: &str) -> BTreeMap<&str, usize> {
    let mut found = BTreeMap::new();
    for line in text.lines() {
        if let Some(at) = line.find('#') {
            *found.entry(line[at..].trim()).or_default() += 1;
        }
    }
    found
}

fn value(plan: &Plan) -> serde_json::Value {
    serde_json::to_value(plan).expect("a plan is plain data")
}

/// Whether all is the same, numbers to rounding.
fn same(a: &serde_json::Value, b: &serde_json::Value) -> bool {
    use serde_json::Value::{Array, Number, Object};
    match (a, b) {
        (Number(a), Number(b)) => a.as_f64().zip(b.as_f64()).is_some_and(|(a, b)| (a - b).abs() < 1e-9),
        (Array(a), Array(b)) => a.len() == b.len() && a.iter().zip(b).all(|(a, b)| same(a, b)),
        (Object(a), Object(b)) => a.len() == b.len() && a.iter().all(|(key, a)| b.get(key).is_some_and(|b| same(a, b))),
        _ => a == b,
    }
}

#[test]
fn each_edit_changes_its_own_lines_and_goes_back_byte_for_byte() {
    for (name, all) in [("demo", of_demo()), ("starter", of_starter())] {
        let (_folder, mut draft) = draft(name);
        let before = draft.text().to_owned();
        let as_read = draft.read().expect("it is sound").project;
        for Expected { edit, gone, come, holds } in all {
            let after = apply(&before, &edit).expect("what it names is there");
            let (went, came) = changed(&before, &after);
            assert_eq!((sorted(&went), sorted(&came)), (sorted(gone), sorted(come)), "{name}: {edit:?}\n{after}");
            assert_eq!(comments(&after), comments(&before), "{edit:?}");
            // A stand that the base is not at makes no sense where the step is, and the draft says so.
            if matches!(edit, PlanEdit::SetStand { .. }) {
                let told = draft.apply(&edit).expect_err("the base is elsewhere").to_string();
                assert!(told.contains("is served from `near-stop`"), "{told}");
                assert_eq!(draft.text(), before);
                continue;
            }
            let loaded = draft.apply(&edit).unwrap_or_else(|problems| panic!("{edit:?}: {problems}"));
            assert!(holds(&loaded.project.plan), "{edit:?}");
            // Mends change no limit, and in memory none changes.
            if !matches!(edit, PlanEdit::SetClearance { .. }) {
                let in_memory = mend::edited(&as_read, std::slice::from_ref(&edit));
                assert!(same(&value(&in_memory.plan), &value(&loaded.project.plan)), "{edit:?}");
            }
            assert_eq!(draft.text(), after);
            assert_eq!((draft.undo(), draft.text()), (Some(Change::Edit(Box::new(edit.clone()))), before.as_str()));
            assert_eq!((draft.redo(), draft.text()), (Some(Change::Edit(Box::new(edit))), after.as_str()));
            draft.undo();
        }
    }
}

/// The starter with a second stand, which no worksite uses.
fn with_another_stand() -> String {
    let stand = "[[stand]]\nid = \"next\"\nplace = { at_m = [1.1, 0.0, 1.10] }\n\n# Carrying postures";
    text("starter").replacen("# Carrying postures", stand, 1)
}

#[test]
fn a_stand_is_set_where_the_base_is_there() {
    let before = with_another_stand();
    let (_folder, mut draft) = draft("starter");
    draft.replace_text(&before);
    let first = PlanEdit::SetStand { worksite: "near-panel".to_owned(), stand: "next".to_owned() };
    draft.apply(&first).expect_err("the transit would go from one stand to another");
    let after = apply(&before, &first).expect("what it names is there");
    let both = PlanEdit::SetStand { worksite: "far-panel".to_owned(), stand: "next".to_owned() };
    draft.replace_text(&apply(&after, &both).expect("what it names is there"));
    let plan = draft.read().unwrap_or_else(|problems| panic!("{problems}")).project.plan;
    assert!(plan.worksite.iter().all(|worksite| worksite.stand == "next"));
    let (went, came) = changed(&before, draft.text());
    assert_eq!((went, came), (vec!["stand = \"near-end\""; 2], vec!["stand = \"next\""; 2]));
}

#[test]
fn a_waypoint_given_as_a_tip_pose_becomes_joints_and_keeps_its_duration() {
    let tip = "tip = { at_m = [11.0, 2.0, 6.0] } # by eye\nduration_s = 9000";
    let before = text("demo").replacen("joints_deg_m = [75, -47, 49, 124, 43, 45, -69]", tip, 1);
    let (_folder, mut draft) = draft("demo");
    draft.replace_text(&before);
    let edit = PlanEdit::SetWaypoint {
        step: "to-tray".to_owned(),
        waypoint: 0,
        joints: vec![75.0, -47.0, 49.0, 124.0, 43.0, 45.0, -69.5],
    };
    let loaded = draft.apply(&edit).unwrap_or_else(|problems| panic!("{problems}"));
    let waypoint = &step(&loaded.project.plan, "to-tray").waypoint[0];
    assert_eq!((waypoint.tip, waypoint.duration_s), (None, Some(9000.0)));
    let (went, came) = changed(&before, draft.text());
    assert_eq!(went, ["tip = { at_m = [11.0, 2.0, 6.0] } # by eye"]);
    assert_eq!(came, ["joints_deg_m = [75, -47, 49, 124, 43, 45, -69.5] # by eye"]);
}

#[test]
fn steps_in_brackets_are_edited_as_those_with_headers() {
    let all = text("starter");
    let at = all.find("[[step]]").expect("it has steps");
    let steps = "step = [ # in order\n  { do = \"ingress\", to = \"near-panel\" }, # in\n  { do = \"transit\", to = \"far-panel\" },\n  \
                 { do = \"egress\" },\n]\n";
    let title = all.find("structure =").expect("it names a structure");
    let before = format!("{}{steps}{}", &all[..title], &all[title..at]);
    let (_folder, mut draft) = draft("starter");
    draft.replace_text(&before);
    let joints = |last: f64| vec![0.0, -50.0, 0.0, 100.0, -50.0, 0.0, last];
    let line = |draft: &Draft| draft.text().lines().find(|line| line.contains("transit")).expect("a step").to_owned();
    let edits = [
        PlanEdit::AddWaypoint { step: "step-2".to_owned(), waypoint: 0, joints: joints(2.0) },
        PlanEdit::AddWaypoint { step: "step-2".to_owned(), waypoint: 0, joints: joints(1.0) },
        PlanEdit::SetWaypoint { step: "step-2".to_owned(), waypoint: 1, joints: joints(3.5) },
    ];
    for edit in &edits {
        draft.apply(edit).unwrap_or_else(|problems| panic!("{edit:?}: {problems}\n{}", draft.text()));
    }
    let first = "{ joints_deg_m = [0, -50, 0, 100, -50, 0, 1] }";
    let second = "{ joints_deg_m = [0, -50, 0, 100, -50, 0, 3.5] }";
    let transit =
        |waypoints: String| format!("  {{ do = \"transit\", to = \"far-panel\", waypoint = [{waypoints}] }},");
    assert_eq!(line(&draft), transit(format!("{first}, {second}")));
    draft.apply(&PlanEdit::RemoveWaypoint { step: "step-2".to_owned(), waypoint: 0 }).expect("it is there");
    assert_eq!(line(&draft), transit(second.to_owned()));
    let (went, came) = changed(&before, draft.text());
    assert_eq!((went.len(), came.len()), (1, 1), "one line changed: {went:?} {came:?}");
}

#[test]
fn what_is_not_there_is_told_with_the_nearest_name() {
    let told = |edit: PlanEdit| apply(&text("demo"), &edit).expect_err("it is not there").to_string();
    let at = |step: &str, waypoint| PlanEdit::RemoveWaypoint { step: step.to_owned(), waypoint };
    let cases = [
        (told(at("to-bey", 0)), "nearest: `to-bay`"),
        (told(at("to-bay", 3)), "there is no waypoint 4"),
        (told(at("get-in", 0)), "it has none"),
        (told(PlanEdit::SetConfiguration { worksite: "mask".to_owned(), joints: vec![0.0; 7] }), "nearest: `mast`"),
        (told(PlanEdit::SetStand { worksite: "mast".to_owned(), stand: "far-stpo".to_owned() }), "nearest: `far-stop`"),
        (
            told(PlanEdit::SetHands { worksite: "tray".to_owned(), target: "brunch".to_owned(), hands: Hands::Left }),
            "nearest: `branch`",
        ),
        (
            told(PlanEdit::SetDetents { worksite: "gate".to_owned(), who: Who::SecondCrew, detents: vec![0.0; 2] }),
            "the second crew has no place at `gate`",
        ),
        (
            told(PlanEdit::SetClearance { regime: Regime::Moving, pair: "arm_to_amr".to_owned(), at_least: 0.1 }),
            "nearest: `arm_to_arm`",
        ),
        (
            told(PlanEdit::SetClearance { regime: Regime::Moving, pair: "default".to_owned(), at_least: f64::NAN }),
            "NaN is no value",
        ),
        (
            told(PlanEdit::SetConfiguration { worksite: "mast".to_owned(), joints: vec![f64::INFINITY] }),
            "inf is no value",
        ),
        (told(PlanEdit::SetCrew { who: Who::Rider, crew: crew(f64::NAN, Survey::Men) }), "NaN is no value"),
    ];
    for (told, expected) in cases {
        assert!(told.contains(expected), "{told}");
    }
    let broken = apply("a = \n", &at("x", 0)).expect_err("it is no TOML");
    assert!(!broken.is_empty());
}

/// An edit that the demo takes at any time, or one that it may refuse.
fn any_edit() -> impl Strategy<Value = PlanEdit> {
    let joints = || proptest::collection::vec(-80.0..80.0_f64, 7);
    let step = || prop::sample::select(vec!["to-tray", "to-valves", "to-bay", "gate-work"]).prop_map(str::to_owned);
    let worksite = || prop::sample::select(vec!["gate", "tray", "mast"]).prop_map(str::to_owned);
    let who = || prop::sample::select(vec![Who::Rider, Who::SecondCrew]);
    let pairs = vec!["default", "arm_to_arm", "structure_to_payload", "rider_to_structure"];
    let regimes = vec![Regime::Moving, Regime::AtWork, Regime::Stopping];
    prop_oneof![
        (step(), 0..4_usize, joints()).prop_map(|(step, waypoint, joints)| PlanEdit::SetWaypoint {
            step,
            waypoint,
            joints
        }),
        (step(), 0..4_usize, joints()).prop_map(|(step, waypoint, joints)| PlanEdit::AddWaypoint {
            step,
            waypoint,
            joints
        }),
        (step(), 0..4_usize).prop_map(|(step, waypoint)| PlanEdit::RemoveWaypoint { step, waypoint }),
        (worksite(), joints()).prop_map(|(worksite, joints)| PlanEdit::SetConfiguration { worksite, joints }),
        (worksite(), who(), prop::sample::select(vec![0.0, 15.0, 1.0]))
            .prop_map(|(worksite, who, pitch)| { PlanEdit::SetDetents { worksite, who, detents: vec![pitch, 0.0] } }),
        worksite().prop_map(|worksite| PlanEdit::SetStand { worksite, stand: "far-stop".to_owned() }),
        (who(), 1.0..99.0_f64, proptest::option::of(1.5..1.9_f64)).prop_map(|(who, percentile, stature_m)| {
            let stature = Some(Stature { percentile, of: Survey::Men });
            let measures = Measures { stature_m, ..Measures::default() };
            PlanEdit::SetCrew { who, crew: Crew { stature: stature.filter(|_| stature_m.is_none()), measures } }
        }),
        prop::sample::select(vec![Hands::Left, Hands::Right, Hands::Either, Hands::Both]).prop_map(|hands| {
            PlanEdit::SetHands { worksite: "tray".to_owned(), target: "branch".to_owned(), hands }
        }),
        (step(), 0..4_usize, 1.0..900.0_f64).prop_map(|(step, waypoint, seconds)| PlanEdit::SetDuration {
            step,
            waypoint,
            seconds
        }),
        proptest::array::uniform3(1.0..9.0_f64).prop_map(|at_m| PlanEdit::SetTargetPlace {
            worksite: "tray".to_owned(),
            target: "branch".to_owned(),
            at_m
        }),
        proptest::array::uniform3(-90.0..90.0_f64).prop_map(|angles| PlanEdit::SetStandPlace {
            stand: "far-stop".to_owned(),
            place: Place { rpy: Some(angles.map(Angle::from_degrees)), ..Place::default() }
        }),
        (prop::sample::select(regimes), prop::sample::select(pairs), 0.0..0.4_f64)
            .prop_map(|(regime, pair, at_least)| PlanEdit::SetClearance { regime, pair: pair.to_owned(), at_least }),
    ]
}

#[derive(Clone, Debug)]
enum Act {
    Apply(Box<PlanEdit>),
    Undo,
    Redo,
}

fn any_act() -> impl Strategy<Value = Act> {
    prop_oneof![4 => any_edit().prop_map(|edit| Act::Apply(Box::new(edit))), 2 => Just(Act::Undo), 1 => Just(Act::Redo)]
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 64,
        rng_seed: RngSeed::Fixed(4),
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn edits_and_undos_in_any_order_end_as_what_is_left_of_them(acts in proptest::collection::vec(any_act(), 1..24)) {
        let (_folder, mut draft) = draft("demo");
        let start = draft.text().to_owned();
        for act in acts {
            let before = draft.text().to_owned();
            match act {
                Act::Apply(edit) => {
                    if draft.apply(&edit).is_err() {
                        prop_assert_eq!(draft.text(), &before, "a refused edit changes nothing");
                    }
                }
                Act::Undo => { draft.undo(); }
                Act::Redo => { draft.redo(); }
            }
            prop_assert_eq!(comments(draft.text()), comments(&start));
        }
        let mut fresh = start.clone();
        for change in draft.changes() {
            let Change::Edit(edit) = change else { panic!("{change:?}") };
            fresh = apply(&fresh, edit).expect("it was applied before");
        }
        prop_assert_eq!(draft.text(), &fresh);
        prop_assert_eq!(draft.is_changed(), fresh != start);
        let back = draft.file().and_then(|file| file.parent().map(Path::to_path_buf)).expect("it lies in a folder");
        let (again, _) = Draft::open(&back).expect("its plan is there");
        prop_assert_eq!(again.text(), &fresh, "the journal brings it back");
        while draft.undo().is_some() {}
        prop_assert_eq!(draft.text(), &start);
    }
}

/// So many edits in a run: enough that each kind is among them.
const EDITS: usize = 32;

/// Checks a plan with what is known of the one before, and afresh.
fn same_again(loaded: &Loaded, known: &Known, what: &str) -> Known {
    let never = AtomicBool::new(false);
    let again = check::again((&loaded.project, &loaded.meshes), known, &Silent, &never).expect("no stop");
    let fresh = check::run(&loaded.project, &loaded.meshes, &Silent, &never).expect("no stop");
    assert!(again.outcome == fresh, "{what}");
    again.known
}

#[test]
fn what_is_checked_again_after_an_edit_is_what_a_fresh_check_finds() {
    let (_folder, mut draft) = draft("demo");
    let known = same_again(&draft.read().expect("the demo reads"), &Known::default(), "as it is");
    for Expected { edit, .. } in of_demo() {
        match draft.apply(&edit) {
            Ok(loaded) => same_again(&loaded, &known, &format!("{edit:?}")),
            // The demo refuses this one; see below.
            Err(_) if matches!(edit, PlanEdit::SetStand { .. }) => continue,
            Err(problems) => panic!("{edit:?}: {problems}"),
        };
        draft.undo();
    }
}

#[test]
fn what_is_checked_again_along_a_run_of_edits_is_what_a_fresh_check_finds() {
    let (_folder, mut draft) = draft("demo");
    let mut known = same_again(&draft.read().expect("the demo reads"), &Known::default(), "as it is");
    let mut runner = TestRunner::deterministic();
    let mut kinds = HashSet::new();
    for number in 0..EDITS {
        let edit = any_edit().new_tree(&mut runner).expect("an edit").current();
        let Ok(loaded) = draft.apply(&edit) else { continue };
        known = same_again(&loaded, &known, &format!("edit {number}: {edit:?}"));
        kinds.insert(std::mem::discriminant(&edit));
        // Every other edit stays, so that what is known comes from plans farther and farther from the first.
        if number % 2 == 0 {
            draft.undo();
        }
    }
    let all: HashSet<_> = of_demo().iter().map(|of| std::mem::discriminant(&of.edit)).collect();
    assert_eq!(kinds, all, "each kind is among them");
    while draft.undo().is_some() {}
    same_again(&draft.read().expect("the demo reads"), &known, "all undone");
}

#[test]
fn what_is_checked_again_after_a_change_of_any_clearance_limit_is_what_a_fresh_check_finds() {
    let (_folder, mut draft) = draft("demo");
    let known = same_again(&draft.read().expect("the demo reads"), &Known::default(), "as it is");
    for regime in [Regime::Moving, Regime::AtWork, Regime::Stopping] {
        for pair in ["default", "arm_to_structure", "rider_to_structure", "payload_to_structure", "restraint_to_rider"]
        {
            // More than some distances of the demo; the greatest of all would be another cap.
            let edit = PlanEdit::SetClearance { regime, pair: pair.to_owned(), at_least: 0.5 };
            let loaded = draft.apply(&edit).unwrap_or_else(|problems| panic!("{edit:?}: {problems}"));
            same_again(&loaded, &known, &format!("{edit:?}"));
            draft.undo();
        }
    }
}

#[test]
fn what_is_checked_again_after_a_change_of_stand_is_what_a_fresh_check_finds() {
    let (_folder, mut draft) = draft("starter");
    draft.replace_text(&with_another_stand());
    let mut known = same_again(&draft.read().expect("it reads"), &Known::default(), "as it is");
    // Step by step the plan would make no sense: the base would be at one stand and the work at another.
    let moved = ["near-panel", "far-panel"].iter().fold(draft.text().to_owned(), |text, worksite| {
        let edit = PlanEdit::SetStand { worksite: (*worksite).to_owned(), stand: "next".to_owned() };
        apply(&text, &edit).expect("what it names is there")
    });
    draft.replace_text(&moved);
    known = same_again(&draft.read().expect("it reads"), &known, "moved");
    draft.undo();
    same_again(&draft.read().expect("it reads"), &known, "moved back");
}
