//! Does the window do what keys and mouse ask of it?
//!
//! Places are pixels of a window of 1280 × 720 on the plan of [`plan`]; where the layout changes, look at a picture
//! (`trusswalk render PLAN --panels --out x.png`) and move them.

use std::fs;
use std::path::{Path, PathBuf};
use std::thread;
use std::time::Duration;

use tempfile::TempDir;

use crate::folder::{copy_of, program, replace, told};
use crate::picture::Picture;
use crate::screen::{Screen, Viewer, wait};
use crate::{Needs, Test};

pub const TESTS: &[Test] = &[
    ("a_plan_is_looked_at_changed_and_saved_by_keyboard_and_mouse", Needs::Window, looked_at_changed_and_saved),
    ("what_is_typed_takes_the_place_of_all_that_is_selected_and_what_is_no_number_of_nothing", Needs::Window, typed),
    ("edits_that_were_not_saved_outlive_a_kill", Needs::Window, edits_outlive_a_kill),
    ("a_plan_changed_by_somebody_else_is_not_written_over", Needs::Window, changed_by_somebody_else),
    ("a_plan_deleted_while_it_is_open_is_written_again_by_saving", Needs::Window, deleted_while_open),
    ("a_plan_that_may_not_be_written_is_kept_and_so_are_the_edits", Needs::Window, write_protected),
    ("a_broken_plan_opens_and_is_drawn_when_mended", Needs::Window, broken_and_mended),
    ("a_window_in_which_nothing_happens_takes_less_than_a_fifth_of_a_core", Needs::Window, idle),
    ("a_window_is_no_larger_than_its_display", Needs::Window, no_larger_than_the_display),
];

/// In the band of time: the block of the transit, below its name.
const TRANSIT: [usize; 2] = [740, 571];
/// The blue of such blocks.
const BLUE: [u8; 3] = [0, 114, 178];
/// The tab of changes.
const CHANGE: [usize; 2] = [1095, 90];
/// The first waypoint, there.
const WAYPOINT: [usize; 2] = [985, 166];
/// The slider of the elbow: its handle, and where it is pulled to.
const ELBOW: [[usize; 2]; 2] = [[1132, 258], [1140, 258]];
/// The box of the elbow's number.
const NUMBER: [usize; 2] = [1195, 258];
/// The scene, without what is written over it: left, top, right, bottom.
const SCENE: [usize; 4] = [340, 130, 960, 450];
/// The band of time, with the line of the present moment: left, top, right, bottom.
const BAND: [usize; 4] = [98, 556, 1272, 700];
/// The panel on the right, below its tabs: left, top, right, bottom.
const PANEL: [usize; 4] = [975, 104, 1278, 500];
/// Where the list of keys lies: left, top, right, bottom.
const LIST: [usize; 4] = [345, 85, 670, 440];

/// So long is it looked at how much a window does.
const IDLE: Duration = Duration::from_secs(4);
/// Less than reading a plan again, checking and drawing it takes.
const BUSY: Duration = Duration::from_millis(500);

/// The starter with a waypoint on its transit, and too wide a limit, so that there is something to be found.
fn plan() -> TempDir {
    let folder = copy_of("starter");
    let waypoint = "at_most_min = 15\n\n[[step.waypoint]]\njoints_deg_m = [0, -50, 0, 95, -45, 0, 0]";
    replace(&file(&folder), "at_most_min = 15", waypoint);
    replace(&file(&folder), "\ndefault = 0.20\n", "\ndefault = 0.80\n");
    folder
}

fn file(folder: &TempDir) -> PathBuf {
    folder.path().join("plan.toml")
}

fn text(path: &Path) -> String {
    fs::read_to_string(path).expect("the file is there")
}

/// What lies beside a plan as long as there are edits that are not saved.
fn journal(folder: &TempDir) -> PathBuf {
    folder.path().join(".plan.toml.unsaved")
}

/// Whether the band of time is there: the plan is checked.
fn is_checked(picture: &Picture) -> bool {
    picture.at(TRANSIT).iter().zip(BLUE).all(|(a, b)| a.abs_diff(b) < 12)
}

fn open<'s>(screen: &'s Screen, folder: &TempDir) -> Viewer<'s> {
    Viewer::open(screen, folder.path(), is_checked)
}

/// Moves a joint of the waypoint by its slider, and waits until the edit is kept.
fn pull_the_elbow(viewer: &Viewer, folder: &TempDir) {
    viewer.press(ELBOW[0]);
    viewer.picture();
    viewer.point(ELBOW[1]);
    viewer.picture();
    viewer.release();
    viewer.picture();
    wait("the edit is kept", || journal(folder).exists().then_some(()));
}

/// The same, from a window that was just opened.
fn change_the_waypoint(viewer: &Viewer, folder: &TempDir) {
    viewer.click(TRANSIT);
    viewer.click(CHANGE);
    viewer.click(WAYPOINT);
    pull_the_elbow(viewer, folder);
}

/// Saves, and waits until all that was asked is done.
fn save(viewer: &Viewer) {
    viewer.key("ctrl+s");
    viewer.picture();
}

/// Asserts that two texts differ in the line of the waypoint and in no other.
fn assert_one_line_differs(before: &str, after: &str) {
    let differing: Vec<(&str, &str)> = before.lines().zip(after.lines()).filter(|(a, b)| a != b).collect();
    assert_eq!(before.lines().count(), after.lines().count(), "{after}");
    let [(old, new)] = differing[..] else { panic!("{differing:?}") };
    assert_eq!(old, "joints_deg_m = [0, -50, 0, 95, -45, 0, 0]");
    let numbers = |line: &str| -> Vec<f64> {
        let inside = line.trim_start_matches("joints_deg_m = [").trim_end_matches(']');
        inside.split(',').map(|number| number.trim().parse().expect("a number")).collect()
    };
    let (old, new) = (numbers(old), numbers(new));
    assert!(new[3] > old[3] + 5.0, "the elbow was pulled on: {new:?}");
    assert_eq!((&new[..3], &new[4..]), (&old[..3], &old[4..]));
}

fn looked_at_changed_and_saved() {
    let folder = plan();
    let before = text(&file(&folder));
    let screen = Screen::start();
    let viewer = open(&screen, &folder);

    let first = viewer.picture();
    viewer.key("t");
    let tightest = viewer.until("T goes to the tightest place", |now| {
        now.difference_in(&first, SCENE) > 0.02 && now.difference_in(&first, BAND) > 0.001
    });
    viewer.key("n");
    viewer.until("N goes to the next finding", |now| now.difference(&tightest) > 0.002);

    viewer.key("space");
    let playing = viewer.picture();
    viewer.until("it plays", |now| now.difference_in(&playing, BAND) > 0.001);
    viewer.key("space");
    wait("it pauses", || {
        let [a, b] = [viewer.picture(), viewer.picture()];
        (a.difference_in(&b, BAND) == 0.0 && a.difference_in(&b, SCENE) == 0.0).then_some(())
    });

    let without_list = viewer.picture();
    viewer.key("F1");
    viewer.until("F1 lists the keys", |now| now.difference_in(&without_list, LIST) > 0.3);
    viewer.key("F1");
    viewer.until("F1 takes the list away", |now| now.difference_in(&without_list, LIST) < 0.01);

    let unpicked = viewer.picture();
    let is_picked = |now: &Picture| now.difference_in(&unpicked, PANEL) > 0.01;
    viewer.key("b");
    viewer.until("B picks a body", is_picked);
    viewer.key("Escape");
    viewer.until("Esc picks none", |now| !is_picked(now));
    // From the middle of the scene outwards: what was framed is there.
    let mut places: Vec<[usize; 2]> = (0..40).map(|k| [400 + 70 * (k % 8), 150 + 60 * (k / 8)]).collect();
    places.sort_by_key(|[x, y]| x.abs_diff(640) + y.abs_diff(280));
    let mut places = places.into_iter().cycle();
    wait("a click on a body picks it", || {
        viewer.click(places.next()?);
        Some(viewer.picture()).filter(is_picked)
    });
    viewer.key("Escape");
    viewer.until("Esc picks none", |now| !is_picked(now));

    change_the_waypoint(&viewer, &folder);
    assert_eq!(text(&file(&folder)), before, "nothing is saved unasked");
    viewer.key("ctrl+z");
    wait("all is undone", || (!journal(&folder).exists()).then_some(()));
    pull_the_elbow(&viewer, &folder);
    save(&viewer);
    wait("all is saved", || (!journal(&folder).exists()).then_some(()));
    assert_one_line_differs(&before, &text(&file(&folder)));
    assert_eq!(viewer.errors(), "");
    drop(viewer);

    let (code, said) = told(&program().arg("check").arg(folder.path()).output().expect("the program"));
    assert_eq!(code, Some(1), "its limits are violated, and nothing else is wrong with it: {said}");
}

fn typed() {
    let folder = plan();
    let screen = Screen::start();
    let viewer = open(&screen, &folder);
    viewer.click(TRANSIT);
    viewer.click(CHANGE);
    viewer.click(WAYPOINT);
    let begin = |text: &str| {
        viewer.press(NUMBER);
        viewer.release();
        viewer.settle();
        viewer.key("ctrl+a");
        viewer.write(text);
        viewer.settle();
    };
    let write = |text: &str| {
        begin(text);
        viewer.key("Return");
        viewer.settle();
    };
    write("101.5");
    wait("the edit is kept", || {
        let kept = fs::read_to_string(journal(&folder)).ok()?;
        kept.contains("joints_deg_m = [0, -50, 0, 101.5, -45, 0, 0]").then_some(())
    });
    let (kept, before) = (text(&journal(&folder)), viewer.picture());
    write("many");
    assert_eq!(text(&journal(&folder)), kept, "it is no number");
    viewer.until("it is told", |now| now.difference_in(&before, PANEL) > 0.005);

    begin("99.5");
    viewer.picture();
    save(&viewer);
    wait("what is being typed is saved", || {
        text(&file(&folder)).contains("joints_deg_m = [0, -50, 0, 99.5, -45, 0, 0]").then_some(())
    });
    assert_eq!(viewer.errors(), "");
}

fn edits_outlive_a_kill() {
    let folder = plan();
    let before = text(&file(&folder));
    let screen = Screen::start();
    let viewer = open(&screen, &folder);
    change_the_waypoint(&viewer, &folder);
    drop(viewer);
    assert_eq!(text(&file(&folder)), before);
    assert!(journal(&folder).exists());

    let viewer = open(&screen, &folder);
    save(&viewer);
    wait("all is saved", || (!journal(&folder).exists()).then_some(()));
    assert_one_line_differs(&before, &text(&file(&folder)));
    assert_eq!(viewer.errors(), "");
}

fn changed_by_somebody_else() {
    let folder = plan();
    let screen = Screen::start();
    let viewer = open(&screen, &folder);
    change_the_waypoint(&viewer, &folder);
    let theirs = format!("{}# theirs\n", text(&file(&folder)));
    fs::write(file(&folder), &theirs).expect("its owner may");
    save(&viewer);
    assert_eq!(text(&file(&folder)), theirs);
    assert!(journal(&folder).exists(), "the edit is not lost");
    assert_eq!(viewer.errors(), "");
}

fn deleted_while_open() {
    let folder = plan();
    let before = text(&file(&folder));
    let screen = Screen::start();
    let viewer = open(&screen, &folder);
    change_the_waypoint(&viewer, &folder);
    fs::remove_file(file(&folder)).expect("somebody removes it");
    viewer.picture();
    assert!(!file(&folder).exists(), "nothing is written unasked");
    save(&viewer);
    wait("it is saved", || file(&folder).exists().then_some(()));
    assert_one_line_differs(&before, &text(&file(&folder)));
    assert_eq!(viewer.errors(), "");
}

fn write_protected() {
    let folder = plan();
    let before = text(&file(&folder));
    let screen = Screen::start();
    let viewer = open(&screen, &folder);
    change_the_waypoint(&viewer, &folder);
    let free = fs::metadata(file(&folder)).expect("it is there").permissions();
    let mut protected = free.clone();
    protected.set_readonly(true);
    fs::set_permissions(file(&folder), protected).expect("its owner may");
    save(&viewer);
    assert_eq!(text(&file(&folder)), before);
    assert!(journal(&folder).exists(), "the edit is not lost");
    fs::set_permissions(file(&folder), free).expect("its owner may");
    save(&viewer);
    wait("all is saved", || (!journal(&folder).exists()).then_some(()));
    assert_one_line_differs(&before, &text(&file(&folder)));
    assert_eq!(viewer.errors(), "");
}

fn broken_and_mended() {
    let folder = plan();
    let whole = text(&file(&folder));
    fs::write(file(&folder), whole.replace("to = \"far-panel\"", "to = \"far-panle\"")).expect("its owner may");
    let screen = Screen::start();
    // There is no band of time as long as nothing is checked.
    let viewer = Viewer::open(&screen, folder.path(), |picture| !is_checked(picture));
    fs::write(file(&folder), whole).expect("somebody mends it");
    viewer.until("it is read again", is_checked);
    assert_eq!(viewer.errors(), "");
}

fn idle() {
    let folder = plan();
    let screen = Screen::start();
    let viewer = open(&screen, &folder);
    let settled = || {
        let before = viewer.processor_time();
        thread::sleep(IDLE);
        Some(viewer.processor_time() - before).filter(|took| *took < IDLE / 5)
    };
    wait("it is idle", settled);
    // Still so, and still awake.
    assert!(settled().is_some(), "it was idle for {IDLE:?}, and is not any more");
    let theirs = format!("{}# theirs\n", text(&file(&folder)));
    let before = viewer.processor_time();
    fs::write(file(&folder), theirs).expect("its owner may");
    wait("it notices that the plan has changed", || (viewer.processor_time() - before > BUSY).then_some(()));
    assert_eq!(viewer.errors(), "");
}

fn no_larger_than_the_display() {
    let folder = plan();
    let screen = Screen::start();
    let viewer = Viewer::open_sized(&screen, folder.path(), "1920x1080", |picture| picture.size == [1280, 720]);
    assert_eq!(viewer.errors(), "");
}
