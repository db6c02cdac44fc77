//! `completions`: what a shell needs to complete the command line.
//!
//! The kinds of event and their fields come from the one description of events: after `ledger add dip`, `depth_ft=` is
//! offered. For the shell each kind is a verb below `ledger add`, with its fields as what may follow. Fish completes
//! kinds only: its scripts know no values of arguments without a name.

use clap::builder::PossibleValuesParser;
use clap::{Arg, Command, CommandFactory};
use clap_complete::generate;
use event::{Holds, KINDS, Kind};

use crate::args;
use crate::outcome::{Done, Outcome, print};

/// Bash ends a word with a blank: not one that goes on after `=`.
const BASH_FIELDS: &str = r#"
_brinewright_fields() {
    _brinewright "$@"
    if [[ "${COMPREPLY[0]}" == *= ]]; then compopt -o nospace; fi
}
complete -F _brinewright_fields -o bashdefault -o default brinewright
"#;

/// Runs the verb.
pub fn run(args: &args::Completions) -> Outcome {
    let mut command = with_kinds(args::Program::command());
    let mut script = Vec::new();
    let shell = match args.shell {
        args::Shell::Bash => clap_complete::Shell::Bash,
        args::Shell::Zsh => clap_complete::Shell::Zsh,
        args::Shell::Fish => clap_complete::Shell::Fish,
    };
    generate(shell, &mut command, "brinewright", &mut script);
    let mut script = String::from_utf8_lossy(&script).into_owned();
    if matches!(args.shell, args::Shell::Bash) {
        script.push_str(BASH_FIELDS);
    }
    print(&script)?;
    Ok(Done::Yes)
}

/// The command line with every kind of event as a verb below `ledger add`, for the shell alone: the program itself
/// takes a kind as text, and names the nearest where it is mistyped.
fn with_kinds(program: Command) -> Command {
    program.mut_subcommand("ledger", |ledger| {
        ledger.mut_subcommand("add", |add| {
            let without = add.mut_args(|arg| match arg.get_id().as_str() {
                "kind" | "fields" => arg.hide(true).required(false),
                _ => arg,
            });
            without.subcommands(KINDS.iter().map(verb))
        })
    })
}

fn verb(kind: &Kind) -> Command {
    let fields = kind.fields.iter().chain(kind.helpers);
    let names = fields.flat_map(|field| {
        let values: &[&str] = match field.spec.holds {
            Holds::OneOf(words, _) => words,
            _ => &[],
        };
        let typed = field.names().into_iter().map(|(name, _)| format!("{name}="));
        if values.is_empty() {
            typed.collect::<Vec<_>>()
        } else {
            values.iter().map(|value| format!("{}={value}", field.name)).collect()
        }
    });
    let fields = Arg::new("field").num_args(0..).value_parser(PossibleValuesParser::new(names));
    Command::new(kind.name).about(first_sentence(kind.meaning)).arg(fields)
}

fn first_sentence(meaning: &'static str) -> &'static str {
    meaning.split_once(". ").map_or(meaning, |(first, _)| first).trim_end_matches('.')
}
