//! The sun, the sky and what is seen of it, against tables made elsewhere.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use common::Table;
use road::section::Horizon;
use road::sky::{Place, Sun, bridged, clear_sky, cloud_of, longwave, through_cloud};

#[test]
fn the_sun_stands_where_the_almanac_has_it() {
    let table = Table::of("solar_position_reference.csv");
    for row in &table.rows {
        let place = Place {
            latitude: table.at(row, "latitude_deg"),
            longitude: table.at(row, "longitude_deg_east_positive"),
        };
        let sun = Sun::at(place, table.text(row, "time_utc").parse().unwrap());
        let (zenith, azimuth) = (table.at(row, "zenith_true_deg"), table.at(row, "azimuth_deg_from_north"));
        assert!((90.0 - sun.elevation - zenith).abs() < 0.05, "{sun:?} {zenith}");
        assert!((sun.azimuth - azimuth).abs() < 0.05, "{sun:?} {azimuth}");
        let clear = table.at(row, "haurwitz_clear_GHI_W_m2");
        assert!((clear_sky(sun) - clear).abs() < 1.5, "{} {clear}", clear_sky(sun));
    }
}

#[test]
fn a_street_hides_the_sky_by_its_faces() {
    let table = Table::of("sky_view.csv");
    for row in &table.rows {
        let heights = [table.at(row, "left_height_m"), table.at(row, "right_height_m")];
        let width = table.at(row, "width_between_faces_m");
        let street = Horizon::Street { axis: 0.0, heights, width, road: 0.6 * width };
        let expected = table.at(row, "sky_view_factor_at_centre");
        assert!((street.sky_view() - expected).abs() < 1e-4, "{} {expected}", street.sky_view());
    }
}

#[test]
fn the_wall_on_the_suns_side_throws_the_shadow() {
    // A street that runs east; walls of 10 m to its left, the north, and none to its right.
    let street = |heights| Horizon::Street { axis: 90.0, heights, width: 20.0, road: 10.0 };
    let noon = Sun { elevation: 30.0, azimuth: 180.0 };
    assert!((street([10.0, 0.0]).lit(noon) - 1.0).abs() < 1e-9);
    // 17.3 m of shadow over a kerb of 5 m and a road of 10 m.
    assert!(street([0.0, 10.0]).lit(noon) < 1e-9);
    let along = Sun { elevation: 30.0, azimuth: 90.0 };
    assert!((street([10.0, 10.0]).lit(along) - 1.0).abs() < 1e-9);
}

#[test]
fn longwave_is_as_printed_and_as_measured() {
    // Prata's emissivities, worked by hand: 0 °C 80 % 231.1, −10 °C 70 % 190.1, 10 °C 60 % 275.0 W/m².
    for (air, vapour, expected) in
        [(0.0, 0.80 * 6.112, 231.1), (-10.0, 0.70 * 2.8703, 190.1), (10.0, 0.60 * 12.272, 275.0)]
    {
        let found = longwave(air, vapour, 0.0);
        assert!((found - expected).abs() < 0.3, "{air}: {found}");
    }
    // Half hours of three winter months in Illinois, with cloud read out of the sun and bridged over the nights.
    let table = Table::of("bondville_1998.csv");
    let place = Place { latitude: 40.01, longitude: -88.37 };
    let number = |row, name| table.number(row, name);
    let clouds: Vec<Option<f64>> = table
        .rows
        .iter()
        .map(|row| {
            let end: jiff::Timestamp =
                format!("{}:00Z", table.text(row, "time_end_local_standard")).parse().unwrap();
            // Local standard time is six hours behind; the figure is of the half hour before.
            let middle = end + jiff::SignedDuration::from_mins(6 * 60 - 15);
            cloud_of(number(row, "shortwave_in_W_m2")?, Sun::at(place, middle))
        })
        .collect();
    let (mut sum, mut squares, mut count) = (0.0, 0.0, 0.0);
    for (row, cloud) in table.rows.iter().zip(bridged(&clouds, 40)) {
        let values = ["air_temp_3m_degC", "rel_humidity_pct", "longwave_in_W_m2"];
        let [Some(air), Some(humidity), Some(measured)] = values.map(|name| number(row, name)) else {
            continue;
        };
        let Some(cloud) = cloud else { continue };
        let vapour = humidity.min(100.0) / 100.0 * 6.112 * (17.62 * air / (243.12 + air)).exp();
        let off = longwave(air, vapour, cloud) - measured;
        (sum, squares, count) = (sum + off, squares + off * off, count + 1.0);
    }
    let (bias, rmse) = (sum / count, f64::sqrt(squares / count));
    assert!(count > 4000.0 && bias.abs() <= 6.0 && rmse <= 23.0, "{count}: {bias:.1} {rmse:.1} W/m²");
}

#[test]
fn cloud_comes_back_out_of_the_radiation_that_it_let_through() {
    let sun = Sun { elevation: 35.0, azimuth: 180.0 };
    for cloud in [0.0, 0.3, 0.7, 1.0] {
        let back = cloud_of(clear_sky(sun) * through_cloud(cloud), sun).unwrap();
        assert!((back - cloud).abs() < 1e-9, "{cloud}: {back}");
    }
    assert_eq!(cloud_of(100.0, Sun { elevation: 5.0, azimuth: 180.0 }), None);
}
