//! What is read over the network, and whether it looks right.

use askama::Template;
use axum::response::Html;
use link::decode::every_form;
use report::Words;
use report::display::number;
use site::points::{At, Form, Table};

use super::run::plant::value;
use crate::error::{PageError, render};
use crate::page_frame::{PageFrame, Place, Visitor};

struct MachineView {
    name: String,
    address: String,
    state: String,
    is_bad: bool,
}

struct PointView {
    name: String,
    value: String,
    state: String,
    is_bad: bool,
    place: String,
    /// What the same registers give in other forms: the form, and the number.
    forms: Vec<(String, String)>,
}

#[derive(Template)]
#[template(path = "live.html")]
struct LivePage {
    w: Words,
    c: PageFrame,
    is_read: bool,
    machines: Vec<MachineView>,
    points: Vec<PointView>,
}

fn form_name(form: Form) -> &'static str {
    Form::ALL.iter().find(|(_, one)| *one == form).map_or("", |(name, _)| name)
}

/// Shows every point with its quality, and what its registers would give otherwise.
pub(crate) async fn show(visitor: Visitor) -> Result<Html<String>, PageError> {
    let words = visitor.words;
    let mut page = LivePage {
        c: PageFrame::new(&visitor, Place::Elsewhere, words.say("live.title"), "/live"),
        w: words,
        is_read: false,
        machines: Vec::new(),
        points: Vec::new(),
    };
    let Some(following) = &visitor.app.following else { return render(&visitor, &page) };
    page.is_read = true;
    for (place, machine) in following.live.machines().iter().enumerate() {
        let state = following.live.state(place).unwrap_or_default();
        let said = match (&state.trouble, state.connected) {
            (_, true) => words.say("live.connected").to_string(),
            (None, false) => words.say("live.not-connected").to_string(),
            (Some(why), false) => {
                let why = visitor.display.tell(why);
                words.fill("live.away", &[("machine", &machine.name), ("why", &why)])
            }
        };
        page.machines.push(MachineView {
            name: machine.name.clone(),
            address: machine.address.clone(),
            state: said,
            is_bad: !state.connected,
        });
    }
    for (place, point) in following.live.points().iter().enumerate() {
        let Some(view) = value(&visitor, following, place) else { continue };
        let registers = following.live.shown(place).map(|shown| shown.registers).unwrap_or_default();
        let forms = every_form(&registers).into_iter().map(|(form, low_first, value)| {
            let order =
                if low_first { format!("{form}, {}", words.say("live.low-first")) } else { form.to_string() };
            let plain = value.abs() < 1e7 && (value.abs() < 1e-12 || 1e-3 <= value.abs());
            (order, if plain { number(value, 3) } else { format!("{value:.3e}") })
        });
        let at = match &point.at {
            At::Topic { topic, .. } => words.fill("live.topic", &[("topic", topic)]),
            At::Register { table, number, form, low_first } => {
                let table = match table {
                    Table::Input => "input",
                    Table::Holding => "holding",
                    Table::Discrete => "discrete",
                    Table::Coil => "coil",
                };
                let order =
                    if *low_first { format!(", {}", words.say("live.low-first")) } else { String::new() };
                let form = format!("{}{order}", form_name(*form));
                let values = [("table", table), ("number", &number.to_string()), ("form", &form)];
                words.fill("live.register", &values)
            }
        };
        page.points.push(PointView {
            name: view.name,
            value: view.value,
            state: view.state,
            is_bad: view.is_bad,
            place: at,
            forms: forms.collect(),
        });
    }
    render(&visitor, &page)
}
