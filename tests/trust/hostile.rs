//! Recordings that nobody would make on purpose: no panic, no NaN in the result, and what must hold for any input.

use evenpull_core::machine::Machine;
use evenpull_core::recording::{Channel, Format, Preamble, PressureKind, Quantity, Recording, Source};
use evenpull_core::result::Review;
use proptest::prelude::*;

use super::support::*;

fn channel(quantity: Quantity, cylinder: Option<u32>, values: Vec<f64>) -> Channel {
    let pressure = quantity == Quantity::ManifoldPressure;
    Channel {
        header: String::new(),
        quantity,
        cylinder,
        unit: "kPa".to_owned(),
        kind: pressure.then_some(PressureKind::Absolute),
        resolution: pressure.then_some(0.01),
        why: String::new(),
        values,
    }
}

fn made(time_s: Vec<f64>, channels: Vec<Channel>) -> Recording {
    let source = Source {
        name: "made.csv".to_owned(),
        sha256: "0".repeat(64),
        format: Format::Csv,
        rows: time_s.len(),
        rows_skipped: 0,
        layout: Vec::new(),
    };
    Recording {
        source,
        time_s,
        channels,
        preamble: Preamble::default(),
        notices: Vec::new(),
        trouble_codes: Vec::new(),
        codes_cleared_s: Vec::new(),
    }
}

/// NaN would be written as null: the schema allows that only where a quantity may be missing.
fn assert_sound(review: &Review, recording: &Recording) {
    let json = serde_json::to_value(review).unwrap();
    let schema: serde_json::Value = serde_json::from_str(evenpull_core::schema::REVIEW).unwrap();
    let validator = jsonschema::draft202012::new(&schema).unwrap();
    let complaints: Vec<String> =
        validator.iter_errors(&json).map(|e| format!("{}: {e}", e.instance_path())).collect();
    assert!(complaints.is_empty(), "{complaints:?}");
    let end = recording.duration_s();
    let mut spans: Vec<(f64, f64)> = review.windows.iter().map(|w| (w.start_s, w.end_s)).collect();
    spans.extend(review.excluded.iter().map(|e| (e.start_s, e.end_s)));
    spans.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (a, b) in &spans {
        assert!(*a >= 0.0 && b > a && *b <= end + 1e-3, "{a}..{b} of {end}");
    }
    for pair in spans.windows(2) {
        assert!(pair[1].0 >= pair[0].1 - 2e-3, "windows and exclusions overlap: {pair:?}");
    }
}

/// What a channel does: the shapes that break naive code.
fn shape(rows: usize) -> impl Strategy<Value = Vec<f64>> {
    let number = prop_oneof![
        8 => 20.0..80.0_f64,
        1 => Just(f64::NAN),
        1 => prop_oneof![Just(0.0), Just(-50.0), Just(1e9), Just(1e-9), Just(120.0), Just(f64::MAX)],
    ];
    prop_oneof![
        prop::collection::vec(number, rows),
        (30.0..60.0_f64).prop_map(move |v| vec![v; rows]),
        Just(vec![f64::NAN; rows]),
        (30.0..60.0_f64, 0.0..20.0_f64, 0.1..30.0_f64)
            .prop_map(move |(m, a, w)| (0..rows).map(|k| m + a * (k as f64 * w).sin()).collect()),
    ]
}

fn hostile() -> impl Strategy<Value = (Recording, u8)> {
    (0..240_usize, 1..5_usize, 0.001..1.5_f64, any::<u64>()).prop_flat_map(|(rows, cylinders, step, seed)| {
        let speed = prop_oneof![
            Just(None),
            (0.0..3000.0_f64).prop_map(move |r| Some(vec![r; rows])),
            shape(rows).prop_map(|v| Some(v.iter().map(|x| x * 25.0).collect())),
        ];
        let coolant = prop_oneof![Just(None), shape(rows).prop_map(Some)];
        (prop::collection::vec(shape(rows), cylinders), speed, coolant, prop_oneof![Just(2u8), Just(4u8)])
            .prop_map(move |(pressures, speed, coolant, strokes)| {
                let mut noise = Noise::new(seed);
                let mut t = 0.0;
                let time: Vec<f64> = (0..rows)
                    .map(|k| {
                        // Strictly rising from 0, uneven, with a gap now and then.
                        let gap = if noise.uniform() < 0.01 { 20.0 } else { 0.2 + noise.uniform() };
                        t += if k == 0 { 0.0 } else { step * gap };
                        t
                    })
                    .collect();
                let mut channels: Vec<Channel> = pressures
                    .into_iter()
                    .enumerate()
                    .map(|(i, v)| channel(Quantity::ManifoldPressure, Some(i as u32 + 1), v))
                    .collect();
                channels.extend(speed.map(|v| channel(Quantity::EngineSpeed, None, v)));
                channels.extend(coolant.map(|v| channel(Quantity::CoolantTemperature, None, v)));
                (made(time, channels), strokes)
            })
    })
}

/// A small plausible recording: averaged pressures around 40 kPa.
fn plausible() -> impl Strategy<Value = (Vec<f64>, Vec<f64>, u64)> {
    (2.0..25.0_f64, prop::collection::vec(36.0..46.0_f64, 2..6), any::<u64>()).prop_map(
        |(hz, levels, seed)| {
            let rows = (30.0 * hz) as usize;
            ((0..rows).map(|k| k as f64 / hz).collect(), levels, seed)
        },
    )
}

fn build(time: &[f64], levels: &[f64], seed: u64, shift: f64, order: &[usize]) -> Recording {
    let columns: Vec<Channel> = levels
        .iter()
        .enumerate()
        .map(|(i, level)| {
            let mut noise = Noise::new(seed ^ i as u64);
            let values = time.iter().map(|_| level + shift + 0.3 * noise.normal()).collect();
            channel(Quantity::ManifoldPressure, Some(i as u32 + 1), values)
        })
        .collect();
    let mut channels: Vec<Channel> = order.iter().map(|&i| columns[i].clone()).collect();
    channels.push(channel(Quantity::EngineSpeed, None, vec![1050.0; time.len()]));
    made(time.to_vec(), channels)
}

fn assert_same(a: &Review, b: &Review) {
    assert_eq!(a.verdict, b.verdict);
    for (x, y) in a.cylinders.iter().zip(&b.cylinders) {
        assert_eq!((x.cylinder, x.class), (y.cylinder, y.class));
        match (x.deviation_kpa, y.deviation_kpa) {
            (Some(x), Some(y)) => {
                assert!((x.value - y.value).abs() < 1e-6 && (x.u - y.u).abs() < 1e-6, "{x:?} {y:?}");
            }
            (x, y) => assert_eq!(x, y),
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 160, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_recording_gives_a_sound_result((recording, strokes) in hostile()) {
        let machine = Machine { strokes, ..Machine::default() };
        assert_sound(&analyse(&recording, &machine).review, &recording);
    }

    #[test]
    fn the_order_of_columns_does_not_matter((time, levels, seed) in plausible()) {
        let plain: Vec<usize> = (0..levels.len()).collect();
        let turned: Vec<usize> = plain.iter().rev().copied().collect();
        let machine = Machine::default();
        let a = analyse(&build(&time, &levels, seed, 0.0, &plain), &machine).review;
        let b = analyse(&build(&time, &levels, seed, 0.0, &turned), &machine).review;
        assert_same(&a, &b);
    }

    #[test]
    fn a_constant_on_all_pressures_moves_no_deviation((time, levels, seed) in plausible(), shift in -12.0..12.0_f64) {
        let plain: Vec<usize> = (0..levels.len()).collect();
        let machine = Machine::default();
        let a = analyse(&build(&time, &levels, seed, 0.0, &plain), &machine).review;
        let b = analyse(&build(&time, &levels, seed, shift, &plain), &machine).review;
        assert_same(&a, &b);
    }
}

#[test]
fn nothing_and_nearly_nothing() {
    for rows in 0..4 {
        let time: Vec<f64> = (0..rows).map(f64::from).collect();
        for channels in [
            vec![],
            vec![channel(Quantity::EngineSpeed, None, vec![900.0; rows as usize])],
            vec![
                channel(Quantity::ManifoldPressure, Some(1), vec![40.0; rows as usize]),
                channel(Quantity::ManifoldPressure, Some(2), vec![f64::NAN; rows as usize]),
            ],
        ] {
            let recording = made(time.clone(), channels);
            assert_sound(&analyse(&recording, &Machine::default()).review, &recording);
        }
    }
}
