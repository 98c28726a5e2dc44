//! The README's tour, run command by command on a copy of the demo folder beside a real daemon.
//!
//! A block of `console` in the README holds commands after `$ ` and what they print. A line `…` stands for any lines.
//! With TAPERBOOK_TOUR_WRITE=1 the README is written anew with what was printed; read the difference before you commit.

use std::fs;
use std::path::Path;
use std::process::Command;

use crate::workshop::Workshop;

/// A command of the README with the lines that it shows.
struct Step {
    command: String,
    shown: Vec<String>,
    /// The lines of the README that hold what it shows.
    lines: std::ops::Range<usize>,
}

#[test]
fn every_command_of_the_tour_prints_what_the_readme_shows() {
    let readme = Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md");
    let text = fs::read_to_string(&readme).unwrap();
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let steps = steps(&lines);
    assert!(8 < steps.len(), "the README should have a tour");

    let workshop = Workshop::demo();
    let _daemon = workshop.watch();
    let mut changed = Vec::new();
    for step in steps {
        let printed = run(&workshop, &step.command);
        if !matches(&step.shown, &printed) {
            changed.push((step, printed));
        }
    }
    if std::env::var_os("TAPERBOOK_TOUR_WRITE").is_some() {
        for (step, printed) in changed.into_iter().rev() {
            lines.splice(step.lines, elided(&step.shown, printed));
        }
        fs::write(&readme, lines.join("\n") + "\n").unwrap();
    } else if let Some((step, printed)) = changed.first() {
        let (command, shown) = (&step.command, step.shown.join("\n"));
        panic!("$ {command}\nthe README shows:\n{shown}\nbut it prints:\n{}", printed.join("\n"));
    }
}

fn steps(lines: &[String]) -> Vec<Step> {
    let mut steps: Vec<Step> = Vec::new();
    let mut inside = false;
    for (at, line) in lines.iter().enumerate() {
        if line.starts_with("```") {
            inside = line == "```console";
        } else if !inside {
        } else if let Some(command) = line.strip_prefix("$ ") {
            steps.push(Step {
                command: command.to_owned(),
                shown: Vec::new(),
                lines: at + 1..at + 1,
            });
        } else if let Some(step) = steps.last_mut() {
            step.shown.push(line.clone());
            step.lines.end = at + 1;
        }
    }
    steps
}

/// Runs a command as a shell would, in the shop folder; gives both outputs, what changes from run to run made the same.
fn run(workshop: &Workshop, command: &str) -> Vec<String> {
    let program = Path::new(env!("CARGO_BIN_EXE_taperbook"));
    let mut shell = Command::new("sh");
    let path =
        format!("{}:{}", program.parent().unwrap().display(), std::env::var("PATH").unwrap());
    shell.args(["-c", &format!("{command} 2>&1")]);
    let template = workshop.command(&[]);
    shell.current_dir(workshop.folder()).env_clear().env("PATH", path);
    for (key, value) in template.get_envs() {
        if let (Some(value), true) = (value, key != "PATH") {
            shell.env(key, value);
        }
    }
    let ran = workshop.finish(shell);
    ran.stdout.lines().map(|line| timeless(line.trim_end())).collect()
}

/// Puts `0.5 ms` in place of any time.
fn timeless(line: &str) -> String {
    let mut words: Vec<&str> = line.split(' ').collect();
    for at in 1..words.len() {
        if words[at] == "ms" && words[at - 1].parse::<f64>().is_ok() {
            words[at - 1] = "0.5";
        }
    }
    words.join(" ")
}

/// Says whether lines are those shown, where `…` stands for any lines.
fn matches(shown: &[String], printed: &[String]) -> bool {
    match shown.split_first() {
        None => printed.is_empty(),
        Some((line, rest)) if line == "…" => {
            (0..=printed.len()).any(|from| matches(rest, &printed[from..]))
        }
        Some((line, rest)) => printed
            .split_first()
            .is_some_and(|(first, others)| first == line && matches(rest, others)),
    }
}

/// Cuts new lines as the old ones were cut: as many at the start and at the end, `…` between.
fn elided(shown: &[String], printed: Vec<String>) -> Vec<String> {
    let Some(gap) = shown.iter().position(|line| line == "…") else { return printed };
    let n_last = shown.len() - gap - 1;
    if printed.len() <= gap + n_last {
        return printed;
    }
    let mut lines = printed[..gap].to_vec();
    lines.push("…".to_owned());
    lines.extend_from_slice(&printed[printed.len() - n_last..]);
    lines
}
