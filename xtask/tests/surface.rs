//! Aim: a crate shows fewer than 150 names, so that what it is for can be read off its front page.
//! Method: read every file with a parser, from the crate's root along its public modules and what is handed on with
//! `pub use`; count types, functions, constants, traits and macros. Methods and fields are not counted, nor what is
//! `pub` in a private module and not handed on, nor what `#[doc(hidden)]` keeps off the page. A macro is not expanded:
//! in what it is given, every documented name at the top is taken for an item.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use proc_macro2::{TokenStream, TokenTree};
use syn::{Item, UseTree, Visibility};

/// A crate with so many public items is refused.
const REFUSED_FROM: usize = 150;

/// The path of a module below its crate's root.
type Place = Vec<String>;

/// What one module shows, as it is written.
#[derive(Default)]
struct Module {
    /// Its own items by name, and whether they are public.
    items: BTreeMap<String, bool>,
    /// Modules below it that are public and on the page.
    public_modules: Vec<String>,
    /// Names that are handed on, with the path they come by.
    hands_on: BTreeMap<String, Vec<String>>,
    /// Paths of which everything is handed on.
    hands_on_all: Vec<Vec<String>>,
    /// Names brought in, with their path.
    brings_in: BTreeMap<String, Vec<String>>,
}

/// The modules of a crate, by place.
#[derive(Default)]
struct Crate {
    modules: BTreeMap<Place, Module>,
    exported_macros: BTreeSet<String>,
}

fn has_word(attributes: &[syn::Attribute], attribute: &str, word: &str) -> bool {
    attributes.iter().any(|one| {
        one.path().is_ident(attribute) && one.parse_args::<syn::Ident>().is_ok_and(|found| found == word)
    })
}

/// Name, visibility and attributes of an item that counts.
fn counted(item: &Item) -> Option<(String, &Visibility, &[syn::Attribute])> {
    Some(match item {
        Item::Const(one) => (one.ident.to_string(), &one.vis, &one.attrs),
        Item::Enum(one) => (one.ident.to_string(), &one.vis, &one.attrs),
        Item::Fn(one) => (one.sig.ident.to_string(), &one.vis, &one.attrs),
        Item::Static(one) => (one.ident.to_string(), &one.vis, &one.attrs),
        Item::Struct(one) => (one.ident.to_string(), &one.vis, &one.attrs),
        Item::Trait(one) => (one.ident.to_string(), &one.vis, &one.attrs),
        Item::Type(one) => (one.ident.to_string(), &one.vis, &one.attrs),
        Item::Union(one) => (one.ident.to_string(), &one.vis, &one.attrs),
        _ => return None,
    })
}

const KEYWORDS: [&str; 8] = ["struct", "enum", "fn", "const", "static", "trait", "type", "union"];

/// The names that a macro is given to define: those with a documentation of their own, and those behind `pub`.
fn given(tokens: TokenStream) -> BTreeSet<String> {
    let mut names = BTreeSet::new();
    let (mut is_open, mut is_attribute) = (false, false);
    for token in tokens {
        match token {
            TokenTree::Punct(mark) if mark.as_char() == '#' => is_attribute = true,
            TokenTree::Group(group) if is_attribute => {
                let first = group.stream().into_iter().next().map(|token| token.to_string());
                is_open |= first.as_deref() == Some("doc");
                is_attribute = false;
            }
            TokenTree::Ident(word) if word == "pub" => is_open = true,
            TokenTree::Ident(word) if is_open => {
                let word = word.to_string();
                if !KEYWORDS.contains(&word.as_str()) {
                    names.insert(word);
                    is_open = false;
                }
            }
            _ => is_open = false,
        }
    }
    names
}

impl Module {
    fn take_use(&mut self, tree: &UseTree, mut before: Vec<String>, is_public: bool) {
        match tree {
            UseTree::Path(path) => {
                before.push(path.ident.to_string());
                self.take_use(&path.tree, before, is_public);
            }
            UseTree::Group(group) => {
                for one in &group.items {
                    self.take_use(one, before.clone(), is_public);
                }
            }
            UseTree::Glob(_) if is_public => self.hands_on_all.push(before),
            UseTree::Glob(_) => {}
            UseTree::Name(name) if name.ident == "self" => {
                let known = before.last().cloned().unwrap_or_default();
                self.take_name(known, before, is_public);
            }
            UseTree::Name(name) => {
                before.push(name.ident.to_string());
                self.take_name(name.ident.to_string(), before, is_public);
            }
            UseTree::Rename(renamed) => {
                before.push(renamed.ident.to_string());
                self.take_name(renamed.rename.to_string(), before, is_public);
            }
        }
    }

    fn take_name(&mut self, known: String, path: Vec<String>, is_public: bool) {
        let names = if is_public { &mut self.hands_on } else { &mut self.brings_in };
        names.insert(known, path);
    }
}

impl Crate {
    /// Reads a crate; `file` gives the text of a module by its place.
    fn read(file: &dyn Fn(&Place) -> String) -> Self {
        let mut read = Self::default();
        read.read_file(Vec::new(), file);
        read
    }

    fn read_file(&mut self, place: Place, file: &dyn Fn(&Place) -> String) {
        let parsed = syn::parse_file(&file(&place)).expect("a file of ours is Rust");
        self.read_items(place, &parsed.items, file);
    }

    fn read_items(&mut self, place: Place, items: &[Item], file: &dyn Fn(&Place) -> String) {
        let mut module = Module::default();
        for item in items {
            if let Some((name, visibility, attributes)) = counted(item) {
                if has_word(attributes, "cfg", "test") {
                    continue;
                }
                let is_shown =
                    matches!(visibility, Visibility::Public(_)) && !has_word(attributes, "doc", "hidden");
                module.items.insert(name, is_shown);
            }
            match item {
                Item::Use(one) if !has_word(&one.attrs, "doc", "hidden") => {
                    module.take_use(&one.tree, Vec::new(), matches!(one.vis, Visibility::Public(_)));
                }
                Item::Macro(one) => match &one.ident {
                    Some(name) if one.attrs.iter().any(|tag| tag.path().is_ident("macro_export")) => {
                        if !has_word(&one.attrs, "doc", "hidden") {
                            self.exported_macros.insert(name.to_string());
                        }
                    }
                    Some(_) => {}
                    None => {
                        module
                            .items
                            .extend(given(one.mac.tokens.clone()).into_iter().map(|name| (name, true)));
                    }
                },
                Item::Mod(one) if !has_word(&one.attrs, "cfg", "test") => {
                    let mut below = place.clone();
                    below.push(one.ident.to_string());
                    if matches!(one.vis, Visibility::Public(_)) && !has_word(&one.attrs, "doc", "hidden") {
                        module.public_modules.push(one.ident.to_string());
                    }
                    match &one.content {
                        Some((_, inner)) => self.read_items(below, inner, file),
                        None => self.read_file(below, file),
                    }
                }
                _ => {}
            }
        }
        self.modules.insert(place, module);
    }

    /// Every public item that can be reached from the root, by where it is defined.
    fn shown(&self) -> BTreeSet<String> {
        let mut found: BTreeSet<String> =
            self.exported_macros.iter().map(|name| format!("{name}!")).collect();
        self.show_module(&Vec::new(), &mut found, &mut BTreeSet::new());
        found
    }

    fn show_module(&self, place: &Place, found: &mut BTreeSet<String>, seen: &mut BTreeSet<Place>) {
        let Some(module) = self.modules.get(place).filter(|_| seen.insert(place.clone())) else { return };
        for (name, _) in module.items.iter().filter(|(_, is_public)| **is_public) {
            found.insert(full(place, name));
        }
        for name in &module.public_modules {
            self.show_module(&below(place, name), found, seen);
        }
        for path in module.hands_on.values() {
            self.show_path(place, path, found, seen, 0);
        }
        for path in &module.hands_on_all {
            if let Some(named) = self.module_at(place, path) {
                self.show_module(&named, found, seen);
            }
        }
    }

    /// Shows what a path leads to: a module with all of it, an item, or a name of another crate.
    fn show_path(
        &self,
        from: &Place,
        path: &[String],
        found: &mut BTreeSet<String>,
        seen: &mut BTreeSet<Place>,
        depth: usize,
    ) {
        if let Some(module) = self.module_at(from, path) {
            return self.show_module(&module, found, seen);
        }
        let Some((name, before)) = path.split_last() else { return };
        let Some(module) = self.module_at(from, before).filter(|_| depth < 8) else {
            // Another crate's: one name.
            found.insert(path.join("::"));
            return;
        };
        match self.modules[&module].hands_on.get(name) {
            Some(by) if !self.modules[&module].items.contains_key(name) => {
                self.show_path(&module, by, found, seen, depth + 1);
            }
            _ => {
                found.insert(self.defined_at(&module, name).unwrap_or_else(|| full(&module, name)));
            }
        }
    }

    /// Where a name is defined that a module has, or hands on with all of another.
    fn defined_at(&self, place: &Place, name: &str) -> Option<String> {
        let module = self.modules.get(place)?;
        if module.items.contains_key(name) {
            return Some(full(place, name));
        }
        let others = module.hands_on_all.iter().filter_map(|path| self.module_at(place, path));
        others.filter(|other| other != place).find_map(|other| self.defined_at(&other, name))
    }

    fn module_at(&self, from: &Place, path: &[String]) -> Option<Place> {
        let Some((first, rest)) = path.split_first() else { return Some(from.clone()) };
        let (mut place, mut rest) = match first.as_str() {
            "crate" => (Vec::new(), rest),
            "self" => (from.clone(), rest),
            "super" => (from.get(..from.len().checked_sub(1)?)?.to_vec(), rest),
            known if self.modules.contains_key(&below(from, known)) => (from.clone(), path),
            known => {
                let brought = self.modules.get(from)?.brings_in.get(known)?;
                if brought.first() == Some(first) {
                    return None;
                }
                (self.module_at(from, brought)?, rest)
            }
        };
        while let Some((next, after)) = rest.split_first() {
            place = if next == "super" {
                place.get(..place.len().checked_sub(1)?)?.to_vec()
            } else {
                below(&place, next)
            };
            rest = after;
        }
        self.modules.contains_key(&place).then_some(place)
    }
}

fn below(place: &Place, name: &str) -> Place {
    let mut below = place.clone();
    below.push(name.to_owned());
    below
}

fn full(place: &Place, name: &str) -> String {
    below(place, name).join("::")
}

/// The library of a folder, read from its files.
fn library(folder: &Path) -> Crate {
    Crate::read(&|place| {
        let file = match place.as_slice() {
            [] => folder.join("lib.rs"),
            names => folder.join(names.join("/")).with_extension("rs"),
        };
        let folder_file = file.with_extension("").join("mod.rs");
        std::fs::read_to_string(&file)
            .or_else(|_| std::fs::read_to_string(&folder_file))
            .unwrap_or_else(|error| panic!("{}: {error}", file.display()))
    })
}

/// What is wrong with a crate's surface, if anything.
fn fault(name: &str, shown: &BTreeSet<String>) -> Option<String> {
    (REFUSED_FROM <= shown.len()).then(|| {
        let mut by_module: BTreeMap<&str, usize> = BTreeMap::new();
        for item in shown {
            *by_module.entry(item.rsplit_once("::").map_or("(root)", |(module, _)| module)).or_default() += 1;
        }
        format!("{name}: {} public items, accepted: fewer than {REFUSED_FROM}: {by_module:?}", shown.len())
    })
}

#[test]
fn no_crate_shows_too_much() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the workspace");
    let crates = std::fs::read_dir(root.join("crates")).expect("the crates").flatten();
    let mut folders: Vec<_> = crates.map(|entry| entry.path()).collect();
    folders.push(root.join("laboratory"));
    folders.sort();
    let mut faults = Vec::new();
    let mut read = 0;
    for folder in folders.iter().filter(|folder| folder.join("src/lib.rs").exists()) {
        let name = folder.file_name().expect("a crate has a name").to_string_lossy();
        let shown = library(&folder.join("src")).shown();
        assert!(!shown.is_empty(), "nothing of {name} was read");
        faults.extend(fault(&name, &shown));
        read += 1;
    }
    assert!(read > 15, "{read} libraries were read");
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

fn made(files: &[(&str, &str)]) -> BTreeSet<String> {
    let read = Crate::read(&|place| {
        let name = place.join("/");
        let found = files.iter().find(|(file, _)| *file == name);
        found.map_or_else(|| panic!("no file {name}"), |(_, text)| (*text).to_owned())
    });
    read.shown()
}

#[test]
fn what_can_be_reached_is_counted_once() {
    let root = r"
        pub mod open; mod shut; #[doc(hidden)] pub mod hidden; #[cfg(test)] mod tests;
        pub use shut::{Handed, inner, deep::*}; pub use open::Twice; pub use other::Foreign;
        use shut::Kept; pub(crate) fn own() {} fn private() {}
        #[macro_export] macro_rules! shout { () => {} }
        macro_rules! quiet { () => {} }
        table! { /// A kind.
                 Kind = 3 { field: u8 }, pub struct Made; bare }
        pub struct Shown { pub field: u8 } impl Shown { pub fn method(&self) {} }
        pub enum Many { One, Two } pub trait Does { fn it(); } pub const C: u8 = 1; pub static S: u8 = 1;
        pub type Alias = u8; pub fn call() {} #[doc(hidden)] pub fn unseen() {}
    ";
    let shut =
        "pub mod inner { pub fn reached() {} fn not() {} } pub mod deep; pub struct Handed; pub struct Lost;
        pub use self::Kept as Known; pub struct Kept;";
    let files = [
        ("", root),
        ("open", "pub struct Twice; pub mod further { pub struct Far; } mod closed { pub struct Never; }"),
        ("shut", shut),
        ("shut/deep", "pub struct Deep; pub use crate::shut::Known; struct Not;"),
        ("hidden", "pub struct Hidden;"),
    ];
    let expected = [
        "Alias",
        "C",
        "Does",
        "Kind",
        "Made",
        "Many",
        "S",
        "Shown",
        "call",
        "open::Twice",
        "open::further::Far",
        "other::Foreign",
        "shout!",
        "shut::Handed",
        "shut::Kept",
        "shut::deep::Deep",
        "shut::inner::reached",
    ];
    assert_eq!(made(&files), expected.map(str::to_owned).into());
}

/// A breach, and the largest crate that is let be.
#[test]
fn a_surface_that_is_too_large_is_refused() {
    let crate_of = |count: usize| {
        let text: String = (0..count).map(|number| format!("pub fn number_{number}() {{}}\n")).collect();
        made(&[("", "pub mod many;"), ("many", &text)])
    };
    let refused = fault("wide", &crate_of(REFUSED_FROM)).expect("150 items are too many");
    assert!(refused.contains("wide: 150 public items") && refused.contains("\"many\": 150"), "{refused}");
    assert_eq!(fault("narrow", &crate_of(REFUSED_FROM - 1)), None);
}
