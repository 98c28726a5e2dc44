//! Real editors on a real folder, with a real daemon watching: what they save changes the answers.

use std::process::{Command, Stdio};

use crate::workshop::{Workshop, is_missing};

/// How an editor replaces a word in the file of this path and saves it.
type Editor = fn(&str) -> Command;

/// The editors, each with how it replaces a word in a file and saves.
const EDITORS: &[(&str, Editor)] = &[("nvim", neovim), ("vim.tiny", vim), ("ed", ed), ("sed", sed)];

fn neovim(path: &str) -> Command {
    let mut command = Command::new("nvim");
    command.args(["--headless", "--clean", "-c", "%s/5 brace/7 brace/", "-c", "wq", path]);
    command
}

fn vim(path: &str) -> Command {
    let mut command = Command::new("vim.tiny");
    command.args(["-e", "-s", "-u", "NONE", "-c", "%s/5 brace/7 brace/", "-c", "wq", path]);
    command
}

fn ed(path: &str) -> Command {
    let mut command = Command::new("sh");
    command.args(["-c", "printf ',s/5 brace/7 brace/\\nw\\nq\\n' | ed -s \"$1\"", "sh", path]);
    command
}

fn sed(path: &str) -> Command {
    let mut command = Command::new("sed");
    command.args(["-i", "s/5 brace/7 brace/", path]);
    command
}

#[test]
fn what_an_editor_saves_changes_the_answers() {
    let workshop = Workshop::demo();
    let _daemon = workshop.watch();
    for (name, editor) in EDITORS {
        if is_missing(name) {
            continue;
        }
        let path = format!("notes/{name}-test.md");
        workshop.write(&path, "# A knot\n\nFive turns, 5 brace it.\n");
        workshop.run(&["find", "5", "brace"]).ended(0).says(name);
        let whole = workshop.folder().join(&path);
        let saved = editor(whole.to_str().unwrap()).stdin(Stdio::null()).output().unwrap();
        assert!(saved.status.success(), "{name}: {saved:?}");
        assert!(workshop.read(&path).contains("7 brace"), "{name} saved nothing");
        workshop.run(&["find", "7", "brace"]).ended(0).says(name);
        workshop.run(&["find", "\"5 brace\""]).ended(0).says("0 records found");
    }
}

#[test]
fn a_cut_written_in_an_editor_is_worked_out_and_flagged() {
    let workshop = Workshop::demo();
    let _daemon = workshop.watch();
    workshop.run(&["flags"]).ended(0).says("3 flags");
    let before = workshop.read("builds/ilse-heron.md");
    let cut = "  - cut: { butt: 7 in, with: fine saw, date: 2026-03-15 }\n---\n# Ilse";
    workshop.write("builds/ilse-heron.md", &before.replace("---\n# Ilse", cut));
    let flags = workshop.run(&["flags"]).ended(0);
    flags
        .says("below-shortest-length")
        .says("builds/ilse-heron.md:12:3")
        .says("by the butt cut of 7 in (item 2, 2026-03-15)");
    workshop.run(&["find", "butt_cut:7in"]).ended(0).says("builds/ilse-heron");
    workshop.write("builds/ilse-heron.md", &before);
    workshop.run(&["flags"]).ended(0).says("3 flags");
}

/// Starts the language server for the file that is open, waits for what it says, and writes that to a file.
const CLIENT: &str = r#"
local program, folder, told = arg_program, arg_folder, arg_told
local id = vim.lsp.start_client({ cmd = { program, "lsp" }, root_dir = folder })
vim.lsp.buf_attach_client(0, id)
local function listed()
  local lines = {}
  for _, d in ipairs(vim.diagnostic.get(0)) do
    table.insert(lines, (d.lnum + 1) .. ":" .. (d.col + 1) .. ": " .. d.message)
  end
  return lines
end
vim.wait(60000, function() return #listed() > 0 end, 20)
local saved = listed()
vim.api.nvim_buf_set_lines(0, 4, 5, true, { "purpose: jigs" })
vim.wait(60000, function() return #listed() == #saved - 1 end, 20)
table.insert(saved, "then " .. #listed())
vim.fn.writefile(saved, told)
vim.cmd("qa!")
"#;

#[test]
fn neovim_shows_problems_while_they_are_written() {
    if is_missing("nvim") {
        return;
    }
    let workshop = Workshop::demo();
    let told = workshop.root().join("told");
    let script = workshop.root().join("client.lua");
    let quoted = |path: &std::path::Path| format!("[[{}]]", path.display());
    let program = std::path::Path::new(env!("CARGO_BIN_EXE_taperbook"));
    let names = [("arg_program", program), ("arg_folder", &workshop.folder()), ("arg_told", &told)];
    let names: String =
        names.iter().map(|(name, path)| format!("local {name} = {}\n", quoted(path))).collect();
    std::fs::write(&script, names + CLIENT).unwrap();
    let mut editor = Command::new("nvim");
    editor.args(["--headless", "--clean", "-n", "builds/wanda-snipe.md", "-c"]);
    editor.arg(format!("luafile {}", script.display()));
    let path = std::env::var_os("PATH").unwrap_or_default();
    editor
        .current_dir(workshop.folder())
        .env_clear()
        .env("PATH", path)
        .env("HOME", workshop.root().join("home"));
    let output = editor.stdin(Stdio::null()).output().unwrap();
    let told = std::fs::read_to_string(&told).unwrap_or_else(|error| panic!("{error}: {output:?}"));
    let expected = [
        "5:1: `purpuse` is not known in a build: did you mean `purpose`?",
        "11:36: `1,55 mm` has a comma: write `1.55 mm`",
        "11:52: `34` has no unit: write `34 g` or `34 oz`",
        "then 2",
    ];
    assert_eq!(told.lines().collect::<Vec<_>>(), expected);
}
