//! Which file does a name in a file mean, and does it lie in the plan's tree?
//!
//! Names are relative to the file that holds them, with `/` between their parts. A plan's tree is its folder and,
//! so that plans can share files, what lies beside that folder: only the first part of a path may be `..`. Nothing
//! else is ever read: no absolute path, no drive, no scheme, no second `..`. Links are looked at by the source.

use std::fmt;

/// A file of a plan, as seen from the plan's folder: parts joined by `/`, of which only the first may be `..`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PlanPath(String);

/// A name that is no path inside the plan's tree.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Outside;

/// What [`Outside`] was expected to be.
pub(super) const EXPECTED_PATH: &str =
    "expected a relative path with `/`, inside the plan's folder or (once `..`) beside it";

impl PlanPath {
    /// The plan itself.
    pub fn plan() -> Self {
        Self("plan.toml".to_owned())
    }

    /// A path as seen from the plan's folder.
    pub fn new(name: &str) -> Result<Self, Outside> {
        Self::plan().beside(name)
    }

    /// The file that a name in this file means.
    pub fn beside(&self, name: &str) -> Result<Self, Outside> {
        if name.starts_with('/') {
            return Err(Outside);
        }
        let folder = self.0.rsplit_once('/').map_or("", |(folder, _)| folder);
        Self::from_parts(folder.split('/').chain(name.split('/')))
    }

    fn from_parts<'a>(parts: impl Iterator<Item = &'a str>) -> Result<Self, Outside> {
        let mut kept: Vec<&str> = Vec::new();
        for (index, part) in parts.enumerate() {
            match part {
                "" if index == 0 => {}
                "." => {}
                ".." => match kept.last() {
                    None => kept.push(".."),
                    Some(&"..") => return Err(Outside),
                    Some(_) => {
                        kept.pop();
                    }
                },
                "" => return Err(Outside),
                part if part.contains(['\\', ':']) || part.contains(char::is_control) => return Err(Outside),
                part => kept.push(part),
            }
        }
        match kept.last() {
            None | Some(&"..") => Err(Outside),
            Some(_) => Ok(Self(kept.join("/"))),
        }
    }

    /// The path as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The folder beside the plan's in which it lies, empty for the one that holds both; none inside the plan's folder.
    pub fn folder_beside_the_plan(&self) -> Option<&str> {
        let rest = self.0.strip_prefix("../")?;
        Some(rest.split_once('/').map_or("", |(folder, _)| folder))
    }

    /// Whether both lie in the plan's folder, or in the same folder beside it.
    pub fn shares_tree_with(&self, other: &Self) -> bool {
        self.folder_beside_the_plan() == other.folder_beside_the_plan()
    }
}

impl fmt::Display for PlanPath {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_taken_from_the_folder_of_the_file_that_holds_it() {
        let arm = PlanPath::new("../arms/seven.toml").expect("one `..`");
        assert_eq!(
            arm.beside("meshes/boom.glb").map(|path| path.to_string()),
            Ok("../arms/meshes/boom.glb".to_owned())
        );
        assert_eq!(PlanPath::plan().beside("./a/../b.toml").map(|path| path.to_string()), Ok("b.toml".to_owned()));
    }

    #[test]
    fn nothing_leads_out_of_the_tree() {
        let plan = PlanPath::plan();
        for name in ["/etc/x", "../../x", "..", "", "a/../..", "c:/x", "a\\b", "file://x", "a//b", "a\u{0}"] {
            assert_eq!(plan.beside(name), Err(Outside), "{name}");
        }
        let arm = PlanPath::new("../arms/seven.toml").expect("one `..`");
        assert_eq!(arm.beside("../../x"), Err(Outside));
    }

    #[test]
    fn a_folder_beside_the_plan_is_a_tree_of_its_own() {
        let path = |name| PlanPath::new(name).expect("a path in the tree");
        assert!(path("meshes/a.gltf").shares_tree_with(&path("buffers/a.bin")));
        assert!(!path("meshes/a.gltf").shares_tree_with(&path("../a.bin")));
        assert!(path("../arms/a.gltf").shares_tree_with(&path("../arms/b/a.bin")));
        assert!(!path("../arms/a.gltf").shares_tree_with(&path("../keys/a.bin")));
    }
}
