//! What is typed into the panels?
//!
//! Keys are taken in their order, each with what is held then: in a slow frame Ctrl A is pressed and let go again, and what
//! is held when the frame begins would make it an "a".

use bevy::input::keyboard::{Key, KeyboardFocusLost, KeyboardInput};
use bevy::prelude::*;
use bevy_egui::helpers::{bevy_to_egui_key, bevy_to_egui_physical_key};
use bevy_egui::input::EguiInputEvent;
use bevy_egui::{EguiContextSettings, EguiInputSet, PrimaryEguiContext, egui};

/// Hands keys to the panels.
pub struct TypingPlugin;

impl Plugin for TypingPlugin {
    fn build(&self, app: &mut App) {
        app.add_systems(PreUpdate, hand_over.in_set(EguiInputSet::ReadBevyMessages));
    }
}

/// Settings of panels that get their keys from here alone.
pub fn settings() -> EguiContextSettings {
    let mut settings = EguiContextSettings::default();
    settings.input_system_settings.run_write_keyboard_input_messages_system = false;
    settings
}

fn hand_over(
    mut keys: MessageReader<KeyboardInput>,
    mut focus_lost: MessageReader<KeyboardFocusLost>,
    context: Single<Entity, With<PrimaryEguiContext>>,
    mut held: Local<egui::Modifiers>,
    mut events: MessageWriter<EguiInputEvent>,
) {
    // What is let go while another window has the focus is not told.
    if focus_lost.read().count() > 0 {
        *held = egui::Modifiers::NONE;
    }
    for key in keys.read() {
        events.write_batch(typed(key, &mut held).into_iter().map(|event| EguiInputEvent { context: *context, event }));
    }
}

/// What a key is for the panels: what it writes, if anything, and the key itself.
fn typed(key: &KeyboardInput, held: &mut egui::Modifiers) -> Vec<egui::Event> {
    let pressed = key.state.is_pressed();
    match key.logical_key {
        Key::Shift => held.shift = pressed,
        Key::Control => held.ctrl = pressed,
        Key::Alt => held.alt = pressed,
        Key::Super | Key::Meta => held.mac_cmd = pressed,
        _ => {}
    }
    held.command = if cfg!(target_os = "macos") { held.mac_cmd } else { held.ctrl };
    // Ctrl and Alt together are how some keyboards reach more letters.
    let writes = pressed && !held.mac_cmd && (!held.ctrl || held.alt);
    let text = match &key.logical_key {
        Key::Character(letters) if !letters.contains(char::is_control) => Some(letters.to_string()),
        Key::Space => Some(" ".to_owned()),
        _ => None,
    };
    let physical_key = bevy_to_egui_physical_key(&key.key_code);
    let itself = bevy_to_egui_key(&key.logical_key).or(physical_key);
    let itself = itself.map(|key| egui::Event::Key { key, physical_key, pressed, repeat: false, modifiers: *held });
    text.filter(|_| writes).map(egui::Event::Text).into_iter().chain(itself).collect()
}

#[cfg(test)]
mod tests {
    use bevy::input::ButtonState;

    use super::*;

    fn key(logical_key: Key, key_code: KeyCode, state: ButtonState) -> KeyboardInput {
        KeyboardInput { key_code, logical_key, state, text: None, repeat: false, window: Entity::PLACEHOLDER }
    }

    #[test]
    fn a_letter_counts_with_what_is_held_when_it_is_pressed_not_later() {
        use ButtonState::{Pressed, Released};
        let mut held = egui::Modifiers::NONE;
        let control = |state| key(Key::Control, KeyCode::ControlLeft, state);
        let a = |state| key(Key::Character("a".into()), KeyCode::KeyA, state);
        let mut told = Vec::new();
        for key in [control(Pressed), a(Pressed), a(Released), control(Released), a(Pressed)] {
            told.extend(typed(&key, &mut held));
        }
        let texts = told.iter().filter(|event| matches!(event, egui::Event::Text(_))).count();
        assert_eq!(texts, 1, "only the last is written: {told:?}");
        let with_control = |event: &egui::Event| match event {
            egui::Event::Key { key: egui::Key::A, pressed: true, modifiers, .. } => Some(modifiers.command),
            _ => None,
        };
        assert_eq!(told.iter().filter_map(with_control).collect::<Vec<_>>(), [true, false]);
    }
}
