//! Does reading ever panic, whatever bytes a file holds?
//!
//! Sound files with bytes changed, taken out, put in twice, or cut off. A message must be shown for all that is refused.

use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};
use trusswalk::files::read_embedded;

use super::gltf::sound_glb;
use super::urdf::URDF;

/// A sound plan with an arm out of a URDF and a body out of a GLB, as files in memory.
fn files() -> Vec<(&'static str, Vec<u8>)> {
    let plan = include_str!("sound/plan.toml")
        .replace("arm = \"arm.toml\"", "arm = \"robot.urdf\"\narm_links = [\"world\", \"hand\"]")
        .replace("joints_deg_m = [0, -55, 0, 110, -55, 0, 0]", "joints_deg_m = [0, 1, 0]")
        .replace("joints_deg_m = [0, -40, 0, 80, -40, 0, 0]", "joints_deg_m = [10, 1, 0]");
    let structure = include_str!("sound/structure.toml").replacen(
        "{ box = { size_m = [0.60, 0.80, 0.16] } }",
        "{ mesh = { file = \"a.glb\", node = \"brick\", as = \"solid\" } }",
        1,
    );
    vec![
        ("plan.toml", plan.into_bytes()),
        ("structure.toml", structure.into_bytes()),
        ("robot.urdf", URDF.as_bytes().to_vec()),
        ("restraint.toml", include_bytes!("sound/restraint.toml").to_vec()),
        ("suit.toml", include_bytes!("sound/suit.toml").to_vec()),
        ("a.glb", sound_glb()),
    ]
}

fn read(files: &[(&str, Vec<u8>)]) -> Result<trusswalk::files::Loaded, trusswalk::files::Problems> {
    let files: Vec<(&str, &[u8])> = files.iter().map(|(name, bytes)| (*name, bytes.as_slice())).collect();
    read_embedded(&files)
}

/// One way to break a file; places are shares of its length.
#[derive(Clone, Debug)]
enum Break {
    Set(f64, u8),
    TakeOut(f64, usize),
    PutIn(f64, Vec<u8>),
    Repeat(f64, usize),
    Cut(f64),
}

fn breaks() -> impl Strategy<Value = Break> {
    let at = 0.0..1.0;
    prop_oneof![
        4 => (at.clone(), any::<u8>()).prop_map(|(at, byte)| Break::Set(at, byte)),
        4 => (at.clone(), prop::sample::select(b"0123456789-.eE[]{}\"'=<>/, \n".to_vec()))
            .prop_map(|(at, byte)| Break::Set(at, byte)),
        2 => (at.clone(), 1_usize..40).prop_map(|(at, length)| Break::TakeOut(at, length)),
        1 => (at.clone(), prop::collection::vec(any::<u8>(), 1..8)).prop_map(|(at, bytes)| Break::PutIn(at, bytes)),
        2 => (at.clone(), 1_usize..200).prop_map(|(at, length)| Break::Repeat(at, length)),
        1 => at.prop_map(Break::Cut),
    ]
}

fn broken(mut bytes: Vec<u8>, how: &Break) -> Vec<u8> {
    let place = |share: f64| (share * bytes.len() as f64) as usize;
    match how {
        Break::Set(at, byte) => {
            let at = place(*at);
            if let Some(there) = bytes.get_mut(at) {
                *there = *byte;
            }
        }
        Break::TakeOut(at, length) => {
            let at = place(*at);
            bytes.drain(at..(at + length).min(bytes.len()));
        }
        Break::PutIn(at, more) => {
            let at = place(*at);
            bytes.splice(at..at, more.iter().copied());
        }
        Break::Repeat(at, length) => {
            let at = place(*at);
            let part = bytes[at..(at + length).min(bytes.len())].to_vec();
            bytes.splice(at..at, part);
        }
        Break::Cut(at) => bytes.truncate(place(*at)),
    }
    bytes
}

#[test]
fn the_sound_files_are_read() {
    read(&files()).unwrap_or_else(|problems| panic!("{problems}"));
}

proptest! {
    #![proptest_config(Config {
        cases: 4000,
        failure_persistence: None,
        rng_seed: RngSeed::Fixed(3),
        ..Config::default()
    })]

    #[test]
    fn broken_bytes_never_panic(which in 0_usize..6, how in prop::collection::vec(breaks(), 1..4)) {
        let mut files = files();
        let (_, bytes) = &mut files[which];
        for how in &how {
            *bytes = broken(std::mem::take(bytes), how);
        }
        if let Err(problems) = read(&files) {
            prop_assert!(problems.to_string().contains("error: "));
        }
    }
}
