//! Which colours, sizes and keys does the viewer use?
//!
//! Status colours come from the palette of Okabe and Ito, "Color Universal Design" (2008), which people with any of the
//! usual kinds of colour vision tell apart; beside each stands a shape and a word.

use bevy::prelude::*;
use bevy_egui::egui;

use crate::check::Status;
use crate::model::BodyClass;

/// The sky.
pub const SKY: Color = Color::srgb(0.012, 0.016, 0.028);
/// Panels.
pub const PANEL: egui::Color32 = egui::Color32::from_rgb(20, 24, 32);
/// Lines between things, and frames.
pub const LINE: egui::Color32 = egui::Color32::from_rgb(62, 70, 86);
/// Text that stands back.
pub const QUIET: egui::Color32 = egui::Color32::from_rgb(152, 162, 179);
/// Text.
pub const TEXT: egui::Color32 = egui::Color32::from_rgb(226, 231, 240);
/// What is chosen.
pub const CHOSEN: egui::Color32 = egui::Color32::from_rgb(86, 180, 233);

/// The tip's path.
pub const TIP_PATH: egui::Color32 = egui::Color32::from_rgb(184, 166, 255);
/// The held payload's path.
pub const PAYLOAD_PATH: egui::Color32 = egui::Color32::from_rgb(204, 121, 167);
/// Where a tool pushes, and how.
pub const TARGET: egui::Color32 = egui::Color32::from_rgb(240, 228, 66);
/// Zones that nothing may enter.
pub const KEEP_OUT: egui::Color32 = egui::Color32::from_rgb(214, 94, 0);

/// The axes x, y and z.
pub const AXES: [(&str, egui::Color32); 3] = [
    ("x", egui::Color32::from_rgb(230, 115, 26)),
    ("y", egui::Color32::from_rgb(0, 158, 115)),
    ("z", egui::Color32::from_rgb(86, 180, 233)),
];

/// Okabe and Ito's blue-green.
const GREEN: egui::Color32 = egui::Color32::from_rgb(0, 158, 115);
/// Okabe and Ito's yellow.
const YELLOW: egui::Color32 = egui::Color32::from_rgb(240, 228, 66);
/// Okabe and Ito's vermilion.
const VERMILION: egui::Color32 = egui::Color32::from_rgb(233, 110, 20);
/// Not of that palette: a grey beside its colours.
const GREY: egui::Color32 = egui::Color32::from_rgb(160, 168, 180);

/// A status as colour and shape.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mark {
    pub colour: egui::Color32,
    pub shape: &'static str,
}

/// The mark of a status; its word is [`Status::word`].
pub fn mark(status: &Status) -> Mark {
    match status {
        Status::Ok => Mark { colour: GREEN, shape: "✔" },
        Status::Tight => Mark { colour: YELLOW, shape: "⚠" },
        Status::Violation(_) => Mark { colour: VERMILION, shape: "✖" },
        Status::NotChecked(_) => Mark { colour: GREY, shape: "?" },
    }
}

/// A colour of egui as one of the scene.
pub fn scene_colour(colour: egui::Color32) -> Color {
    Color::srgb_u8(colour.r(), colour.g(), colour.b())
}

/// How a body is painted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Paint {
    Truss,
    Module,
    Handrail,
    Fixture,
    KeepOut,
    ArmBoom,
    ArmJoint,
    Restraint,
    RiderSuit,
    SecondSuit,
    Visor,
    Pack,
    Tool,
    Payload,
}

impl Paint {
    /// The paint of a body that moves, or that can.
    pub fn of(class: BodyClass, name: &str) -> Self {
        let part = name.rsplit('/').next().unwrap_or(name);
        match class {
            BodyClass::Arm if part.contains("boom") => Self::ArmBoom,
            BodyClass::Arm => Self::ArmJoint,
            BodyClass::Restraint => Self::Restraint,
            BodyClass::Rider | BodyClass::SecondCrew if part == "helmet" => Self::Visor,
            BodyClass::Rider | BodyClass::SecondCrew if part == "pack" => Self::Pack,
            BodyClass::Rider | BodyClass::SecondCrew if part.ends_with("tool") => Self::Tool,
            BodyClass::Rider => Self::RiderSuit,
            BodyClass::SecondCrew => Self::SecondSuit,
            BodyClass::Payload => Self::Payload,
            BodyClass::Structure => Self::Fixture,
            BodyClass::KeepOut => Self::KeepOut,
        }
    }

    /// Its material.
    pub fn material(self) -> StandardMaterial {
        let matt = |r, g, b, roughness| StandardMaterial {
            base_color: Color::srgb(r, g, b),
            perceptual_roughness: roughness,
            ..default()
        };
        let metal = |r, g, b, roughness, metallic| StandardMaterial { metallic, ..matt(r, g, b, roughness) };
        match self {
            Self::Truss => matt(0.60, 0.60, 0.58, 0.7),
            Self::Module => matt(0.74, 0.76, 0.76, 0.75),
            Self::Handrail => metal(0.80, 0.64, 0.22, 0.45, 0.3),
            Self::Fixture => matt(0.52, 0.54, 0.56, 0.8),
            Self::KeepOut => StandardMaterial {
                base_color: Color::srgba(0.84, 0.37, 0.0, 0.16),
                alpha_mode: AlphaMode::Blend,
                unlit: true,
                cull_mode: None,
                ..default()
            },
            Self::ArmBoom => matt(0.86, 0.87, 0.84, 0.6),
            Self::ArmJoint => metal(0.30, 0.33, 0.38, 0.5, 0.4),
            Self::Restraint => metal(0.62, 0.60, 0.55, 0.5, 0.4),
            Self::RiderSuit => matt(0.92, 0.90, 0.86, 0.9),
            Self::SecondSuit => matt(0.62, 0.74, 0.86, 0.9),
            Self::Visor => metal(0.55, 0.40, 0.12, 0.18, 0.8),
            Self::Pack => matt(0.70, 0.69, 0.66, 0.85),
            Self::Tool => metal(0.35, 0.62, 0.52, 0.4, 0.4),
            Self::Payload => matt(0.66, 0.45, 0.31, 0.7),
        }
    }
}

/// A key and what it does, for the list of keys; the systems read the same table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Key {
    pub code: KeyCode,
    pub with_control: bool,
    pub with_shift: bool,
    pub shown: &'static str,
    pub does: &'static str,
    pub action: Action,
}

/// What a key or a button asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Action {
    PlayOrPause,
    Back,
    Forward,
    SpanBefore,
    SpanAfter,
    Slower,
    Faster,
    FindingBefore,
    FindingAfter,
    Tightest,
    Orbit,
    Visor,
    Worksite,
    PlanCamera,
    Frame,
    BodyBefore,
    BodyAfter,
    NoBody,
    Scale,
    Lines,
    Ghosts,
    Paths,
    Mend,
    Propose,
    OfferBefore,
    OfferAfter,
    Take,
    Leave,
    Undo,
    Redo,
    Save,
    Picture,
    LargerText,
    SmallerText,
    Keys,
}

const fn key(code: KeyCode, shown: &'static str, does: &'static str, action: Action) -> Key {
    Key { code, with_control: false, with_shift: false, shown, does, action }
}

const fn control(code: KeyCode, shown: &'static str, does: &'static str, action: Action) -> Key {
    Key { with_control: true, ..key(code, shown, does, action) }
}

const fn shift(code: KeyCode, shown: &'static str, does: &'static str, action: Action) -> Key {
    Key { with_shift: true, ..key(code, shown, does, action) }
}

/// Every key.
pub const KEYS: [Key; 35] = [
    key(KeyCode::Space, "Space", "play, pause", Action::PlayOrPause),
    key(KeyCode::ArrowLeft, "←", "a little back", Action::Back),
    key(KeyCode::ArrowRight, "→", "a little forward", Action::Forward),
    shift(KeyCode::ArrowLeft, "Shift ←", "to the motion or posture before", Action::SpanBefore),
    shift(KeyCode::ArrowRight, "Shift →", "to the motion or posture after", Action::SpanAfter),
    key(KeyCode::Minus, "−", "play more slowly", Action::Slower),
    key(KeyCode::Equal, "+", "play faster", Action::Faster),
    key(KeyCode::KeyP, "P", "to the finding before", Action::FindingBefore),
    key(KeyCode::KeyN, "N", "to the finding after", Action::FindingAfter),
    key(KeyCode::KeyT, "T", "to the tightest place", Action::Tightest),
    key(KeyCode::Digit1, "1", "camera: orbit", Action::Orbit),
    key(KeyCode::Digit2, "2", "camera: through the visor, rider or second crew", Action::Visor),
    key(KeyCode::Digit3, "3", "camera: from the next worksite", Action::Worksite),
    key(KeyCode::Digit4, "4", "camera: from the plan's next camera", Action::PlanCamera),
    key(KeyCode::KeyF, "F", "orbit about the picked body, the tip that is changed, or the finding", Action::Frame),
    key(KeyCode::KeyB, "B", "pick the next body; a click picks the one that is under it", Action::BodyAfter),
    shift(KeyCode::KeyB, "Shift B", "pick the body before", Action::BodyBefore),
    key(KeyCode::Escape, "Esc", "close the list of keys, pick no body", Action::NoBody),
    key(KeyCode::KeyM, "M", "scale in metres on, off", Action::Scale),
    key(KeyCode::KeyL, "L", "closest points on, off", Action::Lines),
    key(KeyCode::KeyG, "G", "ghosts of start and end on, off", Action::Ghosts),
    key(KeyCode::KeyH, "H", "paths of tip and payload on, off", Action::Paths),
    key(KeyCode::KeyK, "K", "look for what mends the chosen violation, or the worst one", Action::Mend),
    key(KeyCode::KeyO, "O", "look for a proposal for the worksite or transit that is shown", Action::Propose),
    key(KeyCode::ArrowUp, "↑", "what was found: the one before", Action::OfferBefore),
    key(KeyCode::ArrowDown, "↓", "what was found: the one after", Action::OfferAfter),
    key(KeyCode::Enter, "Enter", "take what was found", Action::Take),
    key(KeyCode::Delete, "Del", "stop looking, or leave what was found", Action::Leave),
    control(KeyCode::KeyZ, "Ctrl Z", "undo", Action::Undo),
    control(KeyCode::KeyY, "Ctrl Y", "redo", Action::Redo),
    control(KeyCode::KeyS, "Ctrl S", "save", Action::Save),
    key(KeyCode::F12, "F12", "save a picture", Action::Picture),
    control(KeyCode::Equal, "Ctrl +", "larger text", Action::LargerText),
    control(KeyCode::Minus, "Ctrl −", "smaller text", Action::SmallerText),
    key(KeyCode::F1, "F1", "this list", Action::Keys),
];
