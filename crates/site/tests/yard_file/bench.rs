//! Instruments, specs and printed scales.

use crate::small::{SMALL, shown};
use site::yard_file::{read_yard, sample_yard_file};

/// Instruments as registered, or the two that are supplied; what does not go together is said.
#[test]
fn the_bench_has_instruments() {
    let sample = read_yard(&sample_yard_file(), "yard.toml").unwrap();
    let ids: Vec<&str> = sample.instruments.iter().map(|one| one.id.as_str()).collect();
    assert_eq!(ids, ["hydrometer", "refractometer", "shop"]);
    let compensates = bench::instrument::Scale::Refractometer {
        scale: bench::instrument::RefractometerScale::Brix,
        compensated: true,
    };
    assert_eq!(sample.instruments[1].card.scale, compensates);
    let own = "\n[[instrument]]\nid = \"float\"\nscale = \"baume\"\nresolution = 0.5\n";
    let yard = read_yard(&format!("{SMALL}{own}"), "yard.toml").unwrap();
    assert_eq!(yard.instruments.len(), 1);
    assert!((yard.instruments[0].card.resolution - 0.5).abs() < 1e-12);
    assert_eq!(read_yard(SMALL, "yard.toml").unwrap().instruments.len(), 2, "two are supplied");
    let wrong = "\n[[instrument]]\nid = \"float\"\nscale = \"baum\"\n[[instrument]]\nid = \"f2\"\n\
                 scale = \"baume\"\ncompensated = true\nalpha_pct_per_k = 2\n";
    let problems = read_yard(&format!("{SMALL}{wrong}"), "yard.toml").unwrap_err();
    let told: Vec<String> = problems.iter().map(shown).collect();
    assert_eq!(told.len(), 3, "{told:?}");
    assert!(told[0].contains("\"baum\"") && told[0].contains("baume"), "{told:?}");
    assert!(
        told[1].contains("site.file.refractometers_only") && told[2].contains("site.file.conductivity_only"),
        "{told:?}"
    );
}

/// Targets and bands: a tank's own before its product's before the plant's; what does not hang together is said.
#[test]
fn specs_go_by_tank_then_product_then_plant() {
    let percent = |strength: chemistry::MassFraction| strength.percent();
    let of = |text: &str, tank: &str| {
        let spec = read_yard(text, "yard.toml").unwrap().spec(tank);
        (percent(spec.target), percent(spec.low), percent(spec.high))
    };
    let tank = read_yard(SMALL, "yard.toml").unwrap().tanks[0].id.clone();
    assert_eq!(of(SMALL, &tank), (23.3, 22.8, 23.8));
    let product = format!(
        "{SMALL}\n[[spec]]\nproduct = \"brine\"\ntarget_strength_pct = 23.0\nspec_low_pct = 22.0\nspec_high_pct = 23.5\n"
    );
    assert_eq!(of(&product, &tank), (23.0, 22.0, 23.5));
    let both = format!(
        "{product}[[spec]]\ntank = \"{tank}\"\ntarget_strength_pct = 23.2\nspec_low_pct = 22.9\nspec_high_pct = 23.6\n"
    );
    assert_eq!(of(&both, &tank), (23.2, 22.9, 23.6));
    let wrong = format!(
        "{SMALL}\n[[spec]]\ntarget_strength_pct = 23.0\nspec_low_pct = 22.0\nspec_high_pct = 23.5\n\
         [[spec]]\ntank = \"no\"\ntarget_strength_pct = 23.0\nspec_low_pct = 23.2\nspec_high_pct = 23.5\n"
    );
    let told: Vec<String> = read_yard(&wrong, "yard.toml").unwrap_err().iter().map(shown).collect();
    assert!(
        told.len() == 2
            && told[0].contains("site.why.spec")
            && told[1].contains("site.file.no_such_id (table = [[tank]])"),
        "{told:?}"
    );
}

/// A printed scale by its points: two at least, one way, for an instrument that has such a scale.
#[test]
fn a_printed_scale_comes_with_its_points() {
    let points = |rows: &[(f64, f64)]| {
        let row = |(pct, shown): &(f64, f64)| {
            format!("[[printed_scale]]\ninstrument = \"own\"\nstrength_pct = {pct}\nshown = {shown}\n")
        };
        let all: String = rows.iter().map(row).collect();
        format!("{SMALL}\n[[instrument]]\nid = \"own\"\nscale = \"printed\"\n{all}")
    };
    assert!(read_yard(&points(&[(26.0, 100.0), (0.0, 0.0)]), "yard.toml").is_ok(), "any order");
    for (wrong, said) in
        [(&[(0.0, 0.0)][..], "needed = 2"), (&[(0.0, 0.0), (9.0, 1.0), (20.0, 0.5)], "same_way")]
    {
        let told = read_yard(&points(wrong), "yard.toml").unwrap_err()[0].to_string();
        assert!(told.contains("site.file.printed_scale (error = ") && told.contains(said), "{told}");
    }
    let other = points(&[(26.0, 100.0), (0.0, 0.0)]).replace("\"printed\"", "\"brix\"");
    assert!(read_yard(&other, "yard.toml").unwrap_err()[0].to_string().contains("site.file.other_scale"));
}
