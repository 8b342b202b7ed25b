//! The smallest step between different values of a channel.

/// Values looked at.
const MOST: usize = 20_000;

/// Smallest step, in the unit of the values; `None` with fewer than two different values.
///
/// Figures that went through a conversion in single precision differ in their last digits; steps a millionth of the
/// range are noise of that kind. With many different values the third smallest step is taken, so that an odd value or
/// two do not count.
pub(crate) fn smallest_step(values: &[f64]) -> Option<f64> {
    let stride = values.len().div_ceil(MOST).max(1);
    let mut sorted: Vec<f64> = values.iter().step_by(stride).copied().filter(|v| v.is_finite()).collect();
    sorted.sort_unstable_by(f64::total_cmp);
    let range = sorted.last()? - sorted.first()?;
    let noise = range * 2e-6;
    let mut steps: Vec<f64> = sorted.windows(2).map(|w| w[1] - w[0]).filter(|step| *step > noise).collect();
    if steps.is_empty() {
        return None;
    }
    steps.sort_unstable_by(f64::total_cmp);
    let step = steps[(steps.len() / 50).min(2)];
    // Twelve digits: 352.1 - 352.0 is not exactly 0.1.
    let scale = 10f64.powf(11.0 - step.log10().floor());
    let rounded = (step * scale).round() / scale;
    let digits = 10f64.powf((range.max(sorted.last()?.abs()).log10().ceil() - 12.0).min(0.0));
    Some((rounded / digits).round() * digits).filter(|s| *s > 0.0).or(Some(step))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_step_is_that_of_the_quantiser() {
        // Values rounded to a known step; the expected value is that step.
        for step in [0.1, 0.01, 1.0, 0.125, 5.0] {
            let values: Vec<f64> =
                (0..500).map(|i| ((f64::from(i) * 0.37).sin() * 40.0 / step).round() * step).collect();
            let found = smallest_step(&values).unwrap_or(0.0);
            assert!((found / step - 1.0).abs() < 1e-9, "{found} for {step}");
        }
    }

    #[test]
    fn single_precision_noise_is_no_step() {
        let values: Vec<f64> = (0..500)
            .map(|i| {
                f64::from(
                    ((f64::from(i) * 0.37).sin() * 400.0).round() as f32 * 0.1
                        + if i % 2 == 0 { 1e-6 } else { 0.0 },
                )
            })
            .collect();
        let found = smallest_step(&values).unwrap_or(0.0);
        assert!((found - 0.1).abs() < 1e-5, "{found}");
        assert_eq!(smallest_step(&[3.0, 3.0]), None);
    }
}
