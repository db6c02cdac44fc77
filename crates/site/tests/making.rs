//! Aim: a plant and what is read from it stand in the yard file, and what is wrong there is said.
//! Method: the three layouts that ship are written as tables and read back; then single lines are made wrong.

use message::Tell;
use plant::layout::{Dissolving, Layout, LineKind, Way};
use site::Yard;
use site::points::{At, Form, PointKind, PointUnit, Protocol, Table};
use site::yard_file::{layout_tables, read_yard};

const REST: &str = r#"
format = 1
[yard]
name = "Test yard"
time_zone = "America/New_York"
[plant]
making_rate_gal_h = 1600
water_rate_gpm = 60
water_temp_f = 44
[[tank]]
id = "1"
orientation = "vertical"
diameter_ft = 10
straight_height_ft = 14
[loading]
pump_rate_gpm = 200
"#;

fn read(tables: &str) -> Result<Yard, String> {
    read_yard(&format!("{REST}\n{tables}"), "yard.toml")
        .map_err(|problems| problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))
}

fn close(one: f64, other: f64) {
    assert!((one - other).abs() <= 1e-8 * one.abs().max(1e-12), "{one} {other}");
}

fn same(read: &Layout, shipped: &Layout) {
    let volume = quantity::in_cubic_metres;
    assert_eq!(read.vessels.len(), shipped.vessels.len());
    for (one, other) in read.vessels.iter().zip(&shipped.vessels) {
        assert_eq!(one.id, other.id);
        close(volume(one.volume), volume(other.volume));
        close(volume(one.sludge_room), volume(other.sludge_room));
        close(one.loss_watts_per_kelvin, other.loss_watts_per_kelvin);
        match (one.dissolving, other.dissolving) {
            (None, None) => {}
            (
                Some(Dissolving::Stirred { speed: a, by, reached: b }),
                Some(Dissolving::Stirred { speed: c, by: other, reached: d }),
            ) => {
                assert_eq!(by, other);
                close(a, c);
                close(b, d);
            }
            (
                Some(Dissolving::Bed { cross_section: a, reached: b }),
                Some(Dissolving::Bed { cross_section: c, reached: d }),
            ) => {
                close(a, c);
                close(b, d);
            }
            other => panic!("{other:?}"),
        }
    }
    for (one, other) in read.lines.iter().zip(&shipped.lines) {
        assert_eq!((&one.id, one.from, one.to), (&other.id, other.from, other.to));
        let hourly = |rate| volume(rate * quantity::hours(1.0));
        match (one.kind, other.kind) {
            (LineKind::Pump(a), LineKind::Pump(b)) | (LineKind::Valve(a), LineKind::Valve(b)) => {
                close(hourly(a), hourly(b));
            }
            (LineKind::Overflow { above: a, .. }, LineKind::Overflow { above: b, .. }) => close(a, b),
            other => panic!("{other:?}"),
        }
    }
    assert_eq!(read.lines.len(), shipped.lines.len());
    let ids = |layout: &Layout| {
        let sensors: Vec<String> =
            layout.sensors.iter().map(|one| format!("{} {:?}", one.id, one.of)).collect();
        let feeders: Vec<String> =
            layout.feeders.iter().map(|one| format!("{} {} {}", one.id, one.from, one.to)).collect();
        (sensors, feeders, layout.stores.iter().map(|one| one.id.clone()).collect::<Vec<_>>())
    };
    assert_eq!(ids(read), ids(shipped));
    assert_eq!(read.control.panel, shipped.control.panel);
    let places = |way: Way| match way {
        Way::Batch { vessel, water, stir, outlet, feeder, .. } => (0, vessel, water, stir, outlet, feeder),
        Way::Fed { vessel, water, stir, outlet, feeder, .. } => (1, vessel, water, stir, outlet, feeder),
        Way::Upflow { bed, water, thin, outlet, feeder, .. } => (2, bed, water, thin, outlet, feeder),
    };
    assert_eq!(places(read.control.way), places(shipped.control.way));
}

#[test]
fn the_three_layouts_that_ship_can_be_written_as_tables_and_read_back() {
    for shipped in plant::layouts::all() {
        let found = read(&layout_tables(&shipped)).expect("reads").making.expect("a layout");
        same(&found, &shipped);
        let named = read(&format!("[making]\nlayout = \"{}\"", shipped.name)).expect("reads");
        same(&named.making.expect("a layout"), &shipped);
    }
}

#[test]
fn the_yard_s_own_water_salt_and_target_go_into_the_layout() {
    let yard = read("[making]\nlayout = \"batch\"\n[salt]\npurity_pct = 93").expect("reads");
    let layout = yard.making.expect("a layout");
    close(layout.salt.purity.percent(), 93.0);
    close(layout.control.target.percent(), 23.3);
    close(100.0 * layout.control.band, 0.5);
    close(quantity::in_celsius(layout.supply.temperature), (44.0 - 32.0) / 1.8);
}

#[test]
fn what_is_wrong_in_a_layout_is_said_with_its_line() {
    let tables = layout_tables(&plant::layouts::batch());
    // What the plant itself says of such a layout.
    let refused = |layout: &plant::layout::Layout| layout.check().expect_err("refused").message().to_string();
    let mut other = plant::layouts::batch();
    other.vessels.iter_mut().for_each(|vessel| vessel.dissolving = None);
    let no_dissolver = refused(&other);
    let mut other = plant::layouts::batch();
    let is_level = |sensor: &plant::layout::Sensor| matches!(sensor.of, plant::layout::Sensed::Level { .. });
    other.control.panel = other.sensors.iter().position(is_level).expect("a sensor of level");
    let no_strength = refused(&other);
    let cases = [
        ("stir = \"circulation\"", "stir = \"circulating\"", "suggestion = circulation)"),
        ("stir = \"circulation\"\n", "", "site.file.missing (table = [making],"),
        ("from = \"supply\"", "from = \"suply\"", "site.file.no_such_id (table = [[vessel]])"),
        ("way = \"batch\"\n", "", "why = site.why.own_layout"),
        ("fill_share = 0.8", "fill_share = 0.11", "site.file.fill_share"),
        ("rate_m3_h = 13.6", "rat_m3_h = 13.6", "suggestion = rate_m3_h)"),
        ("dissolves = \"stirred\"", "dissolves = \"no\"", &no_dissolver),
        ("layout = \"own\"", "layout = \"fed\"", "site.file.other_layout (layout = fed)"),
        ("panel = \"panel\"", "panel = \"level\"", &no_strength),
    ];
    for (from, to, said) in cases {
        assert!(tables.contains(from), "{from}\n{tables}");
        let error = read(&tables.replacen(from, to, 1)).expect_err(said);
        assert!(error.contains(said) && error.contains("file = yard.toml, line = "), "{from}: {error}");
    }
    let error = read("[[vessel]]\nid = \"a\"\nvolume_gal = 900").expect_err("no making");
    assert!(error.contains("site.file.no_making"), "{error}");
}

const POINTS: &str = r#"
[making]
layout = "batch"
[[machine]]
id = "controller"
protocol = "modbus"
address = "192.0.2.10:502"
register_base = 1
[[machine]]
id = "broker"
protocol = "mqtt"
address = "broker.example:1883"
user = "yard"
[[point]]
id = "panel"
machine = "controller"
shows = "panel"
register = 101
type = "f32"
words = "low_first"
unit = "pct"
[[point]]
id = "water"
machine = "controller"
shows = "water meter"
register = 7
table = "holding"
type = "i16"
scale = 0.1
unit = "gpm"
[[point]]
id = "pump"
machine = "controller"
shows = "circulation"
table = "coil"
register = 1
[[point]]
id = "temp"
machine = "broker"
topic = "plant/temp"
json = "/value"
unit = "f"
age_limit_s = 60
"#;

#[test]
fn machines_and_points_are_read() {
    let yard = read(POINTS).expect("reads");
    assert_eq!(yard.machines[0].protocol, Protocol::Modbus { unit: 1, base: 1 });
    assert_eq!(yard.machines[1].protocol, Protocol::Mqtt { user: Some("yard".into()), password_file: None });
    let [panel, water, pump, temp] = &yard.points[..] else { panic!("four points") };
    let at = At::Register { table: Table::Input, number: 101, form: Form::F32, low_first: true };
    assert_eq!(panel.at, at);
    // 60.0 gal/min: NIST Handbook 44, 1 US gal = 3.785411784 L.
    close(water.value(600.0), 60.0 * 3.785_411_784e-3 / 60.0);
    assert_eq!((water.unit, water.unit.kind()), (PointUnit::GallonsPerMinute, PointKind::Flow));
    assert!(matches!(pump.at, At::Register { form: Form::Bit, .. }));
    assert_eq!(temp.at, At::Topic { topic: "plant/temp".into(), pointer: Some("/value".into()) });
    close(temp.value(50.0), 10.0);
    close(temp.age_limit_seconds(), 60.0);
}

#[test]
fn what_is_wrong_in_points_is_said() {
    let cases = [
        (
            "machine = \"controller\"\nshows = \"panel\"",
            "machine = \"controler\"\nshows = \"panel\"",
            "suggestion = controller)",
        ),
        ("shows = \"panel\"", "shows = \"pannel\"", "suggestion = panel)"),
        ("register = 101\n", "", "why = site.why.modbus"),
        ("topic = \"plant/temp\"\n", "", "why = site.why.mqtt"),
        ("topic = \"plant/temp\"", "topic = \"plant/#\"", "site.file.topic"),
        ("json = \"/value\"", "json = \"value\"", "site.accepted.pointer (pointer = /value)"),
        ("register = 101", "register = 0", "what = site.file.register)"),
        ("register = 101", "register = 65536", "site.accepted.count (low = 0, high = 65535)"),
        (
            "table = \"coil\"",
            "table = \"coil\"\ntype = \"u16\"",
            "accepted = site.accepted.names (names = bit)",
        ),
        ("type = \"i16\"", "type = \"bit\"", "accepted = site.accepted.names (names = u16"),
        ("scale = 0.1", "scale = 0", "accepted = site.accepted.not_zero"),
        ("address = \"192.0.2.10:502\"", "address = \"192.0.2.10\"", "site.file.host"),
        ("protocol = \"mqtt\"", "protocol = \"mqqt\"", "suggestion = mqtt)"),
    ];
    for (from, to, said) in cases {
        assert!(POINTS.contains(from), "{from}");
        let error = read(&POINTS.replacen(from, to, 1)).expect_err(said);
        assert!(error.contains(said), "{from}: {error}");
    }
}
