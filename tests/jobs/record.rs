//! A job file: where it is, its hidden fault, its finding.

use halfsplit::document::{Node, Source, read};
use halfsplit::job::{Answers, System, load_answers};
use std::path::{Path, PathBuf};

/// A fault as a job file names it.
#[derive(Clone, Debug)]
pub(super) struct Hidden {
    pub(super) part: String,
    pub(super) mode: String,
    /// Size of a soft fault.
    pub(super) ohms: Option<f64>,
}

/// A recorded job.
#[derive(Clone, Debug)]
pub(super) struct Record {
    /// Folder of the install and name of the file.
    pub(super) name: String,
    pub(super) path: PathBuf,
    pub(super) install: PathBuf,
    pub(super) text: String,
    pub(super) hidden: Hidden,
    pub(super) finding: Hidden,
    /// `found` or `ambiguous`.
    pub(super) verdict: String,
}

impl Record {
    fn read(install: &Path, path: &Path) -> Self {
        let text = std::fs::read_to_string(path).unwrap();
        let name = format!(
            "{}/{}",
            install.parent().and_then(Path::file_name).unwrap().to_string_lossy(),
            path.file_stem().unwrap().to_string_lossy()
        );
        let node = read(&Source::new(name.clone(), text.clone())).expect("a job file that can be read");
        let finding = node.get("finding").unwrap_or_else(|| panic!("{name} has no finding"));
        Self {
            hidden: fault(node.get("hidden").unwrap_or(finding), &name),
            finding: fault(finding, &name),
            verdict: word(finding, "verdict").unwrap_or_else(|| "found".to_owned()),
            path: path.to_owned(),
            install: install.to_owned(),
            name,
            text,
        }
    }

    /// Complaint and readings, as the program reads them.
    pub(super) fn answers(&self, system: &System) -> Answers {
        let source = Source::new(self.name.clone(), std::fs::read_to_string(&self.path).unwrap());
        load_answers(&source, system, &system.instruments())
            .unwrap_or_else(|report| panic!("{}: {:#?}", self.name, report.sorted()))
    }
}

fn word(node: &Node, key: &str) -> Option<String> {
    node.get(key).and_then(Node::as_text).map(str::to_owned)
}

fn fault(node: &Node, name: &str) -> Hidden {
    let needed = |key| word(node, key).unwrap_or_else(|| panic!("{name}: a fault has part and mode"));
    let ohms = word(node, "ohms").map(|text| text.parse().expect("ohms are a number"));
    Hidden { part: needed("part"), mode: needed("mode"), ohms }
}

/// Entries of a folder in the order of their names.
fn entries(folder: &Path) -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return Vec::new();
    };
    let mut paths: Vec<PathBuf> = entries.map(|e| e.unwrap().path()).collect();
    paths.sort();
    paths
}

/// All recorded jobs of all examples.
pub(super) fn records() -> Vec<Record> {
    let examples = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let mut records = Vec::new();
    for example in entries(&examples) {
        let jobs = entries(&example.join("jobs"));
        let yaml = jobs.iter().filter(|p| p.extension().is_some_and(|e| e == "yaml"));
        records.extend(yaml.map(|path| Record::read(&example.join("install.yaml"), path)));
    }
    records
}
