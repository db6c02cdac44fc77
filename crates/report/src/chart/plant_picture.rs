//! A simple picture of a plant: vessels side by side as full as they are, the hopper above, what flows between.

use super::Size;
use super::canvas::Canvas;

/// A vessel in the picture of a plant.
#[derive(Debug, Clone)]
pub struct VesselMark {
    /// What people call it.
    pub name: String,
    /// Share that is filled.
    pub level: f64,
    /// Share that is salt lying undissolved.
    pub solids: f64,
    /// A line below its name.
    pub says: String,
}

/// What the picture shows.
#[derive(Debug, Clone)]
pub struct PlantPicture<'a> {
    /// Prefix of element ids, unique on the page.
    pub id: &'a str,
    /// Title of the picture, for screen readers.
    pub title: &'a str,
    /// What it says.
    pub says: &'a str,
    /// Vessels from left to right.
    pub vessels: &'a [VesselMark],
    /// Place of the vessel under the hopper, the hopper's text, and whether its feeder turns.
    pub hopper: (usize, &'a str, bool),
    /// The water's text, and whether it is on.
    pub water: (&'a str, bool),
    /// The outlet's text, and whether it is open.
    pub outlet: (&'a str, bool),
    /// The pump that goes round in the first vessel, and whether it runs.
    pub round: Option<(&'a str, bool)>,
}

const TOP: f64 = 96.0;
const BOTTOM: f64 = 252.0;

/// Draws the plant.
pub fn plant_picture(picture: &PlantPicture<'_>, size: Size) -> String {
    let (width, height) = (size.width(), 330.0);
    let id = format!("{}-{}", picture.id, size.suffix());
    let mut canvas = Canvas::new(size, width, height, &id, picture.title, picture.says);
    canvas.patterns(&id);
    let count = picture.vessels.len().max(1) as f64;
    let gap = if size == Size::Phone { 14.0 } else { 60.0 };
    let each = ((width - 20.0 - gap * (count - 1.0)) / count).min(260.0);
    let left = |place: usize| 10.0 + place as f64 * (each + gap);
    let turning = |on: bool| if on { "c-have" } else { "c-axis" };
    for (place, vessel) in picture.vessels.iter().enumerate() {
        let x = left(place);
        let tall = BOTTOM - TOP;
        let filled = tall * vessel.level.clamp(0.0, 1.0);
        canvas.rect("c-fill", x, BOTTOM - filled, each, filled);
        let solids = (tall * vessel.solids.clamp(0.0, 1.0)).min(filled);
        if 1.0 < solids {
            let corners =
                [(x, BOTTOM - solids), (x + each, BOTTOM - solids), (x + each, BOTTOM), (x, BOTTOM)];
            canvas.path("c-ice", &corners, true, Some(&format!("{id}-ice")));
        }
        canvas.rect("c-shell", x, TOP, each, tall);
        canvas.text("c-mark-label", x, BOTTOM + 20.0, &vessel.name);
        canvas.text("c-tick", x, BOTTOM + 38.0, &vessel.says);
        if 0 < place {
            let from = left(place - 1) + each;
            canvas.line("c-have", (from, TOP + 24.0), (x, TOP + 24.0));
        }
    }
    let (under, hopper, feeds) = picture.hopper;
    let x = left(under) + each * 0.55;
    canvas.path("c-shell", &[(x, 34.0), (x + 64.0, 34.0), (x + 42.0, 70.0), (x + 22.0, 70.0)], true, None);
    canvas.text("c-tick", x - 4.0, 26.0, hopper);
    canvas.line(turning(feeds), (x + 32.0, 70.0), (x + 32.0, TOP + 10.0));
    let (water, on) = picture.water;
    canvas.text("c-tick", 10.0, 60.0, water);
    canvas.line(turning(on), (22.0, 66.0), (22.0, TOP + 10.0));
    if let Some((round, runs)) = picture.round {
        let (x, mid) = (left(0), BOTTOM - 34.0);
        let loop_of = [(x, mid), (x + 26.0, mid), (x + 26.0, TOP + 60.0), (x, TOP + 60.0)];
        canvas.path(turning(runs), &loop_of, false, None);
        canvas.text("c-tick", x + 32.0, mid + 4.0, round);
    }
    let (outlet, open) = picture.outlet;
    let last = left(picture.vessels.len().saturating_sub(1)) + each;
    canvas.line(turning(open), (last - 30.0, BOTTOM), (last - 30.0, BOTTOM + 50.0));
    canvas.text("c-tick c-end", last, BOTTOM + 66.0, outlet);
    canvas.finish()
}
