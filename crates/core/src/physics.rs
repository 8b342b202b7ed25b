//! Flow through an orifice.
/// psi(p/p0) over its choked value, gamma 1.4.
#[must_use]
pub fn psi_over_choked(ratio: f64) -> f64 {
    let g = 1.4_f64;
    let critical = (2.0 / (g + 1.0)).powf(g / (g - 1.0));
    if ratio <= critical {
        return 1.0;
    }
    if ratio >= 1.0 {
        return 0.0;
    }
    let psi = ratio.powf(1.0 / g) * (2.0 * g / (g - 1.0) * (1.0 - ratio.powf((g - 1.0) / g))).sqrt();
    psi / (g.sqrt() * (2.0 / (g + 1.0)).powf((g + 1.0) / (2.0 * (g - 1.0))))
}
