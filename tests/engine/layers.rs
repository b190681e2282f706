//! The order of the folders: a file imports only from folders above its own in the design's table.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// Lowest first.
const LAYERS: [&str; 12] = [
    "model",
    "space",
    "files",
    "mechanism",
    "motion",
    "crew",
    "state",
    "check",
    "propose",
    "report",
    "viewer",
    "commands",
];
/// Where angles may be in degrees.
const DEGREES: [&str; 5] = ["model", "files", "commands", "report", "viewer"];

/// Every Rust file below `src`, with the folder that it belongs to; none for files in `src` itself.
fn sources() -> BTreeMap<PathBuf, Option<String>> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut found = BTreeMap::new();
    let mut folders = vec![root.clone()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).expect("a source folder can be read") {
            let path = entry.expect("a source folder can be read").path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|extension| extension == "rs") {
                let below = path.strip_prefix(&root).expect("it lies below");
                let layer = below.components().next().filter(|_| below.components().count() > 1);
                let layer = layer.map(|layer| layer.as_os_str().to_string_lossy().into_owned());
                found.insert(path, layer);
            }
        }
    }
    found
}

/// Folders that a text imports from by `crate::`, `use crate::{…}` included.
fn imported(text: &str) -> Vec<String> {
    let mut names = Vec::new();
    for (at, _) in text.match_indices("crate::") {
        let rest = &text[at + "crate::".len()..];
        let group = rest.strip_prefix('{').and_then(|inside| inside.split_once(';')).map(|(inside, _)| inside);
        match group {
            Some(inside) => {
                let mut depth = 0;
                let mut outermost = String::new();
                for letter in inside.chars() {
                    match letter {
                        '{' => depth += 1,
                        '}' => depth -= 1,
                        _ if depth == 0 => outermost.push(letter),
                        _ => {}
                    }
                }
                names.extend(outermost.split(',').map(first_name));
            }
            None => names.push(first_name(rest)),
        }
    }
    names
}

fn first_name(text: &str) -> String {
    text.trim_start().chars().take_while(|letter| letter.is_alphanumeric() || *letter == '_').collect()
}

/// Whether a line of code names something in degrees; comments may, which are the user's manual.
fn names_degrees(line: &str) -> bool {
    let code = line.split("//").next().unwrap_or_default();
    code.match_indices("_deg")
        .any(|(at, name)| code[at + name.len()..].chars().next().is_none_or(|letter| !letter.is_alphabetic()))
}

fn rank(layer: &str) -> Option<usize> {
    LAYERS.iter().position(|known| *known == layer)
}

#[test]
fn every_folder_is_in_the_table() {
    for (path, layer) in sources() {
        assert!(layer.as_deref().is_none_or(|layer| rank(layer).is_some()), "{}", path.display());
    }
}

#[test]
fn no_file_imports_from_a_later_folder() {
    for (path, layer) in sources() {
        let Some(own) = layer.as_deref().and_then(rank) else {
            continue;
        };
        let text = fs::read_to_string(&path).expect("a source file is text");
        for name in imported(&text) {
            let imported = rank(&name);
            assert!(imported.is_none_or(|imported| imported <= own), "{} imports crate::{name}", path.display());
        }
    }
}

#[test]
fn degrees_have_names_only_at_the_door() {
    for (path, layer) in sources() {
        if layer.as_deref().is_none_or(|layer| DEGREES.contains(&layer)) {
            continue;
        }
        let text = fs::read_to_string(&path).expect("a source file is text");
        let named = text.lines().find(|line| names_degrees(line));
        assert_eq!(named, None, "{}", path.display());
    }
}

#[test]
fn imports_are_found_in_groups_and_in_paths() {
    let text =
        "use crate::{model::{Bound, Who}, space::Point};\nuse crate::check::Finding;\nlet x = crate::report::text();";
    assert_eq!(imported(text), ["model", "space", "check", "report"]);
}

#[test]
fn names_in_degrees_are_found() {
    assert!(names_degrees("let angle_deg = 3.0;") && names_degrees("turn_deg_s: f64,"));
    assert!(names_degrees("limits.line_deg.value.to_radians()"));
    assert!(!names_degrees("let turn = q.to_degrees(); // printed as `turn_deg`"));
}
