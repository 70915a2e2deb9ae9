//! Words of the install grammar itself. The kinds named here are those that the grammar calls for without the
//! file naming them; they are looked up in the knowledge like any other. No other kind is named in code.

/// A stretch of wire.
pub(super) const WIRE: &str = "wire";
/// A cable whose cores are named.
pub(super) const CABLE: &str = "multi-core cable";
/// Either end of a wire or core.
pub(super) const END_JOINT: &str = "end joint";
/// The point where loads land on an earth.
pub(super) const EARTH_JOINT: &str = "earth joint";
/// What a way of a board has when only `fuse: 15 A` is said.
pub(super) const WAY_FUSE: &str = "blade fuse";
/// What a way of a board has when nothing is said of its relay.
pub(super) const WAY_RELAY: &str = "relay";
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
    (name.chars().count() > LONGEST_NAME)
        .then(|| format!("a name has at most {LONGEST_NAME} letters"))
}
/// Most parts (5,000 circuits have about 45,000; a hundred thousand take about 100 MB).
pub(super) const MOST_PARTS: usize = 100_000;
