//! Alarms: what is wrong now, in full on the page *Today*, in one line on every other; each ends with its cause.

use planner::tank_stock;
use report::Teller;

use crate::page_frame::{Place, Visitor};

/// What is wrong now.
pub(crate) struct Alarm {
    /// Of what.
    pub(crate) what: String,
    /// What is wrong with it.
    pub(crate) text: String,
    /// Where it is mended.
    pub(crate) url: String,
}

/// Everything that is wrong now: the ledger first, then the tanks in the yard's own order.
pub(crate) fn alarms(visitor: &Visitor, place: Place) -> Vec<Alarm> {
    let (app, words) = (&visitor.app, visitor.words);
    if matches!(place, Place::Door) {
        return Vec::new();
    }
    let mut found = Vec::new();
    if let Some(damage) = app.damage() {
        let text = words.fill("banner.damaged", &[("what", &visitor.display.tell(&damage))]);
        found.push(Alarm { what: words.say("alarm.ledger").to_owned(), text, url: app.url("/ledger") });
    }
    // A ledger that cannot be read is told by its page.
    let Ok(books) = app.books() else { return found };
    let plan = app.forecast(None).and_then(|forecast| app.plan(&forecast, &books).ok());
    let coldest = app.air_ahead(plan.as_deref()).map(|[low, _]| low);
    let teller: Teller<'_> = visitor.teller();
    for stock in tank_stock(&app.yard, &books).iter().filter(|stock| teller.tank_needs_act(stock, coldest)) {
        let tank = crate::encoded::form_encoded(&stock.tank);
        let url = if stock.is_brine { format!("/put-right?tank={tank}") } else { "/tanks".to_owned() };
        found.push(Alarm {
            what: words.fill("alarm.tank", &[("tank", &stock.tank)]),
            text: teller.tank_state(stock, coldest),
            url: app.url(&url),
        });
    }
    found
}
