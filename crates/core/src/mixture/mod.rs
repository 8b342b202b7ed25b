//! Class of each cylinder with its evidence.

pub mod classes;
pub mod words;
