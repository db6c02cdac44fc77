//! Aim: files use each other one way; no circle of more than three files in any crate, so that one can be read, and
//! changed, without all the others.
//! Method: read every file with a parser; a path (in `use`, in code, in what a macro is given) leads to the file that
//! defines its name, through what other files hand on with `pub use`; then look for circles (Tarjan).

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use proc_macro2::{TokenStream, TokenTree};
use syn::visit::{self, Visit};
use syn::{Item, UseTree};

/// Largest circle that is let be.
const LARGEST: usize = 3;

/// The place of a file among the modules of its crate: none for the crate itself.
type Place = Vec<String>;

/// What is read off one file.
#[derive(Default)]
struct Module {
    /// Names that it defines.
    defines: BTreeSet<String>,
    /// Names that it hands on, with the path they come by.
    hands_on: BTreeMap<String, Vec<String>>,
    /// Paths of which everything is handed on.
    hands_on_all: Vec<Vec<String>>,
    /// Names brought in, with their path.
    brings_in: BTreeMap<String, Vec<String>>,
    /// Paths that stand in it.
    paths: Vec<Vec<String>>,
}

struct Reading<'m>(&'m mut Module);

fn is_of_tests(attributes: &[syn::Attribute]) -> bool {
    attributes.iter().any(|one| {
        one.path().is_ident("cfg") && one.parse_args::<syn::Ident>().is_ok_and(|what| what == "test")
    })
}

impl<'a> Visit<'a> for Reading<'_> {
    fn visit_item(&mut self, item: &'a Item) {
        match item {
            Item::Mod(module) if is_of_tests(&module.attrs) => return,
            Item::Use(one) => {
                let is_handed_on = !matches!(one.vis, syn::Visibility::Inherited);
                self.tree(&one.tree, Vec::new(), is_handed_on);
                return;
            }
            _ => {}
        }
        visit::visit_item(self, item);
    }

    fn visit_path(&mut self, path: &'a syn::Path) {
        if path.segments.len() > 1 {
            self.0.paths.push(path.segments.iter().map(|segment| segment.ident.to_string()).collect());
        }
        visit::visit_path(self, path);
    }

    fn visit_macro(&mut self, called: &'a syn::Macro) {
        self.tokens(called.tokens.clone());
        visit::visit_macro(self, called);
    }
}

impl Reading<'_> {
    fn tree(&mut self, tree: &UseTree, mut before: Vec<String>, is_handed_on: bool) {
        match tree {
            UseTree::Path(path) => {
                before.push(path.ident.to_string());
                self.tree(&path.tree, before, is_handed_on);
            }
            UseTree::Group(group) => {
                for one in &group.items {
                    self.tree(one, before.clone(), is_handed_on);
                }
            }
            UseTree::Glob(_) if is_handed_on => self.0.hands_on_all.push(before),
            UseTree::Glob(_) => self.0.paths.push(before),
            UseTree::Name(name) if name.ident == "self" => {
                let known = before.last().cloned().unwrap_or_default();
                self.bring(known, before, is_handed_on);
            }
            UseTree::Name(name) => {
                before.push(name.ident.to_string());
                self.bring(name.ident.to_string(), before, is_handed_on);
            }
            UseTree::Rename(renamed) => {
                before.push(renamed.ident.to_string());
                self.bring(renamed.rename.to_string(), before, is_handed_on);
            }
        }
    }

    fn bring(&mut self, known: String, path: Vec<String>, is_handed_on: bool) {
        if is_handed_on {
            self.0.hands_on.insert(known, path);
        } else {
            self.0.paths.push(path.clone());
            self.0.brings_in.insert(known, path);
        }
    }

    /// Paths among what a macro is given.
    fn tokens(&mut self, tokens: TokenStream) {
        let (mut path, mut colons): (Vec<String>, usize) = (Vec::new(), 0);
        let mut end = |path: &mut Vec<String>| {
            if path.len() > 1 {
                self.0.paths.push(std::mem::take(path));
            }
            path.clear();
        };
        let mut inner = Vec::new();
        for token in tokens {
            match token {
                TokenTree::Ident(word) => {
                    if colons != 2 {
                        end(&mut path);
                    }
                    path.push(word.to_string());
                    colons = 0;
                }
                TokenTree::Punct(mark) if mark.as_char() == ':' => colons += 1,
                TokenTree::Group(group) => {
                    end(&mut path);
                    colons = 0;
                    inner.push(group.stream());
                }
                _ => {
                    end(&mut path);
                    colons = 0;
                }
            }
        }
        end(&mut path);
        for stream in inner {
            self.tokens(stream);
        }
    }
}

fn defined(item: &Item) -> Option<String> {
    Some(match item {
        Item::Const(one) => one.ident.to_string(),
        Item::Enum(one) => one.ident.to_string(),
        Item::Fn(one) => one.sig.ident.to_string(),
        Item::Static(one) => one.ident.to_string(),
        Item::Struct(one) => one.ident.to_string(),
        Item::Trait(one) => one.ident.to_string(),
        Item::Type(one) => one.ident.to_string(),
        _ => return None,
    })
}

fn read(text: &str) -> Module {
    let file = syn::parse_file(text).expect("a file of ours is Rust");
    let mut module = Module::default();
    module.defines.extend(file.items.iter().filter_map(defined));
    Reading(&mut module).visit_file(&file);
    module
}

/// The files of a crate, by place.
struct Files(BTreeMap<Place, Module>);

impl Files {
    /// Where a path begins, and what is left of it; none for what lies outside the crate.
    fn begin<'p>(&self, from: &Place, path: &'p [String]) -> Option<(Place, &'p [String])> {
        let (first, rest) = path.split_first()?;
        match first.as_str() {
            "crate" => Some((Vec::new(), rest)),
            "self" => Some((from.clone(), rest)),
            "super" => {
                let above = path.iter().take_while(|part| *part == "super").count();
                let depth = from.len().checked_sub(above)?;
                Some((from[..depth].to_vec(), &path[above..]))
            }
            known => {
                let mut child = from.clone();
                child.push(known.to_owned());
                if self.0.contains_key(&child) {
                    return Some((from.clone(), path));
                }
                let brought = self.0.get(from)?.brings_in.get(known)?;
                // Brought in by a path of its own: a name of another crate is none of ours.
                if brought.first() == Some(first) {
                    return None;
                }
                let (place, left) = self.begin(from, brought)?;
                let at = self.at(&place, left, 0)?;
                // Only a module leads on: a type's own names are where the type is.
                Some((at, if left.is_empty() { &[] } else { rest }))
            }
        }
    }

    /// The file that a path leads to.
    fn at(&self, place: &Place, path: &[String], depth: usize) -> Option<Place> {
        let (mut place, mut path) = (place.clone(), path);
        while let Some((first, rest)) = path.split_first() {
            let mut below = place.clone();
            below.push(first.clone());
            if !self.0.contains_key(&below) {
                break;
            }
            (place, path) = (below, rest);
        }
        let module = self.0.get(&place)?;
        let Some(name) = path.first().filter(|_| depth < 8) else { return Some(place) };
        if module.defines.contains(name) {
            return Some(place);
        }
        if let Some(by) = module.hands_on.get(name) {
            let (begin, left) = self.begin(&place, by)?;
            return self.at(&begin, left, depth + 1);
        }
        // Of several files that hand everything on, the one that has the name; macros define theirs unseen.
        let all = module.hands_on_all.iter().filter_map(|by| {
            let (begin, left) = self.begin(&place, by)?;
            self.at(&begin, left, depth + 1)
        });
        all.min_by_key(|file| !self.0[file].defines.contains(name)).or(Some(place))
    }

    fn edges(&self) -> BTreeMap<&Place, BTreeSet<Place>> {
        let of = |place: &Place, module: &Module| {
            let lead = |path: &Vec<String>| {
                let (begin, left) = self.begin(place, path)?;
                self.at(&begin, left, 0)
            };
            module.paths.iter().filter_map(lead).filter(|to| to != place).collect()
        };
        self.0.iter().map(|(place, module)| (place, of(place, module))).collect()
    }

    /// Circles of files, the largest first.
    fn circles(&self) -> Vec<Vec<Place>> {
        let edges = self.edges();
        let mut walk = Walk { edges: &edges, seen: BTreeMap::new(), open: Vec::new(), found: Vec::new() };
        for place in edges.keys() {
            walk.from(place);
        }
        walk.found.sort_by_key(|circle| std::cmp::Reverse(circle.len()));
        walk.found
    }
}

/// Tarjan's walk (SIAM J. Comput. 1, 146, 1972).
struct Walk<'e> {
    edges: &'e BTreeMap<&'e Place, BTreeSet<Place>>,
    /// When a place was come to, and the earliest that it leads back to.
    seen: BTreeMap<Place, (usize, usize)>,
    open: Vec<Place>,
    found: Vec<Vec<Place>>,
}

impl Walk<'_> {
    fn from(&mut self, place: &Place) -> usize {
        if let Some((_, earliest)) = self.seen.get(place) {
            return *earliest;
        }
        let number = self.seen.len();
        self.seen.insert(place.clone(), (number, number));
        self.open.push(place.clone());
        let mut earliest = number;
        for next in self.edges.get(place).into_iter().flatten() {
            let is_new = !self.seen.contains_key(next);
            if is_new || self.open.contains(next) {
                let of_next = if is_new { self.from(next) } else { self.seen[next].0 };
                earliest = earliest.min(of_next);
            }
        }
        self.seen.insert(place.clone(), (number, earliest));
        if earliest == number {
            let begin = self.open.iter().position(|one| one == place).unwrap_or(0);
            let circle = self.open.split_off(begin);
            if circle.len() > 1 {
                self.found.push(circle);
            }
        }
        earliest
    }
}

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).expect("a folder of sources").flatten() {
        let path = entry.path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            found.push(path);
        }
    }
}

fn files_of(folder: &Path) -> Files {
    let mut paths = Vec::new();
    sources(folder, &mut paths);
    // Beside a library a program is another crate, which uses it.
    let has_library = folder.join("lib.rs").exists();
    let place = |path: &PathBuf| {
        let below = path.strip_prefix(folder).expect("lies below").with_extension("");
        let mut place: Place = below.iter().map(|part| part.to_string_lossy().into_owned()).collect();
        if matches!(place.last().map(String::as_str), Some("lib" | "main" | "mod")) {
            place.pop();
        }
        place
    };
    let is_program = |path: &&PathBuf| has_library && path.ends_with("main.rs");
    let text = |path: &PathBuf| std::fs::read_to_string(path).expect("can be read");
    Files(
        paths.iter().filter(|path| !is_program(path)).map(|path| (place(path), read(&text(path)))).collect(),
    )
}

fn told(circle: &[Place]) -> String {
    let mut names: Vec<String> =
        circle.iter().map(|place| if place.is_empty() { "lib".into() } else { place.join("/") }).collect();
    names.sort();
    format!("{} files: {}", names.len(), names.join(", "))
}

#[test]
fn no_circle_is_larger_than_three_files() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the workspace");
    let mut folders: Vec<PathBuf> = std::fs::read_dir(root.join("crates"))
        .expect("the crates")
        .flatten()
        .map(|entry| entry.path().join("src"))
        .collect();
    folders.extend(["laboratory/src", "xtask/src"].map(|folder| root.join(folder)));
    let mut faults = Vec::new();
    for folder in folders {
        let files = files_of(&folder);
        assert!(!files.0.is_empty(), "{}", folder.display());
        let large = files.circles().into_iter().filter(|circle| circle.len() > LARGEST);
        faults.extend(large.map(|circle| format!("{}: {}", folder.display(), told(&circle))));
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

fn made(files: &[(&str, &str)]) -> Files {
    let place = |name: &str| name.split('/').filter(|part| !part.is_empty()).map(str::to_owned).collect();
    Files(files.iter().map(|(name, text)| (place(name), read(text))).collect())
}

/// A breach is found by each kind of path, and through what a file hands on.
#[test]
fn a_circle_is_found_however_it_is_closed() {
    let ring = |last: &str| {
        made(&[
            ("", "mod a; mod b; mod c; mod d; pub use a::Apple; macro_rules! m { ($($t:tt)*) => {} }"),
            ("a", "use crate::b::Bean; pub struct Apple(Bean);"),
            ("b", "pub struct Bean(crate::c::Corn);"),
            ("c", "use super::d; pub struct Corn(d::Date);"),
            ("d", last),
        ])
    };
    for closing in [
        "use crate::Apple; pub struct Date(Apple);",
        "pub struct Date; fn f() { crate::a::Apple::new(); }",
        "use crate::a; pub struct Date(a::Apple);",
        "pub struct Date; m! { take(crate::a::Apple) }",
        "pub struct Date; pub use crate::a::Apple as Other; use self::Other; fn f(_: Other) {}",
    ] {
        let circles = ring(closing).circles();
        assert_eq!(circles.first().map(Vec::len), Some(4), "{closing}");
    }
    for open in ["pub struct Date;", "pub struct Date; #[cfg(test)] mod tests { use crate::Apple; }"] {
        assert!(ring(open).circles().is_empty(), "{open}");
    }
}
