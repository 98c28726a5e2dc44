//! The real program as the adviser, on a real folder, held answer for answer against the plugin in process.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use taperbook_plugin::SuggestAdvice;
use taperbook_testkit::shop::{Advice, Adviser};

use crate::adviser::{InProcess, told};

/// A shop folder on disk and the program that answers about it.
pub(crate) struct Through {
    program: PathBuf,
    place: tempfile::TempDir,
    in_process: InProcess,
}

impl Through {
    pub(crate) fn new(program: &Path) -> Self {
        let program =
            program.canonicalize().unwrap_or_else(|error| panic!("{}: {error}", program.display()));
        let place = tempfile::tempdir().expect("a temporary folder");
        Self { program, place, in_process: InProcess::default() }
    }

    fn suggest(&self, record: &str) -> SuggestAdvice {
        let folder = self.place.path().join("shop");
        let output = Command::new(&self.program)
            .args(["suggest", record, "--json"])
            .current_dir(&folder)
            .env_clear()
            .env("HOME", self.place.path())
            .stdin(Stdio::null())
            .output()
            .expect("the program runs");
        let errors = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{record} in {}: {errors}", folder.display());
        serde_json::from_slice(&output.stdout).expect("an answer in JSON")
    }
}

impl Adviser for Through {
    fn write(&mut self, path: &str, text: &str) {
        self.in_process.write(path, text);
        let path = self.place.path().join("shop").join(path);
        let folder = path.parent().expect("it lies in the folder");
        std::fs::create_dir_all(folder).expect("a directory");
        std::fs::write(&path, text).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    }

    fn ask(&mut self, record: &str) -> Advice {
        let answer = self.suggest(record);
        // What is printed is read back by the same notation, so that both have gone through it.
        let in_process = serde_json::to_string(&self.in_process.suggest(record));
        let in_process: SuggestAdvice =
            serde_json::from_str(&in_process.expect("it can be written")).expect("it can be read");
        // How past builds ended and were missed is kept from the first question on in process, and decides nothing.
        let decided = |advice: &SuggestAdvice| {
            let mut advice = SuggestAdvice { evidence: Vec::new(), ..advice.clone() };
            advice.words.retain(|words| !words.contains("builds/past-"));
            advice
        };
        let (answer, in_process) = (decided(&answer), decided(&in_process));
        assert_eq!(answer, in_process, "the program answers otherwise than the plugin");
        told(&answer)
    }
}
