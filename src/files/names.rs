//! Does every name in the files name something that exists, and does no name stand for two things?
//!
//! Names are looked at in the tables as they are written, not in what was read from them, so that all misspelt ones
//! are told together, also where a table has another mistake.

use std::collections::BTreeMap;

use crate::model::{BODY_JOINTS, ClassPair, step_id};

use super::problem::{Problems, shortened};
use super::toml_file::{Node, TomlFile};

/// Names by which contacts and targets refer to what is no structure and no payload.
pub(super) const MOVING_BODIES: [&str; 5] = ["arm", "restraint", "rider", "second-crew", "second-restraint"];

/// Parts of an arm or restraint that are no joints, and whose names no joint may have.
const OTHER_PARTS: [&str; 3] = ["base", "tip", "plate"];

/// A list holds at most so many things.
const MOST_THINGS: usize = 10_000;

/// The things of one kind by their name, and where.
type Named<'a> = BTreeMap<&'a str, Node<'a>>;

/// Looks at all names of a structure file.
pub(super) fn check_structure(file: &TomlFile<'_>, problems: &mut Problems) {
    structure_ids(file, problems);
}

/// Looks at all names of an arm or restraint file.
pub(super) fn check_links(file: &TomlFile<'_>, problems: &mut Problems) {
    let node = file.node();
    for (name, at) in ids([node.key("joint")], "name", problems) {
        another_name(name, &OTHER_PARTS, at, problems);
    }
    ids([node.key("link")], "name", problems);
    ids([node.key("base")], "id", problems);
    for link in node.key("joint").items().chain(node.key("link").items()) {
        ids([link.key("shape")], "id", problems);
    }
}

/// Looks at all names of a suit file.
pub(super) fn check_suit(file: &TomlFile<'_>, problems: &mut Problems) {
    body_joints(file.node().key("joint"), problems);
}

/// Looks at all names of a plan; what refers to the structure only where there is one to look in.
pub(super) fn check_plan(plan: &TomlFile<'_>, structure: Option<&TomlFile<'_>>, problems: &mut Problems) {
    let node = plan.node();
    let stands = ids([node.key("stand")], "id", problems);
    ids([node.key("camera")], "id", problems);
    let seats = ids([node.key("seat")], "id", problems);
    let payloads = ids([node.key("payload")], "id", problems);
    for (id, at) in &payloads {
        another_name(id, &MOVING_BODIES, *at, problems);
    }
    let postures = ids([node.key("posture")], "id", problems);
    let worksites = ids([node.key("worksite")], "id", problems);
    ids([node.key("limits").key("envelope")], "id", problems);
    let steps = step_ids(node.key("step"), problems);
    // Duplicates in the structure are told once, with the structure itself.
    let fixed = structure.map(|file| structure_ids(file, &mut Problems::default()));
    for (id, at) in payloads.iter().filter(|(id, _)| fixed.as_ref().is_some_and(|fixed| fixed.contains_key(*id))) {
        problems.add(at.place(), format!("`{id}` is the name of a part of the structure"), "expected another name");
    }
    let sockets = structure.map(|file| ids([file.node().key("socket")], "id", &mut Problems::default()));

    for payload in node.key("payload").items() {
        ids([payload.key("shape")], "id", problems);
        refer(payload.key("seat"), "a seat", &seats, problems);
    }
    for posture in node.key("posture").items() {
        body_joints(posture.key("joints_deg"), problems);
    }
    let mut targets = Named::new();
    for worksite in node.key("worksite").items() {
        refer(worksite.key("stand"), "a stand", &stands, problems);
        targets.extend(ids([worksite.key("target")], "id", problems));
        if let Some(sockets) = &sockets {
            refer(worksite.key("second_crew").key("socket"), "a socket of the structure", sockets, problems);
        }
        for target in worksite.key("target").items() {
            for body in target.key("on").items() {
                refer_to_body(body, fixed.as_ref(), &payloads, problems);
            }
        }
    }
    for contact in node.key("contact").items() {
        refer_to_body(contact.key("a"), fixed.as_ref(), &payloads, problems);
        refer_to_body(contact.key("b"), fixed.as_ref(), &payloads, problems);
        for step in contact.key("steps").items() {
            if let Some(word) = step.text()
                && !steps.contains_key(word)
            {
                problems.misspelt(step.place(), word, "a step", steps.keys().map(String::as_str));
            }
        }
    }
    for step in node.key("step").items() {
        refer(step.key("to"), "a worksite", &worksites, problems);
        refer(step.key("stand"), "a stand", &stands, problems);
        refer(step.key("posture"), "a posture", &postures, problems);
        refer(step.key("payload"), "a payload", &payloads, problems);
        refer(step.key("seat"), "a seat", &seats, problems);
        for target in step.key("targets").items() {
            refer(target, "a target", &targets, problems);
        }
    }
    for regime in ["moving", "at_work", "stopping"] {
        class_pairs(node.key("limits").key(regime).key("clearance_m"), problems);
    }
}

/// The names of the things of some lists; those that are there twice or cannot be names go to `problems`.
fn ids<'a, const N: usize>(lists: [Node<'a>; N], key: &str, problems: &mut Problems) -> Named<'a> {
    let mut found = Named::new();
    for list in lists {
        not_too_many(list, problems);
    }
    let mut nodes: Vec<Node<'a>> = lists.into_iter().flat_map(Node::items).map(|item| item.key(key)).collect();
    // So that of two things of one name the later one is told.
    nodes.sort_by_key(|node| node.start());
    for node in nodes {
        let Some(id) = node.text() else { continue };
        spelt_well(id, node, problems);
        if found.insert(id, node).is_some() {
            twice(id, node, problems);
        }
    }
    found
}

fn not_too_many(list: Node<'_>, problems: &mut Problems) {
    let count = list.items().count();
    if count > MOST_THINGS {
        problems.add(
            list.key_place(),
            format!("there are {count} of these"),
            format!("expected at most {MOST_THINGS}"),
        );
    }
}

fn twice(id: &str, node: Node<'_>, problems: &mut Problems) {
    let what = format!("`{}` is there twice", shortened(id));
    problems.add(node.place(), what, "expected a name that nothing else of its kind has");
}

fn spelt_well(id: &str, node: Node<'_>, problems: &mut Problems) {
    if let Some((what, expected)) = cannot_be_a_name(id) {
        problems.add(node.place(), what, expected);
    }
}

/// Why a word cannot be a name, and what could be.
pub(super) fn cannot_be_a_name(word: &str) -> Option<(String, String)> {
    const LONGEST: usize = 64;
    let sound = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.');
    let is_name = !word.is_empty() && word.len() <= LONGEST && word.chars().all(sound);
    let expected = || format!("expected at most {LONGEST} letters, digits, `-`, `_` and `.`");
    (!is_name).then(|| (format!("{:?} cannot be a name", shortened(word)), expected()))
}

fn structure_ids<'a>(file: &'a TomlFile<'_>, problems: &mut Problems) -> Named<'a> {
    let lists = ["truss", "module", "handrail", "socket", "keep_out", "body"].map(|list| file.node().key(list));
    let found = ids(lists, "id", problems);
    for (id, node) in &found {
        another_name(id, &MOVING_BODIES, *node, problems);
    }
    found
}

/// Refuses a name that something else has by rule.
fn another_name(id: &str, taken: &[&str], node: Node<'_>, problems: &mut Problems) {
    if taken.contains(&id) {
        let what = format!("`{id}` is the name of something else");
        problems.add(node.place(), what, format!("expected a name other than {}", taken.join(", ")));
    }
}

/// The names of all steps, given or not.
fn step_ids<'a>(steps: Node<'a>, problems: &mut Problems) -> BTreeMap<String, Node<'a>> {
    let mut found = BTreeMap::new();
    not_too_many(steps, problems);
    for (index, step) in steps.items().enumerate() {
        let node = step.key("id");
        let id = node.text().map_or_else(|| step_id(index), str::to_owned);
        if node.exists() {
            spelt_well(&id, node, problems);
        }
        if found.insert(id.clone(), node).is_some() {
            twice(&id, node, problems);
        }
    }
    found
}

fn refer(node: Node<'_>, kind: &str, names: &Named<'_>, problems: &mut Problems) {
    if let Some(word) = node.text()
        && !names.contains_key(word)
    {
        problems.misspelt(node.place(), word, kind, names.keys().copied());
    }
}

/// A body is named by its first part: a thing of the structure, a payload, or something that moves.
fn refer_to_body(node: Node<'_>, fixed: Option<&Named<'_>>, payloads: &Named<'_>, problems: &mut Problems) {
    let (Some(word), Some(fixed)) = (node.text(), fixed) else { return };
    let first = word.split('/').next().unwrap_or_default();
    if !MOVING_BODIES.contains(&first) && !fixed.contains_key(first) && !payloads.contains_key(first) {
        let names = MOVING_BODIES.into_iter().chain(payloads.keys().copied()).chain(fixed.keys().copied());
        problems.misspelt(node.place(), first, "a body", names);
    }
}

fn body_joints(table: Node<'_>, problems: &mut Problems) {
    for (name, value) in table.entries() {
        if !BODY_JOINTS.contains(&name) {
            problems.misspelt(value.key_place(), name, "a joint of the body", BODY_JOINTS);
        }
    }
}

/// Keys of clearance limits: `default`, or a pair of classes, each once.
fn class_pairs(table: Node<'_>, problems: &mut Problems) {
    let mut seen = BTreeMap::new();
    for (key, value) in table.entries().filter(|(key, _)| *key != "default") {
        match ClassPair::from_key(key) {
            None => {
                let names: Vec<String> = ClassPair::all().map(|pair| pair.to_string()).collect();
                let names = names.iter().map(String::as_str).chain(["default"]);
                problems.misspelt(value.key_place(), key, "a pair of classes of bodies", names);
            }
            Some(pair) => {
                if let Some(before) = seen.insert(pair, key) {
                    let what = format!("`{key}` is the same pair as `{before}`");
                    problems.add(value.key_place(), what, "expected each pair once");
                }
            }
        }
    }
}
