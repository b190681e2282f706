//! What is the first mistake of each table of a TOML file: unknown or missing key, wrong type or word?
//!
//! Reading a whole file into its type stops at the first mistake. So every table that stands in a list, or that has
//! a type of its own, is first taken out and read alone; what holds it is read without it.

use serde::de::DeserializeOwned;
use toml::Spanned;
use toml::de::{DeArray, DeValue, Error, ValueDeserializer};

use crate::model::{
    Arm, ArmJoint, ArmShapes, Camera, ClearanceLimits, Contact, Crew, Envelope, Fixed, Handrail, KeepOut, Limits,
    LinkShape, Measures, Module, NamedLink, Payload, Plan, Posture, Restraint, RestraintJoint, Seat, SecondPlace,
    Socket, Stand, Step, Structure, Suit, SuitJoint, Target, TipSpeeds, Tolerances, Truss, Waypoint, Worksite,
};

use super::problem::{Place, Problem, Problems};
use super::serde_words::{Words, in_our_words};
use super::toml_file::{TomlFile, Value};

/// How one kind of table is read.
pub(super) struct Form {
    read: fn(Value<'_>) -> Result<(), Error>,
    parts: &'static [Part],
}

/// Tables below a table that are read alone.
enum Part {
    /// A list of tables under a key.
    List(&'static str, Form),
    /// One table under a key.
    Table(&'static str, Form),
    /// Tables of one kind under any key of the table under this key.
    Named(&'static str, Form),
}

const fn form<T: DeserializeOwned>(parts: &'static [Part]) -> Form {
    Form { read: |value| T::deserialize(ValueDeserializer::from(value)).map(drop), parts }
}

const LINK_SHAPES: Form = form::<LinkShape>(&[]);

pub(super) static PLAN: Form = form::<Plan>(&[
    Part::Table("rider", CREW),
    Part::Table("second_crew", CREW),
    Part::Table("limits", LIMITS),
    Part::Table("tolerances", form::<Tolerances>(&[])),
    Part::List("stand", form::<Stand>(&[])),
    Part::List("seat", form::<Seat>(&[])),
    Part::List("payload", form::<Payload>(&[Part::List("shape", LINK_SHAPES)])),
    Part::List("posture", form::<Posture>(&[])),
    Part::List(
        "worksite",
        form::<Worksite>(&[
            Part::List("target", form::<Target>(&[])),
            Part::Table("second_crew", form::<SecondPlace>(&[])),
        ]),
    ),
    Part::List("contact", form::<Contact>(&[])),
    Part::List("camera", form::<Camera>(&[])),
    Part::List("step", form::<Step>(&[Part::List("waypoint", form::<Waypoint>(&[]))])),
]);

const CREW: Form = form::<Crew>(&[Part::Table("measures", form::<Measures>(&[]))]);

const LIMITS: Form = form::<Limits>(&[
    Part::Table("moving", form::<ClearanceLimits>(&[])),
    Part::Table("at_work", form::<ClearanceLimits>(&[])),
    Part::Table("stopping", form::<ClearanceLimits>(&[])),
    Part::Table("tip_speed_m_s", form::<TipSpeeds>(&[])),
    Part::List("envelope", form::<Envelope>(&[])),
]);

pub(super) static STRUCTURE: Form = form::<Structure>(&[
    Part::List("truss", form::<Truss>(&[])),
    Part::List("module", form::<Module>(&[])),
    Part::List("handrail", form::<Handrail>(&[])),
    Part::List("socket", form::<Socket>(&[])),
    Part::List("keep_out", form::<KeepOut>(&[])),
    Part::List("body", form::<Fixed>(&[])),
]);

pub(super) static ARM: Form = form::<Arm>(&[
    Part::List("base", LINK_SHAPES),
    Part::List("joint", form::<ArmJoint>(&[Part::List("shape", LINK_SHAPES)])),
]);

pub(super) static ARM_SHAPES: Form =
    form::<ArmShapes>(&[Part::List("link", form::<NamedLink>(&[Part::List("shape", LINK_SHAPES)]))]);

pub(super) static RESTRAINT: Form = form::<Restraint>(&[
    Part::List("base", LINK_SHAPES),
    Part::List("joint", form::<RestraintJoint>(&[Part::List("shape", LINK_SHAPES)])),
]);

pub(super) static SUIT: Form = form::<Suit>(&[Part::Named("joint", form::<SuitJoint>(&[]))]);

/// The file as a value of its type; its mistakes go to `problems`.
pub(super) fn read<T: DeserializeOwned>(file: &TomlFile<'_>, form: &Form, problems: &mut Problems) -> Option<T> {
    let mut errors = Vec::new();
    first_mistakes(file.root.clone(), form, &mut errors);
    if errors.is_empty() {
        match T::deserialize(ValueDeserializer::from(file.root.clone())) {
            Ok(value) => return Some(value),
            Err(error) => errors.push(error),
        }
    }
    errors.sort_by_key(|error| error.span().map(|span| span.start));
    for error in errors {
        add(file, &error, problems);
    }
    None
}

/// Reads the tables of a table alone, then the table without them.
fn first_mistakes(mut value: Value<'_>, form: &Form, errors: &mut Vec<Error>) {
    for part in form.parts {
        let DeValue::Table(table) = value.get_mut() else { break };
        match part {
            Part::List(key, form) => {
                let Some(DeValue::Array(list)) = table.get_mut(*key).map(Spanned::get_mut) else { continue };
                if !list.iter().all(|item| item.get_ref().is_table()) {
                    continue;
                }
                for item in std::mem::replace(list, DeArray::new()) {
                    first_mistakes(item, form, errors);
                }
            }
            Part::Table(key, form) => {
                if table.get(*key).is_some_and(|part| part.get_ref().is_table())
                    && let Some(part) = table.remove(*key)
                {
                    first_mistakes(part, form, errors);
                }
            }
            Part::Named(key, form) => {
                let Some(DeValue::Table(named)) = table.get_mut(*key).map(Spanned::get_mut) else { continue };
                for (_, part) in std::mem::take(named) {
                    first_mistakes(part, form, errors);
                }
            }
        }
    }
    if let Err(error) = (form.read)(value) {
        errors.push(error);
    }
}

/// Adds a library's error, in our words.
fn add(file: &TomlFile<'_>, error: &Error, problems: &mut Problems) {
    let at = Place::text(&file.path, error.span().unwrap_or_default());
    let Words { what, expected, nearest } = in_our_words(error.message());
    problems.push(Problem { at, what, expected, nearest });
}
