//! The words on top of a page (at the bottom of a phone), and the menu behind them.

use report::Words;

use crate::state::App;

/// Which entry of the navigation is the present page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Place {
    Plant,
    Today,
    Storm,
    Tanks,
    Run,
    Bench,
    PutRight,
    Load,
    Due,
    Books,
    Ledger,
    SetUp,
    Elsewhere,
    /// Before anybody came in: nothing of the yard but its name.
    Door,
}

/// An entry of the navigation.
pub(crate) struct Link {
    pub(crate) label: String,
    pub(crate) url: String,
    pub(crate) current: bool,
}

/// A word of the bar, and the width from which it stands there: `tablet`, `desk`, or empty for every width.
pub(crate) struct BarLink {
    pub(crate) link: Link,
    pub(crate) from: &'static str,
}

/// A column of the menu.
pub(crate) struct MenuGroup {
    pub(crate) head: String,
    pub(crate) links: Vec<Link>,
}

/// What is opened most: five words on a phone, beside the menu.
pub(crate) fn bar(app: &App, words: &Words, place: Place) -> Vec<BarLink> {
    if matches!(place, Place::Door) {
        return Vec::new();
    }
    let word = |key: &str, path: &str, is: Place, from: &'static str| BarLink {
        link: Link { label: words.say(key).to_owned(), url: app.url(path), current: is == place },
        from,
    };
    let mut bar: Vec<BarLink> =
        app.plant.iter().map(|_| word("practice.nav", "/plant", Place::Plant, "")).collect();
    bar.extend([
        word("nav.today", "/", Place::Today, ""),
        word("nav.storm", "/storm", Place::Storm, "tablet"),
        word("bar.tanks", "/tanks", Place::Tanks, ""),
        word("bench.nav", "/bench", Place::Bench, ""),
        word("bar.run", "/run", Place::Run, ""),
        word("load.nav", "/load", Place::Load, ""),
        word("due.nav", "/due", Place::Due, "desk apart"),
        word("books.nav", "/books", Place::Books, "desk"),
        word("setup.nav", "/setup", Place::SetUp, "desk"),
    ]);
    bar
}

/// Everything else, by what it is for.
pub(crate) fn menu(
    app: &App,
    words: &Words,
    place: Place,
    (may_manage, trainer_url): (bool, Option<String>),
) -> Vec<MenuGroup> {
    if matches!(place, Place::Door) {
        return Vec::new();
    }
    let to = |key: &str, url: String| Link { label: words.say(key).to_owned(), url, current: false };
    let group = |head: &str, links: Vec<Link>| MenuGroup { head: words.say(head).to_owned(), links };
    let all = |pages: &[(&str, &str)]| -> Vec<Link> {
        pages.iter().map(|(key, path)| to(key, app.url(path))).collect()
    };
    let mut yard = all(&[
        ("setup.nav", "/setup"),
        ("menu.instruments", "/bench/instruments"),
        ("books.leaf-meters", "/meters"),
    ]);
    if app.following.is_some() {
        yard.push(to("live.title", app.url("/live")));
    }
    if app.people.is_some() && may_manage {
        yard.push(to("people.nav", app.url("/people")));
    }
    yard.extend(all(&[("alerts.nav", "/alerts"), ("offline.nav", "/offline")]));
    if may_manage {
        yard.push(to("backup.title", app.url("/backup")));
    }
    yard.extend(trainer_url.map(|url| to("trainer.nav", url)));
    vec![
        group(
            "menu.work",
            all(&[
                ("menu.plan", "/storm"),
                ("roads.title", "/roads"),
                ("books.leaf-night", "/night"),
                ("right.nav", "/put-right"),
                ("blend.title", "/put-right/blend"),
                ("trim.title", "/bench/trim"),
                ("sprayers.nav", "/sprayers"),
                ("menu.due", "/due"),
            ]),
        ),
        group(
            "menu.books",
            all(&[
                ("books.leaf-season", "/books"),
                ("books.leaf-storms", "/books/storms"),
                ("books.leaf-close", "/books/close"),
                ("books.leaf-lots", "/books/lots"),
                ("books.leaf-bills", "/books/bills"),
                ("books.leaf-salt", "/salt"),
                ("menu.entries", "/ledger"),
            ]),
        ),
        group("menu.yard", yard),
    ]
}
