//! What does a plan folder hold, all of its files read and found sound?
//!
//! The plan names its files by path. All files are read, also where one has mistakes, so that all mistakes are told
//! together: first each file for itself (syntax; the first mistake of each table; numbers; names), then, where all that
//! is well, what the files say about each other.

use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::path::Path;
use std::sync::Arc;

use schemars::JsonSchema;
use serde::Serialize;
use sha2::{Digest, Sha256};

use crate::model::{Plan, Project, Restraint, Structure, Suit};

use super::meshes::{self, Meshes};
use super::open_values::{self, OpenSite};
use super::pieces::{self, Form};
use super::plan_path::{EXPECTED_PATH, PlanPath};
use super::problem::{Place, Problem, Problems, nearest, shortened};
use super::source::{Disk, Embedded, NotRead, Source};
use super::toml_file::{Node, TomlFile};
use super::{agreement, arm_file, consistency, contacts, names, numbers, order};

/// A TOML or URDF file is at most so large, in bytes.
pub(super) const TEXT_CAP: u64 = 4 << 20;

/// A plan with all that it draws on.
#[derive(Clone, Debug)]
pub struct Loaded {
    /// Mesh files in it are named as seen from the plan's folder, wherever they were named.
    pub project: Project,
    /// The meshes that its shapes name.
    pub meshes: Meshes,
    /// Every file that was read, by path.
    pub inputs: Vec<Input>,
    /// What of the files was left out, and why; printed.
    pub notes: Vec<String>,
    /// What the plan leaves open, where that was asked for; the project holds something to start from in its place.
    pub open: Vec<OpenSite>,
}

/// A file that was read.
#[derive(Clone, Debug, JsonSchema, PartialEq, Eq, Serialize)]
pub struct Input {
    /// As seen from the plan's folder.
    pub path: String,
    /// SHA-256 of its bytes, in hexadecimal.
    pub sha256: String,
}

/// Reads a plan and its files; `path` is the plan's folder, or the plan file in it.
///
/// # Errors
/// All mistakes of all files.
pub fn read_project(path: &Path) -> Result<Loaded, Problems> {
    let (disk, plan) = plan_at(path)?;
    read_from(&disk, &plan)
}

/// The plan's folder and the plan file in it; `path` is either.
///
/// # Errors
/// There is no such folder.
pub fn plan_at(path: &Path) -> Result<(Disk, PlanPath), Problems> {
    let (folder, name) = if path.is_dir() {
        (path, OsStr::new("plan.toml"))
    } else {
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
        (folder, path.file_name().unwrap_or_default())
    };
    let plan = name.to_str().and_then(|name| PlanPath::new(name).ok());
    match (Disk::new(folder), plan) {
        (Ok(disk), Some(plan)) => Ok((disk, plan)),
        _ => {
            let mut problems = Problems::default();
            problems.add(
                Place::file(path.display()),
                format!("there is no plan at `{}`", path.display()),
                "expected a folder with a `plan.toml`, or the path of a plan file",
            );
            Err(problems)
        }
    }
}

/// The text of a plan alone.
///
/// # Errors
/// There is none.
pub fn plan_text(source: &dyn Source, plan: &PlanPath) -> Result<String, Problems> {
    let mut reader = Reader::new(source);
    reader.text(plan, &Place::file(plan)).map(|text| text.to_string()).ok_or(reader.problems)
}

/// SHA-256 of some bytes, in hexadecimal.
pub fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Reads a plan out of files in memory; each has its path as seen from the plan's folder, the plan is `plan.toml`.
///
/// # Errors
/// All mistakes of all files.
pub fn read_embedded(files: &[(&str, &[u8])]) -> Result<Loaded, Problems> {
    read_from(&Embedded { files }, &PlanPath::plan())
}

/// Reads a plan and its files from a source.
///
/// # Errors
/// All mistakes of all files, values that are left open among them.
pub fn read_from(source: &dyn Source, plan: &PlanPath) -> Result<Loaded, Problems> {
    read(source, plan, open_values::refuse)
}

/// Reads a plan and its files from a source; stands, configurations and settings of worksites may be left open.
///
/// # Errors
/// All mistakes of all files.
pub fn read_open(source: &dyn Source, plan: &PlanPath) -> Result<Loaded, Problems> {
    read(source, plan, |_, _, _| ())
}

/// What is done about values that are left open.
type OnOpen = fn(&[OpenSite], Node<'_>, &mut Problems);

fn read(source: &dyn Source, plan: &PlanPath, on_open: OnOpen) -> Result<Loaded, Problems> {
    let mut reader = Reader::new(source);
    match read_all(&mut reader, plan, on_open) {
        Some((project, meshes, open)) if reader.problems.is_empty() => {
            let inputs = reader.inputs.into_values().collect();
            Ok(Loaded { project, meshes, inputs, notes: reader.notes, open })
        }
        _ => Err(reader.problems),
    }
}

fn read_all(
    reader: &mut Reader<'_>,
    plan_path: &PlanPath,
    on_open: OnOpen,
) -> Option<(Project, Meshes, Vec<OpenSite>)> {
    let plan_text = reader.text(plan_path, &Place::file(plan_path))?;
    let plan_file = TomlFile::parse(plan_path, &plan_text, &mut reader.problems)?;
    let plan = reader.checked::<Plan>(&plan_file, &pieces::PLAN);
    let node = plan_file.node();

    let structure_source = reader.named(node.key("structure"));
    let structure_file = reader.parsed(structure_source.as_ref());
    let structure = structure_file.as_ref().and_then(|file| read_structure(reader, file));
    let restraint_source = reader.named(node.key("restraint"));
    let restraint_file = reader.parsed(restraint_source.as_ref());
    let restraint = restraint_file.as_ref().and_then(|file| read_restraint(reader, file));
    let suit_source = reader.named(node.key("suit"));
    let suit_file = reader.parsed(suit_source.as_ref());
    let suit = match &suit_file {
        Some(file) => read_suit(reader, file),
        None => (!node.key("suit").exists()).then(Suit::default),
    };
    let arm = arm_file::read(reader, node);
    names::check_plan(&plan_file, structure_file.as_ref(), &mut reader.problems);
    meshes::gather(&plan_file, reader);
    let meshes = meshes::read(reader);

    let mut plan = plan?;
    consistency::check_plan(&plan, node, &mut reader.problems);
    plan.payload.iter_mut().for_each(|payload| meshes::rebase_links(&mut payload.shape, plan_path));
    let mut project = Project { plan, structure: structure?, arm: arm?, restraint: restraint?, suit: suit? };
    let open = open_values::fill(&mut project);
    on_open(&open, node, &mut reader.problems);
    agreement::check_arm(&project.plan, project.arm.joint.len(), node, &mut reader.problems);
    agreement::check_restraint(&project.plan, &project.restraint, node, &mut reader.problems);
    contacts::check(&project, node, &mut reader.problems);
    order::check(&project.plan, node, &mut reader.problems);
    Some((project, meshes, open))
}

fn read_structure(reader: &mut Reader<'_>, file: &TomlFile<'_>) -> Option<Structure> {
    let structure = reader.checked::<Structure>(file, &pieces::STRUCTURE);
    names::check_structure(file, &mut reader.problems);
    meshes::gather(file, reader);
    let mut structure = structure?;
    consistency::check_structure(&structure, file.node(), &mut reader.problems);
    structure.body.iter_mut().for_each(|body| meshes::rebase(&mut body.shape, &file.path));
    structure.keep_out.iter_mut().for_each(|zone| meshes::rebase(&mut zone.shape, &file.path));
    Some(structure)
}

fn read_restraint(reader: &mut Reader<'_>, file: &TomlFile<'_>) -> Option<Restraint> {
    let restraint = reader.checked::<Restraint>(file, &pieces::RESTRAINT);
    names::check_links(file, &mut reader.problems);
    meshes::gather(file, reader);
    let mut restraint = restraint?;
    consistency::check_restraint(&restraint, file.node(), &mut reader.problems);
    meshes::rebase_links(&mut restraint.base, &file.path);
    restraint.joint.iter_mut().for_each(|joint| meshes::rebase_links(&mut joint.shape, &file.path));
    Some(restraint)
}

fn read_suit(reader: &mut Reader<'_>, file: &TomlFile<'_>) -> Option<Suit> {
    let suit = reader.checked::<Suit>(file, &pieces::SUIT);
    names::check_suit(file, &mut reader.problems);
    let suit = suit?;
    consistency::check_suit(&suit, file.node(), &mut reader.problems);
    Some(suit)
}

/// A file's path and text.
pub(super) type Text = (PlanPath, Arc<str>);

/// Reads files and keeps what went wrong.
pub(super) struct Reader<'s> {
    source: &'s dyn Source,
    pub problems: Problems,
    inputs: BTreeMap<PlanPath, Input>,
    /// Meshes that shapes name, gathered from each file.
    pub meshes: Vec<meshes::Wanted>,
    /// Squares of the numbers of points of the hulls so far.
    pub hull_work: usize,
    pub notes: Vec<String>,
}

impl<'s> Reader<'s> {
    fn new(source: &'s dyn Source) -> Self {
        Self {
            source,
            problems: Problems::default(),
            inputs: BTreeMap::new(),
            meshes: Vec::new(),
            hull_work: 0,
            notes: Vec::new(),
        }
    }

    /// The bytes of a file; where there are none, `named_at` is where the problem is shown.
    pub fn bytes(&mut self, path: &PlanPath, cap: u64, named_at: &Place) -> Option<Vec<u8>> {
        match self.fetch(path, cap) {
            Ok(bytes) => Some(bytes),
            Err(why) => {
                let (what, expected) = why.words(path);
                let nearest = (why == NotRead::Missing).then(|| self.similar(path)).flatten();
                self.problems.push(Problem { at: named_at.clone(), what, expected, nearest });
                None
            }
        }
    }

    /// The bytes of a file, or why there are none.
    pub fn fetch(&mut self, path: &PlanPath, cap: u64) -> Result<Vec<u8>, NotRead> {
        let bytes = self.source.read(path, cap)?;
        self.inputs.insert(path.clone(), Input { path: path.to_string(), sha256: sha256(&bytes) });
        Ok(bytes)
    }

    /// The name of a file beside a missing one that is most like it.
    fn similar(&self, path: &PlanPath) -> Option<String> {
        let name = path.as_str().rsplit('/').next().unwrap_or_default();
        let names = self.source.neighbours(path);
        nearest(name, names.iter().map(String::as_str))
    }

    /// The text of a file.
    pub fn text(&mut self, path: &PlanPath, named_at: &Place) -> Option<Arc<str>> {
        let bytes = self.bytes(path, TEXT_CAP, named_at)?;
        match String::from_utf8(bytes) {
            Ok(text) => Some(text.into()),
            Err(error) => {
                let at = Place {
                    file: path.to_string(),
                    spot: super::problem::Spot::Byte(error.utf8_error().valid_up_to()),
                };
                self.problems.add(at, format!("`{path}` is no text"), "expected UTF-8");
                None
            }
        }
    }

    /// The file that a value names, and its text; none where there is no such value.
    pub fn named(&mut self, name: Node<'_>) -> Option<Text> {
        let path = self.path(name)?;
        let text = self.text(&path, &name.place())?;
        Some((path, text))
    }

    /// The path that a value names.
    pub fn path(&mut self, name: Node<'_>) -> Option<PlanPath> {
        let word = name.text()?;
        let path = name.file().beside(word);
        if path.is_err() {
            let what = format!("`{}` is no path inside the plan's tree", shortened(word));
            self.problems.add(name.place(), what, EXPECTED_PATH);
        }
        path.ok()
    }

    /// A TOML file, parsed.
    pub fn parsed<'t>(&mut self, source: Option<&'t Text>) -> Option<TomlFile<'t>> {
        let (path, text) = source?;
        TomlFile::parse(path, text, &mut self.problems)
    }

    /// A TOML file as a value of its type, its numbers looked at.
    pub fn checked<T: serde::de::DeserializeOwned>(&mut self, file: &TomlFile<'_>, form: &Form) -> Option<T> {
        numbers::check(file, &mut self.problems);
        pieces::read(file, form, &mut self.problems)
    }
}
