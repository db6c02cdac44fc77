//! Products, and the freezing tables of bought ones.

use crate::small::{SMALL, accepted, near, only, what, yard};
use quantity::{in_celsius, in_fahrenheit, in_kg_per_m3};
use site::ProductKind;

const MAGNESIUM: &str = r#"
[[product]]
id = "mag"
kind = "declared"
density_lb_gal = 10.8
chloride_pct = 22.3
source = "supplier's sheet"
"#;

#[test]
fn products() {
    let problem = only(&format!("{SMALL}{MAGNESIUM}"));
    assert_eq!(what(&problem), "site.file.no_brine");
    let both = format!("{SMALL}{MAGNESIUM}\n[[product]]\nid = \"b\"\nkind = \"brine\"\n");
    let read = yard(&both);
    assert_eq!((read.plant.product.as_str(), read.tanks[0].product.as_str()), ("b", "b"));
    let ProductKind::Declared { density, density_temperature, .. } = read.products[0].kind else {
        panic!("declared")
    };
    // 1 lb/gal = 119.8264 kg/m³, NIST SP 811, B.8.
    assert!((in_kg_per_m3(density) - 10.8 * 119.8264).abs() < 1e-3);
    near(in_fahrenheit(density_temperature), 60.0);
    let problem = only(
        &both
            .replace("making_rate_gal_h", "product = \"mag\"\nmaking_rate_gal_h")
            .replace("id = \"T1\"", "id = \"T1\"\nproduct = \"b\""),
    );
    assert_eq!(what(&problem), "site.file.not_brine", "{problem}");
    let problem = only(&both.replace("id = \"T1\"", "id = \"T1\"\nproduct = \"mag\""));
    assert_eq!(what(&problem), "site.tank.none_for_product (product = b)");
    let problem = only(&both.replace("kind = \"brine\"", "kind = \"brine\"\nchloride_pct = 14"));
    assert!(what(&problem).contains("site.file.declared_only"), "{problem}");
    let problem = only(&both.replace("source = \"supplier's sheet\"\n", ""));
    assert!(what(&problem).contains("why = site.why.declared"), "{problem}");
    assert_eq!(what(&only(&both.replace("22.3", "0.223"))), "site.file.fraction (write = 22.3)");
    let problem = only(&format!(
        "{both}\n[[tank]]\nid = \"M\"\nproduct = \"mag\"\norientation = \"vertical\"\ndiameter_ft = 8\nstraight_height_ft = 8\nopening_gal = 100\nopening_strength_pct = 20\n"
    ));
    assert!(what(&problem).starts_with("site.tank.strength_of_declared"), "{problem}");
}

/// A row of the freezing table of [`MAGNESIUM`] in a yard that also has a brine.
fn freezing_row(share: &str, temperature: &str) -> String {
    format!("\n[[product_freezing]]\nproduct = \"mag\"\nshare_pct = {share}\n{temperature}\n")
}

fn with_magnesium() -> String {
    format!("{SMALL}{MAGNESIUM}\n[[product]]\nid = \"b\"\nkind = \"brine\"\n")
}

#[test]
fn a_freezing_table_is_sorted_and_never_read_between_its_rows() {
    let base = with_magnesium();
    let none = yard(&base);
    assert!(none.products[0].kind.freezing_as_delivered().is_none(), "no table");
    assert_eq!(none.products[0].kind.source(), Some("supplier's sheet"));
    assert!(none.products[1].kind.freezing_as_delivered().is_none(), "brine is predicted");
    assert!(none.products[1].kind.source().is_none());
    let rows = [freezing_row("100", "freezing_temp_c = -16.7"), freezing_row("75", "freezing_temp_f = -17")]
        .concat();
    let read = yard(&format!("{base}{rows}"));
    let ProductKind::Declared { freezing, .. } = &read.products[0].kind else { panic!("declared") };
    let shares: Vec<f64> = freezing.iter().map(|row| row.share_pct).collect();
    assert!(shares.len() == 2 && shares[0] < shares[1], "{shares:?}");
    near(in_fahrenheit(freezing[0].temperature), -17.0);
    near(in_celsius(read.products[0].kind.freezing_as_delivered().unwrap()), -16.7);
    let near_only = format!(
        "{base}{}{}",
        freezing_row("99", "freezing_temp_f = 2"),
        freezing_row("75", "freezing_temp_f = -17")
    );
    assert!(yard(&near_only).products[0].kind.freezing_as_delivered().is_none(), "99 % is not as delivered");
}

#[test]
fn a_wrong_freezing_row_is_named() {
    let base = with_magnesium();
    let wrong = |rows: &str| only(&format!("{base}{rows}"));
    let row = freezing_row("100", "freezing_temp_f = 2");
    let problem = wrong(&row.replace("\"mag\"", "\"b\""));
    assert!(what(&problem).contains("site.file.brine_is_predicted"), "{problem}");
    assert_eq!(
        (problem.key.as_str(), accepted(&problem).as_deref()),
        ("product_freezing[1].product", Some("mag"))
    );
    let problem = wrong(&row.replace("\"mag\"", "\"mga\""));
    assert_eq!((problem.suggestion.as_deref(), problem.value.as_deref()), (Some("mag"), Some("\"mga\"")));
    let problem = wrong(&[row.clone(), freezing_row("100.0", "freezing_temp_f = 3")].concat());
    assert!(
        what(&problem).contains("site.file.share_twice (product = mag, row = 1, percent = 100)"),
        "{problem}"
    );
    assert_eq!(problem.key, "product_freezing[2].share_pct");
    for (share, message) in [
        ("0", "site.file.above_zero"),
        ("-1", "site.file.above_zero"),
        ("1", "site.file.fraction (write = 100)"),
        ("0.5", "site.file.fraction (write = 50)"),
        ("100.1", "site.file.too_large"),
    ] {
        let problem = wrong(&freezing_row(share, "freezing_temp_f = 2"));
        assert_eq!(
            (what(&problem).as_str(), accepted(&problem).as_deref()),
            (message, Some("site.accepted.percent (low = 1, high = 100)"))
        );
    }
    let problem = wrong(&freezing_row("100", "freezing_temp = 2"));
    assert_eq!(accepted(&problem).as_deref(), Some("freezing_temp_f, freezing_temp_c"));
    assert_eq!(what(&wrong(&freezing_row("100", "freezing_temp_f = 33"))), "site.file.too_large");
    assert!(
        what(&wrong(&freezing_row("100", "")))
            .starts_with("site.file.missing_from_one (table = [[product_freezing]], number = 1,")
    );
}
