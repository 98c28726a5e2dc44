//! The program: it lists the built-in plugins and hands over to the command line.
//!
//! A new plugin is one line here; nothing else is decided in this file.

use std::process::ExitCode;

use taperbook_plugin::Plugin;

fn plugins() -> Vec<Box<dyn Plugin>> {
    vec![
        taperbook_trim::plugin(),
        taperbook_tolerance::plugin(),
        taperbook_suggest::plugin(),
        taperbook_fittings::plugin(),
    ]
}

fn main() -> ExitCode {
    taperbook_cli::run(plugins)
}
