//! Alarms: what is wrong now, in full on the page *Today*, in one line on every other; each ends with its cause.

use planner::tank_stock;
use report::Teller;

use crate::page_menu::Place;
use crate::state::App;
use crate::tank_words::state_word;

/// What is wrong now.
pub(crate) struct Alarm {
    /// Of what.
    pub(crate) what: String,
    /// What is wrong with it, in full.
    pub(crate) text: String,
    /// The same in two words, for the line on other pages; empty where only the whole says it.
    pub(crate) short: &'static str,
    /// Where it is mended.
    pub(crate) url: String,
}

/// Everything that is wrong now: the ledger first, then the tanks in the yard's own order.
pub(crate) fn alarms(app: &App, teller: &Teller<'_>, place: Place) -> Vec<Alarm> {
    let words = teller.words;
    if matches!(place, Place::Door) {
        return Vec::new();
    }
    let mut found = Vec::new();
    if let Some(damage) = app.damage() {
        let text = words.fill("banner.damaged", &[("what", &teller.display.tell(&damage))]);
        found.push(Alarm {
            what: words.say("alarm.ledger").to_owned(),
            text,
            short: "",
            url: app.url("/ledger"),
        });
    }
    // A ledger that cannot be read is told by its page.
    let Ok(books) = app.books() else { return found };
    let plan = app.forecast(None).and_then(|forecast| app.plan(&forecast, &books).ok());
    let coldest = app.air_ahead(plan.as_deref()).map(|[low, _]| low);
    for stock in tank_stock(&app.yard, &books).iter().filter(|stock| teller.tank_needs_act(stock, coldest)) {
        let tank = crate::encoded::form_encoded(&stock.tank);
        let url = if stock.is_brine { format!("/put-right?tank={tank}") } else { "/tanks".to_owned() };
        found.push(Alarm {
            what: words.fill("alarm.tank", &[("tank", &stock.tank)]),
            text: teller.tank_state(stock, coldest),
            short: words.say(if stock.freezes_in(coldest) {
                "alarm.freezes"
            } else {
                state_word(&app.yard, stock, &books)
            }),
            url: app.url(&url),
        });
    }
    found
}
