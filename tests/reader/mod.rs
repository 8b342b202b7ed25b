//! Reading: every dialect of a log gives the same recording, and damage is named with its place.

mod commas;
mod damaged;
mod dialects;
mod found;
mod frames;
mod headers;
mod limits;
mod oddities;
mod properties;
mod same_review;
mod support;
mod ways_of_writing;
