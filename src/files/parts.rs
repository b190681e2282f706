//! Which files does a plan draw on beside itself, and are they still what was read?
//!
//! What was read of them once is used again until somebody asks for them to be read anew, so that a file that somebody is
//! just changing stops nobody from going on.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::fs::{self, Metadata};
use std::sync::Arc;
use std::time::{Duration, SystemTime};

use super::plan_path::PlanPath;
use super::project::sha256;
use super::source::{Disk, NotRead, Source};

/// The files of a plan beside itself, as they were read; those, too, that were not there.
#[derive(Debug, Default)]
pub struct Parts(BTreeMap<PlanPath, Part>);

#[derive(Debug)]
struct Part {
    read: Result<Arc<[u8]>, NotRead>,
    /// Of at most so many bytes.
    cap: u64,
    /// The SHA-256 of what was read.
    digest: Result<String, NotRead>,
    /// The same of what was on disk when it was looked at last.
    on_disk: Result<String, NotRead>,
    /// How the file looked then.
    looked: Option<Stamp>,
}

impl Part {
    fn new(read: Result<Arc<[u8]>, NotRead>, cap: u64) -> Self {
        let digest = digest(&read);
        Self { read, cap, on_disk: digest.clone(), digest, looked: None }
    }
}

fn digest<B: AsRef<[u8]>>(read: &Result<B, NotRead>) -> Result<String, NotRead> {
    read.as_ref().map(|bytes| sha256(bytes.as_ref())).map_err(Clone::clone)
}

impl Parts {
    /// The files.
    pub fn paths(&self) -> impl Iterator<Item = &PlanPath> {
        self.0.keys()
    }

    /// Takes up files that were read.
    pub fn add(&mut self, others: Self) {
        self.0.extend(others.0);
    }

    /// Looks at the disk: the files that are not what they were when they were looked at last. Cheap where none has changed.
    pub fn look(&mut self, disk: &Disk) -> Vec<PlanPath> {
        let mut changed = Vec::new();
        for (path, part) in &mut self.0 {
            let stamp = fs::metadata(disk.place(path)).ok().and_then(|about| Stamp::of(&about));
            if stamp.is_some() && stamp == part.looked {
                continue;
            }
            part.looked = stamp;
            let now = digest(&disk.read(path, part.cap));
            if now != part.on_disk {
                part.on_disk = now;
                changed.push(path.clone());
            }
        }
        changed
    }

    /// Whether what was on disk at the last look is something else than what was read.
    pub fn are_behind(&self) -> bool {
        self.0.values().any(|part| part.on_disk != part.digest)
    }

    /// The disk was looked at when others of the same files were read.
    pub fn look_as(&mut self, others: Self) {
        for (path, other) in others.0 {
            if let Some(part) = self.0.get_mut(&path) {
                (part.on_disk, part.looked) = (other.on_disk, other.looked);
            }
        }
    }

    /// They lie elsewhere now, as they were read.
    pub fn are_written(&mut self) {
        for part in self.0.values_mut() {
            (part.on_disk, part.looked) = (part.digest.clone(), None);
        }
    }
}

/// The source of the files beside the plan: what was read before is not read again.
pub struct Keeping<'a> {
    below: &'a dyn Source,
    known: &'a Parts,
    new: RefCell<Parts>,
}

impl<'a> Keeping<'a> {
    pub fn new(below: &'a dyn Source, known: &'a Parts) -> Self {
        Self { below, known, new: RefCell::default() }
    }

    /// What was read and not known.
    pub fn into_new(self) -> Parts {
        self.new.into_inner()
    }
}

impl Source for Keeping<'_> {
    fn read(&self, path: &PlanPath, cap: u64) -> Result<Vec<u8>, NotRead> {
        if let Some(part) = self.known.0.get(path) {
            return part.read.as_ref().map(|bytes| bytes.to_vec()).map_err(Clone::clone);
        }
        let read = self.below.read(path, cap);
        let part = Part::new(read.as_deref().map(Arc::from).map_err(Clone::clone), cap);
        self.new.borrow_mut().0.insert(path.clone(), part);
        read
    }

    fn neighbours(&self, path: &PlanPath) -> Vec<String> {
        self.below.neighbours(path)
    }
}

/// What of a file tells that it was changed without reading it.
#[derive(Clone, Debug, PartialEq)]
pub struct Stamp {
    length: u64,
    modified: SystemTime,
    inode: (u64, i64, i64),
}

impl Stamp {
    /// None where the file was changed just now, so that another change might leave it the same.
    pub fn of(about: &Metadata) -> Option<Self> {
        const JUST_NOW: Duration = Duration::from_secs(2);
        let modified = about.modified().ok()?;
        let age = SystemTime::now().duration_since(modified).ok()?;
        (age > JUST_NOW).then(|| Self { length: about.len(), modified, inode: inode(about) })
    }
}

/// Which file it is, and when anything of it was changed last.
#[cfg(unix)]
fn inode(about: &Metadata) -> (u64, i64, i64) {
    use std::os::unix::fs::MetadataExt;
    (about.ino(), about.ctime(), about.ctime_nsec())
}

#[cfg(not(unix))]
fn inode(_: &Metadata) -> (u64, i64, i64) {
    (0, 0, 0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_read_is_read_again_as_it_was_and_a_change_is_noticed_once() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let write = |text: &str| fs::write(folder.path().join("arm.toml"), text).expect("its owner may");
        let disk = Disk::new(folder.path()).expect("it is there");
        let [arm, missing] = ["arm.toml", "missing.toml"].map(|name| PlanPath::new(name).expect("a path"));
        write("one");
        let mut parts = Parts::default();
        let read = |parts: &mut Parts| {
            let keeping = Keeping::new(&disk, parts);
            let read = [&arm, &missing].map(|path| keeping.read(path, 10));
            let new = keeping.into_new();
            parts.add(new);
            read
        };
        let first = read(&mut parts);
        assert_eq!(first, [Ok(b"one".to_vec()), Err(NotRead::Missing)]);
        assert_eq!((parts.look(&disk), parts.are_behind()), (Vec::new(), false));
        write("two");
        assert_eq!((parts.look(&disk), parts.are_behind()), (vec![arm.clone()], true));
        assert_eq!((parts.look(&disk), parts.are_behind()), (Vec::new(), true), "it is told once");
        assert_eq!(read(&mut parts), first);
        fs::write(folder.path().join("missing.toml"), "far more than ten bytes").expect("its owner may");
        assert_eq!(parts.look(&disk), std::slice::from_ref(&missing));
        write("one");
        assert_eq!(
            (parts.look(&disk), parts.are_behind()),
            (vec![arm.clone()], true),
            "the other one is still another"
        );
        assert_eq!(read(&mut Parts::default()), [Ok(b"one".to_vec()), Err(NotRead::TooLarge { cap: 10 })]);
    }
}
