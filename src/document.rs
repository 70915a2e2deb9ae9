//! YAML with exact places, bounded on hostile input: a tree of texts, lists and maps in file order.
//!
//! All files that a person writes (install, knowledge, answers, job) are read through here. The tree keeps
//! every scalar as the text that was written: what is a number, a word or a name is for the reader to say, so
//! `off`, `on`, `yes`, `no` and `12,4` stay what they are. It deliberately knows no meaning; [`Fields`] helps
//! a reader to find every mistake of a map at once, which a derived reader that stops at the first could not.

mod error;
mod fields;
mod source;
mod tree;

pub use fields::{CUT_OFF, Fields};
pub use source::{LARGEST, Source};
pub use tree::{Entry, Node, Text, Value};

use crate::diagnostic::Report;
use serde::de::DeserializeOwned;

/// Reads a text into its tree.
///
/// # Errors
/// The first place where it is no YAML, holds a key twice, or exceeds the bounds; all texts that hold control
/// characters, marks that turn the direction of writing, or absurdly many letters.
pub fn read(source: &Source) -> Result<Node, Report> {
    let raw: tree::Raw = parse(source)?;
    let (node, refused) = tree::Builder::new(source).build(raw);
    if refused.is_empty() { Ok(node) } else { Err(refused) }
}

/// Reads what a program wrote down of what a person typed: the same tree, with texts that hold anything at all.
///
/// # Errors
/// The first place where it is no YAML, holds a key twice, or exceeds the bounds.
pub fn read_typed(source: &Source) -> Result<Node, Report> {
    let raw: tree::Raw = parse(source)?;
    Ok(tree::Builder::trusting(source).build(raw).0)
}

/// Reads a text into a type of one's own, within the same bounds: for files that a program wrote.
///
/// # Errors
/// The first place where it is no YAML, does not fit the type, or exceeds the bounds.
pub fn parse<T: DeserializeOwned>(source: &Source) -> Result<T, Report> {
    serde_yaml::from_str_with_options(source.text(), options(source.text().len()))
        .map_err(|e| error::diagnose(&e, source).into())
}

/// What is bounded, and by how much, for a text of `size` bytes. An honest install needs about 20 bytes a node.
fn options(size: usize) -> serde_yaml::Options {
    let nodes = (20_000 + size / 8).min(200_000);
    serde_yaml::options! {
        budget: serde_yaml::budget! {
            max_depth: 32,
            max_nodes: nodes,
            max_events: 4 * nodes,
            max_aliases: 1_000,
            max_anchors: 1_000,
            max_recorded_anchor_events: 20_000,
            max_recorded_anchor_bytes: 1 << 20,
            max_documents: 1,
            max_merge_keys: 100,
            max_total_scalar_bytes: LARGEST,
        },
        strict_booleans: true,
        duplicate_keys: serde_yaml::options::DuplicateKeyPolicy::Error,
        non_finite_float_policy: serde_yaml::options::NonFiniteFloatPolicy::AsString,
        leading_zero_numbers_as_strings: true,
        with_snippet: false,
    }
}
