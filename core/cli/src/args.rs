//! What can be written on the command line, and the words of its help.
//!
//! It reads arguments into types and does nothing with them.

use std::ffi::OsString;
use std::path::PathBuf;

use clap::builder::{OsStringValueParser, Resettable, TypedValueParser};
use clap::error::ErrorKind;
use clap::parser::ValueSource;
use clap::{Args, CommandFactory, FromArgMatches, Parser, Subcommand};
use jiff::civil::Date;
use taperbook_units::Length;

use crate::choose_args::ChooseArgs;
use crate::help;
use crate::job_args::{FittingsArgs, GuidesArgs, HandoverArgs, SheetArgs};
use crate::log_args::LogArgs;
use crate::new_args::NewArgs;

/// The workshop book of a custom rod builder who trims and tunes blanks.
///
/// Build notes are markdown files in a shop folder, written in any editor. Taperbook finds them,
/// works out what a cut will do before the saw, holds it against what the customer allowed,
/// and suggests the next cut from physics and from the shop's own past builds.
#[derive(Debug, Parser)]
#[command(name = "taperbook", version, after_help = help::EXAMPLES, max_term_width = 100)]
#[command(subcommand_required = true, arg_required_else_help = true)]
pub(crate) struct Cli {
    #[command(flatten)]
    pub(crate) everywhere: Everywhere,
    #[command(subcommand)]
    pub(crate) command: Command,
}

/// Over the options that every command takes.
pub(crate) const EVERYWHERE: &str = "With every command";

/// What every command takes.
#[derive(Debug, Args)]
pub(crate) struct Everywhere {
    /// Answer in JSON
    #[arg(long, global = true, help_heading = EVERYWHERE, display_order = 100)]
    pub(crate) json: bool,
    /// The shop folder, else TAPERBOOK_FOLDER names it, else it is found upwards
    #[arg(long, global = true, help_heading = EVERYWHERE, display_order = 101)]
    #[arg(value_name = "DIR", env = "TAPERBOOK_FOLDER", hide_env = true, value_parser = path())]
    pub(crate) folder: Option<PathBuf>,
    /// Where the index is kept instead of the state directory of the platform
    #[arg(long, global = true, value_name = "DIR", env = "TAPERBOOK_STATE", hide = true)]
    #[arg(value_parser = path())]
    pub(crate) state_dir: Option<PathBuf>,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Keep the index in step with a shop folder, until Ctrl-C or `taperbook stop`
    Watch {
        /// The shop folder
        #[arg(value_name = "FOLDER")]
        watched: Option<PathBuf>,
        /// Serve a page to browsers on this machine, at this port, or any that is free for 0
        #[arg(long, value_name = "PORT")]
        page: Option<u16>,
    },
    /// Say how the daemon is; exit status 0 when it is live, polling or degraded
    Status {
        /// Wait until everything written before now is in the index
        #[arg(long)]
        wait: bool,
    },
    /// Stop the daemon of the shop folder
    Stop,
    /// Find records by words, fields and numbers with units
    #[command(after_help = help::FIND_EXAMPLES)]
    Find {
        /// Words, all required; `word*`, `-word`, `or`, `(…)`, `field:value`, `field:a..b`, `field<value`
        #[arg(value_name = "QUERY", required = true)]
        query: Vec<String>,
        /// How many hits to show
        #[arg(long, value_name = "N", default_value_t = 20)]
        limit: usize,
    },
    /// Show one record: its bench as it went, its numbers, flags and problems, and its text
    Show {
        /// Its path, with or without `.md`, or the name of its file
        record: String,
    },
    /// List the flags of the shop
    Flags {
        /// Only this flag, such as `below-shortest-length`
        flag: Option<String>,
    },
    /// Say what a flag means, or where the numbers of a record come from
    #[command(after_help = help::EXPLAIN_EXAMPLES)]
    Explain {
        /// A flag, or a record
        #[arg(value_name = "FLAG|RECORD")]
        what: String,
        /// One number of the record, such as `power`: which reading does what for it, and which would narrow it
        number: Option<String>,
        /// Where hand or clamp grips, from the present butt
        #[arg(long, value_name = "LENGTH", value_parser = Length::parse, requires = "number")]
        held_at: Option<Length>,
    },
    /// List problems in how records are written, and flags; exit status 1 when there are any
    #[command(after_help = help::CHECK_EXAMPLES)]
    Check {
        /// Records or folders; all when none is named
        #[arg(value_name = "PATH")]
        paths: Vec<String>,
    },
    /// Work out what further cuts would give, before the saw
    #[command(after_help = help::TRY_EXAMPLES, override_usage = help::TRY_USAGE)]
    Try(TryArgs),
    /// Suggest the next cut, or say why to stop
    Suggest {
        /// A build or a blank card
        record: String,
        /// Where it is held, from the present butt
        #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
        held_at: Option<Length>,
    },
    /// Choose a blank and its cuts for a rod, or see which rods one blank could be
    #[command(after_help = help::CHOOSE_EXAMPLES, override_usage = help::CHOOSE_USAGE)]
    Choose(Box<ChooseArgs>),
    /// Say which tip-top, butt ferrule and reel seat of the drawers go on
    #[command(after_help = help::FITTINGS_EXAMPLES)]
    Fittings(FittingsArgs),
    /// Make a sheet for the bench: marks, order of the cuts, boxes for the readings
    #[command(after_help = help::SHEET_EXAMPLES)]
    Sheet(Box<SheetArgs>),
    /// Place the guides by the bend, with the static test computed
    #[command(after_help = help::GUIDES_EXAMPLES)]
    Guides(Box<GuidesArgs>),
    /// Make a page for the customer: what was asked, what was cut, what it became
    #[command(after_help = help::HANDOVER_EXAMPLES)]
    Handover(HandoverArgs),
    /// Write a cut or a reading at the end of a build's bench
    Log(Box<LogArgs>),
    /// Make a file for a blank card, a build, a fitting or an offcut, with hints to fill in
    #[command(after_help = help::NEW_EXAMPLES)]
    New(Box<NewArgs>),
    /// List the names of records, for completions
    #[command(hide = true)]
    Names {
        /// Only those that begin so
        #[arg(default_value = "")]
        begins: String,
    },
    /// Serve an editor that speaks the Language Server Protocol, over standard input and output
    Lsp,
    /// Print the completions for a shell
    #[command(
        after_help = "Example:\n  taperbook completions bash > ~/.local/share/bash-completion/completions/taperbook"
    )]
    Completions {
        /// The shell
        shell: clap_complete::Shell,
    },
    /// Print the man page
    #[command(after_help = "Example:\n  taperbook man > ~/.local/share/man/man1/taperbook.1")]
    Man,
}

/// The arguments of `try`.
#[derive(Debug, Args)]
pub(crate) struct TryArgs {
    /// A build or a blank card
    pub(crate) record: String,
    #[command(flatten)]
    pub(crate) cuts: TryCuts,
    /// Where it is held, from the present butt
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
    pub(crate) held_at: Option<Length>,
}

/// The cuts of `try`, or what they should reach.
#[derive(Debug, Args)]
#[group(required = true, multiple = true)]
pub(crate) struct TryCuts {
    /// Off the tip
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
    pub(crate) tip: Option<Length>,
    /// Off the butt
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
    pub(crate) butt: Option<Length>,
    /// The tip cut that leaves this diameter at the tip
    #[arg(long, value_name = "DIAMETER", value_parser = Length::parse)]
    #[arg(conflicts_with_all = ["tip", "butt", "to_butt_od", "to_length"])]
    pub(crate) to_tip_od: Option<Length>,
    /// The butt cut that leaves this diameter at the butt
    #[arg(long, value_name = "DIAMETER", value_parser = Length::parse)]
    #[arg(conflicts_with_all = ["tip", "butt", "to_length"])]
    pub(crate) to_butt_od: Option<Length>,
    /// The tip cut that leaves this length, after what `--butt` takes
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse, conflicts_with = "tip")]
    pub(crate) to_length: Option<Length>,
}

/// Stands before a `-` that belongs to a query, since clap takes a leading `-` for a flag of ours.
const QUERY_MARK: char = '\u{e000}';

impl Cli {
    /// Reads the arguments, the first of which is the program's name.
    pub(crate) fn read(
        arguments: Vec<OsString>,
        colour: clap::ColorChoice,
    ) -> Result<Self, clap::Error> {
        let mut command = Self::command().color(colour);
        if arguments.len() <= 1 {
            // Clap takes a variable for an argument, and would miss a command then in place of giving the help.
            command = command.mut_args(|argument| argument.env(Resettable::Reset));
        }
        let matches = command.try_get_matches_from(mark_query(arguments))?;
        let mut cli = Self::from_arg_matches(&matches)?;
        if let Command::Find { query, .. } = &mut cli.command {
            for term in query {
                *term = term.strip_prefix(QUERY_MARK).unwrap_or(term).to_owned();
            }
        }
        for (name, path) in
            [("folder", &mut cli.everywhere.folder), ("state_dir", &mut cli.everywhere.state_dir)]
        {
            if path.as_ref().is_some_and(|path| path.as_os_str().is_empty()) {
                // A variable set to nothing names nothing; a flag that is given nothing was a slip, such as `--folder "$SHOP"`.
                if matches.value_source(name) == Some(ValueSource::CommandLine) {
                    let message = format!(
                        "`--{}` names nothing: write the path of a folder\n",
                        name.replace('_', "-")
                    );
                    return Err(clap::Error::raw(ErrorKind::InvalidValue, message));
                }
                *path = None;
            }
        }
        Ok(cli)
    }
}

/// Marks the arguments of `find` that begin with a `-` and are words of the query: `-scrap`, `-verdict:scrap`.
///
/// All flags of the program have two dashes, but for `-h` and `-V`.
fn mark_query(mut arguments: Vec<OsString>) -> Vec<OsString> {
    const WITH_VALUE: [&str; 3] = ["--folder", "--state-dir", "--limit"];
    let text = |argument: &OsString| argument.to_str().unwrap_or_default().to_owned();
    let is_value = |arguments: &[OsString], at: usize| {
        at.checked_sub(1)
            .is_some_and(|before| WITH_VALUE.contains(&text(&arguments[before]).as_str()))
    };
    let is_command =
        |at: &usize| !text(&arguments[*at]).starts_with('-') && !is_value(&arguments, *at);
    let Some(command) = (1..arguments.len()).find(is_command) else { return arguments };
    if text(&arguments[command]) != "find" {
        return arguments;
    }
    for at in command + 1..arguments.len() {
        let argument = text(&arguments[at]);
        if argument == "--" {
            break;
        }
        let is_term = argument.starts_with('-')
            && !argument.starts_with("--")
            && !matches!(argument.as_str(), "-h" | "-V");
        if is_term && !is_value(&arguments, at) {
            arguments[at] = format!("{QUERY_MARK}{argument}").into();
        }
    }
    arguments
}

/// Reads a path, and an empty one too, which clap's own parser takes for an error wherever it comes from.
fn path() -> impl TypedValueParser<Value = PathBuf> {
    OsStringValueParser::new().map(PathBuf::from)
}

/// Reads a date as records write it.
pub(crate) fn date(text: &str) -> Result<Date, String> {
    text.parse().map_err(|_| format!("`{text}` is not a date: write one such as `2026-03-14`"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(arguments: &[&str]) -> Result<Cli, clap::Error> {
        let all = ["taperbook"].iter().chain(arguments).map(OsString::from).collect();
        Cli::read(all, clap::ColorChoice::Never)
    }

    #[track_caller]
    fn query(arguments: &[&str]) -> (String, usize) {
        match read(arguments).map(|cli| cli.command) {
            Ok(Command::Find { query, limit }) => (query.join(" "), limit),
            other => panic!("{other:?}"),
        }
    }

    #[track_caller]
    fn refused(arguments: &[&str], part: &str) {
        let message = read(arguments).map(|_| ()).unwrap_err().to_string();
        assert!(message.contains(part), "{message}");
    }

    #[test]
    fn the_definition_holds_together() {
        Cli::command().debug_assert();
    }

    #[test]
    fn a_minus_before_a_word_of_a_query_is_no_flag() {
        assert_eq!(
            query(&["find", "heron", "-scrap", "--limit", "5"]),
            ("heron -scrap".to_owned(), 5)
        );
        assert_eq!(
            query(&["--json", "find", "-verdict:scrap", "--json"]),
            ("-verdict:scrap".to_owned(), 20)
        );
        assert_eq!(
            query(&["--folder", "find", "find", "-a", "--", "-b", "--c"]),
            ("-a -b --c".to_owned(), 20)
        );
        assert_eq!(
            query(&["find", "--limit=3", "-\"two words\""]),
            ("-\"two words\"".to_owned(), 3)
        );
        refused(&["find", "heron", "--limt", "5"], "--limit");
        refused(&["find"], "QUERY");
    }

    #[test]
    fn lengths_are_refused_in_their_own_words() {
        refused(&["try", "ilse", "--tip", "2,4mm"], "`2,4mm` has a comma: write `2.4mm`");
        refused(&["try", "ilse", "--tip", "1"], "`1` has no unit");
        refused(&["suggest", "ilse", "--held-at", "46g"], "is a mass where a length belongs");
    }

    #[test]
    fn a_try_names_a_cut_or_one_thing_to_reach() {
        refused(&["try", "ilse"], "--tip");
        refused(&["try", "ilse", "--held-at", "9in"], "--tip");
        refused(&["try", "ilse", "--to-tip-od", "2mm", "--butt", "1in"], "cannot be used with");
        refused(&["try", "ilse", "--to-length", "7ft", "--tip", "1in"], "cannot be used with");
        assert!(read(&["try", "ilse", "--to-length", "7ft", "--butt", "1in"]).is_ok());
        assert!(read(&["try", "ilse", "--tip", "0in"]).is_ok());
    }

    #[test]
    fn a_choice_needs_a_brief_or_a_blank() {
        refused(&["choose"], "--aim");
        refused(&["choose", "--held-at", "9in"], "--aim");
        refused(&["choose", "--from", "heron", "--for", "ilse"], "cannot be used with");
        refused(&["choose", "--for", "ilse", "--svg", "a.svg"], "cannot be used with");
        refused(&["choose", "--aim", "power 235 g", "--svg", "a.svg"], "--from");
        refused(&["choose", "--from", "heron", "--force"], "--svg");
        refused(&["choose", "--aim", "power 235 g", "--limit", "0"], "0");
        assert!(read(&["choose", "--aim", "power 235 g", "--use", "sea trout"]).is_ok());
        assert!(read(&["choose", "--from", "heron", "--limits", "power .. 260 g"]).is_ok());
    }

    #[test]
    fn the_flags_for_all_stand_before_or_after_the_command() {
        for arguments in [["--json", "flags"], ["flags", "--json"]] {
            assert!(read(&arguments).is_ok_and(|cli| cli.everywhere.json));
        }
    }

    #[test]
    fn a_date_is_refused_in_our_own_words() {
        assert_eq!(
            date("2026-02-30"),
            Err("`2026-02-30` is not a date: write one such as `2026-03-14`".to_owned())
        );
        assert!(date("2026-03-14").is_ok());
    }
}
