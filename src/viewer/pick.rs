//! Which body is looked at?
//!
//! A click without a drag picks the body under the pointer, keys go through them one after the other; what is picked
//! stays so, by its name, whatever moment is shown. Where it is and what is nearest to it is the engine's.

use bevy::light::{NotShadowCaster, NotShadowReceiver};
use bevy::prelude::*;
use bevy_egui::egui;

use crate::check::{Neighbour, Unit};
use crate::mechanism::{Body, LinkId};
use crate::report::number::{self, Rounding};
use crate::space::Point;

use super::bodies::{BodiesSystems, Shown};
use super::cameras::CamerasSystems;
use super::handle::Handle as TipHandle;
use super::panels::Panels;
use super::place::SceneOrigin;
use super::pointer::Pointer;
use super::session::{Ask, Session};
use super::solid;
use super::theme::{self, Action};

/// A pointer that goes farther than this between press and release drags, logical pixels.
const STILL: f32 = 4.0;

/// The body that is looked at.
#[derive(Resource, Clone, Debug, Default, PartialEq)]
pub struct Picked {
    pub name: Option<String>,
    /// What is nearest to it at the moment.
    pub neighbour: Option<Neighbour>,
}

impl Picked {
    /// The body, if it is there at the moment.
    fn body<'a>(&self, session: &'a Session, shown: &'a Shown) -> Option<&'a Body> {
        let name = self.name.as_ref()?;
        let (span, _) = shown.present(session)?;
        let mechanism = span.mechanism();
        mechanism.body_named(name).map(|id| mechanism.body(id))
    }

    /// Middle (in the structure's frame) and radius (m) of a ball about the body.
    pub fn ball(&self, session: &Session, shown: &Shown) -> Option<(Point, f64)> {
        let body = self.body(session, shown)?;
        let (_, posed) = shown.present(session)?;
        let balls: Vec<_> = body.parts.iter().map(crate::space::Convex::ball).collect();
        let middle = balls.iter().map(|(middle, _)| middle.coords).sum::<crate::space::Vector>() / balls.len() as f64;
        let radius = balls.iter().map(|(at, radius)| (at.coords - middle).norm() + radius).fold(0.0, f64::max);
        Some((posed.link(body.link) * Point::from(middle), radius))
    }
}

/// What is drawn about the body.
#[derive(Component)]
struct Veil(LinkId);

/// Lets bodies be picked.
pub struct PickPlugin;

impl Plugin for PickPlugin {
    fn build(&self, app: &mut App) {
        // Bodies are drawn after the handle has taken what is its own of the pointer.
        app.init_resource::<Picked>()
            .add_systems(Update, (click, pick, veil).chain().after(BodiesSystems).before(CamerasSystems));
    }
}

/// A press and a release at the same place of the scene.
fn click(
    buttons: Res<ButtonInput<MouseButton>>,
    (pointer, handle): (Pointer, Res<TipHandle>),
    (session, shown): (Res<Session>, Res<Shown>),
    mut pressed: Local<Option<Vec2>>,
    mut asks: MessageWriter<Ask>,
) {
    if buttons.just_pressed(MouseButton::Left) {
        *pressed = pointer.over_scene().filter(|_| !handle.is_wanted());
    }
    if !buttons.just_released(MouseButton::Left) {
        return;
    }
    let still = pressed.take().zip(pointer.at()).filter(|(from, to)| from.distance(*to) <= STILL);
    let Some(ray) = still.and_then(|(at, _)| pointer.sight.ray(at)) else { return };
    let Some((span, posed)) = shown.present(&session) else { return };
    asks.write(match span.seen(posed, &ray.from, &ray.along) {
        Some(body) => Ask::Pick(body.name.clone()),
        None => Ask::Do(Action::NoBody),
    });
}

fn pick(mut asks: MessageReader<Ask>, (session, shown): (Res<Session>, Res<Shown>), mut picked: ResMut<Picked>) {
    let present = shown.present(&session);
    let bodies = present.map_or(&[][..], |(span, _)| span.mechanism().bodies());
    let mut name = picked.name.clone();
    for ask in asks.read() {
        match ask {
            Ask::Pick(wanted) => name = Some(wanted.clone()),
            Ask::Do(Action::NoBody) => name = None,
            Ask::Do(Action::BodyAfter) => name = beside(bodies, name.as_ref(), 1),
            Ask::Do(Action::BodyBefore) => name = beside(bodies, name.as_ref(), -1),
            _ => {}
        }
    }
    let neighbour = name.as_ref().zip(present).and_then(|(name, (span, posed))| span.neighbour(posed, name));
    picked.set_if_neq(Picked { name, neighbour });
}

/// The name of the body so many places on; of the first or last where there is none to go on from.
fn beside(bodies: &[Body], from: Option<&String>, by: isize) -> Option<String> {
    let at = from.and_then(|name| bodies.iter().position(|body| body.name == *name));
    let count = isize::try_from(bodies.len()).ok().filter(|count| *count > 0)?;
    let next = at.map_or(by.min(0), |at| at as isize + by).rem_euclid(count);
    Some(bodies[next as usize].name.clone())
}

/// A veil of the colour of what is chosen lies over the body.
fn veil(
    (picked, session, shown): (Res<Picked>, Res<Session>, Res<Shown>),
    origin: Res<SceneOrigin>,
    (mut meshes, mut materials): (ResMut<Assets<Mesh>>, ResMut<Assets<StandardMaterial>>),
    mut veils: Query<(Entity, &Veil, &mut Transform)>,
    mut of: Local<Option<(String, usize)>>,
    mut commands: Commands,
) {
    let body = picked.body(&session, &shown);
    let wanted = body.zip(shown.span).map(|(body, span)| (body.name.clone(), span));
    if *of != wanted || session.is_changed() {
        veils.iter().for_each(|(entity, ..)| commands.entity(entity).despawn());
        *of = wanted;
        let parts = body.iter().flat_map(|body| &body.parts).map(|part| (part, Transform::IDENTITY));
        if let Some((body, mesh)) = body.zip(solid::mesh(parts)) {
            let material = materials.add(StandardMaterial {
                base_color: theme::scene_colour(theme::CHOSEN).with_alpha(0.45),
                alpha_mode: AlphaMode::Blend,
                unlit: true,
                depth_bias: 100.0,
                ..default()
            });
            let at = shown.posed.as_ref().map(|posed| origin.transform(posed.link(body.link))).unwrap_or_default();
            let drawn = (Mesh3d(meshes.add(mesh)), MeshMaterial3d(material), at);
            commands.spawn((Veil(body.link), drawn, NotShadowCaster, NotShadowReceiver));
        }
        return;
    }
    let Some(posed) = &shown.posed else { return };
    for (_, veil, mut transform) in &mut veils {
        transform.set_if_neq(origin.transform(posed.link(veil.0)));
    }
}

/// What is known of the body, in the panel.
pub fn picked_ui(ui: &mut egui::Ui, panels: &mut Panels) {
    let Some(name) = panels.picked.name.clone() else { return };
    ui.horizontal(|ui| {
        if ui.small_button("×").on_hover_text("pick no body (Esc)").clicked() {
            panels.asks.write(Ask::Do(Action::NoBody));
        }
        if ui.small_button("orbit").on_hover_text("orbit about it (F)").clicked() {
            panels.asks.write(Ask::Do(Action::Frame));
        }
        ui.add(egui::Label::new(egui::RichText::new(&name).strong()).truncate());
    });
    let text = said(&panels.picked, &panels.session, &panels.shown);
    ui.add(egui::Label::new(text).wrap());
    ui.separator();
}

/// Its class, what it hangs on, and what is nearest to it at the moment.
fn said(picked: &Picked, session: &Session, shown: &Shown) -> String {
    let Some((body, (span, _))) = picked.body(session, shown).zip(shown.present(session)) else {
        return "not there at this moment".to_owned();
    };
    let class = body.class.word().replace('_', " ");
    let on = span.carrier(body).map_or("fixed".to_owned(), |joint| format!("hangs on {joint}"));
    let nearest = match &picked.neighbour {
        Some(neighbour) => {
            let distance = number::value(neighbour.distance, Unit::Metre, Rounding::Nearest);
            format!("{distance} from {}, the nearest of another class that moves against it", neighbour.name)
        }
        None => "nothing of another class moves against it".to_owned(),
    };
    format!("{class}, {on}; now {nearest}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::viewer::bodies::BodiesPlugin;
    use crate::viewer::testing::Opened;

    fn opened() -> Opened {
        let mut opened = Opened::starter();
        opened.app.init_resource::<Assets<Mesh>>().init_resource::<Assets<StandardMaterial>>();
        opened.app.add_plugins(BodiesPlugin).init_resource::<Picked>();
        opened.app.add_systems(Update, pick.after(BodiesSystems));
        opened.app.update();
        opened
    }

    fn picked(opened: &Opened) -> Option<&str> {
        opened.get::<Picked>().name.as_deref()
    }

    fn names(opened: &Opened) -> Vec<String> {
        let (span, _) = opened.get::<Shown>().present(opened.session()).expect("something is shown");
        span.mechanism().bodies().iter().map(|body| body.name.clone()).collect()
    }

    #[test]
    fn keys_pick_every_body_once_and_begin_anew_and_escape_lets_it_go() {
        let mut opened = opened();
        let names = names(&opened);
        for name in &names {
            opened.press(Action::BodyAfter);
            assert_eq!(picked(&opened), Some(name.as_str()));
        }
        opened.press(Action::BodyAfter);
        assert_eq!(picked(&opened), Some(names[0].as_str()));
        opened.press(Action::BodyBefore);
        assert_eq!(picked(&opened), names.last().map(String::as_str));
        opened.press(Action::NoBody);
        assert_eq!(*opened.get::<Picked>(), Picked::default());
        opened.press(Action::BodyBefore);
        assert_eq!(picked(&opened), names.last().map(String::as_str), "backwards from nothing is the last");
    }

    #[test]
    fn what_is_picked_stays_so_while_the_clock_goes_on_and_its_neighbour_is_that_of_the_moment() {
        let mut opened = opened();
        let checked = opened.session().checked.clone().expect("it is checked");
        let span = checked.playback.spans.iter().find(|span| span.motion().is_some()).expect("a motion");
        let helmet = span.mechanism().bodies().iter().find(|body| body.name.ends_with("helmet")).expect("a rider");
        opened.ask(Ask::Pick(helmet.name.clone()));
        let mut distances = Vec::new();
        for share in [0.1, 0.5, 0.9] {
            let seconds = share * span.seconds;
            opened.ask(Ask::Jump(span.start + seconds));
            opened.app.update();
            assert_eq!(picked(&opened), Some(helmet.name.as_str()));
            let posed = span.mechanism().pose(&span.joints(opened.get::<Shown>().seconds));
            let neighbour = opened.get::<Picked>().neighbour.clone();
            assert_eq!(neighbour, span.neighbour(&posed, &helmet.name));
            distances.extend(neighbour.map(|neighbour| neighbour.distance));
        }
        assert!(distances.len() == 3 && distances[0] != distances[2], "{distances:?}");
    }

    #[test]
    fn the_panel_says_class_carrier_and_neighbour_and_where_the_body_is_not_there() {
        let mut opened = opened();
        opened.ask(Ask::Pick("nobody".to_owned()));
        let said = |opened: &Opened| said(opened.get::<Picked>(), opened.session(), opened.get::<Shown>());
        assert_eq!(said(&opened), "not there at this moment");
        assert_eq!(opened.get::<Picked>().ball(opened.session(), opened.get::<Shown>()), None);
        opened.ask(Ask::Pick(names(&opened)[0].clone()));
        opened.app.update();
        let text = said(&opened);
        let (span, _) = opened.get::<Shown>().present(opened.session()).expect("something is shown");
        let body = &span.mechanism().bodies()[0];
        assert!(text.starts_with(&body.class.word().replace('_', " ")), "{text}");
        let neighbour = opened.get::<Picked>().neighbour.as_ref();
        let nearest = neighbour.map_or("nothing of another class", |neighbour| neighbour.name.as_str());
        assert!(text.contains(nearest), "{text}");
    }

    #[test]
    fn the_camera_is_given_a_ball_that_holds_the_body() {
        let mut opened = opened();
        for name in names(&opened) {
            opened.ask(Ask::Pick(name.clone()));
            opened.app.update();
            let shown = opened.get::<Shown>();
            let picked = opened.get::<Picked>();
            let (middle, radius) = picked.ball(opened.session(), shown).expect("it is there");
            let body = picked.body(opened.session(), shown).expect("it is there");
            let posed = shown.posed.as_ref().expect("it is posed");
            for (points, grown) in body.parts.iter().map(crate::space::Convex::extent) {
                for point in points {
                    let away = (posed.link(body.link) * point - middle).norm() + grown;
                    assert!(away < radius + 1e-9, "{name}: {away} beyond {radius}");
                }
            }
        }
    }
}
