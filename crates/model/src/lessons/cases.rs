//! The ready cases, each with one thing to learn.

use super::{Case, Expected, Recorder};
use crate::scenario::Event;

const NOTHING: Expected =
    Expected { verdicts: &[], notices: &[], absent: &[], classes: &[], evidence: &[], turned: false };

/// All cases. New ones go to the end: the number of a case is the name of its files.
pub const CASES: &[Case] = &[
    Case {
        id: "closed-plate",
        teaches: "one plate too far closed: the lowest pressure is the least air",
        cylinders: None,
        seconds: 45.0,
        recorder: Recorder::Damped,
        expected: Expected { verdicts: &["outside"], classes: &["rich"], ..NOTHING },
        why: "A plate that is more closed lets less air past in each cycle, so the runner refills less and its mean pressure is lower. With one injected quantity for all, less air makes this cylinder rich.",
        trap: "The cylinder with the most vacuum looks like the strongest. It is the one that gets the least air.",
        set: |d| {
            let share = d.size(0.08, 0.11);
            d.plate(-share);
        },
    },
    Case {
        id: "noisy-healthy",
        teaches: "a healthy engine with noisy figures: nothing to turn",
        cylinders: None,
        seconds: 45.0,
        recorder: Recorder::Damped,
        expected: Expected { verdicts: &["within"], ..NOTHING },
        why: "Every reading carries noise of its own. Its mean over hundreds of rows does not: the more rows, the less is left of it.",
        trap: "The figures jump by more than the limit, and whoever watches them turns a screw after the noise.",
        set: |d| {
            let noise = 0.9 + d.size(0.0, 0.3);
            for sensor in &mut d.logger.sensors {
                sensor.noise_kpa = noise;
            }
            d.say(format!("Nothing is wrong with the engine. Each reading has a noise of {noise:.1} kPa (one standard deviation)."));
        },
    },
    Case {
        id: "aliased-log",
        teaches: "too few rows for the pulses: the differences from row to row are chance",
        cylinders: None,
        seconds: 45.0,
        recorder: Recorder::Slow,
        expected: Expected { verdicts: &["within", "cannot-tell"], notices: &["aliased"], ..NOTHING },
        why: "An undamped sensor read a few times a second catches each pulse at another place. What the rows show moves with the beat between row rate and engine speed, not with the cylinders. Only sorted by crank angle, over the whole length, do the rows say something.",
        trap: "The columns differ, slowly and smoothly, and look like cylinders that pull differently.",
        set: |d| {
            let share = d.size(0.01, 0.02);
            d.plate(-share);
            d.say(
                "The sensors are undamped and read 7 times a second; a cycle is over in a ninth of a second."
                    .to_owned(),
            );
        },
    },
    Case {
        id: "slow-average",
        teaches: "a slow log of cycle means: few rows, coarse steps, and good all the same",
        cylinders: None,
        seconds: 80.0,
        recorder: Recorder::Link,
        expected: Expected { verdicts: &["outside"], absent: &["aliased"], classes: &["lean"], ..NOTHING },
        why: "The control unit averages over whole cycles before it sends, so a row needs no luck with the pulse. Repeats in the file are the link's turn-taking, not a stuck sensor.",
        trap: "So few rows, so many repeats: the file looks worthless and is not. It is the fast undamped log at the same row rate that is.",
        set: |d| {
            let share = d.size(0.09, 0.12);
            d.plate(share);
            d.say("The rows are cycle means of a control unit; each row brings one channel up to date and repeats the rest.".to_owned());
        },
    },
    Case {
        id: "biased-sensor",
        teaches: "one sensor reads wrong: the engine-off rows show it",
        cylinders: None,
        seconds: 55.0,
        recorder: Recorder::Damped,
        expected: Expected { verdicts: &["within"], notices: &["sensor-bias"], ..NOTHING },
        why: "With the engine off every sensor feels the barometer. What one shows more or less then is its own error, and it is the same with the engine running.",
        trap: "The cylinder of that sensor looks out of balance. A screw turned after it puts the engine out of balance.",
        set: |d| {
            d.engine_off(10.0);
            let (cylinder, kpa) = (d.chosen(), d.size(1.8, 2.6));
            d.sensor(cylinder).bias_kpa = kpa;
            d.say(format!("The engine is even. The sensor of cylinder {cylinder} reads {kpa:.1} kPa high, engine off and running."));
            d.say("The engine is off for the first 10 s.".to_owned());
        },
    },
    Case {
        id: "cold-engine",
        teaches: "a cold engine: what is uneven now may be even when it is warm",
        cylinders: None,
        seconds: 45.0,
        recorder: Recorder::Damped,
        expected: Expected { verdicts: &["cannot-tell"], notices: &["cold-engine"], ..NOTHING },
        why: "A cold engine has more friction, a richer mixture and plates and linkage that have not grown yet. It is judged when it is warm and stays so.",
        trap: "The idle looks steady enough. Set by this recording, the engine is out of balance as soon as it is warm.",
        set: |d| {
            let start = 34.0 + 10.0 * d.size(0.2, 0.9);
            d.coolant(start, 500.0);
            let share = d.size(0.06, 0.08);
            d.plate(-share);
            d.say(format!("The coolant starts at {start:.0} degrees C; 82 is warm."));
        },
    },
    Case {
        id: "leak-at-idle",
        teaches: "a leak behind one plate: large at idle, small at raised speed",
        cylinders: None,
        seconds: 75.0,
        recorder: Recorder::Damped,
        expected: Expected {
            verdicts: &["outside"],
            evidence: &["a fixed opening"],
            classes: &["lean"],
            ..NOTHING
        },
        why: "A leak lets the same small stream past at every throttle opening. Against the little air of idle that is much, against the air of raised speed it is little, so the difference shrinks.",
        trap: "At idle alone it looks like a plate too far open. Closing the plate hides the leak and makes the cylinder short of air at speed.",
        set: |d| {
            let (cylinder, area) = (d.blame(), d.size(0.40, 0.50));
            d.scenario.cylinder(cylinder).leak_mm2 = area;
            d.raised(0.55, 2_600.0);
            d.say(format!(
                "A leak of {area:.2} mm2 behind the plate of cylinder {cylinder}; all plates are even."
            ));
            d.say("The throttle is held at 2600 rev/min in the second half.".to_owned());
        },
    },
    Case {
        id: "uneven-linkage",
        teaches: "even at idle, uneven when raised: the linkage, not the idle screws",
        cylinders: None,
        seconds: 75.0,
        recorder: Recorder::Damped,
        expected: Expected { verdicts: &["within"], notices: &["raised-uneven"], ..NOTHING },
        why: "The idle screws hold the plates at rest. Off the stop the linkage opens them, and one of them further than the others.",
        trap: "Whoever looks at idle alone sees nothing; whoever looks at raised speed alone turns an idle screw.",
        set: |d| {
            let (cylinder, share) = (d.blame(), d.size(0.20, 0.28));
            d.scenario.cylinder(cylinder).linkage = 1.0 + share;
            d.raised(0.5, 2_600.0);
            d.say(format!("The linkage opens the plate of cylinder {cylinder} {:.0} % further than the others; at idle all plates are even.", 100.0 * share));
            d.say("The throttle is held at 2600 rev/min in the second half.".to_owned());
        },
    },
    Case {
        id: "late-valve",
        teaches: "a valve that opens early and closes late: breathing, not the screw",
        cylinders: None,
        seconds: 45.0,
        recorder: Recorder::Fast,
        expected: Expected { verdicts: &["outside"], classes: &["imbalanced"], ..NOTHING },
        why: "The valve sends charge back into the runner and lifts its mean pressure. The plate lets no more air past than the others: the rate at which the runner refills is theirs.",
        trap: "By its mean pressure the cylinder has too much air. A plate closed after it starves a cylinder that already breathes badly.",
        set: |d| {
            let (cylinder, deg) = (d.blame(), d.size(32.0, 40.0));
            let fault = d.scenario.cylinder(cylinder);
            fault.intake_open_shift_deg = -deg;
            fault.intake_close_shift_deg = deg;
            d.say(format!("The intake valve of cylinder {cylinder} opens {deg:.0} degrees early and closes {deg:.0} degrees late; all plates are even."));
        },
    },
    Case {
        id: "either-of-two",
        teaches: "a twin: the file shows that they differ, not which one moved",
        cylinders: Some(2),
        seconds: 45.0,
        recorder: Recorder::Damped,
        expected: Expected { verdicts: &["outside"], notices: &["either-of-two"], ..NOTHING },
        why: "With two cylinders the middle lies between them, and each is as far from it as the other. Only a reference from outside says which of them moved.",
        trap: "One of the two has to be named, so one is named, and the healthy one is turned.",
        set: |d| {
            let share = d.size(0.09, 0.12);
            d.plate(-share);
        },
    },
    Case {
        id: "codes-stored",
        teaches: "a stored trouble code about a pressure sensor: first the sensor, then the screw",
        cylinders: None,
        seconds: 45.0,
        recorder: Recorder::Damped,
        expected: Expected { notices: &["trouble-code"], ..NOTHING },
        why: "The control unit has found its pressure sensor out of range. A file that hangs on this sensor is in doubt until the code has been looked into.",
        trap: "The columns look sound, so the note with the code is laid aside.",
        set: |d| {
            let (cylinder, share) = (d.chosen(), d.size(0.05, 0.07));
            d.plate(share);
            d.codes.push("P0107");
            d.tell("Trouble code noted at the machine: P0107.");
            d.say(format!("Trouble code P0107 (pressure sensor circuit low) was stored; the sensor of cylinder {cylinder} is sound all the same."));
        },
    },
    Case {
        id: "drifting-cylinder",
        teaches: "a cylinder that creeps away while it is recorded",
        cylinders: None,
        seconds: 80.0,
        recorder: Recorder::Damped,
        expected: Expected { notices: &["drifting-cylinder"], ..NOTHING },
        why: "A hose that works loose or a plate that creeps changes one cylinder against the others from minute to minute. A mean over the whole recording is the mean of something that does not stand still.",
        trap: "One mean for each column, and the cylinder is somewhere between where it was and where it is going.",
        set: |d| {
            let (cylinder, share) = (d.blame(), d.size(0.09, 0.12));
            d.scenario.event(Event::Drift { from_s: 0.0, cylinder, per_minute: share });
            d.say(format!(
                "The plate of cylinder {cylinder} opens by {:.1} % a minute from the first row on.",
                100.0 * share
            ));
        },
    },
    Case {
        id: "swapped-sensors",
        teaches: "two hoses exchanged: the column of one cylinder shows the other",
        cylinders: None,
        seconds: 40.0,
        recorder: Recorder::Fast,
        expected: Expected { notices: &["swapped-sensors"], ..NOTHING },
        why: "Each cylinder draws at its own place in the firing order. A pulse that comes at another cylinder's place belongs to that cylinder, whatever the column is called.",
        trap: "The mean of the column is right and its name is wrong: the screw of a healthy cylinder is turned.",
        set: |d| {
            let cylinder = d.chosen();
            let n = d.scenario.engine.cylinders();
            let other = cylinder % n + 1;
            d.logger.swapped.push((cylinder, other));
            let share = d.size(0.09, 0.12);
            d.plate(-share);
            d.say(format!("The hoses of cylinders {cylinder} and {other} are exchanged: each column shows the other cylinder."));
        },
    },
    Case {
        id: "dead-sensor",
        teaches: "a sensor that stands still: no figure is better than a false one",
        cylinders: None,
        seconds: 45.0,
        recorder: Recorder::Damped,
        expected: Expected { notices: &["stuck-sensor"], ..NOTHING },
        why: "An idling engine never stands still. A column without the least movement is a sensor that does not measure.",
        trap: "The dead column has the steadiest figures, and the steadiest cylinder is taken as the one to go by.",
        set: |d| {
            let cylinder = d.chosen();
            d.sensor(cylinder).stuck_from_s = Some(0.0);
            d.say(format!(
                "The sensor of cylinder {cylinder} repeats its first reading; the engine is even."
            ));
        },
    },
    Case {
        id: "screw-turned",
        teaches: "a screw is turned while it is recorded: two states, not one",
        cylinders: None,
        seconds: 80.0,
        recorder: Recorder::Damped,
        expected: Expected { verdicts: &["within"], turned: true, ..NOTHING },
        why: "Before the turn the engine is as it was found, after it as it is left. Each is judged by itself, and the seconds of turning by neither.",
        trap: "A mean over the whole file mixes both states and shows half the fault, which nobody has.",
        set: |d| {
            let (cylinder, share, at) = (d.blame(), d.size(0.09, 0.11), 0.5 * d.scenario.duration_s);
            d.scenario.cylinder(cylinder).plate = 1.0 - share;
            d.scenario.event(Event::Screw { at_s: at, cylinder, factor: 1.0 / (1.0 - share) });
            d.say(format!(
                "The plate of cylinder {cylinder} is {:.1} % too far closed and is set even at {at:.0} s.",
                100.0 * share
            ));
        },
    },
    Case {
        id: "coarse-steps",
        teaches: "values in steps as large as the limit: the file cannot say",
        cylinders: None,
        seconds: 45.0,
        recorder: Recorder::Link,
        expected: Expected { notices: &["coarse-resolution"], verdicts: &["cannot-tell"], ..NOTHING },
        why: "A column in steps of 2 kPa says that the pressure lies somewhere within such a step. Where the noise is smaller than the step, no mean gets behind it.",
        trap: "The figures repeat so well that they look exact.",
        set: |d| {
            for sensor in &mut d.logger.sensors {
                sensor.step_kpa = 2.0;
            }
            let share = d.size(0.02, 0.03);
            d.plate(-share);
            d.say("The logger writes steps of 2 kPa.".to_owned());
        },
    },
];
