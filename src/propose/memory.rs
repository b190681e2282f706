//! What is known of a search that was stopped, so that it need not be found again?
//!
//! # Law
//! The search is the same for the same question, so an answer that was found holds when it is asked again: whether the body
//! keeps its limits in a place, what is too near at rest, what was judged of a setting, and the ways that were found or not.

use std::collections::BTreeMap;
use std::sync::{Mutex, MutexGuard, PoisonError};

use serde::{Deserialize, Serialize};

use super::Setting;
use super::broken::Broken;
use super::judge::Judged;
use super::options::Looked;
use super::way::{NoWay, Way};

/// Answers that were found; safe to share between threads.
#[derive(Debug, Default)]
pub struct Memory(Mutex<Answers>);

/// By visit, and by what was asked about there.
#[derive(Debug, Default)]
struct Answers {
    looked: BTreeMap<(usize, usize), Looked>,
    judged: BTreeMap<(usize, Key), Judged>,
    too_near: BTreeMap<(usize, Key), (Setting, Vec<Broken>)>,
    ways: BTreeMap<(usize, Key, Key, bool), Kept>,
}

/// A setting, to be ordered by.
type Key = (String, Vec<u64>);

/// A way, or why there is none, with the settings at its ends, before and at the visit, and whether it was sought thoroughly.
#[derive(Clone, Debug, Deserialize, Serialize)]
struct Kept {
    ends: [Setting; 2],
    thorough: bool,
    way: Result<Way, NoWay>,
}

/// As files have it.
#[derive(Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
struct Written {
    /// What was asked, and by which version; answers to anything else are none.
    question: String,
    looked: Vec<(usize, usize, Looked)>,
    judged: Vec<(usize, Judged)>,
    too_near: Vec<(usize, Setting, Vec<Broken>)>,
    ways: Vec<(usize, Kept)>,
}

impl Memory {
    /// What a file holds, as JSON, of a question; none where it is about another one.
    ///
    /// # Errors
    /// It is no such file.
    pub fn read(bytes: &[u8], question: &str) -> serde_json::Result<Option<Self>> {
        let written: Written = serde_json::from_slice(bytes)?;
        let looked = written.looked.into_iter().map(|(visit, place, looked)| ((visit, place), looked));
        let judged = written.judged.into_iter().map(|(visit, judged)| ((visit, key(&judged.setting)), judged));
        let near = written.too_near.into_iter();
        let too_near = near.map(|(visit, setting, broken)| ((visit, key(&setting)), (setting, broken))).collect();
        let ways = written.ways.into_iter().map(|(visit, kept)| {
            let [before, here] = kept.ends.each_ref().map(key);
            ((visit, before, here, kept.thorough), kept)
        });
        let answers = Answers { looked: looked.collect(), judged: judged.collect(), too_near, ways: ways.collect() };
        Ok((written.question == question).then(|| Self(Mutex::new(answers))))
    }

    /// The same as a file holds it.
    pub fn written(&self, question: &str) -> Vec<u8> {
        let answers = self.answers();
        let written = Written {
            question: question.to_owned(),
            looked: answers.looked.iter().map(|((visit, place), looked)| (*visit, *place, looked.clone())).collect(),
            judged: answers.judged.iter().map(|((visit, _), judged)| (*visit, judged.clone())).collect(),
            too_near: answers
                .too_near
                .iter()
                .map(|((visit, _), (setting, broken))| (*visit, setting.clone(), broken.clone()))
                .collect(),
            ways: answers.ways.iter().map(|((visit, ..), kept)| (*visit, kept.clone())).collect(),
        };
        serde_json::to_vec(&written).expect("numbers and names can be written")
    }

    /// How many answers there are.
    pub fn len(&self) -> usize {
        let answers = self.answers();
        answers.looked.len() + answers.judged.len() + answers.too_near.len() + answers.ways.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// What came of a look at a place of the plate, by its number.
    pub(super) fn looked(&self, visit: usize, place: usize) -> Option<Looked> {
        self.answers().looked.get(&(visit, place)).cloned()
    }

    pub(super) fn keep_looked(&self, visit: usize, place: usize, looked: &Looked) {
        self.answers().looked.insert((visit, place), looked.clone());
    }

    /// What was judged.
    pub(super) fn judged(&self, visit: usize, setting: &Setting) -> Option<Judged> {
        self.answers().judged.get(&(visit, key(setting))).cloned()
    }

    pub(super) fn keep_judged(&self, visit: usize, judged: &Judged) {
        self.answers().judged.insert((visit, key(&judged.setting)), judged.clone());
    }

    /// What is too near at rest with a setting.
    pub(super) fn too_near(&self, visit: usize, setting: &Setting) -> Option<Vec<Broken>> {
        self.answers().too_near.get(&(visit, key(setting))).map(|(_, broken)| broken.clone())
    }

    pub(super) fn keep_too_near(&self, visit: usize, setting: &Setting, broken: &[Broken]) {
        self.answers().too_near.insert((visit, key(setting)), (setting.clone(), broken.to_vec()));
    }

    /// The way to a visit between two settings, thorough or quick, or why there is none.
    pub(super) fn way(
        &self,
        visit: usize,
        [before, here]: [&Setting; 2],
        thorough: bool,
    ) -> Option<Result<Way, NoWay>> {
        self.answers().ways.get(&(visit, key(before), key(here), thorough)).map(|kept| kept.way.clone())
    }

    pub(super) fn keep_way(
        &self,
        visit: usize,
        [before, here]: [&Setting; 2],
        (thorough, way): (bool, &Result<Way, NoWay>),
    ) {
        let kept = Kept { ends: [before.clone(), here.clone()], thorough, way: way.clone() };
        self.answers().ways.insert((visit, key(before), key(here), thorough), kept);
    }

    fn answers(&self) -> MutexGuard<'_, Answers> {
        // Whole answers are put in, so one that another thread left behind in a panic is no worse.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn key(setting: &Setting) -> Key {
    let numbers = setting.detents.iter().chain(&setting.arm).map(|number| number.to_bits());
    (setting.stand.clone(), numbers.collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::propose::{Answer, End, Impossible};

    fn setting(arm: f64) -> Setting {
        Setting { stand: "here".to_owned(), detents: vec![0.1], arm: vec![arm, 1.0 / 3.0] }
    }

    #[test]
    fn answers_outlive_the_way_through_a_file_to_the_last_digit() {
        let memory = Memory::default();
        memory.keep_looked(0, 7, &Looked::Good(Ok(setting(0.1 + 0.2))));
        memory.keep_looked(0, 8, &Looked::NotHeld(Vec::new()));
        let judged = Judged { setting: setting(2.0 / 3.0), score: 0.1 + 0.7, ..Judged::default() };
        memory.keep_judged(1, &judged);
        let way = Way { cost: 1e-17 / 3.0, late: 0.1, ..Way::default() };
        let ends = [&setting(1.0), &setting(2.0)];
        memory.keep_way(2, ends, (false, &Ok(way.clone())));
        let none = Err(NoWay::Transit(Answer::Impossible(Impossible::Singular { at: End::Goal, value: 0.1 + 0.2 })));
        memory.keep_way(2, ends, (true, &none));
        let near = [Broken { check: "clearance".to_owned(), of: "arm_to_arm".to_owned() }];
        memory.keep_too_near(3, &setting(1.0), &near);
        let read =
            Memory::read(&memory.written("what"), "what").expect("it is such a file").expect("the same question");
        assert_eq!(read.len(), 6);
        assert_eq!(read.looked(0, 7), Some(Looked::Good(Ok(setting(0.1 + 0.2)))));
        assert_eq!(read.judged(1, &judged.setting), Some(judged));
        assert_eq!(read.way(2, ends, false), Some(Ok(way)));
        assert_eq!(read.way(2, ends, true), Some(none));
        assert_eq!(read.too_near(3, &setting(1.0)), Some(near.to_vec()));
        assert_eq!(read.way(2, [&setting(1.0), &setting(2.5)], false), None);
    }

    #[test]
    fn what_answers_another_question_is_no_answer() {
        let written = Memory::default().written("what");
        assert!(Memory::read(&written, "who").expect("it is such a file").is_none());
        assert!(Memory::read(b"{}", "what").is_err());
    }
}
