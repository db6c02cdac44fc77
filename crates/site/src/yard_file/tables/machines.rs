//! What is read over the network.

use message::message;
use plant::layout::Layout;
use quantity::hours;

use super::known::Known;
use crate::points::{At, Form, Machine, Point, PointKind, PointUnit, Protocol, Table};
use crate::yard_file::problem::names;
use crate::yard_file::reader::{Context, Section, closest, complaint};

pub(super) fn machine(context: &mut Context<'_>, section: &Section<'_>, id: String) -> Option<Machine> {
    let name = section.text(context, "name").unwrap_or_else(|| id.clone());
    let protocol = section.text(context, "protocol");
    let address = section.text(context, "address");
    let every = section.number(context, "every");
    let (unit, base) = (section.number(context, "unit"), section.number(context, "register_base"));
    let user = section.text(context, "user");
    let password_file = section.text(context, "password_file");
    let address = address.filter(|address| {
        let is_one = address
            .rsplit_once(':')
            .is_some_and(|(host, port)| !host.is_empty() && port.parse::<u16>().is_ok_and(|port| port != 0));
        if !is_one {
            let wrong = complaint("site.file.host").accepted("site.accepted.host");
            section.blame(context, "address", wrong);
        }
        is_one
    });
    let protocol = match protocol?.as_str() {
        "modbus" => Protocol::Modbus { unit: unit? as u8, base: base? as u16 },
        _ => Protocol::Mqtt { user, password_file: password_file.map(Into::into) },
    };
    Some(Machine { id, name, address: address?, protocol, every: hours(every?) })
}

pub(super) fn point(
    context: &mut Context<'_>,
    section: &Section<'_>,
    id: String,
    machines: &Known,
    machine_sections: &[Section<'_>],
    layout: Option<&Layout>,
    (tanks, roads): (&Known, [&Known; 2]),
) -> Option<Point> {
    let name = section.text(context, "name").unwrap_or_else(|| id.clone());
    let machine = section.text(context, "machine");
    let shows = section.text(context, "shows");
    let tank = section.text(context, "tank");
    let (road, road_part) = (section.text(context, "road"), section.text(context, "road_part"));
    let table = section.text(context, "table");
    let number = section.number(context, "register");
    let form = section.text(context, "type");
    let words = section.text(context, "words");
    let topic = section.text(context, "topic");
    let json = section.text(context, "json");
    let (scale, offset) = (section.number(context, "scale"), section.number(context, "offset"));
    let unit = section.text(context, "unit");
    let age_limit = section.number(context, "age_limit");
    if let (Some(shows), Some(layout)) = (&shows, layout) {
        let parts = || {
            let sensors = layout.sensors.iter().map(|one| one.id.as_str());
            let lines = layout.lines.iter().map(|one| one.id.as_str());
            sensors.chain(lines).chain(layout.feeders.iter().map(|one| one.id.as_str()))
        };
        if !parts().any(|part| part == shows) {
            let all = parts().collect::<Vec<_>>().join(", ");
            let wrong = complaint("site.file.no_part");
            section.blame(context, "shows", wrong.accepted(names(all)).suggest(closest(shows, parts())));
        }
    }
    let machine = machine?;
    if !machines.check(context, section, "machine", "machine", &machine) {
        return None;
    }
    let place = machines.of_each.iter().position(|known| known.as_deref() == Some(machine.as_str()))?;
    let protocol = machine_sections.get(place)?.text(&mut Context::new("", ""), "protocol")?;
    let at = if protocol == "modbus" {
        let table = match table?.as_str() {
            "input" => Table::Input,
            "holding" => Table::Holding,
            "discrete" => Table::Discrete,
            _ => Table::Coil,
        };
        let is_bits = table.is_bits();
        let named = form.as_deref().and_then(|name| Form::ALL.iter().find(|(known, _)| *known == name));
        let form = named.map_or(if is_bits { Form::Bit } else { Form::U16 }, |(_, form)| *form);
        if is_bits != (form == Form::Bit) {
            let accepted = if is_bits { "bit" } else { "u16, i16, u32, i32, f32, f64" };
            section.blame(context, "type", complaint("site.file.register_type").accepted(names(accepted)));
            return None;
        }
        let Some(number) = number else {
            if !section.has("register") {
                section.missing(context, "register", "site.why.modbus");
            }
            return None;
        };
        let number = number as u16;
        let base = machine_sections.get(place)?.number(&mut Context::new("", ""), "register_base")? as u16;
        if number < base || u32::from(number - base) + u32::from(form.length()) > 65_536 {
            let wrong = complaint("site.file.register");
            let last = 65_535 - u32::from(form.length()) + 1 + u32::from(base);
            let accepted = names(format!("{base}…{last}"));
            section.blame(context, "register", wrong.accepted(accepted));
            return None;
        }
        At::Register { table, number, form, low_first: words.as_deref() == Some("low_first") }
    } else {
        let Some(topic) = topic else {
            if !section.has("topic") {
                section.missing(context, "topic", "site.why.mqtt");
            }
            return None;
        };
        if topic.contains(['+', '#', '\0']) || topic.len() > 1000 {
            section.blame(context, "topic", complaint("site.file.topic").accepted("site.accepted.topic"));
            return None;
        }
        if let Some(pointer) = json.as_deref().filter(|pointer| !pointer.starts_with('/')) {
            let wrong = complaint("site.file.pointer")
                .accepted(message!("site.accepted.pointer", pointer = format!("/{pointer}")));
            section.blame(context, "json", wrong);
            return None;
        }
        At::Topic { topic, pointer: json }
    };
    let scale = scale?;
    if scale.abs() < 1e-12 {
        section.blame(context, "scale", complaint("site.file.scale").accepted("site.accepted.not_zero"));
        return None;
    }
    let unit = unit?;
    let unit = PointUnit::ALL.iter().find(|(known, _)| *known == unit).map(|(_, unit)| *unit)?;
    let offset = offset?;
    let age_limit = hours(age_limit?);
    if let Some(tank) = &tank {
        if !tanks.check(context, section, "tank", "tank", tank) {
            return None;
        }
        if !matches!(unit.kind(), PointKind::Depth | PointKind::Share) {
            let wrong = complaint("site.file.no_level");
            section.blame(context, "unit", wrong.accepted(names("ft, m, pct_full, share")));
            return None;
        }
    }
    let road = match road {
        Some(road) => {
            let known = roads.iter().any(|known| known.ids().any(|id| id == road));
            // Where one list is incomplete, it may be in what could not be read.
            if !known && !roads[0].check(context, section, "road", "route_class", &road) {
                return None;
            }
            if unit.kind() != PointKind::Temperature {
                section.blame(context, "unit", complaint("site.file.no_temperature").accepted(names("c, f")));
                return None;
            }
            Some((road, road_part? == "bridge"))
        }
        None => None,
    };
    Some(Point { id, name, machine: place, at, scale, offset, unit, age_limit, shows, tank, road })
}
