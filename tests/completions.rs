//! The completions as the shells themselves make them: what stands there after a tab.

use std::process::Command;

use crate::workshop::{Ran, Workshop, is_missing};

/// A demo shop with the completions of a shell in it, and the shell run on a script there.
struct Typist {
    workshop: Workshop,
    shell: &'static str,
    arguments: &'static [&'static str],
}

impl Typist {
    /// `None` where there is no such shell.
    fn new(shell: &'static str, arguments: &'static [&'static str]) -> Option<Self> {
        if is_missing(shell) {
            return None;
        }
        let workshop = Workshop::demo();
        let script = workshop.run(&["completions", shell]).ended(0).stdout.clone();
        workshop.write("completions", &script);
        Some(Self { workshop, shell, arguments })
    }

    /// Runs these lines of the shell, with the program on its path.
    fn runs(&self, lines: &str) -> Ran {
        let program = std::path::Path::new(env!("CARGO_BIN_EXE_taperbook"));
        let path = program.parent().expect("a directory").display();
        let mut shell = Command::new(self.shell);
        shell.args(self.arguments).arg(lines).current_dir(self.workshop.folder()).env_clear();
        shell.env("PATH", format!("{path}:/usr/bin:/bin")).env("TERM", "dumb");
        let template = self.workshop.command(&[]);
        for (key, value) in template.get_envs() {
            if let Some(value) = value {
                shell.env(key, value);
            }
        }
        self.workshop.finish(shell)
    }
}

/// What is typed, a name that must be offered, and one that must not.
const TYPED: [(&str, &str, &str); 7] = [
    ("taperbook show ilse", "ilse-heron", "emil"),
    ("taperbook suggest em", "emil-egret", "ilse"),
    ("taperbook explain anders", "anders-heron", "emil"),
    ("taperbook choose --for ilse", "ilse-heron", "emil"),
    ("taperbook choose --from gannet", "gannet-606", "emil"),
    ("taperbook new build x --blank gannet", "gannet-606", "emil"),
    ("taperbook show --js", "--json", "heron"),
];
/// A query is no name, and the second word after a command is none.
const NO_NAMES: [&str; 2] = ["taperbook find ilse", "taperbook log emil-egret ilse"];

#[test]
fn bash_completes_the_names_of_records() {
    let Some(bash) = Typist::new("bash", &["--norc", "-c"]) else { return };
    let asked = |typed: &str| {
        let at = typed.split(' ').count() - 1;
        let last = typed.rsplit(' ').next().unwrap_or_default();
        bash.runs(&format!(
            "source completions; COMP_WORDS=({typed}); COMP_CWORD={at}; \
             _taperbook_records taperbook \"{last}\" \"${{COMP_WORDS[{at} - 1]}}\"; printf '%s\\n' \"${{COMPREPLY[@]}}\""
        ))
    };
    each_is_completed(asked);
}

#[test]
fn fish_completes_the_names_of_records() {
    let Some(fish) = Typist::new("fish", &["--no-config", "-c"]) else { return };
    each_is_completed(|typed| fish.runs(&format!("source completions; complete -C '{typed}'")));
}

fn each_is_completed(asked: impl Fn(&str) -> Ran) {
    for (typed, offered, not) in TYPED {
        let told = asked(typed).ended(0).says(offered);
        assert!(!told.stdout.contains(not), "{typed}: {}", told.told());
    }
    for typed in NO_NAMES {
        let told = asked(typed);
        assert!(!told.stdout.contains("ilse-heron"), "{typed}: {}", told.told());
    }
}

/// The shell for people gives its completions to a terminal only, which `zpty` is.
#[test]
fn zsh_completes_the_names_of_records() {
    let Some(zsh) = Typist::new("zsh", &["-f", "-c"]) else { return };
    let after_a_tab = |typed: &str| {
        // Each line is completed and then run as words that are printed, so that nothing is waited for but the answer.
        let line = typed.replace("taperbook", "printed taperbook");
        let told = zsh.runs(&format!(
            "zmodload zsh/zpty
            zpty -b it zsh -f -i
            zpty -w it 'PS1=; autoload -U compinit; compinit -u -D; source completions'
            zpty -w it 'printed() {{ print -r \"<$*>\" }}; compdef _precommand printed; print ready-$((1 + 1))'
            zpty -r -m it out '*ready-2*'
            zpty -w -n it $'{line}\\t\\n'
            zpty -r -m it out '*<taperbook*>*'
            print -r -- $out"
        ));
        let told = told.ended(0);
        let from = told.stdout.rfind("<taperbook").expect("what was printed");
        told.stdout[from..].trim_start_matches('<').split('>').next().unwrap_or_default().to_owned()
    };
    for (typed, offered, _) in TYPED {
        let whole = after_a_tab(typed);
        assert!(whole.ends_with(offered), "{typed}: {whole}");
    }
    for typed in NO_NAMES {
        let whole = after_a_tab(typed);
        assert_eq!(whole, typed);
    }
}
