//! What the other tests read pages with, held against small pages whose answers are plain.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use common::page::{Page, number};

const SMALL: &str = "<!doctype html><html lang=\"en\"><body><p class=\"banner\" hidden>away</p>\
    <p class=\"banner\">Damaged.</p><main><h1><span aria-hidden=\"true\">▲</span> Too \n <b>strong</b>:24 %</h1>\
    <dl><dt>Room for</dt><dd>3,510 gal</dd><dt>Drawn</dt><dd>0 gal</dd></dl>\
    <form data-form=\"dip\"><input type=\"hidden\" name=\"id\" value=\"7\"><label>Depth, <small>ft</small>\
    <input name=\"depth\" value=\"4 &#38; 1\"></label><label><input type=\"radio\" name=\"tank\" value=\"1\"> \
                  one</label>\
    <label><input type=\"radio\" name=\"tank\" value=\"2\" checked> two</label><label>Why<textarea \
                         name=\"why\">a\nb</textarea>\
    </label><label>By<select name=\"by\"><option value=\"m\">meter</option><option value=\"d\" \
                                    selected>dip</option></select>\
    </label><button name=\"confirm\" value=\"k3\">Yes</button></form>\
    <table><thead><tr><th>What</th></tr></thead><tbody><tr><th>salt</th><td>1,234.5</td></tr></tbody></table>\
    <p>one</p><p>two<br>three</p><a href=\"/a?b&#38;c\">go</a></main></body></html>";

#[test]
fn values_are_read_as_their_reader_has_them() {
    let page = Page::of(SMALL);
    assert!(page.faults().is_empty(), "{:?}", page.faults());
    assert_eq!(page.heading(), "Too strong:24 %", "no mark, blanks joined, marks inside a line part nothing");
    assert_eq!(page.banners(), ["Damaged."], "what is hidden stands nowhere");
    assert_eq!([page.fact("Room for"), page.fact("Drawn")], ["3,510 gal", "0 gal"]);
    let form = page.form("dip");
    assert_eq!(
        ["id", "depth", "tank", "why", "by"].map(|name| form.field(name)),
        ["7", "4 & 1", "2", "a\nb", "d"]
    );
    assert_eq!(["depth", "why", "by"].map(|name| form.label(name)), ["Depth, ft", "Why", "By"]);
    assert_eq!(form.options("tank"), [("1", "one"), ("2", "two")].map(|(a, b)| (a.into(), b.into())));
    assert_eq!(form.options("by"), [("m", "meter"), ("d", "dip")].map(|(a, b)| (a.into(), b.into())));
    assert_eq!(form.tick(), "&confirm=k3");
    assert_eq!(page.rows("table"), [["salt", "1,234.5"]], "the head is no row");
    assert_eq!(page.texts("main > p"), ["one", "two three"]);
    assert_eq!(page.link("go"), "/a?b&c");
    assert!(!page.has_field("depth_ft") && !page.has_form("note") && page.saved().is_none());
    assert!(!Page::of("<p><b>open</p>").faults().is_empty(), "what is not closed is minded");
}

#[test]
fn numbers_are_read_with_their_marks() {
    for (text, value) in [("1,234 gal", 1234.0), ("± 0.24%", 0.24), ("−12 °F", -12.0), ("Row 7.", 7.0)] {
        assert!((number(text) - value).abs() < 1e-12, "{text}: {}", number(text));
    }
}

/// An element that is not there, or is there twice, or says something else, fails the test that asks for it.
#[test]
fn what_is_not_one_element_fails() {
    let fails = |ask: fn(&Page)| std::panic::catch_unwind(move || ask(&Page::of(SMALL))).is_err();
    assert!(fails(|page| drop(page.text("h2"))) && fails(|page| drop(page.text("main > p"))));
    assert!(fails(|page| page.shows("main > p", "tw")) && !fails(|page| page.shows("main > p", "one")));
    assert!(fails(|page| drop(page.field("depth_ft"))) && fails(|page| drop(page.form("note"))));
    assert!(fails(|page| drop(page.fact("Room"))) && fails(|page| drop(page.link("g"))));
    assert!(fails(|page| drop(page.row("table", "sal"))) && fails(|page| drop(page.attr("h1", "id"))));
    let twice = SMALL.replace("value=\"1\">", "value=\"1\" checked>");
    assert!(std::panic::catch_unwind(move || Page::of(&twice).field("tank")).is_err(), "chosen twice");
}
