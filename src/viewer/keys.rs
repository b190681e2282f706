//! Which key asks for what? See [`KEYS`].

use bevy::input::keyboard::KeyboardInput;
use bevy::prelude::*;
use bevy_egui::input::EguiWantsInput;

use super::leaving::Leaving;
use super::session::{Ask, SessionSystems};
use super::theme::{Action, KEYS, Key};

/// Turns keys into asks.
pub struct KeysPlugin;

impl Plugin for KeysPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Leaving>().add_systems(Update, ask.before(SessionSystems));
    }
}

/// Reads the keys in their order, since in a slow frame several are pressed and let go again.
fn ask(
    mut events: MessageReader<KeyboardInput>,
    keys: Res<ButtonInput<KeyCode>>,
    (panels, leaving): (Res<EguiWantsInput>, Res<Leaving>),
    mut held: Local<Vec<KeyCode>>,
    mut waiting: Local<Vec<Ask>>,
    mut asks: MessageWriter<Ask>,
) {
    asks.write_batch(waiting.drain(..));
    for event in events.read() {
        if !event.state.is_pressed() {
            held.retain(|code| *code != event.key_code);
        } else if !event.repeat {
            let actions = asked_by(event.key_code, &held).map(|key| key.action);
            if !panels.wants_any_keyboard_input() {
                // What becomes of the edits is asked first; a picture of the question may be taken.
                let is_heard = |action: &Action| *leaving != Leaving::Asks || *action == Action::Picture;
                asks.write_batch(actions.filter(is_heard).map(Ask::Do));
            } else {
                let (now, later) = while_typing(actions);
                asks.write_batch(now);
                waiting.extend(later);
            }
            held.push(event.key_code);
        }
    }
    // What is let go while another window has the focus is not told.
    held.retain(|code| keys.pressed(*code));
}

/// What keys ask for that are no part of what is typed: now, and in the next frame. What is saved holds what was typed, which
/// the panels take meanwhile.
fn while_typing(actions: impl Iterator<Item = Action>) -> (Vec<Ask>, Vec<Ask>) {
    let (mut now, mut later) = (Vec::new(), Vec::new());
    for action in actions {
        match action {
            Action::Save => {
                now.push(Ask::EndTyping);
                later.push(Ask::Do(action));
            }
            Action::Picture | Action::Keys | Action::LargerText | Action::SmallerText => now.push(Ask::Do(action)),
            _ => {}
        }
    }
    (now, later)
}

/// What a key asks for while others are held.
fn asked_by(code: KeyCode, held: &[KeyCode]) -> impl Iterator<Item = Key> {
    let any_held = |codes: &[KeyCode]| codes.iter().any(|code| held.contains(code));
    let control = any_held(&[KeyCode::ControlLeft, KeyCode::ControlRight, KeyCode::SuperLeft]);
    let shift = any_held(&[KeyCode::ShiftLeft, KeyCode::ShiftRight]);
    KEYS.into_iter().filter(move |key| {
        // Shift is part of how some keyboards write a plus, so it only counts where a key asks for it.
        let shift_fits = !key.with_shift && (!shift || !has_shifted_twin(key.code)) || key.with_shift && shift;
        key.code == code && key.with_control == control && shift_fits
    })
}

fn has_shifted_twin(code: KeyCode) -> bool {
    KEYS.iter().any(|key| key.code == code && key.with_shift)
}

#[cfg(test)]
mod tests {
    use bevy::input::keyboard::{Key as Logical, NativeKey};
    use bevy::input::{ButtonState, InputPlugin};

    use super::*;

    fn app() -> App {
        let mut app = App::new();
        app.add_plugins((MinimalPlugins, InputPlugin, KeysPlugin))
            .add_message::<Ask>()
            .init_resource::<EguiWantsInput>();
        app
    }

    fn event(app: &mut App, key_code: KeyCode, state: ButtonState) {
        let logical_key = Logical::Unidentified(NativeKey::Unidentified);
        let window = Entity::PLACEHOLDER;
        app.world_mut().write_message(KeyboardInput {
            key_code,
            logical_key,
            state,
            text: None,
            repeat: false,
            window,
        });
    }

    /// Lets a frame pass; what is asked for in it.
    fn frame(app: &mut App) -> Vec<Action> {
        app.world_mut().resource_mut::<Messages<Ask>>().clear();
        app.update();
        let asks = app.world_mut().resource_mut::<Messages<Ask>>().drain().collect::<Vec<_>>();
        asks.into_iter().filter_map(|ask| if let Ask::Do(action) = ask { Some(action) } else { None }).collect()
    }

    /// What is asked for when these keys are pressed together, each in a frame of its own or all in one.
    fn asked(pressed: &[KeyCode]) -> Vec<Action> {
        let (mut slow, mut quick) = (app(), app());
        let mut apart = Vec::new();
        for key in pressed {
            event(&mut quick, *key, ButtonState::Pressed);
            apart.extend(frame(&mut quick));
            event(&mut slow, *key, ButtonState::Pressed);
        }
        pressed.iter().for_each(|key| event(&mut slow, *key, ButtonState::Released));
        assert_eq!(frame(&mut slow), apart);
        apart
    }

    #[test]
    fn keys_that_follow_one_another_within_a_slow_frame_count_each_with_what_is_held_then() {
        let mut app = app();
        for (key, state) in [
            (KeyCode::ControlLeft, ButtonState::Pressed),
            (KeyCode::KeyZ, ButtonState::Pressed),
            (KeyCode::KeyZ, ButtonState::Released),
            (KeyCode::ControlLeft, ButtonState::Released),
            (KeyCode::F12, ButtonState::Pressed),
        ] {
            event(&mut app, key, state);
        }
        assert_eq!(frame(&mut app), [Action::Undo, Action::Picture]);
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
    fn while_it_is_asked_whether_to_close_keys_ask_for_nothing_but_a_picture() {
        let mut app = app();
        app.insert_resource(Leaving::Asks);
        for key in KEYS.iter().filter(|key| !key.with_control && !key.with_shift) {
            event(&mut app, key.code, ButtonState::Pressed);
            event(&mut app, key.code, ButtonState::Released);
        }
        assert_eq!(frame(&mut app), [Action::Picture]);
    }

    #[test]
    fn who_types_may_save_what_is_typed_and_take_a_picture_and_all_other_keys_are_letters() {
        let asked = |codes: &[KeyCode], code| while_typing(asked_by(code, codes).map(|key| key.action));
        let control = [KeyCode::ControlLeft];
        assert_eq!(asked(&[], KeyCode::F12), (vec![Ask::Do(Action::Picture)], vec![]));
        assert_eq!(asked(&control, KeyCode::KeyS), (vec![Ask::EndTyping], vec![Ask::Do(Action::Save)]));
        for key in KEYS.iter().filter(|key| !key.with_control && !matches!(key.code, KeyCode::F1 | KeyCode::F12)) {
            let held = if key.with_shift { &[KeyCode::ShiftLeft][..] } else { &[] };
            assert_eq!(asked(held, key.code), (vec![], vec![]), "{}", key.shown);
        }
        assert_eq!(asked(&control, KeyCode::KeyZ), (vec![], vec![]), "that is the box's own");
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
