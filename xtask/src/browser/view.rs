//! Which pages are looked at, and how a device shows them.

/// The pages of the console.
pub const PAGES: [&str; 47] = [
    "/",
    "/storm",
    "/tanks",
    "/run",
    "/run/sheet",
    "/bench",
    "/bench?tank=1&instrument=refractometer&reading=27.9&temp_f=60",
    "/bench/trim",
    "/bench/instruments",
    "/bench/lab?method=drying&tank=1&sample_g=50&residue_g=11.65",
    "/bench/record",
    "/put-right",
    "/put-right?tank=1&strength_pct=25&with=water",
    "/put-right?tank=4",
    "/put-right/blend",
    "/put-right/blend?tank=2&with=4&clear_f=0&ice_f=-9",
    "/jar-test?tank=4",
    "/load",
    "/load?truck=T1&tank=1&route=R1&volume_gal=560&planned_gal=560",
    "/load/return",
    "/load/issue",
    "/load/applied",
    "/load/other",
    "/load/other?what=settlement",
    "/ticket?row=203",
    "/ticket?row=235",
    "/ticket?row=354",
    "/books",
    "/books/storms",
    "/books/storms?begin=2012-12-15T23:00:00Z&end=2012-12-17T02:00:00Z&name=Long+snow",
    "/books/close",
    "/books/lots",
    "/books/lots?tank=1",
    "/books/bills",
    "/books/bills?agency=School+district&month=2012-12",
    "/night",
    "/roads",
    "/salt",
    "/meters",
    "/due",
    "/sprayers",
    "/sprayers/card?truck=T2",
    "/ledger",
    "/live",
    "/trainer",
    "/backup",
    "/look",
];

/// Pages of an exercise that goes on, and of one that is over.
pub(super) const PRACTICE_PAGES: [&str; 5] =
    ["/trainer?who=Sam", "/practice/plant", "/practice/run", "/practice/live", "/practice/bench"];

pub(super) const DEBRIEF_PAGE: &str = "/trainer/debrief?row=1";

pub(super) const PHONE_WIDTH: u32 = 360;

/// Three screens of a phone of 740 px: no page is longer there but lists and reports.
const TALLEST_PX: u32 = 2220;

/// Pages as long as their list: reports, registers, what is printed, what maintainers look at.
const LISTS: [&str; 10] = [
    "/ledger",
    "/books",
    "/night",
    "/run/sheet",
    "/sprayers/card",
    "/look",
    "/live",
    "/practice/live",
    "/trainer/debrief",
    "/bench/record",
];

/// What the person's device asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scheme {
    /// Dark ink on a light page.
    Light,
    /// Light ink on a dark page.
    Dark,
}

impl Scheme {
    /// Its name in CSS and in file names.
    pub fn word(self) -> &'static str {
        match self {
            Self::Light => "light",
            Self::Dark => "dark",
        }
    }
}

/// One page as one device shows it.
#[derive(Debug, Clone, Copy)]
pub struct View<'a> {
    /// Path of the page.
    pub path: &'a str,
    /// Width of the window, CSS pixels.
    pub width_px: u32,
    /// Light or dark.
    pub scheme: Scheme,
}

impl View<'_> {
    /// How long the page may be, CSS pixels; none for a list, or on anything but a phone.
    pub(super) fn tallest_px(&self) -> Option<u32> {
        let is_list = LISTS.iter().any(|list| self.path.starts_with(list));
        (self.width_px == PHONE_WIDTH && !is_list).then_some(TALLEST_PX)
    }

    /// For file names and messages.
    pub fn name(&self) -> String {
        let page = match self.path.trim_matches('/') {
            "" => "today".to_string(),
            path => path.replace(['/', '?', '=', '&'], "-"),
        };
        format!("{page}-{}-{}", self.width_px, self.scheme.word())
    }
}
