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

use super::problem::{Place, Problem, Problems, nearest};
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

/// Says a library's error in our words.
fn add(file: &TomlFile<'_>, error: &Error, problems: &mut Problems) {
    let at = Place::text(&file.path, error.span().unwrap_or_default());
    let (found, expected) = error.message().trim().split_once(", expected ").unwrap_or((error.message().trim(), ""));
    let found = found.strip_prefix("invalid type: ").or(found.strip_prefix("invalid value: ")).unwrap_or(found);
    let names = between_ticks(expected);
    let near = between_ticks(found).first().and_then(|word| nearest(word, names.iter().copied()));
    let found = match found.strip_prefix("invalid length ") {
        Some(length) => &format!("this list has {length} values"),
        None => found,
    };
    let what = match (found.strip_prefix("missing field "), found.split_once(' ')) {
        (Some(key), _) => format!("the key {key} is missing"),
        (None, Some(("unknown", rest))) => {
            format!("there is no {}", rest.replace("field", "key").replace("variant", "choice"))
        }
        (None, Some((kind @ ("string" | "integer" | "float" | "floating" | "boolean" | "map" | "sequence"), _))) => {
            let article = if kind == "integer" { "an" } else { "a" };
            let words = [("floating point", "number"), ("map", "table"), ("sequence", "list")];
            let found = words.iter().fold(found.to_owned(), |text, (theirs, ours)| text.replacen(theirs, ours, 1));
            format!("this is {article} {found}")
        }
        _ => found.to_owned(),
    };
    let expected = if expected.is_empty() { String::new() } else { format!("expected {}", in_our_words(expected)) };
    problems.push(Problem { at, what, expected, nearest: near });
}

/// What the library expects, as a user would say it.
fn in_our_words(expected: &str) -> String {
    if let Some(length) = expected.strip_prefix("an array of length ") {
        return format!("a list of {length} numbers");
    }
    match expected {
        "f64" => "a number".to_owned(),
        "u32" | "u64" | "usize" => "a whole number, 0 or more".to_owned(),
        "a string" => "a text in quotes".to_owned(),
        "a boolean" => "`true` or `false`".to_owned(),
        "a sequence" => "a list".to_owned(),
        "a map" => "a table".to_owned(),
        struct_ if struct_.starts_with("struct ") => "a table".to_owned(),
        other => other.to_owned(),
    }
}

/// The words that stand between backticks.
fn between_ticks(text: &str) -> Vec<&str> {
    text.split('`').skip(1).step_by(2).collect()
}
