//! Tanks in a row, as several pages show them.

use chemistry::recipe;
use planner::TankStock;
use quantity::{ThermodynamicTemperature, in_cubic_metres};
use report::chart::{TankSection, Vessel, tank_section, vessel};
use yard::stock::Books;

use super::charts::{ChartPair, blend_map, strengths};
use super::parts::entry_id;
use crate::page_frame::Visitor;
use crate::tank_words::{state_word, texture};

/// A tank as pages show it.
pub(crate) struct TankView {
    /// Freeze map of a mix.
    pub(crate) blend_map: Option<ChartPair>,
    pub(crate) id: String,
    pub(crate) product: String,
    pub(crate) volume: String,
    /// Half of the interval of each; empty where there is none to say.
    pub(crate) volume_within: String,
    pub(crate) strength_within: String,
    pub(crate) beside: String,
    pub(crate) strength: String,
    /// How its book stands apart from this, and whether one act may set it.
    pub(crate) book_apart: Option<String>,
    pub(crate) may_set: bool,
    /// Identity of the entry that sets it.
    pub(crate) set_id: String,
    pub(crate) state: String,
    /// For a tank whose content is not predicted: what a jar has shown.
    pub(crate) jar_test: Option<String>,
    pub(crate) needs_act: bool,
    /// The tank drawn on one scale with the others, and its state in two words.
    pub(crate) vessel: String,
    pub(crate) word: &'static str,
    /// Its strength, where it has one to say; else empty.
    pub(crate) pct: String,
    pub(crate) section: String,
    /// Its strength by the book and by its last sample.
    pub(crate) strengths: Option<ChartPair>,
    pub(crate) usable: String,
    pub(crate) room: String,
    pub(crate) dip: String,
    pub(crate) reading: String,
    pub(crate) lots: Vec<String>,
    /// Address of the page that corrects it; none unless it holds the plant's own brine.
    pub(crate) right_url: Option<String>,
    /// Address of the form for a jar test; none unless it holds a mix.
    pub(crate) jar_url: Option<String>,
}

/// Views of all tanks, in the order of the yard file.
pub(crate) fn tanks(
    visitor: &Visitor,
    stock: &[TankStock],
    books: &Books,
    coldest: Option<ThermodynamicTemperature>,
) -> Vec<TankView> {
    let full = |tank: &TankStock| {
        visitor.app.yard.tank(&tank.tank).map_or(0.0, |tank| in_cubic_metres(tank.shape.full_volume()))
    };
    let largest = stock.iter().map(full).fold(1e-9, f64::max);
    let view = |(place, tank)| tank_view(visitor, (place, tank), books, coldest, full(tank) / largest);
    stock.iter().enumerate().map(view).collect()
}

fn tank_view(
    visitor: &Visitor,
    (place, stock): (usize, &TankStock),
    books: &Books,
    coldest: Option<ThermodynamicTemperature>,
    size: f64,
) -> TankView {
    let (d, w, teller) = (&visitor.display, &visitor.words, visitor.teller());
    let site = visitor.app.yard.tank(&stock.tank);
    let book = books.tank(&stock.tank);
    let product = visitor.app.yard.product(&stock.product);
    let full = site.map_or(1.0, |tank| in_cubic_metres(tank.shape.full_volume()));
    let share = |volume| in_cubic_metres(volume) / full;
    let none = match (stock.unlike.is_empty(), stock.is_brine) {
        (false, _) => "tanks.not-predicted",
        (true, true) => "tanks.no-brine",
        (true, false) => "tanks.no-strength",
    };
    let strength = match (stock.strength, stock.mix) {
        (Some(strength), _) => d.strength(strength),
        (None, Some(mix)) => {
            let salts = ::entry::blending::salts(&mix).into_iter();
            let each: Vec<String> =
                salts.map(|(formula, part)| format!("{} {formula}", d.strength(part))).collect();
            each.join(" + ")
        }
        (None, None) => w.say(none).to_string(),
    };
    let (filled, room) = (d.volume(stock.volume), d.volume(stock.room));
    let has_room = in_cubic_metres(stock.room) > 0.0;
    let texture = texture(&visitor.app.yard, stock);
    let needs_act = teller.tank_needs_act(stock, coldest);
    let working = site.map_or(1.0, |tank| share(tank.working_capacity()));
    let limit = site.map_or_else(String::new, |tank| {
        w.fill("section.full", &[("volume", &d.volume(tank.working_capacity()))])
    });
    let heel = site
        .filter(|tank| in_cubic_metres(tank.heel) > 0.0)
        .map_or_else(String::new, |tank| w.fill("section.heel", &[("volume", &d.volume(tank.heel))]));
    let pct = stock.strength.map_or_else(String::new, |strength| d.strength(strength));
    let section = tank_section(&TankSection {
        id: &format!("section-{place}"),
        title: &w.fill("tanks.level", &[("tank", &stock.tank)]),
        says: &w.fill(
            "tanks.level-says",
            &[("volume", &d.volume(stock.volume)), ("room", &d.volume(stock.room))],
        ),
        filled: (share(stock.volume), &filled),
        heel: (site.map_or(0.0, |tank| share(tank.heel)), &heel),
        working: (working, &limit),
        room: &if has_room { w.fill("section.room", &[("volume", &room)]) } else { String::new() },
        strength: &pct,
        texture,
        needs_act,
    });
    let dip = book.and_then(|b| b.dip).map_or_else(
        || w.say("tanks.never").to_string(),
        |dip| {
            let values = [
                ("volume", d.volume(dip.volume)),
                ("book", d.volume(dip.book_volume)),
                ("at", d.time(dip.at)),
            ];
            w.fill_with("tanks.dip-line", &values)
        },
    );
    let reading = book.and_then(|b| b.reading).map_or_else(
        || w.say("tanks.never").to_string(),
        |reading| {
            w.fill(
                "tanks.reading-line",
                &[("strength", &d.strength(reading.strength)), ("at", &d.time(reading.at))],
            )
        },
    );
    let blend_map = stock.mix.map(|brine| {
        let dipped = book.and_then(|b| b.dip).and_then(|dip| dip.temperature);
        let at = dipped.unwrap_or_else(recipe::reference_temperature);
        blend_map(visitor, (&format!("mix-{place}"), &stock.tank), &brine, at, None)
    });
    TankView {
        blend_map,
        id: stock.tank.clone(),
        product: product.map_or_else(String::new, |p| p.name.clone()),
        volume: d.volume(stock.volume),
        volume_within: if stock.is_counted { d.volume(stock.volume_within) } else { String::new() },
        strength_within: stock
            .strength_within
            .filter(|_| stock.is_counted && stock.doubted.is_none())
            .map_or_else(String::new, |within| d.strength(within)),
        book_apart: stock
            .book_apart
            .filter(|_| stock.doubted.is_none())
            .map(|apart| teller.book_apart(&apart)),
        set_id: entry_id(),
        may_set: stock.doubted.is_none()
            && books.set_to_estimate(&visitor.app.yard, &stock.tank, "").is_some(),
        beside: d.volume_beside(stock.volume),
        strength,
        state: teller.tank_state(stock, coldest),
        jar_test: (!stock.unlike.is_empty())
            .then(|| teller.jar_evidence(book.and_then(|book| book.jar_test.as_ref()))),
        needs_act,
        vessel: vessel(&Vessel { size, filled: share(stock.volume), working, texture }),
        pct,
        strengths: book.and_then(|book| strengths(visitor, &format!("strengths-{place}"), stock, book)),
        word: w.say(state_word(&visitor.app.yard, stock, books)),
        section,
        usable: d.volume(stock.usable),
        room: d.volume(stock.room),
        dip,
        reading,
        lots: book.map_or_else(Vec::new, |book| lots(visitor, book)),
        jar_url: (!stock.unlike.is_empty()).then(|| {
            visitor.app.url(&format!("/jar-test?tank={}", crate::encoded::form_encoded(&stock.tank)))
        }),
        right_url: stock.is_brine.then(|| {
            visitor.app.url(&format!("/put-right?tank={}", crate::encoded::form_encoded(&stock.tank)))
        }),
    }
}

fn lots(visitor: &Visitor, book: &yard::stock::TankBook) -> Vec<String> {
    let whole = quantity::in_kilograms(book.content.mass);
    book.lots
        .iter()
        .rev()
        .filter(|lot| quantity::in_kilograms(lot.mass) > 0.005 * whole)
        .map(|lot| {
            let share = 100.0 * quantity::in_kilograms(lot.mass) / whole;
            let key = if lot.event.is_some() { "tanks.lot" } else { "tanks.lot-older" };
            let (share, at) = (report::display::number(share, 0), visitor.display.time(lot.at));
            visitor.words.fill(key, &[("share", &share), ("at", &at)])
        })
        .collect()
}
