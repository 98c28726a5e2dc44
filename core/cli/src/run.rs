//! From arguments to an exit code: each command asks, prints and says how it went.

use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Instant;

use serde::Serialize;
use serde_json::json;
use taperbook_daemon::{Progress, Shop, Standing};
use taperbook_engine::{Answer, Request, StatusAnswer, TryTarget};
use taperbook_plugin::Plugin;
use taperbook_units::Length;

use crate::args::{Cli, Command, TryArgs};
use crate::failure::Failure;
use crate::progress::Bar;
use crate::render::{self, Setting, watch::Told};
use crate::screen::Screen;
use crate::{choose, completions, job, locate, log, logging, man, memory, names, new};

/// How a command went.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Done {
    /// It is done.
    Well,
    /// `check` found something.
    Found,
    /// It could not be done, and that has been said.
    Failed,
}

impl From<Done> for ExitCode {
    fn from(done: Done) -> Self {
        ExitCode::from(match done {
            Done::Well => 0,
            Done::Found => 1,
            Done::Failed => 2,
        })
    }
}

/// What a command is to the process that does it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Life {
    /// All of it.
    Process,
    /// A call, after which there may be others.
    Call,
}

/// What every command needs.
pub(crate) struct Context {
    pub(crate) screen: Screen,
    pub(crate) is_json: bool,
    pub(crate) shop: Shop,
    pub(crate) setting: Setting,
    /// The working directory.
    here: PathBuf,
    /// The arguments of the process where the command is all that it does.
    process: Option<Vec<OsString>>,
}

/// Reads the arguments, does the command, and says on the way why not, when it can't be done.
pub(crate) fn run(
    arguments: Vec<OsString>,
    plugins: fn() -> Vec<Box<dyn Plugin>>,
    life: Life,
) -> Done {
    let process = (life == Life::Process).then(|| arguments.clone());
    let screen = Screen::new();
    let colour =
        if screen.has_colour() { clap::ColorChoice::Auto } else { clap::ColorChoice::Never };
    let wants_json =
        arguments.iter().skip(1).take_while(|argument| *argument != "--").any(|a| a == "--json");
    let cli = match Cli::read(arguments, colour) {
        Ok(cli) => cli,
        Err(error) => return usage(&screen, &error, wants_json),
    };
    match command(cli, screen, plugins, process) {
        Ok(done) => done,
        Err(failure) => {
            screen.note(&failure.print());
            if wants_json {
                // The failure has been told on standard error; that this failed too would only hide it.
                let _ = screen.print_json(&failure.json());
            }
            Done::Failed
        }
    }
}

/// Prints what clap has to say: help and version are no errors.
fn usage(screen: &Screen, error: &clap::Error, wants_json: bool) -> Done {
    let text = error.render();
    if !error.use_stderr() {
        return match screen.print(&text.ansi().to_string()) {
            Ok(()) => Done::Well,
            Err(failure) => {
                screen.note(&failure.print());
                Done::Failed
            }
        };
    }
    screen.note(&text.ansi().to_string());
    if wants_json {
        let text = text.to_string();
        let message = text.lines().next().unwrap_or_default().trim_start_matches("error: ");
        let _ = screen.print_json(&Failure::new(message).json());
    }
    Done::Failed
}

fn command(
    cli: Cli,
    screen: Screen,
    plugins: fn() -> Vec<Box<dyn Plugin>>,
    process: Option<Vec<OsString>>,
) -> Result<Done, Failure> {
    logging::begin(std::env::var_os(logging::VARIABLE).as_deref())?;
    let is_json = cli.everywhere.json;
    // These two need no shop folder.
    match cli.command {
        Command::Completions { shell } => return completions::completions(&screen, is_json, shell),
        Command::Man => return man::man(&screen, is_json),
        _ => {}
    }
    let here = std::env::current_dir()
        .map_err(|error| Failure::new(format!("the working directory can't be used: {error}")))?;
    let named = match &cli.command {
        Command::Watch { watched: Some(watched), .. } => Some(watched.as_path()),
        _ => cli.everywhere.folder.as_deref(),
    };
    let folder = locate::folder(named, &here)?;
    let setting = Setting { units: locate::units(&folder), prefix: locate::prefix(&folder, &here) };
    let shop = Shop { folder, state_dir: cli.everywhere.state_dir, plugins };
    Context { screen, is_json, shop, setting, here, process }.command(cli.command)
}

impl Context {
    fn command(&self, command: Command) -> Result<Done, Failure> {
        match command {
            Command::Watch { page, .. } => self.watch(page),
            Command::Status { wait } => self.status(wait),
            Command::Stop => self.stop(),
            Command::Find { query, limit } => self.find(&query.join(" "), limit),
            Command::Show { record } => {
                self.question(&Request::Show { record: self.record(&record) })
            }
            Command::Flags { flag } => self.question(&Request::Flags { flag }),
            Command::Explain { what, number, held_at } => self.question(&Request::Explain {
                what: self.record(&what),
                number,
                held_at_mm: held_at.map(Length::mm),
            }),
            Command::Check { paths } => self.check(&paths),
            Command::Try(arguments) => self.try_cut(&arguments),
            Command::Suggest { record, held_at } => self.question(&Request::Suggest {
                record: self.record(&record),
                held_at_mm: held_at.map(Length::mm),
            }),
            Command::Choose(arguments) => choose::choose(self, &arguments),
            Command::Fittings(arguments) => job::fittings(self, &arguments),
            Command::Sheet(arguments) => job::sheet(self, &arguments),
            Command::Guides(arguments) => job::guides(self, &arguments),
            Command::Handover(arguments) => job::handover(self, &arguments),
            Command::Log(arguments) => log::log(self, &arguments),
            Command::Lsp => self.serve_editor(),
            Command::Names { begins } => names::names(self, &begins),
            Command::New(arguments) => new::new(self, &arguments),
            // Both were done before a shop folder was looked for.
            Command::Completions { .. } | Command::Man => Ok(Done::Well),
        }
    }

    /// Asks and gives the answer, which is never a refusal.
    pub(crate) fn ask(&self, request: &Request) -> Result<Answer, Failure> {
        let bar = Bar::new(self.screen.shows_progress());
        let answer =
            taperbook_daemon::ask(&self.shop, request, |progress: Progress| bar.report(&progress))
                .map_err(|error| Failure::from_error(&error))?;
        drop(bar);
        match answer {
            Answer::Refused(refusal) => {
                let failure = Failure::new(refusal.message);
                Err(match (request, refusal.at) {
                    (Request::Find { query, .. }, Some(at)) => failure.in_query(query, at),
                    _ => failure,
                })
            }
            answer => Ok(answer),
        }
    }

    /// Turns what names a record on the command line into what the engine knows it by.
    pub(crate) fn record(&self, typed: &str) -> String {
        locate::inside(&self.shop.folder, &self.here, typed)
    }

    /// Gives the path of a record as it opens from the working directory.
    pub(crate) fn shown_path(&self, path: &str) -> String {
        format!("{}{path}", self.setting.prefix)
    }

    /// Prints an answer as JSON where that was asked for, else as the text that is made of it.
    pub(crate) fn print<T: Serialize>(
        &self,
        value: &T,
        text: impl FnOnce(&T) -> String,
    ) -> Result<(), Failure> {
        if self.is_json { self.screen.print_json(value) } else { self.screen.print(&text(value)) }
    }

    /// Asks a question and prints its answer.
    pub(crate) fn question(&self, request: &Request) -> Result<Done, Failure> {
        self.answer(&self.ask(request)?)?;
        Ok(Done::Well)
    }

    /// Gives the directory in which all that is kept about the shop folder lies.
    pub(crate) fn state_dir(&self) -> Result<std::path::PathBuf, Failure> {
        taperbook_daemon::state_dir(&self.shop).map_err(|error| Failure::from_error(&error))
    }

    /// Gives the working directory.
    pub(crate) fn here(&self) -> &Path {
        &self.here
    }

    /// Prints an answer; in JSON it is the answer's own keys and nothing around them.
    pub(crate) fn answer(&self, answer: &Answer) -> Result<(), Failure> {
        let setting = &self.setting;
        let units = setting.units;
        match answer {
            Answer::Find(answer) => self.print(answer, |answer| render::find::find(units, answer)),
            Answer::Show(answer) => {
                self.print(answer, |answer| render::show::show(setting, answer))
            }
            Answer::Flags(answer) => {
                self.print(answer, |answer| render::flags::flags(setting, answer))
            }
            Answer::ExplainFlag(answer) => self.print(answer, render::explain::flag),
            Answer::ExplainRecord(answer) => {
                self.print(answer, |answer| render::explain::record(units, answer))
            }
            Answer::Check(answer) => {
                self.print(answer, |answer| render::check::check(setting, answer))
            }
            Answer::Try(answer) => {
                self.print(answer, |answer| render::tried::tried(setting, answer))
            }
            Answer::Suggest(answer) => {
                self.print(answer, |answer| render::suggest::suggest(units, answer))
            }
            Answer::Choose(answer) => {
                self.print(answer, |answer| render::choose::choose(units, answer))
            }
            Answer::Reach(answer) => {
                self.print(answer, |answer| render::reach::reach(units, answer))
            }
            Answer::Fittings(answer) => {
                self.print(answer, |answer| render::fittings::fittings(units, answer))
            }
            Answer::Sheet(answer) => {
                self.print(answer, |answer| render::sheet::sheet(units, answer))
            }
            Answer::Guides(answer) => {
                self.print(answer, |answer| render::guides::guides(units, answer))
            }
            Answer::Handover(answer) => {
                self.print(answer, |answer| render::handover::handover(units, answer))
            }
            Answer::Status(answer) => self.print(answer, render::status::status),
            Answer::Names(_)
            | Answer::Bend(_)
            | Answer::Marks(_)
            | Answer::Faults(_)
            | Answer::Refused(_) => Err(Failure::new("the daemon answered another question")),
        }
    }

    fn find(&self, query: &str, limit: usize) -> Result<Done, Failure> {
        self.question(&Request::Find { query: query.to_owned(), limit })
    }

    fn check(&self, paths: &[String]) -> Result<Done, Failure> {
        let paths = paths.iter().map(|path| self.record(path)).collect();
        let answer = self.ask(&Request::Check { paths })?;
        self.answer(&answer)?;
        let Answer::Check(check) = &answer else { return Ok(Done::Well) };
        if !self.is_json {
            self.screen.note(&render::check::summary(check));
        }
        let is_clean = check.problems.is_empty() && check.flags.is_empty();
        Ok(if is_clean { Done::Well } else { Done::Found })
    }

    fn try_cut(&self, arguments: &TryArgs) -> Result<Done, Failure> {
        let cuts = &arguments.cuts;
        let mm = |length: Option<Length>| length.map(Length::mm);
        let target = TryTarget {
            to_tip_od_mm: mm(cuts.to_tip_od),
            to_butt_od_mm: mm(cuts.to_butt_od),
            to_length_mm: mm(cuts.to_length),
            tip_mm: mm(cuts.tip),
            butt_mm: mm(cuts.butt),
        };
        let record = self.record(&arguments.record);
        self.question(&Request::Try { record, target, held_at_mm: mm(arguments.held_at) })
    }

    fn watch(&self, page: Option<u16>) -> Result<Done, Failure> {
        let (screen, is_json) = (self.screen, self.is_json);
        let bar = Bar::new(screen.shows_progress() && !is_json);
        // A daemon that does not begin, since another one watches already, says that and nothing else.
        let mut standing = self.process.as_ref().and_then(|_| memory::left());
        let start = render::watch::start(&self.shop.folder.display().to_string());
        // One that began anew has said it before.
        let start = standing.is_none().then_some(start);
        let told = Told::new(!screen.shows_progress(), standing.as_ref().map(Standing::counts));
        let shown = std::sync::Mutex::new((start, told, bar));
        let report = Arc::new(move |progress: Progress| {
            // A daemon goes on when nobody reads its lines any more.
            let _ = if is_json {
                render::watch::json(&progress).map(|event| screen.print_json(&event))
            } else {
                let mut shown = shown.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
                let (start, told, bar) = &mut *shown;
                // Nobody reads it any more, which is no reason to end.
                let _ = start.take().map(|start| screen.print(&start));
                bar.report(&progress);
                told.line(&progress, Instant::now()).map(|line| {
                    bar.clear();
                    screen.print(&line)
                })
            };
        });
        let failure = |error| Failure::from_error(&error);
        let Some(arguments) = &self.process else {
            taperbook_daemon::watch(&self.shop, page, move |progress| report(progress))
                .map_err(failure)?;
            return Ok(Done::Well);
        };
        loop {
            let report = report.clone();
            let report = move |progress| report(progress);
            let left = taperbook_daemon::watch_as_process(&self.shop, page, standing, report);
            let Some(left) = left.map_err(failure)? else { return Ok(Done::Well) };
            standing = Some(memory::begin_anew(arguments, &self.here, left));
        }
    }

    /// Speaks with an editor until it goes; standard output is the editor's, so nothing is printed.
    fn serve_editor(&self) -> Result<Done, Failure> {
        let ask = |request: &Request| {
            taperbook_daemon::ask(&self.shop, request, |_| {})
                .map_err(|error| Failure::from_error(&error).into_message())
        };
        taperbook_lsp::serve(&self.shop.folder, ask)
            .map_err(|error| Failure::from_error(&error))?;
        Ok(Done::Well)
    }

    /// Exit code 0 means that there is a daemon and it follows the folder, one way or another.
    fn status(&self, wait: bool) -> Result<Done, Failure> {
        let status: StatusAnswer = taperbook_daemon::status(&self.shop, wait)
            .map_err(|error| Failure::from_error(&error))?;
        self.print(&status, render::status::status)?;
        match status.state.as_str() {
            "live" | "polling" | "degraded" => Ok(Done::Well),
            _ => Ok(Done::Failed),
        }
    }

    fn stop(&self) -> Result<Done, Failure> {
        let stopped =
            taperbook_daemon::stop(&self.shop).map_err(|error| Failure::from_error(&error))?;
        let folder = self.shop.folder.display();
        self.print(&json!({ "stopped": stopped }), |_| match stopped {
            true => format!("the daemon of {folder} has stopped\n"),
            false => format!("no daemon watches {folder}\n"),
        })?;
        Ok(Done::Well)
    }

    /// Gives the shop folder.
    pub(crate) fn folder(&self) -> &Path {
        &self.shop.folder
    }
}
