//! The plans in `scenes/` are what they say they are: counted and sampled here by a second way.
//!
//! Of most checks there is a fault in `scenes/faults.toml`, one edit of the demo, and a twin with the value just on the
//! other side of the limit.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use tempfile::TempDir;
use toml_edit::{DocumentMut, Item, Value};
use trusswalk::check::{
    self, CHECKS, Case, Finding, Known, MoveCase, Outcome, Silent, Status, StayCase, Unit, UseCase,
};
use trusswalk::crew::PostureOutcome;
use trusswalk::files::{Loaded, read_project};
use trusswalk::mechanism::{BodyId, LinkId, Mechanism, Posed};
use trusswalk::model::{BodyClass, Deed, Who};
use trusswalk::motion::Segment;
use trusswalk::space::{Convex, Core, Point, Pose, separation};
use trusswalk::state::{MotionKind, Scene, touch, walk};

/// Sampled configurations of each segment.
const SAMPLES: usize = 8;

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("scenes").join(name)
}

fn read(folder: &Path) -> Loaded {
    read_project(folder).unwrap_or_else(|problems| panic!("{}: {problems}", folder.display()))
}

fn checked(folder: &Path) -> Outcome {
    let loaded = read(folder);
    check::run(&loaded.project, &loaded.meshes, &Silent, &AtomicBool::new(false)).expect("nobody stops it")
}

/// Asks something of the demo with its postures found and its motions bounded.
fn of_demo<R>(ask: impl FnOnce(&Case) -> R) -> R {
    let loaded = read(&folder("demo"));
    let scene = Scene::new(&loaded.project, &loaded.meshes);
    let walked = walk(&scene);
    let case =
        Case::new((&scene, &walked), &Known::default(), &Silent, &AtomicBool::new(false)).expect("nobody stops it");
    ask(&case)
}

fn violations(outcome: &Outcome) -> Vec<&Finding> {
    outcome.findings.iter().filter(|finding| finding.status.is_violation()).collect()
}

fn told(findings: &[&Finding]) -> String {
    findings.iter().map(|finding| format!("{:?} {:?} {:?}\n", finding.key, finding.margin, finding.note)).collect()
}

#[test]
fn the_starter_and_the_research_arm_check_clean() {
    for name in ["starter", "research-arm"] {
        let outcome = checked(&folder(name));
        assert!(violations(&outcome).is_empty(), "{name}: {}", told(&violations(&outcome)));
    }
}

#[test]
fn the_research_arm_is_the_description_that_others_wrote() {
    let reference = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/references/urdf/panda.urdf");
    let ours = fs::read(folder("research-arm").join("panda.urdf")).expect("the copy");
    assert_eq!(ours, fs::read(reference).expect("the reference"));
    let arm = read(&folder("research-arm")).project.arm;
    assert_eq!(arm.joint.len(), 7);
    assert!(arm.joint.iter().all(|joint| joint.turn_limits.is_some() && !joint.shape.is_empty()));
}

#[test]
fn the_starter_leaves_nothing_tight_or_unchecked() {
    let outcome = checked(&folder("starter"));
    assert!(outcome.findings.iter().all(|finding| finding.status == Status::Ok));
    let worksites: BTreeSet<&str> = outcome.visits.iter().map(|visit| visit.worksite.as_str()).collect();
    assert_eq!(worksites.len(), 2);
}

#[test]
fn the_demo_checks_clean_with_one_or_two_tight_margins() {
    let outcome = checked(&folder("demo"));
    assert!(violations(&outcome).is_empty(), "{}", told(&violations(&outcome)));
    let tight = outcome.findings.iter().filter(|finding| finding.status == Status::Tight).count();
    assert!((1..=2).contains(&tight), "{tight} tight");
    let told = "only the base's pace, and the postures of both crewmembers at once, are not checked";
    let unchecked: BTreeSet<&str> = outcome
        .findings
        .iter()
        .filter(|finding| matches!(finding.status, Status::NotChecked(_)))
        .map(|finding| finding.key.place.name())
        .collect();
    assert_eq!(unchecked, BTreeSet::from(["along-rail/base", "mast", "tray"]), "{told}");
}

#[test]
fn the_demo_is_as_large_as_it_says() {
    let loaded = read(&folder("demo"));
    let scene = Scene::new(&loaded.project, &loaded.meshes);
    let plan = &loaded.project.plan;
    assert!(plan.worksite.len() >= 6, "{} worksites", plan.worksite.len());
    let targets = plan.worksite.iter().map(|site| site.target.len()).sum::<usize>();
    assert!(targets >= 20, "{targets} targets");
    let payloads = plan.payload.iter().map(|payload| payload.shape.len()).sum::<usize>();
    assert!(scene.fixed.len() + payloads >= 500, "{} bodies", scene.fixed.len() + payloads);
    assert!(scene.fixed.iter().any(|body| body.class == BodyClass::KeepOut));
    assert_eq!(plan.stand.len(), 2);
    let second = plan.worksite.iter().filter(|site| site.second_crew.is_some());
    let theirs = second.filter(|site| site.target.iter().any(|target| target.who == Who::SecondCrew));
    assert_eq!(theirs.count(), 2, "worksites with a second crew");
    for deed in [Deed::Take, Deed::Place, Deed::MoveBase] {
        assert!(plan.step.iter().any(|step| step.deed == deed), "{deed:?}");
    }
    assert!((scene.rider.stature - scene.second_crew.stature).abs() > 0.05, "two sizes of crew");
}

/// Pairs of something that moves and something else that stands, the arm's own base aside, which may not touch.
fn measured_pairs(case: &Case, moved: &MoveCase) -> Vec<(BodyId, BodyId)> {
    let frozen = &moved.frozen;
    let moves = |at: &LinkId| frozen.link(*at).joint.variable.is_some();
    let carried_by = |body: BodyId| frozen.path_inwards(frozen.body(body).link).any(|link| moves(&link));
    let steps: Vec<&str> = moved.moved.contact_steps.iter().map(String::as_str).collect();
    let contacts = &case.scene.project.plan.contact;
    let (carried, standing): (Vec<BodyId>, Vec<BodyId>) = frozen.body_ids().partition(|id| carried_by(*id));
    let other = standing.into_iter().filter(|id| frozen.body(*id).class != BodyClass::Arm);
    other
        .flat_map(|b| carried.iter().map(move |a| (*a, b)))
        .filter(|pair| touch(&moved.assembly, *pair, contacts, &steps).is_none())
        .collect()
}

fn middle_and_radius(mechanism: &Mechanism, posed: &Posed, body: BodyId) -> Vec<(Point, f64)> {
    let body = mechanism.body(body);
    let ball = |part: &Convex| {
        let (middle, radius) = part.ball();
        (posed.link(body.link) * middle, radius)
    };
    body.parts.iter().map(ball).collect()
}

/// Signed distance of two bodies; none where it is more than `cap` for certain.
fn distance(mechanism: &Mechanism, posed: &Posed, (a, b): (BodyId, BodyId), cap: f64) -> Option<f64> {
    let (balls_a, balls_b) = (middle_and_radius(mechanism, posed, a), middle_and_radius(mechanism, posed, b));
    let (a, b) = (mechanism.body(a), mechanism.body(b));
    let mut least: Option<f64> = None;
    for (part_a, (at_a, radius_a)) in a.parts.iter().zip(&balls_a) {
        for (part_b, (at_b, radius_b)) in b.parts.iter().zip(&balls_b) {
            if (at_a - at_b).norm() > cap + radius_a + radius_b {
                continue;
            }
            let found = separation(&part_a.posed(posed.link(a.link)), &part_b.posed(posed.link(b.link))).upper;
            least = Some(least.map_or(found, |known| known.min(found)));
        }
    }
    least.filter(|distance| *distance <= cap)
}

/// Least sampled distance of each pair that comes within the cap.
fn sampled(case: &Case, moved: &MoveCase, segments: &[Segment]) -> BTreeMap<(BodyId, BodyId), f64> {
    let cap = case.scene.project.plan.cap_m;
    let pairs = measured_pairs(case, moved);
    let mut least = BTreeMap::new();
    for segment in segments {
        for sample in 0..=SAMPLES {
            let posed = moved.frozen.pose(&segment.at(sample as f64 / SAMPLES as f64));
            for pair in &pairs {
                if let Some(found) = distance(&moved.frozen, &posed, *pair, cap) {
                    let known = least.entry(*pair).or_insert(found);
                    *known = found.min(*known);
                }
            }
        }
    }
    least
}

#[test]
fn every_motion_of_the_demo_passes_near_many_bodies() {
    of_demo(|case| {
        for moved in &case.moves {
            let near = sampled(case, moved, &moved.moved.segments);
            let least = near.values().copied().fold(f64::INFINITY, f64::min);
            println!("{}: {} pairs within the cap, least {least:.3} m", moved.moved.id, near.len());
            assert!(near.len() >= 20, "{}: {} pairs within the cap", moved.moved.id, near.len());
            assert!(least > 0.0 && least < 1.0, "{}: governing clearance {least}", moved.moved.id);
        }
    });
}

#[test]
fn straight_transits_of_the_demo_would_collide() {
    of_demo(|case| {
        let collides = |moved: &&Arc<MoveCase>| {
            let segments = &moved.moved.segments;
            let (Some(first), Some(last)) = (segments.first(), segments.last()) else { return false };
            let straight = Segment { from: first.from.clone(), to: last.to.clone() };
            sampled(case, moved, &[straight]).values().any(|distance| *distance < -0.05)
        };
        let transits = case.moves.iter().filter(|moved| moved.moved.kind == MotionKind::Transit);
        let colliding: Vec<&str> = transits.filter(collides).map(|moved| moved.moved.id.as_str()).collect();
        println!("{colliding:?}");
        assert!(colliding.contains(&"to-bay/transit"), "with the pump: {colliding:?}");
    });
}

/// Worksites at which some use is `so`.
fn worksites_with(case: &Case, so: impl Fn(&StayCase, &UseCase) -> bool) -> BTreeSet<String> {
    let stays = case.stays.iter().filter(|stay| stay.uses.iter().any(|used| used.target.is_some() && so(stay, used)));
    stays.map(|stay| stay.stay.worksite.clone()).collect()
}

#[test]
fn every_worksite_of_the_demo_has_a_target_near_the_end_of_reach() {
    of_demo(|case| {
        let all = worksites_with(case, |_, _| true);
        let far = worksites_with(case, |_, used| {
            let found = used.reach.as_ref().and_then(|reach| reach.found.as_ref());
            found.is_some_and(|(margin, _)| (0.0..0.15).contains(margin))
        });
        assert_eq!(far, all);
        assert_eq!(all.len(), case.scene.project.plan.worksite.len());
    });
}

/// How near the line from the eye to the target passes to what is neither the crewmember's own nor worked on, m.
fn beside_the_line_of_sight(used: &UseCase) -> Option<f64> {
    let (target, PostureOutcome::Found(posture)) = (used.target.as_ref()?, &used.outcome) else { return None };
    let standing = &used.standing;
    let posed = standing.frozen.pose(&posture.q);
    let eye = Point::from(posed.link(standing.links.eye).translation.vector);
    let line = Convex { core: Core::Segment(eye, Point::from(target.at_m)), radius: 0.0 };
    let line = line.posed(&Pose::identity());
    let worked_on =
        |name: &str| target.on.iter().any(|on| name == on || (on.ends_with('/') && name.starts_with(on.as_str())));
    let own = standing.links.prefix();
    standing
        .frozen
        .bodies()
        .iter()
        .filter(|body| !body.name.starts_with(own) && !worked_on(&body.name) && body.class != BodyClass::KeepOut)
        .flat_map(|body| body.parts.iter().map(|part| separation(&line, &part.posed(posed.link(body.link))).upper))
        .min_by(f64::total_cmp)
}

#[test]
fn every_worksite_of_the_demo_has_a_line_of_sight_that_passes_near_a_body() {
    of_demo(|case| {
        let near = worksites_with(case, |stay, used| {
            let beside = beside_the_line_of_sight(used);
            println!("{} {} {beside:.3?}", stay.stay.worksite, used.subject);
            beside.is_some_and(|beside| beside < 0.10)
        });
        assert_eq!(near, worksites_with(case, |_, _| true));
    });
}

/// An edit of the demo that one check alone must notice.
pub struct Fault {
    pub check: String,
    file: String,
    key: String,
    pub fault: Value,
    twin: Value,
}

/// All of `scenes/faults.toml`.
pub fn faults() -> Vec<Fault> {
    let text = fs::read_to_string(folder("faults.toml")).expect("the faults are there");
    let document: DocumentMut = text.parse().expect("the faults are TOML");
    let tables = document["fault"].as_array_of_tables().expect("a list of faults");
    let text = |item: &Item| item.as_str().expect("text").to_owned();
    let value = |item: &Item| item.as_value().expect("a value").clone();
    tables
        .iter()
        .map(|table| Fault {
            check: text(&table["check"]),
            file: text(&table["file"]),
            key: text(&table["key"]),
            fault: value(&table["fault"]),
            twin: value(&table["twin"]),
        })
        .collect()
}

/// The item at a dotted path; entries of a list are named by their `id` or `name`.
fn item_at<'d>(document: &'d mut DocumentMut, path: &str) -> &'d mut Item {
    path.split('.').fold(document.as_item_mut(), |item, key| {
        let named = |table: &toml_edit::Table| {
            ["id", "name"].iter().any(|name| table.get(name).and_then(Item::as_str) == Some(key))
        };
        let entry = item.as_array_of_tables().map(|list| list.iter().position(named));
        let found = match entry {
            Some(at) => at.and_then(|at| item.get_mut(at)),
            None => item.get_mut(key),
        };
        found.unwrap_or_else(|| panic!("{path}: no {key}"))
    })
}

/// The demo in a folder, with one value in place of another.
pub fn demo_with(fault: &Fault, value: &Value) -> TempDir {
    let edited = copy_of_demo();
    put(edited.path(), fault, value);
    edited
}

fn copy_of_demo() -> TempDir {
    let copy = tempfile::tempdir().expect("a temporary folder");
    for entry in fs::read_dir(folder("demo")).expect("the demo is there") {
        let from = entry.expect("a file").path();
        let to = copy.path().join(from.file_name().expect("a name"));
        fs::copy(&from, &to).expect("it can be copied");
    }
    copy
}

/// Puts a value in place of another in a copy of the demo.
pub fn put(demo: &Path, fault: &Fault, value: &Value) {
    let file = demo.join(&fault.file);
    let text = fs::read_to_string(&file).expect("the file is there");
    let mut document: DocumentMut = text.parse().expect("the demo is TOML");
    *item_at(&mut document, &fault.key) = Item::Value(value.clone());
    fs::write(&file, document.to_string()).expect("it can be written");
}

fn checked_with(fault: &Fault, value: &Value) -> Outcome {
    checked(demo_with(fault, value).path())
}

/// The numbers in a value, in order.
fn numbers(value: &Value) -> Vec<f64> {
    match value {
        Value::Integer(number) => vec![*number.value() as f64],
        Value::Float(number) => vec![*number.value()],
        Value::Array(array) => array.iter().flat_map(numbers).collect(),
        Value::InlineTable(table) => table.iter().flat_map(|(_, value)| numbers(value)).collect(),
        _ => Vec::new(),
    }
}

/// Whether it fails by less than a tenth of its limit or 20 mm; where it has no value, the edits must be that near.
fn fails_narrowly(finding: &Finding, fault: &Fault) -> bool {
    let at_least = |unit| if unit == Unit::Metre { 0.02 } else { 0.0 };
    match (finding.margin, finding.limit) {
        (Some(margin), Some(limit)) => -margin < (0.1 * limit.value().abs()).max(at_least(finding.unit)),
        _ => {
            let apart = numbers(&fault.fault).into_iter().zip(numbers(&fault.twin)).map(|(a, b)| (a - b).abs());
            let apart = apart.fold(0.0, f64::max);
            apart > 0.0 && apart < 0.02
        }
    }
}

#[test]
fn each_check_has_one_fault() {
    let with_faults: Vec<String> = faults().into_iter().map(|fault| fault.check).collect();
    assert_eq!(with_faults, CHECKS.each_ref().map(|check| check.name.to_owned()));
}

#[test]
fn each_fault_is_noticed_by_its_check_alone_and_its_twin_is_clean() {
    let mut wrong = String::new();
    for fault in faults() {
        let outcome = checked_with(&fault, &fault.fault);
        let found = violations(&outcome);
        let alone = found.iter().all(|finding| finding.key.check == fault.check && fails_narrowly(finding, &fault));
        if found.is_empty() || !alone {
            wrong += &format!("{} = {} for {}:\n{}", fault.key, fault.fault, fault.check, told(&found));
        }
        let outcome = checked_with(&fault, &fault.twin);
        let found = violations(&outcome);
        if !found.is_empty() {
            wrong += &format!("{} = {}, twin for {}:\n{}", fault.key, fault.twin, fault.check, told(&found));
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn the_bodies_of_the_demo_are_those_that_reading_knows_by_name() {
    of_demo(|case| {
        let moves = case.moves.iter().map(|moved| &moved.assembly);
        let uses = case.stays.iter().flat_map(|stay| &stay.uses).map(|used| &used.standing.assembly);
        let built: BTreeSet<String> = moves
            .chain(uses)
            .flat_map(|assembly| assembly.mechanism.bodies())
            .filter(|body| body.class != BodyClass::KeepOut)
            .map(|body| body.name.clone())
            .collect();
        let kinds = case.scene.project.body_names();
        let known: BTreeSet<String> = kinds.into_iter().flat_map(|kind| kind.names).collect();
        let no_left_tool = |name: &&String| !name.ends_with("/left-tool");
        assert!(built.iter().filter(no_left_tool).eq(known.iter().filter(no_left_tool)));
    });
}

/// The least margin of clearance of each change of posture at work, by place and what it leads to, of pairs whose limit has a
/// tight band in the demo; and whether hands are drawn back on it.
fn changes(outcome: &Outcome) -> BTreeMap<(String, String), (f64, bool)> {
    let mut changes = BTreeMap::new();
    for finding in outcome.findings.iter().filter(|finding| finding.key.check == "clearance") {
        let Some((pair, to)) = finding.key.subject.split_once(", to ") else { continue };
        let no_band = ["rider_to_rider", "second_crew_to_second_crew", "(at work on it)", "restraint_to"];
        if no_band.iter().any(|none| pair.contains(none)) {
            continue;
        }
        let (to, by) = to.split_once(", drawn back").map_or((to, false), |(to, _)| (to, true));
        let margin = finding.margin.unwrap_or(f64::INFINITY);
        let place = format!("{:?} {:?}", finding.key.place, finding.key.who);
        let known = changes.entry((place, to.to_owned())).or_insert((f64::INFINITY, by));
        *known = (known.0.min(margin), known.1 || by);
    }
    changes
}

#[test]
fn a_change_of_posture_that_would_be_tight_draws_the_hands_back_and_comes_less_near() {
    // In the demo a margin of 20 mm at work is tight; in its twin none is, and all go straight that may.
    let demo = changes(&checked(&folder("demo")));
    let twin = copy_of_demo();
    let plan = twin.path().join("plan.toml");
    let text = fs::read_to_string(&plan).expect("the plan");
    let old = "[limits.at_work.clearance_m]\ndefault = { at_least = 0.0, ";
    assert!(text.contains(old));
    fs::write(&plan, text.replace(old, &format!("{old}tight = 0.0, "))).expect("it can be written");
    let straight = changes(&checked(twin.path()));
    let mut drawn_back = 0;
    for (change, (margin, is_drawn_back)) in &demo {
        let (before, was_drawn_back) = straight[change];
        if *is_drawn_back && !was_drawn_back {
            drawn_back += 1;
            assert!(before < 0.020 && *margin > before, "{change:?}: {before} m straight, {margin} m drawn back");
        }
    }
    assert!(drawn_back > 0, "{demo:?}");
}
