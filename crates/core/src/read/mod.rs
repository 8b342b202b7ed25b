//! Reading: bytes in, [`crate::recording::Recording`] out.
