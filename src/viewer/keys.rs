//! Which key asks for what? See [`KEYS`].

use bevy::prelude::*;
use bevy_egui::input::egui_wants_any_keyboard_input;

use super::session::{Ask, SessionSystems};
use super::theme::KEYS;

/// Turns keys into asks.
pub struct KeysPlugin;

impl Plugin for KeysPlugin {
    fn build(&self, app: &mut App) {
        app.add_systems(Update, ask.run_if(not(egui_wants_any_keyboard_input)).before(SessionSystems));
    }
}

fn ask(keys: Res<ButtonInput<KeyCode>>, mut asks: MessageWriter<Ask>) {
    // In a slow frame a key may be pressed and let go, and the one that was held with it, too.
    let held = |codes: &[KeyCode]| codes.iter().any(|code| keys.pressed(*code) || keys.just_released(*code));
    let control = held(&[KeyCode::ControlLeft, KeyCode::ControlRight, KeyCode::SuperLeft]);
    let shift = held(&[KeyCode::ShiftLeft, KeyCode::ShiftRight]);
    for key in KEYS {
        // Shift is part of how some keyboards write a plus, so it only counts where a key asks for it.
        let shift_fits = !key.with_shift && (!shift || !has_shifted_twin(key.code)) || key.with_shift && shift;
        if keys.just_pressed(key.code) && key.with_control == control && shift_fits {
            asks.write(Ask::Do(key.action));
        }
    }
}

fn has_shifted_twin(code: KeyCode) -> bool {
    KEYS.iter().any(|key| key.code == code && key.with_shift)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::viewer::theme::Action;

    /// What is asked for when these keys are pressed together, and held or let go within the same frame.
    fn asked(pressed: &[KeyCode]) -> Vec<Action> {
        let [held, let_go] = [false, true].map(|lets_go| asked_where(pressed, lets_go));
        assert_eq!(held, let_go);
        held
    }

    fn asked_where(pressed: &[KeyCode], lets_go: bool) -> Vec<Action> {
        let mut app = App::new();
        app.add_plugins(MinimalPlugins)
            .add_message::<Ask>()
            .init_resource::<ButtonInput<KeyCode>>()
            .init_resource::<bevy_egui::input::EguiWantsInput>()
            .add_plugins(KeysPlugin);
        let mut keys = app.world_mut().resource_mut::<ButtonInput<KeyCode>>();
        pressed.iter().for_each(|key| keys.press(*key));
        if lets_go {
            pressed.iter().for_each(|key| keys.release(*key));
        }
        app.update();
        let asks = app.world().resource::<Messages<Ask>>();
        let mut cursor = asks.get_cursor();
        cursor
            .read(asks)
            .filter_map(|ask| match ask {
                Ask::Do(action) => Some(*action),
                _ => None,
            })
            .collect()
    }

    #[test]
    fn keys_ask_for_what_the_list_says_and_for_nothing_else() {
        assert_eq!(asked(&[KeyCode::Space]), [Action::PlayOrPause]);
        assert_eq!(asked(&[KeyCode::ArrowLeft]), [Action::Back]);
        assert_eq!(asked(&[KeyCode::ShiftLeft, KeyCode::ArrowLeft]), [Action::SpanBefore]);
        assert_eq!(asked(&[KeyCode::ControlLeft, KeyCode::KeyZ]), [Action::Undo]);
        assert_eq!(asked(&[KeyCode::ShiftLeft, KeyCode::Equal]), [Action::Faster]);
        assert_eq!(asked(&[KeyCode::ControlLeft, KeyCode::Equal]), [Action::LargerText]);
        assert_eq!(asked(&[KeyCode::KeyX]), []);
    }

    #[test]
    fn no_two_entries_of_the_list_ask_with_the_same_keys() {
        for (k, a) in KEYS.iter().enumerate() {
            assert!(
                KEYS[..k]
                    .iter()
                    .all(|b| (a.code, a.with_control, a.with_shift) != (b.code, b.with_control, b.with_shift))
            );
        }
    }
}
