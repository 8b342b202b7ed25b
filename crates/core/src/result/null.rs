//! Numbers that may be missing where the field itself always stands: NaN in memory, `null` in JSON.

/// A plain number.
pub(super) mod number {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    pub(in crate::result) fn serialize<S: Serializer>(v: &f64, out: S) -> Result<S::Ok, S::Error> {
        Some(*v).filter(|v| v.is_finite()).serialize(out)
    }

    pub(in crate::result) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<f64, D::Error> {
        Ok(Option::deserialize(from)?.unwrap_or(f64::NAN))
    }
}

/// A value with its uncertainty.
pub(super) mod measured {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    use super::super::Measured;

    pub(in crate::result) fn serialize<S: Serializer>(v: &Measured, out: S) -> Result<S::Ok, S::Error> {
        Some(*v).filter(|v| v.value.is_finite()).serialize(out)
    }

    pub(in crate::result) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Measured, D::Error> {
        Ok(Option::deserialize(from)?.unwrap_or(Measured { value: f64::NAN, u: f64::NAN }))
    }
}
