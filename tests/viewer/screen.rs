//! A screen that nobody sees, and the viewer's window on it.

use std::fs::{self, File};
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use tempfile::TempDir;

use crate::folder::program;
use crate::picture::Picture;

/// What is waited for comes within this time on the slowest machine, or does not come.
const PATIENCE: Duration = Duration::from_secs(60);
/// Between two looks at what is waited for.
const LOOK: Duration = Duration::from_millis(50);
/// Who does nothing for so long has nothing more to do.
const SETTLED: Duration = Duration::from_millis(500);

/// Waits until something is there.
pub fn wait<T>(what: &str, look: impl FnMut() -> Option<T>) -> T {
    within(PATIENCE, look).unwrap_or_else(|| panic!("{what}: not within {PATIENCE:?}"))
}

fn within<T>(patience: Duration, mut look: impl FnMut() -> Option<T>) -> Option<T> {
    let began = Instant::now();
    loop {
        if let Some(found) = look() {
            return Some(found);
        }
        if began.elapsed() > patience {
            return None;
        }
        thread::sleep(LOOK);
    }
}

/// A virtual display.
pub struct Screen {
    server: Child,
    display: String,
}

impl Screen {
    pub fn start() -> Self {
        // Without `-noreset` it begins anew when the last window is gone, and turns away who comes meanwhile.
        let mut server = Command::new("Xvfb")
            .args(["-displayfd", "1", "-screen", "0", "1280x720x24", "-nolisten", "tcp", "-noreset"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("Xvfb");
        let mut number = String::new();
        BufReader::new(server.stdout.take().expect("it is piped")).read_line(&mut number).expect("a display");
        assert!(!number.trim().is_empty(), "Xvfb found no free display");
        Self { server, display: format!(":{}", number.trim()) }
    }

    /// What xdotool says; none where it fails.
    fn tool(&self, args: &[&str]) -> Option<String> {
        let run = Command::new("xdotool").args(args).env("DISPLAY", &self.display).output().expect("xdotool");
        run.status.success().then(|| String::from_utf8_lossy(&run.stdout).trim().to_owned())
    }

    fn must(&self, args: &[&str]) {
        assert!(self.tool(args).is_some(), "xdotool {}", args.join(" "));
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        self.server.kill().expect("it is ours");
        self.server.wait().expect("it is ours");
    }
}

/// The viewer, with a plan open in a window.
pub struct Viewer<'s> {
    screen: &'s Screen,
    process: Child,
    /// The folder that it runs in: where its pictures go, and what it says.
    folder: TempDir,
}

impl<'s> Viewer<'s> {
    /// Opens a plan, and waits until the window can be used and `is_ready` says so of its picture.
    pub fn open(screen: &'s Screen, plan: &Path, is_ready: impl Fn(&Picture) -> bool) -> Self {
        Self::open_sized(screen, plan, "1280x720", is_ready)
    }

    /// The same, with another size asked for.
    pub fn open_sized(screen: &'s Screen, plan: &Path, size: &str, is_ready: impl Fn(&Picture) -> bool) -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let errors = File::create(folder.path().join("errors")).expect("a file");
        let process = program()
            .arg("view")
            .arg(plan)
            .args(["--size", size])
            .env("DISPLAY", &screen.display)
            .current_dir(folder.path())
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(errors)
            .spawn()
            .expect("the program");
        let mut viewer = Self { screen, process, folder };
        let window = wait("a window", || {
            viewer.is_running();
            screen.tool(&["search", "--onlyvisible", "--name", "^Trusswalk$"]).filter(|id| !id.is_empty())
        });
        wait("the window has the focus", || {
            screen.must(&["windowfocus", &window]);
            screen.tool(&["getwindowfocus"]).filter(|id| *id == window)
        });
        // A key that is pressed before the program knows that it has the focus is lost.
        wait("a first picture", || {
            viewer.key("F12");
            within(Duration::from_secs(10), || viewer.pictures().pop())
        });
        wait("the plan is shown", || Some(viewer.picture()).filter(&is_ready));
        viewer
    }

    fn is_running(&mut self) {
        let ended = self.process.try_wait().expect("it is ours");
        assert!(ended.is_none(), "it ended: {ended:?}: {}", self.errors());
    }

    /// What it has said: nothing where all is well.
    pub fn errors(&self) -> String {
        fs::read_to_string(self.folder.path().join("errors")).expect("the file is there")
    }

    /// Processor time that it has taken up to now, of all its threads.
    pub fn processor_time(&self) -> Duration {
        let stat = fs::read_to_string(format!("/proc/{}/stat", self.process.id())).expect("it runs");
        // Behind the name, which may hold anything but the last bracket: state is the first, times the 12th and 13th.
        let fields: Vec<&str> = stat.rsplit(')').next().expect("a name").split_whitespace().collect();
        let ticks: u64 = fields[11..13].iter().map(|ticks| ticks.parse::<u64>().expect("ticks")).sum();
        Duration::from_millis(10 * ticks)
    }

    /// Waits until it has drawn all that there is to be drawn.
    pub fn settle(&self) {
        wait("it draws no more", || {
            let before = self.processor_time();
            thread::sleep(SETTLED);
            (self.processor_time() - before < SETTLED / 10).then_some(())
        });
    }

    pub fn key(&self, key: &str) {
        self.screen.must(&["key", key]);
    }

    pub fn write(&self, text: &str) {
        self.screen.must(&["type", text]);
    }

    /// Clicks, and waits until that is done: of two clicks within one slow frame only the last would count.
    pub fn click(&self, at: [usize; 2]) {
        self.press(at);
        self.release();
        self.picture();
    }

    pub fn press(&self, at: [usize; 2]) {
        self.point(at);
        self.screen.must(&["mousedown", "1"]);
    }

    pub fn point(&self, [x, y]: [usize; 2]) {
        self.screen.must(&["mousemove", &x.to_string(), &y.to_string()]);
    }

    pub fn release(&self) {
        self.screen.must(&["mouseup", "1"]);
    }

    fn pictures(&self) -> Vec<PathBuf> {
        (1..).map(|k| self.folder.path().join(format!("trusswalk-{k}.png"))).take_while(|path| path.exists()).collect()
    }

    /// The window as it is now, by its own key for it: all that was asked before has been done then.
    pub fn picture(&self) -> Picture {
        let before = self.pictures().len();
        self.key("F12");
        let path = wait("a picture", || self.pictures().into_iter().nth(before));
        Picture::read(&path).expect("a picture")
    }

    /// The window as soon as something holds of it.
    pub fn until(&self, what: &str, holds: impl Fn(&Picture) -> bool) -> Picture {
        wait(what, || Some(self.picture()).filter(&holds))
    }
}

/// It ends at once, as in a power cut.
impl Drop for Viewer<'_> {
    fn drop(&mut self) {
        self.process.kill().expect("it is ours");
        self.process.wait().expect("it is ours");
    }
}
