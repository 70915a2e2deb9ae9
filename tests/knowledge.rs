//! The knowledge base and what becomes of it.

mod arithmetic;
mod bench;
mod expansion;
mod kinds;
mod modes;
mod own_kinds;
mod repairs;
mod rigs;
mod rows;

use halfsplit::knowledge::Knowledge;

#[test]
fn built_in_knowledge_reads_without_mistakes() {
    let read = Knowledge::with_files(&[]);
    let mistakes: Vec<_> = read.err().into_iter().flatten().map(|m| m.to_string()).collect();
    assert!(mistakes.is_empty(), "{}", mistakes.join("\n"));
}
