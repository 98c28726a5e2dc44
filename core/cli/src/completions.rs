//! Completions for shells: made from the definition of the arguments, with the names of records where one is asked for.

use clap::CommandFactory as _;
use clap_complete::Shell;

use crate::args::Cli;
use crate::failure::Failure;
use crate::run::Done;
use crate::screen::Screen;

/// Prints the completions for a shell.
pub(crate) fn completions(screen: &Screen, is_json: bool, shell: Shell) -> Result<Done, Failure> {
    let mut bytes = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), "taperbook", &mut bytes);
    let script = with_names(shell, &String::from_utf8_lossy(&bytes));
    screen.print_page(is_json, script.as_bytes())?;
    Ok(Done::Well)
}

/// Commands whose first word is a record.
const OF_A_RECORD: &str = "show explain check try suggest fittings sheet guides handover log";
/// Options that take a record.
const TAKE_A_RECORD: [&str; 3] = ["--from", "--for", "--blank"];

/// Adds the names of records to a script; a shell for which none is written completes the rest alone.
fn with_names(shell: Shell, script: &str) -> String {
    let commands = |words: &str, between: &str| {
        let options = TAKE_A_RECORD.join("|");
        words.replace("COMMANDS", &OF_A_RECORD.replace(' ', between)).replace("OPTIONS", &options)
    };
    match shell {
        Shell::Bash => script.to_owned() + &commands(BASH, "|"),
        Shell::Fish => script.to_owned() + &commands(FISH, " "),
        Shell::Zsh => {
            let asked = |line: &str| match takes_a_record(line) {
                true => line.replace(":_default' \\", ":_taperbook_records' \\"),
                false => line.to_owned(),
            };
            let lines: Vec<String> = script.lines().map(asked).collect();
            let script = lines.join("\n") + "\n";
            match script.rfind("if [ \"$funcstack[1]\"") {
                Some(last) => format!("{}{ZSH}{}", &script[..last], &script[last..]),
                None => script,
            }
        }
        _ => script.to_owned(),
    }
}

/// Whether a line of the script for zsh tells of a word or an option that is a record.
fn takes_a_record(line: &str) -> bool {
    let is_word = ["':record -- ", "':what -- "].iter().any(|begins| line.starts_with(begins));
    is_word || TAKE_A_RECORD.iter().any(|option| line.contains(&format!("{option}=[")))
}

const BASH: &str = r#"
# The names of the shop's records, where a command or an option takes one.
_taperbook_records() {
    _taperbook "$@"
    local typed="${COMP_WORDS[COMP_CWORD]}" name
    case "${COMP_WORDS[COMP_CWORD - 1]}" in
        OPTIONS) COMPREPLY=() ;;
        *)
            case "${COMP_WORDS[1]}" in COMMANDS) ;; *) return 0 ;; esac
            [[ ${COMP_CWORD} -eq 2 && "${typed}" != -* ]] || return 0
            ;;
    esac
    while IFS= read -r name; do
        COMPREPLY+=("$(printf '%q' "${name}")")
    done < <(taperbook names -- "${typed}" 2>/dev/null)
}
complete -F _taperbook_records -o nosort -o bashdefault -o default taperbook
"#;

const FISH: &str = r#"
# The names of the shop's records, where a command or an option takes one.
function __taperbook_records
    taperbook names -- (commandline -ct) 2>/dev/null
end
complete -c taperbook -n "test (count (commandline -poc)) -eq 2; and __fish_seen_subcommand_from COMMANDS" -f -a "(__taperbook_records)"
complete -c taperbook -n "__fish_seen_subcommand_from choose new" -l from -r -f -a "(__taperbook_records)"
complete -c taperbook -n "__fish_seen_subcommand_from choose" -l for -r -f -a "(__taperbook_records)"
complete -c taperbook -n "__fish_seen_subcommand_from new" -l blank -r -f -a "(__taperbook_records)"
"#;

const ZSH: &str = r#"# The names of the shop's records.
_taperbook_records() {
    local -a names
    names=("${(@f)$(taperbook names 2>/dev/null)}")
    compadd -a names
}

"#;
