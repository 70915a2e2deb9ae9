//! Mistakes, each at its place.
