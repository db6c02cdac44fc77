//! One tank's level: how full, how much may be drawn, how much may still go in.

use super::Size;
use super::canvas::Canvas;

/// A level, as shares of the full volume, 0 to 1.
#[derive(Debug, Clone)]
pub struct TankLevel<'a> {
    /// Prefix of element ids, unique on the page.
    pub id: &'a str,
    /// Name of the tank.
    pub title: &'a str,
    /// What the level says.
    pub says: &'a str,
    /// Content, as a share of the full tank, 0…1.
    pub filled: f64,
    /// Heel, which cannot be drawn, as a share of the full tank.
    pub heel: f64,
    /// Highest working level, as a share of the full tank.
    pub working: f64,
}

/// Draws a level, lying, so that it fits a phone's row.
pub fn tank_level(level: &TankLevel<'_>) -> String {
    let (width, height) = (300.0, 30.0);
    let mut canvas =
        Canvas::new(Size::Wide, width, height, level.id, level.title, level.says).with_class("level");
    canvas.patterns(level.id);
    let at = |share: f64| 1.0 + share.clamp(0.0, 1.0) * (width - 2.0);
    canvas.rect("c-shell", at(0.0), 3.0, at(1.0) - at(0.0), height - 6.0);
    canvas.rect("c-fill", at(0.0), 3.0, at(level.filled) - at(0.0), height - 6.0);
    let heel = level.heel.min(level.filled);
    let corners = [(at(0.0), 3.0), (at(heel), 3.0), (at(heel), height - 3.0), (at(0.0), height - 3.0)];
    canvas.path("c-ice", &corners, true, Some(&format!("{}-ice", level.id)));
    canvas.line("c-limit", (at(level.working), 0.0), (at(level.working), height));
    canvas.finish()
}
