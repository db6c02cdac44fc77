//! Freezing tables of declared liquids.

use super::known::Known;
use crate::liquids::SAME_SHARE_PCT;
use crate::yard_file::problem::names;
use crate::yard_file::reader::{Context, Section, complaint};
use crate::yard_file::units::figure;
use crate::{FreezingRow, Product, ProductKind};
use message::message;
use quantity::celsius;

/// Puts each row into its product, weakest first.
pub(super) fn rows(
    context: &mut Context<'_>,
    sections: &[Section<'_>],
    known: &Known,
    brines: &[(String, Option<bool>)],
    products: &mut [Product],
) {
    let mut earlier: Vec<(String, f64)> = Vec::new();
    for section in sections {
        let product = section.text(context, "product");
        let share = section.number(context, "share_pct");
        let temperature = section.number(context, "freezing_temp").map(celsius);
        let Some(id) = product else { continue };
        if !known.check(context, section, "product", "product", &id) {
            continue;
        }
        if brines.iter().any(|(other, brine)| *other == id && *brine == Some(true)) {
            let why = complaint("site.file.brine_is_predicted");
            let declared: Vec<&str> =
                brines.iter().filter(|(_, brine)| *brine == Some(false)).map(|(id, _)| id.as_str()).collect();
            let accepted = if declared.is_empty() {
                "site.accepted.declared".into()
            } else {
                names(declared.join(", "))
            };
            section.blame(context, "product", why.accepted(accepted));
            continue;
        }
        let Some(share_pct) = share else { continue };
        let same = |other: &f64| (share_pct - other).abs() < SAME_SHARE_PCT;
        if let Some(twin) = earlier.iter().position(|(other, share)| *other == id && same(share)) {
            let row = earlier[..=twin].iter().filter(|(other, _)| *other == id).count();
            let what =
                message!("site.file.share_twice", product = &id, row = row, percent = figure(share_pct));
            section.blame(context, "share_pct", complaint(what));
            continue;
        }
        earlier.push((id.clone(), share_pct));
        let target = products.iter_mut().find(|product| product.id == id).map(|product| &mut product.kind);
        if let (Some(ProductKind::Declared { freezing, .. }), Some(temperature)) = (target, temperature) {
            freezing.push(FreezingRow { share_pct, temperature });
        }
    }
    for product in products {
        if let ProductKind::Declared { freezing, .. } = &mut product.kind {
            freezing.sort_by(|a, b| a.share_pct.total_cmp(&b.share_pct));
        }
    }
}
