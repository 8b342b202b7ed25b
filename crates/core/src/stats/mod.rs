//! Pure numbers: no engine word in here.
