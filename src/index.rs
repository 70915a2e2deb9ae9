//! Typed indices: a number that can only be used with the list it belongs to.

use std::marker::PhantomData;
use std::ops::{Index, IndexMut};

/// An index type: made by [`id_type!`](crate::id_type).
pub trait Id: Copy {
    /// Makes the id of position `position` (0-based).
    fn new(position: usize) -> Self;
    /// The position (0-based) in the list.
    fn position(self) -> usize;
}

/// Declares index types, each with a doc comment.
#[macro_export]
macro_rules! id_type {
    ($($(#[$doc:meta])* $name:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(u32);
        impl $crate::index::Id for $name {
            fn new(position: usize) -> Self {
                Self(u32::try_from(position).unwrap_or(u32::MAX))
            }
            fn position(self) -> usize {
                self.0 as usize
            }
        }
    )+};
}

/// A list that is indexed by its own id type only.
#[derive(Clone, Debug, PartialEq)]
pub struct IdVec<I, T> {
    items: Vec<T>,
    id: PhantomData<fn(I)>,
}

impl<I: Id, T> IdVec<I, T> {
    /// An empty list.
    pub fn new() -> Self {
        Self::default()
    }
    /// Appends `item` and returns its id.
    pub fn push(&mut self, item: T) -> I {
        self.items.push(item);
        I::new(self.items.len() - 1)
    }
    /// The item at `id`, if there is one.
    pub fn get(&self, id: I) -> Option<&T> {
        self.items.get(id.position())
    }
    /// How many items there are.
    pub fn len(&self) -> usize {
        self.items.len()
    }
    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.items.is_empty()
    }
    /// All items in order.
    pub fn iter(&self) -> std::slice::Iter<'_, T> {
        self.items.iter()
    }
    /// All items in order, to be changed.
    pub fn iter_mut(&mut self) -> std::slice::IterMut<'_, T> {
        self.items.iter_mut()
    }
    /// All ids with their items, in order.
    pub fn enumerate(&self) -> impl Iterator<Item = (I, &T)> {
        self.items.iter().enumerate().map(|(i, t)| (I::new(i), t))
    }
    /// All ids in order.
    pub fn ids(&self) -> impl Iterator<Item = I> + use<I, T> {
        (0..self.items.len()).map(I::new)
    }
}

impl<I, T> Default for IdVec<I, T> {
    fn default() -> Self {
        Self { items: Vec::new(), id: PhantomData }
    }
}

impl<I: Id, T> Index<I> for IdVec<I, T> {
    type Output = T;
    fn index(&self, id: I) -> &T {
        &self.items[id.position()]
    }
}

impl<I: Id, T> IndexMut<I> for IdVec<I, T> {
    fn index_mut(&mut self, id: I) -> &mut T {
        &mut self.items[id.position()]
    }
}

impl<I, T> FromIterator<T> for IdVec<I, T> {
    fn from_iter<It: IntoIterator<Item = T>>(iter: It) -> Self {
        Self { items: iter.into_iter().collect(), id: PhantomData }
    }
}
