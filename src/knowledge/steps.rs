//! What is usually done about a fault, step by step, and what a handbook lets a repaired part lose.

use super::{Kind, Knowledge, Role};

/// The usual repair of some faults, from `knowledge/repairs.yaml`.
#[derive(Clone, Debug, PartialEq)]
pub struct RepairSteps {
    /// Its key.
    pub key: String,
    /// Roles of parts.
    pub of: Vec<Role>,
    /// Names of kinds, where it is for these alone.
    pub kinds: Vec<String>,
    /// Keys of modes.
    pub modes: Vec<String>,
    /// Minutes of the work, without the way to it.
    pub minutes: f64,
    /// Keys of cautions that the work calls for, beside those of the mode.
    pub cautions: Vec<String>,
    /// The steps, in their order.
    pub steps: Vec<Words>,
    /// `seen`, `memory` or `practice`.
    pub status: String,
    /// Where it comes from.
    pub source: String,
}

/// A sentence with figures of a part left open in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Words(pub Vec<Piece>);

/// A piece of a sentence.
#[derive(Clone, Debug, PartialEq)]
pub enum Piece {
    /// As it stands.
    Text(String),
    /// A figure of the part as the install states it, or other words where it states none.
    Figure {
        /// Its key in the kind.
        key: String,
        /// The other words; empty where every part has the figure.
        otherwise: String,
    },
}

/// What a handbook lets a part in series lose, from `knowledge/limits.yaml`.
#[derive(Clone, Debug, PartialEq)]
pub struct DropLimit {
    /// Its key.
    pub key: String,
    /// Roles of parts.
    pub of: Vec<Role>,
    /// Volts, under load.
    pub volts: f64,
    /// As it is told.
    pub says: String,
    /// Where the figure comes from.
    pub source: String,
}

impl Words {
    /// Reads a sentence; `{key|other words}` stands for a figure. `None`: a bracket has no partner, or nothing in it.
    pub fn read(text: &str) -> Option<Self> {
        let mut pieces = Vec::new();
        let mut rest = text;
        while let Some((before, behind)) = rest.split_once('{') {
            let (inside, after) = behind.split_once('}')?;
            let (key, otherwise) = inside.split_once('|').unwrap_or((inside, ""));
            if before.contains('}') || key.is_empty() || inside.contains('{') {
                return None;
            }
            pieces.push(Piece::Text(before.to_owned()));
            pieces.push(Piece::Figure { key: key.to_owned(), otherwise: otherwise.to_owned() });
            rest = after;
        }
        if rest.contains('}') {
            return None;
        }
        pieces.push(Piece::Text(rest.to_owned()));
        Some(Self(pieces))
    }

    /// The sentence with the figures that `figure` knows filled in.
    pub fn with(&self, figure: impl Fn(&str) -> Option<String>) -> String {
        let piece = |piece: &Piece| match piece {
            Piece::Text(text) => text.clone(),
            Piece::Figure { key, otherwise } => figure(key).unwrap_or_else(|| otherwise.clone()),
        };
        self.0.iter().map(piece).collect()
    }
}

impl Knowledge {
    /// What is usually done about a mode of a kind.
    pub fn repair_steps(&self, kind: &Kind, mode: &str) -> Option<&RepairSteps> {
        self.repairs.iter().find(|row| {
            row.of.contains(&kind.role)
                && row.modes.iter().any(|known| known == mode)
                && (row.kinds.is_empty() || row.kinds.contains(&kind.name))
        })
    }

    /// What a handbook lets a part with this role lose.
    pub fn drop_limit(&self, role: Role) -> Option<&DropLimit> {
        self.drop_limits.iter().find(|limit| limit.of.contains(&role))
    }
}

#[cfg(test)]
mod tests {
    use super::Words;

    #[test]
    fn a_figure_is_filled_in_or_told_in_other_words() {
        let words = Words::read("a wire of {size|the same size}, {length|as long}").unwrap();
        assert_eq!(words.with(|key| (key == "size").then(|| "2.5 mm²".to_owned())), "a wire of 2.5 mm², as long");
        for wrong in ["{", "}", "a {size b", "a size} b", "{}", "{|x}", "{a{b}"] {
            assert_eq!(Words::read(wrong), None, "{wrong}");
        }
    }
}
