//! Words of the install grammar itself. No kind of part is named here: what the grammar calls for without the file
//! naming a kind, the knowledge offers by service.

/// Key of a way's fuse, and the last word of that part's id.
pub(super) const FUSE_KEY: &str = "fuse";
/// Key of a way's relay, and the last word of that part's id.
pub(super) const RELAY_KEY: &str = "relay";
/// The element of a way's relay that its control feeds.
pub(super) const WAY_COIL: &str = "coil";

/// Characters that mean something in a run and therefore stand in no name.
const RESERVED: &[char] = &['|', '*', '>', '"', '.', '/'];

/// Longest run that is read, in bytes.
pub(super) const LONGEST_RUN: usize = 4_096;
/// Most steps of all runs together (5,000 circuits have about 50,000).
pub(super) const MOST_STEPS: usize = 100_000;
/// Longest name, in letters.
const LONGEST_NAME: usize = 80;

/// What is wrong with a text as a name, if anything.
pub(super) fn bad_name(name: &str) -> Option<String> {
    if let Some(c) = name.chars().find(|c| RESERVED.contains(c)) {
        return Some(format!("a name cannot hold `{c}`"));
    }
    if name.trim().is_empty() {
        return Some("a name is missing here".to_owned());
    }
    (name.chars().count() > LONGEST_NAME).then(|| format!("a name has at most {LONGEST_NAME} letters"))
}
/// Most parts (5,000 circuits have about 45,000; the program takes some 110 MB for a hundred thousand).
pub(super) const MOST_PARTS: usize = 75_000;
