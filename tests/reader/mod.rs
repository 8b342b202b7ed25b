//! Reading: every dialect of a log gives the same recording, and damage is named with its place.

mod damaged;
mod dialects;
mod headers;
mod limits;
mod oddities;
mod properties;
mod support;
