//! The man page, made from the definition of the arguments.

use clap::CommandFactory;
use clap_mangen::Man;

use crate::args::Cli;
use crate::failure::Failure;
use crate::run::Done;
use crate::screen::Screen;

/// Prints the man page: the program and then each command, in one page.
pub(crate) fn man(screen: &Screen, is_json: bool) -> Result<Done, Failure> {
    let page =
        page().map_err(|error| Failure::new(format!("the man page could not be made: {error}")))?;
    screen.print_page(is_json, &page)?;
    Ok(Done::Well)
}

fn page() -> std::io::Result<Vec<u8>> {
    // Its lists of commands would repeat `help` once more for each of them.
    let mut command = Cli::command().disable_help_subcommand(true);
    command.build();
    let mut page = Vec::new();
    let program = Man::new(command.clone()).manual("Taperbook");
    program.render_title(&mut page)?;
    program.render_name_section(&mut page)?;
    program.render_synopsis_section(&mut page)?;
    program.render_description_section(&mut page)?;
    program.render_options_section(&mut page)?;
    for subcommand in command.get_subcommands() {
        section(subcommand, &mut page)?;
    }
    page.extend_from_slice(b".SH EXAMPLES\n");
    page.extend(examples(&command));
    // Each part begins with the same definition of an apostrophe, which the page needs once.
    let page = String::from_utf8_lossy(&page).replace(APOSTROPHE, "");
    Ok(format!("{APOSTROPHE}{page}").into_bytes())
}

const APOSTROPHE: &str = ".ie \\n(.g .ds Aq \\(aq\n.el .ds Aq '\n";

/// Adds what one command, and each command of its own, takes.
fn section(command: &clap::Command, page: &mut Vec<u8>) -> std::io::Result<()> {
    let name = command.get_bin_name().unwrap_or(command.get_name()).to_uppercase();
    let is_of_its_own = |arg: &clap::Arg| {
        !arg.is_global_set() && !matches!(arg.get_id().as_str(), "help" | "version")
    };
    let command =
        command.clone().mut_args(|arg| if is_of_its_own(&arg) { arg } else { arg.hide(true) });
    let man = Man::new(command.clone());
    let mut body = Vec::new();
    man.render_synopsis_section(&mut body)?;
    man.render_description_section(&mut body)?;
    if command.get_arguments().any(is_of_its_own) {
        man.render_options_section(&mut body)?;
    }
    // The sections of a command are sections of the page no more: they stand under the command's own heading.
    let body = String::from_utf8_lossy(&body)
        .replace(".SH SYNOPSIS\n", "")
        .replace(".SH DESCRIPTION\n", ".PP\n")
        .replace(".SH OPTIONS\n", "");
    page.extend(format!(".SH \"{name}\"\n{body}").bytes());
    page.extend(examples(&command));
    // What the command itself takes stands before the name of its subcommand: `log RECORD cut`.
    let taken = command
        .get_positionals()
        .map(|arg| arg.get_id().as_str().to_uppercase() + " ")
        .collect::<String>();
    let bin_name = command.get_bin_name().unwrap_or(command.get_name());
    command.get_subcommands().try_for_each(|subcommand| {
        let bin_name = format!("{bin_name} {taken}{}", subcommand.get_name());
        section(&subcommand.clone().bin_name(bin_name), page)
    })
}

/// Sets the examples that end a command's help as they stand.
fn examples(command: &clap::Command) -> Vec<u8> {
    let Some(text) = command.get_after_help() else { return Vec::new() };
    let mut roff = clap_mangen::roff::Roff::new();
    roff.control("PP", []).control("nf", []);
    for line in text.to_string().lines() {
        roff.text([clap_mangen::roff::roman(line)]);
    }
    roff.control("fi", []);
    roff.to_roff().into_bytes()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_has_a_section_for_every_command_and_its_examples() {
        let page = String::from_utf8(page().expect("a page")).expect("text");
        assert_eq!(page.matches(".TH ").count(), 1, "{page}");
        for command in Cli::command().get_subcommands() {
            let heading = format!(".SH \"TAPERBOOK {}\"", command.get_name().to_uppercase());
            assert_eq!(page.matches(&heading).count(), 1, "{heading}");
        }
        assert!(page.contains(".SH \"TAPERBOOK LOG RECORD CUT\""));
        assert!(page.contains("tip_cut:1in.."), "{page}");
        assert_eq!(page.matches(".SH OPTIONS").count(), 1, "{page}");
        assert_eq!(page.matches("Answer in JSON").count(), 1, "{page}");
        assert_eq!(page.matches(APOSTROPHE).count(), 1, "{page}");
        assert!(!page.contains("TAPERBOOK_STATE"), "what is hidden stays hidden");
    }
}
