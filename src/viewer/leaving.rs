//! What is asked before the window closes while there are edits that are not saved?
//!
//! They outlive it anyway, beside the plan; but who closes a window by mistake, or believes that all is saved, is to know.
//! Who asks for it twice is let go.

use bevy::prelude::*;
use bevy::window::WindowCloseRequested;
use bevy_egui::{EguiContexts, EguiPrimaryContextPass, egui};

use crate::files::Draft;

use super::panels::PanelsSystems;
use super::session::{Ask, Session, SessionSystems};
use super::theme::{self, Action};

/// Whether the window is to close.
#[derive(Resource, Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Leaving {
    #[default]
    No,
    /// The user is asked what is to become of the edits.
    Asks,
    /// As soon as all is saved.
    OnceSaved,
}

impl Leaving {
    /// What becomes of it when the window is asked to close; none where it closes.
    fn asked_to_close(self, is_changed: bool) -> Option<Self> {
        (is_changed && self != Self::Asks).then_some(Self::Asks)
    }
}

/// Lets the window close.
pub struct LeavingPlugin;

impl Plugin for LeavingPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Leaving>()
            .add_message::<WindowCloseRequested>()
            .add_systems(Update, leave.after(SessionSystems))
            .add_systems(EguiPrimaryContextPass, ask_ui.after(PanelsSystems));
    }
}

fn leave(
    mut requests: MessageReader<WindowCloseRequested>,
    session: Res<Session>,
    mut leaving: ResMut<Leaving>,
    mut exit: MessageWriter<AppExit>,
) {
    let is_changed = session.draft.is_changed();
    if *leaving == Leaving::OnceSaved {
        *leaving = Leaving::No;
        // What could not be saved is told, and stays.
        if !is_changed {
            exit.write(AppExit::Success);
        }
    }
    for _ in requests.read() {
        match leaving.asked_to_close(is_changed) {
            Some(asks) => *leaving = asks,
            None => {
                exit.write(AppExit::Success);
            }
        }
    }
}

/// Where edits are that are not saved, or that they would be lost.
fn whereabouts(draft: &Draft) -> Result<String, String> {
    let kept = draft.kept_in().ok_or_else(|| draft.warning().unwrap_or_default().to_owned())?;
    let name = kept.file_name().unwrap_or_default().to_string_lossy();
    let folder = match (draft.file(), kept.parent()) {
        (None, Some(folder)) => format!("in {}", folder.display()),
        _ => "beside the plan".to_owned(),
    };
    Ok(format!("Unless you save them, they wait in {name}, {folder}, until it is opened again."))
}

fn ask_ui(
    mut contexts: EguiContexts,
    mut session: ResMut<Session>,
    mut leaving: ResMut<Leaving>,
    mut asks: MessageWriter<Ask>,
    mut exit: MessageWriter<AppExit>,
) -> Result {
    if *leaving != Leaving::Asks {
        return Ok(());
    }
    let context = contexts.ctx_mut()?.clone();
    let whereabouts = whereabouts(&session.draft);
    let pressed = |key| context.input(|input| input.key_pressed(key));
    let keys = [egui::Key::S, egui::Key::K, egui::Key::D, egui::Key::Escape];
    let [mut saves, mut closes, mut drops, mut stays] = keys.map(pressed);
    drops &= whereabouts.is_ok();
    egui::Modal::new("leaving".into()).show(&context, |ui| {
        ui.set_width(400.0);
        ui.strong("There are edits that are not saved.");
        let closing = match &whereabouts {
            Ok(told) => {
                ui.label(told);
                "Close and keep edits for next time (K)"
            }
            Err(why) => {
                ui.label(egui::RichText::new(why).color(theme::mark(&crate::check::Status::Tight).colour));
                "Close and lose them (K)"
            }
        };
        ui.horizontal_wrapped(|ui| {
            saves |= ui.button("Save (S)").clicked();
            closes |= ui.button(closing).clicked();
            if whereabouts.is_ok() {
                drops |= ui.button("Close and drop them (D)").clicked();
            }
            stays |= ui.button("Cancel (Esc)").clicked();
        });
    });
    if saves {
        asks.write(Ask::Do(Action::Save));
        *leaving = Leaving::OnceSaved;
    } else if drops {
        match session.draft.forget() {
            Ok(()) => {
                exit.write(AppExit::Success);
            }
            Err(why) => {
                session.tell(why);
                *leaving = Leaving::No;
            }
        }
    } else if closes {
        exit.write(AppExit::Success);
    } else if stays {
        *leaving = Leaving::No;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::viewer::testing::{Opened, elbow};

    fn opened() -> Opened {
        let mut opened = Opened::starter();
        opened.app.add_plugins(LeavingPlugin);
        opened
    }

    /// Asks the window to close, or lets a frame pass; whether it closes, and what it waits for.
    fn frame(opened: &mut Opened, is_asked: bool) -> (bool, Leaving) {
        if is_asked {
            opened.app.world_mut().write_message(WindowCloseRequested { window: Entity::PLACEHOLDER });
        }
        opened.app.update();
        (opened.app.should_exit().is_some(), *opened.get::<Leaving>())
    }

    #[test]
    fn a_window_without_edits_closes_at_once_and_one_with_edits_when_it_is_asked_twice() {
        let mut opened = opened();
        assert_eq!(frame(&mut opened, false), (false, Leaving::No));
        opened.change(Ask::Edit(elbow(82.5)));
        assert_eq!(frame(&mut opened, true), (false, Leaving::Asks));
        assert_eq!(frame(&mut opened, false), (false, Leaving::Asks), "it waits");
        assert!(frame(&mut opened, true).0);
        assert!(opened.session().draft.kept_in().is_some_and(std::path::Path::exists), "nothing is lost");
        let mut opened = self::opened();
        assert!(frame(&mut opened, true).0);
    }

    #[test]
    fn it_closes_once_all_is_saved_and_stays_where_that_cannot_be() {
        for is_gone in [false, true] {
            let mut opened = opened();
            opened.change(Ask::Edit(elbow(82.5)));
            if is_gone {
                std::fs::remove_dir_all(opened.folder.path()).expect("somebody removes it");
            }
            frame(&mut opened, true);
            opened.app.insert_resource(Leaving::OnceSaved);
            opened.press(Action::Save);
            assert_eq!(opened.session().draft.is_changed(), is_gone);
            assert_eq!((opened.app.should_exit().is_none(), *opened.get::<Leaving>()), (is_gone, Leaving::No));
        }
    }

    #[test]
    fn it_is_told_where_edits_are_kept_and_that_they_are_lost_where_they_are_not() {
        let mut opened = opened();
        opened.change(Ask::Edit(elbow(82.5)));
        let told = whereabouts(&opened.session().draft).expect("they are kept");
        assert!(told.contains(".plan.toml.unsaved, beside the plan"), "{told}");
        std::fs::remove_dir_all(opened.folder.path()).expect("somebody removes it");
        opened.change(Ask::Do(Action::Undo));
        opened.change(Ask::Do(Action::Redo));
        let why = whereabouts(&opened.session().draft).expect_err("there is no place for them");
        assert!(why.contains("unsaved edits cannot be kept"), "{why}");
    }
}
