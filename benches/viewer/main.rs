//! How many frames a second does the viewer draw, and how soon does an edit show its findings?
//!
//! `cargo bench --features viewer --bench viewer [SECONDS]`: the demo and a structure of 5,000 bodies, at 1920×1080,
//! played and edited. Times hold for the machine and its graphics driver alone.

use std::fs;
use std::path::Path;
use std::time::Duration;

use anyhow::{Context, Result};
use trusswalk::files::Draft;
use trusswalk::viewer::{Doing, measure};

const SIZE: [u32; 2] = [1920, 1080];

fn main() -> Result<()> {
    let seconds = std::env::args().skip(1).find_map(|word| word.parse().ok()).unwrap_or(10.0);
    let demo = Path::new("scenes/demo");
    let large = tempfile::tempdir().context("making a folder")?;
    enlarge(demo, large.path())?;
    for (name, folder) in [("demo", demo), ("5000 bodies", large.path())] {
        for doing in [Doing::Playing, Doing::Editing, Doing::Sizing] {
            let draft = Draft::as_on_disk(folder)?;
            let rate = measure(draft, SIZE, doing, Duration::from_secs_f64(seconds))?;
            let median = |times: &[Duration]| {
                let mut times = times.to_vec();
                times.sort();
                times.get(times.len() / 2).map_or(f64::NAN, |median| median.as_secs_f64() * 1e3)
            };
            let told = (!rate.edits.is_empty()).then(|| {
                let [first, all] = [&rate.firsts, &rate.edits].map(|times| median(times));
                format!("; {} edits, median {first:.0} ms to the first findings, {all:.0} ms to all", rate.edits.len())
            });
            println!("{name}, {doing:?}: {:.1} frames/s{}", rate.per_second(), told.unwrap_or_default());
        }
    }
    Ok(())
}

/// The same plan with truss runs far from all that moves: some 4,500 bodies more.
fn enlarge(from: &Path, to: &Path) -> Result<()> {
    for entry in fs::read_dir(from).context("looking into the demo")? {
        let path = entry.context("looking into the demo")?.path();
        let name = path.file_name().context("a file has a name")?;
        fs::copy(&path, to.join(name)).context("copying the demo")?;
    }
    let structure = to.join("structure.toml");
    let mut text = fs::read_to_string(&structure).context("reading the structure")?;
    for k in 0..7 {
        text += &format!(
            "\n[[truss]]\nid = \"far-{k}\"\nplace = {{ at_m = [-20.0, {}, -30.0] }}\nbays = 50\nbay_m = 1.5\nwidth_m = \
             1.2\nmember_radius_m = 0.04\n",
            -30.0 + 10.0 * f64::from(k)
        );
    }
    fs::write(&structure, text).context("writing the structure")
}
