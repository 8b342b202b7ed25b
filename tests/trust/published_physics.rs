//! Files built from flow tables, crank geometry, conformity examples and mixture figures, through reader and review.

use evenpull_core::Analysis;
use evenpull_core::read::{ReadOptions, read_bytes};
use evenpull_core::result::{Basis, Class, Signal, Verdict};

use super::outside::outside;
use super::support::*;

/// Flow through a nozzle over its choked flow by pressure ratio: A*/A against p/pt, NACA Report 1135 (1953), table I, air,
/// from memory.
fn flow_table() -> Vec<(f64, f64)> {
    let inner = outside("flow-table").rows();
    let inner = inner.iter().map(|r| (r[0], 1.0 / r[1]));
    std::iter::once((0.0, 1.0)).chain(inner).chain([(1.0, 0.0)]).collect()
}

fn flow(table: &[(f64, f64)], ratio: f64) -> f64 {
    let k = table.windows(2).position(|w| ratio <= w[1].0).unwrap_or(table.len() - 2);
    let ((a, fa), (b, fb)) = (table[k], table[k + 1]);
    fa + (fb - fa) * (ratio - a) / (b - a)
}

const BARO: f64 = 101.325;

/// One cycle of a runner in steps of a thousandth: emptied to 20 kPa in the first fifth, refilled through a plate that fills
/// `rate` kPa a cycle while choked.
fn pulse(rate: f64) -> Vec<f64> {
    let table = flow_table();
    let mut refill = vec![20.0];
    for _ in 200..1000 {
        let p = refill[refill.len() - 1];
        refill.push(p + rate * 1e-3 * flow(&table, p / BARO));
    }
    let top = refill[refill.len() - 1];
    let down = (0..200).map(|k| {
        let x = k as f64 / 200.0;
        20.0 + (top - 20.0) * 0.5 * (1.0 + (std::f64::consts::PI * x).cos())
    });
    down.chain(refill.into_iter().take(800)).collect()
}

/// Cylinders with pulses at their firing angles, 1050 rev/min.
fn pulses(rates: &[f64], firing_deg: &[f64], seconds: f64, hz: f64) -> Table {
    pulses_at(1050.0, rates, firing_deg, seconds, hz)
}

fn pulses_at(rpm: f64, rates: &[f64], firing_deg: &[f64], seconds: f64, hz: f64) -> Table {
    let mut table = Table::even(seconds, hz).with("Engine speed [rpm]", 0, |_| rpm);
    for (i, rate) in rates.iter().enumerate() {
        let shape = pulse(*rate);
        let mut noise = Noise::new(20 + i as u64);
        table = table.with(&format!("Cyl {} absolute pressure [kPa]", i + 1), 2, |t| {
            let x = (t * rpm / 120.0 - firing_deg[i] / 720.0).rem_euclid(1.0) * 1000.0;
            let (k, f) = (x as usize, x.fract());
            shape[k] + f * (shape[(k + 1) % 1000] - shape[k]) + 0.05 * noise.normal()
        });
    }
    table
}

#[test]
fn refill_rates_of_the_choked_flow_table() {
    let rates = [50.0, 45.0, 50.0, 52.5];
    let review = pulses(&rates, &[0.0, 540.0, 180.0, 360.0], 25.0, 500.0)
        .review_for("barometer_kpa = 101.325\nfuelling = \"shared\"\n");
    assert_eq!(review.pulse.clone().unwrap().signal, Signal::Resolved, "{:?}", codes(&review));
    let table = flow_table();
    let means: Vec<f64> = rates.iter().map(|r| mean(&pulse(*r))).collect();
    let air: Vec<f64> = rates
        .iter()
        .map(|r| r * mean(&pulse(*r).iter().map(|p| flow(&table, p / BARO)).collect::<Vec<_>>()))
        .collect();
    for (i, c) in review.cylinders.iter().enumerate() {
        let (r, a) = (c.refill_ratio.unwrap(), c.air_ratio.unwrap());
        assert!((r.value - rates[i] / 50.0).abs() < 0.006, "cylinder {}: {r:?}", i + 1);
        assert!((a.value - air[i] / median(&air)).abs() < 0.008, "cylinder {}: {a:?}", i + 1);
        let d = c.deviation_kpa.unwrap();
        assert!((d.value - (means[i] - median(&means))).abs() < 0.05, "cylinder {}: {d:?}", i + 1);
        // Naive: the ratio of the mean pressures stands for the ratio of the plates.
        let naive = means[i] / median(&means);
        assert!(rates[i] == 50.0 || (naive - rates[i] / 50.0).abs() > 0.01, "{naive}");
    }
    assert_eq!(cylinder(&review, 2).class, Class::Rich);
    assert_eq!(cylinder(&review, 4).class, Class::Lean);
}

#[test]
fn exchanged_sensors_of_engines_by_crank_geometry() {
    // Firing intervals from crank geometry: a V-twin on one pin fires after 360 + V and 360 - V degrees; parallel twins,
    // triple, cross-plane and V fours by their pins. Cylinders 1 and 2 are exchanged.
    let geometry = outside("firing");
    for (name, firing) in geometry.labels.iter().zip(geometry.rows()) {
        // At 360 degrees both pull at once: an exchange leaves no trace.
        let shows = name != "parallel twin 360";
        let list: Vec<String> = firing.iter().map(|d| format!("{d:.1}")).collect();
        let toml = format!("firing_deg = [{}]\n", list.join(", "));
        let rates = vec![50.0; firing.len()];
        let right = pulses(&rates, &firing, 20.0, 100.0).review_for(&toml);
        assert!(!has(&right, "swapped-sensors") && !has(&right, "firing-order-differs"), "{name}");
        let mut exchanged = firing.clone();
        exchanged.swap(0, 1);
        let wrong = pulses(&rates, &exchanged, 20.0, 100.0).review_for(&toml);
        let notice = wrong.notices.iter().find(|n| n.code == "swapped-sensors");
        assert_eq!(notice.is_some(), shows, "{name}: {:?}", codes(&wrong));
        assert!(notice.is_none_or(|n| n.text.contains("1 and 2")), "{name}: {notice:?}");
    }
}

#[test]
fn pulse_rates_at_usual_speeds() {
    // rpm / 120 for a four-stroke: 6.667, 7.5, 8.333, 10, 12.5 a second (kinematics).
    for row in outside("pulse-rates").rows() {
        let (rpm, hz) = (row[0], row[1]);
        let review = pulses_at(rpm, &[50.0, 50.0], &[0.0, 360.0], 20.0, 100.0).review();
        let found = review.pulse.unwrap().rate_hz;
        assert!((found / hz - 1.0).abs() < 1e-3, "{rpm} rev/min: {found}");
        // Naive: one pulse a revolution.
        assert!((found / (rpm / 60.0) - 0.5).abs() < 1e-3);
    }
}

#[test]
fn a_pulse_at_the_row_rate_is_not_a_mean() {
    // Shannon: 10 pulses a second in 10 rows a second fold to zero; with an amplitude of 1 and a phase of 0.3 the column
    // mean is off by sin 0.3 = 0.295 (closed form). Here 12 kPa, and nothing in the rows shows it.
    let mut noise = Noise::new(22);
    let mut table = Table::even(60.0, 10.0).with("Engine speed [rpm]", 0, |_| 1200.0);
    for (n, phase) in [0.3, -0.3].into_iter().enumerate() {
        table = table.with(&format!("Cyl {} absolute pressure [kPa]", n + 1), 2, |t| {
            40.0 + 12.0 * (std::f64::consts::TAU * 10.0 * t + phase).sin() + 0.05 * noise.normal()
        });
    }
    let review = table.review();
    let naive = 2.0 * 12.0 * outside("folded-pulse").values()[0];
    assert!((review.spread_kpa.unwrap().value - naive).abs() < 0.1, "the rows hold no trace of the pulse");
    // A reading a cycle at one crank angle is what this is: neither evenness nor its opposite may be claimed for 1.7 times
    // the limit and less.
    let wide = format!("limit_kpa = {}\n", naive / 1.5);
    let review = table.review_for(&wide);
    assert_eq!(review.verdict, Verdict::CannotTell, "{:?}", review.spread_kpa);
}

fn twin(difference: f64, seed: u64) -> Table {
    Table::even(60.0, 5.0).idling(1100.0).pressures(&[40.0, 40.0 + difference], 0.8, seed)
}

fn analysed(table: &Table, limit_kpa: f64) -> Analysis {
    let recording = read_bytes("log.csv", table.text().as_bytes(), &ReadOptions::default()).unwrap();
    analyse(&recording, &machine(&format!("pressure_is = \"mean\"\nlimit_kpa = {limit_kpa}\n")))
}

#[test]
fn conformity_examples() {
    // JCGM 106:2012, 7.4 and 8.3 (from memory): burst strength 509.7 kPa, u 8.6 kPa, at least 490: probability 0.99, accepted
    // at 0.95. Zener diode -5.47 V, u 0.05 V, at most -5.40: probability 0.92, not accepted. Speed 110 km/h, u 2 %, limit 100:
    // beyond 107, so exceeded with 0.999. ISO 14253-1 (2017): guard of 1.65 u for 95 %. As a spread: the same distance from
    // its limit in standard uncertainties.
    let examples = outside("conformity");
    for ((name, sigmas), word) in examples.labels.iter().zip(examples.values()).zip(&examples.verdicts) {
        let verdict: Verdict = serde_json::from_value(word.as_str().into()).unwrap();
        for seed in 0..3 {
            let table = twin(3.0, 30 + seed);
            let pair = analysed(&table, 10.0).context.pairs[0];
            let limit = pair.difference_kpa.abs() + sigmas * pair.u_kpa;
            let review = analysed(&table, limit).review;
            assert_eq!(review.verdict, verdict, "{name}, limit {limit:.3}: {:?}", review.spread_kpa);
            // Naive: no guard, every distance decides.
            let naive = if sigmas > 0.0 { Verdict::Within } else { Verdict::Outside };
            assert!(verdict == naive || verdict == Verdict::CannotTell);
        }
    }
}

#[test]
fn equal_fuel_makes_the_mixture_follow_the_air() {
    // Heywood (1988), equal injected quantities: lambda follows the air. Air 1.00, 1.06, 0.97, 0.97 with lambda 1 on the
    // average gives 1.00, 1.06, 0.97, 0.97: one cylinder outside 1.00 +- 0.05.
    let air = outside("equal-fuel").values();
    let mut noise = Noise::new(40);
    let mut table = Table::even(60.0, 5.0).idling(1100.0).pressures(&[40.0, 40.2, 39.9, 40.1], 0.1, 41);
    for (i, &a) in air.iter().enumerate() {
        table = table.with(&format!("Lambda {}", i + 1), 3, |_| a + 0.004 * noise.normal());
    }
    let review = table.review_for("pressure_is = \"mean\"\nfuelling = \"shared\"\n");
    for (c, a) in review.cylinders.iter().zip(&air) {
        assert!((c.lambda.unwrap().value - a).abs() < 0.003, "{:?}", c.lambda);
        assert_eq!(c.basis, Basis::Measured);
        // Naive: by pressure alone all four are even.
        let class = if *a > 1.05 { Class::Lean } else { Class::Even };
        assert_eq!(c.class, class, "cylinder {}: {:?}", c.cylinder, c.evidence);
    }
    assert_eq!(review.verdict, Verdict::Within, "the pressures are even all the same");
}
