//! Reading: every dialect of a log gives the same recording, and damage is named with its place.

mod dialects;
mod headers;
mod support;
